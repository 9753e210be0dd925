package crew

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/advice"
)

// place is a batch, or part of it, put into a zone's coat.
type place struct {
	batch, zone, part string
	coat              session.CoatFlags
	from, to, at, on  string
	thickness, along  []string
	because, complete string
	start             string
}

// NewPlace makes hod place.
func NewPlace(env *session.Env) *cobra.Command {
	var p place
	c := env.NewCommand("place [BATCH] ZONE [PART]", "Write down that a batch, or part of it, was placed in a zone",
		"hod place A3", "hod place 7 A3 1/2 --from 10:50 --to 10:58",
		"hod place A3 40l --along B3 --thickness 12mm,14mm", "hod place north/2026-07-18/7 A3 --coat 2 --face inner")
	c.Long = "Without a batch it is the crew's last, without a part all that is left of it: 1/2, 40%, 40l. The batch comes first."
	c.Args = terminal.RangeArgs(1, 3, "a zone, with the batch before it and the part after it where they are not plain")
	f := c.Flags()
	p.coat.Register(f)
	f.StringVar(&p.from, "from", "", "when placing began")
	f.StringVar(&p.to, "to", "", "when it was done (default: now)")
	f.StringVar(&p.at, "at", "", "the same as --to")
	f.StringVar(&p.on, "on", "", "the day of these times (default: today)")
	f.StringArrayVar(&p.thickness, "thickness", nil, "thickness by the gauge, each reading: 12mm,14mm")
	f.StringArrayVar(&p.along, "along", nil, "zones along whose edges it ran: B3,A4")
	f.StringVar(&p.start, "start", "",
		"the side of the zone, or the neighbour, at which the crew began: south, B3; it goes on from there until it says otherwise")
	f.StringVar(&p.complete, "complete", "", "how much of the coat is complete once this is placed: 60%")
	f.StringVar(&p.because, "because", "",
		"why it was done all the same where a rule of the job says no (the rule is then passed over)")
	env.SureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			p.words(s, args)
			return p.run(c.Context(), s)
		})
	}
	return c
}

// words sorts out which of one to three words is what: a zone's name decides, then what can only be a part or a batch.
// The batch comes first, but is understood behind its zone.
func (p *place) words(s *session.Session, args []string) {
	switch len(args) {
	case 1:
		p.zone = args[0]
	case 2:
		p.twoWords(s, args[0], args[1])
	case 3:
		p.threeWords(s, args[0], args[1], args[2])
	}
}

func (p *place) twoWords(s *session.Session, a, b string) {
	switch {
	case s.IsZone(a) && !s.IsZone(b) && parse.IsBatch(b):
		p.zone, p.batch = a, b
	case !s.IsZone(b) && (s.IsZone(a) || parse.IsPart(b)):
		p.zone, p.part = a, b
	case parse.IsPart(a) && s.IsZone(b):
		p.part, p.zone = a, b
	default:
		p.batch, p.zone = a, b
	}
}

func (p *place) threeWords(s *session.Session, a, b, c string) {
	p.batch, p.zone, p.part = a, b, c
	switch swapped := s.IsZone(a) && !s.IsZone(b); {
	case swapped && parse.IsBatch(b):
		p.zone, p.batch = a, b
	case swapped && parse.IsPart(b) && parse.IsBatch(c):
		p.zone, p.part, p.batch = a, b, c
	case !s.IsZone(b) && parse.IsPart(b) && s.IsZone(c):
		p.part, p.zone = b, c
	}
}

// otherFace asks before a placement goes to a face on which nothing of its zone was placed yet, where the face was not
// said: once the coats of one face are done, the only coat left is on the other side of the shell.
func (p place) otherFace(s *session.Session, coat event.Coat) error {
	if p.coat.Face != "" || coat.Face == event.AnyFace {
		return nil
	}
	z, _ := s.Fold.Zone(coat.Zone)
	var done []event.Coat
	for _, c := range z.Coats {
		switch id := c.Coat.Coat; {
		case id.Face == coat.Face && len(c.Placed) > 0:
			return nil
		case id.Face != coat.Face && len(c.Placed) > 0:
			done = append(done, id)
		}
	}
	if len(done) == 0 {
		return nil
	}
	last := done[len(done)-1]
	text := fmt.Sprintf("%s of the %s face of %s %s done; what is left is on the other face, %s",
		terminal.Plural(len(done), "coat", "coats"), last.Face, coat.Zone, terminal.IsOrAre(len(done)), coat)
	if s.Env.CanAsk() {
		fmt.Fprintf(s.Env.Stderr, "%s\nDid it go there? [y/N] ", terminal.Safe(terminal.Capitalise(text)))
		if said := strings.ToLower(strings.TrimSpace(s.Env.ReadLine())); said == "y" || said == "yes" {
			return nil
		}
		return terminal.Refusedf("nothing was recorded; if it went on top of what is done, say --face %s --coat %d",
			last.Face, last.Number)
	}
	return terminal.Refusedf(
		"%s: say --face %s if it went there; if it went on top of what is done, --face %s --coat %d", text, coat.Face,
		last.Face, last.Number)
}

// placeKept is the document hod.placement.v1.
type placeKept struct {
	session.Kept
	Batch     string              `json:"batch"`
	Zone      string              `json:"zone"`
	Face      string              `json:"face,omitempty"`
	Coat      int                 `json:"coat"`
	Share     terminal.Quantity   `json:"share"`
	Volume    terminal.Quantity   `json:"volume"`
	Basis     string              `json:"basis,omitempty"` // of the volume: weighed, stated, estimated
	From      terminal.Stamp      `json:"from"`
	To        terminal.Stamp      `json:"to"`
	Gauges    []terminal.Quantity `json:"gauges,omitempty"`
	Along     []string            `json:"along,omitempty"`
	BatchLeft terminal.Quantity   `json:"batch_left"` // share
	// where the crew's next goes, where that is worth a line
	NextBatch *advice.Next   `json:"next_batch,omitempty"`
	JointGood terminal.Stamp `json:"joint_good_until"`
}

func (p place) run(ctx context.Context, s *session.Session) error {
	s.Fold.LoadAll() // what to place next, which it says at its end, is of the whole
	body, on, err := p.read(s)
	if err != nil {
		return err
	}
	if b, ok := s.Fold.Batch(body.Batch); ok && view.BatchLeftOf(s.Fold, b).None {
		return terminal.Refusedf(
			"nothing is left of batch %s: it went to %s. Name another batch, or correct what was written of this one with `hod amend` or `hod undo`",
			s.ShortBatch(b.ID), went(s, b))
	}
	d := session.Draft{
		Body: body, At: body.To, Typed: !body.From.IsZero() || !body.To.IsZero(),
		Rules: PlacementRules, Because: p.because, Known: s.Findings(),
		Reason: func(why string) event.Body { body.Because = why; return body },
	}
	if d.At.IsZero() && !body.From.IsZero() && on != "" && on != s.Today() {
		d.At = body.From
	}
	k, err := s.Keep(ctx, d)
	if err != nil {
		return err
	}
	if err := tellPlacement(s, k, k.Body.(event.Placement)); err != nil || s.Env.JSON || s.Device.Crew == "" {
		return err
	}
	if n, worth := advice.NextBriefOf(s.Fold, s.Now, s.Location, s.Device.Crew); worth {
		_, err = io.WriteString(s.Env.Stdout, report.NextBrief(n, s.Page()))
	}
	return err
}

// read is the placement as it was said, and the day of its times.
func (p place) read(s *session.Session) (body event.Placement, on string, err error) {
	zone, err := s.FindZone(p.zone)
	if err != nil {
		return body, "", err
	}
	if on, err = s.OnDay(p.on); err != nil {
		return body, on, err
	}
	b, err := s.ResolveBatch(p.batch, on)
	if err != nil {
		return body, on, err
	}
	body = event.Placement{Batch: b.ID, Because: p.because}
	if body.Coat, err = s.FindCoat(zone, p.coat); err != nil {
		return body, on, err
	}
	if err := p.otherFace(s, body.Coat); err != nil {
		return body, on, err
	}
	if body.Part, err = parse.Part(p.part); err != nil {
		return body, on, err
	}
	until := session.TimeFlag{Name: "to", Value: p.to, To: &body.To}
	if p.at != "" {
		if p.to != "" {
			return body, on, terminal.Usagef("--at and --to both say when it was done; leave one out")
		}
		until = session.TimeFlag{Name: "at", Value: p.at, To: &body.To}
	}
	if err := s.ReadTimes(on, session.TimeFlag{Name: "from", Value: p.from, To: &body.From}, until); err != nil {
		return body, on, err
	}
	return body, on, p.readGauges(s, &body)
}

// PlacementRules are the findings about a placement for which a person is asked why.
var PlacementRules = []string{fold.ColdJoint, fold.OldBatch, fold.WrongMix, fold.Overfull}

// went says where a batch went.
func went(s *session.Session, b *fold.Batch) string {
	var all []string
	for _, p := range b.Parts {
		all = append(all, fmt.Sprintf("%s (%s)", p.Coat, p.Record.Name))
	}
	if b.Discarded > 0 {
		all = append(all, "waste")
	}
	return strings.Join(all, ", ")
}

func (p place) readGauges(s *session.Session, body *event.Placement) error {
	for _, word := range parse.List(p.thickness) {
		g, err := unit.Said(word, unit.ParseLength)
		if err != nil {
			return terminal.InFlag("thickness", err)
		}
		body.Gauges = append(body.Gauges, g)
	}
	if p.complete != "" {
		of, err := unit.Said(p.complete, unit.ParseShare)
		if err != nil {
			return terminal.InFlag("complete", err)
		}
		body.Complete = &of
	}
	for _, word := range parse.List(p.along) {
		z, err := s.FindZone(word)
		if err != nil {
			return err
		}
		body.Along = append(body.Along, z)
	}
	var err error
	body.Start, err = s.FindSide(body.Coat.Zone, p.start)
	return err
}

func tellPlacement(s *session.Session, k session.Kept, body event.Placement) error {
	doc := placeKept{
		Batch: body.Batch.String(), Zone: string(body.Coat.Zone), Coat: body.Coat.Number,
		From: terminal.Stamp(body.From), To: terminal.Stamp(body.To),
		Along: joinable(body.Along),
	}
	if body.Coat.Face != event.AnyFace {
		doc.Face = body.Coat.Face.String()
	}
	for _, g := range body.Gauges {
		doc.Gauges = append(doc.Gauges, terminal.QuantityOf(g, "m"))
	}
	v := view.PlacementOf(s.Fold, k.Name, body, s.Now)
	b, ok := s.Fold.Batch(body.Batch)
	if ok {
		doc.BatchLeft = terminal.QuantityOf(unit.Computed(v.Batch.Share), "1")
	}
	if s.Env.JSON && s.Device.Crew != "" {
		if n, worth := advice.NextBriefOf(s.Fold, s.Now, s.Location, s.Device.Crew); worth {
			doc.NextBatch = &n
		}
	}
	what, size := "all that was left", ""
	if v.Known {
		doc.Share, doc.Basis = terminal.QuantityOf(unit.Computed(v.Share), "1"), v.Basis
		doc.Volume = terminal.QuantityOf(unit.Computed(v.Volume), "m3")
		what = partWords(s, body.Part, v.Share)
		if body.Part.Volume == nil {
			size = ", " + unit.Both(s.Units, unit.Computed(v.Volume), unit.System.Volume) + ","
		}
	}
	k.Text = fmt.Sprintf("%s of batch %s%s in %s%s", what, s.ShortBatch(body.Batch), size, body.Coat,
		span(s, body.From, body.To))
	if len(body.Along) > 0 {
		k.Text += " along " + terminal.JoinNames(body.Along)
	}
	switch {
	case v.GoodTo.After(s.Now):
		doc.JointGood = terminal.Stamp(v.GoodTo)
		k.Next = "joint good until " + s.FormatTime(v.GoodTo)
	case v.Opens:
		k.Next = "what this left open is past its initial set already: treat it before more is placed there"
	}
	if ok {
		if k.Next != "" {
			k.Next += "; "
		}
		k.Next += leftWords(s, b.ID, v.Batch)
	}
	if state := coatState(s, body.Coat, k.Name); state != "" {
		k.Next += "; " + state
	}
	s.AddWarnings(&k)
	if ahead := s.EdgesAhead(body.Coat, k.Name); ahead != "" {
		k.Warnings = append(k.Warnings, ahead)
	}
	doc.Kept = k
	return s.Tell(k, doc)
}

// coatState says what a placement made of its coat, where the next one would else go wrong: it opened a finished coat,
// or filled it to its plan while the next coat waits on the same face.
func coatState(s *session.Session, coat event.Coat, name event.Name) string {
	c, ok := s.CoatState(coat)
	switch {
	case !ok || c.Done():
		return ""
	case c.Again != nil && c.Again.Record.Name == name:
		return fmt.Sprintf("%s was finished, and is open again", coat)
	case c.Volume < c.Needed:
		return ""
	}
	next := coat
	next.Number++
	if _, more := s.CoatState(next); !more {
		return ""
	}
	return fmt.Sprintf(
		"%s holds what its plan needs; once it is complete say `hod progress %s 100%%`, or --coat %d for what goes on top", coat, coat.Zone, next.Number)
}

// partWords is a part as it was said, or the share that it came to.
func partWords(s *session.Session, p event.Part, share unit.Share) string {
	switch {
	case p.Share != nil && p.Share.Entered != "":
		return p.Share.Entered
	case p.Volume != nil:
		return unit.Both(s.Units, *p.Volume, unit.System.Volume)
	case share >= 1:
		return "all"
	}
	return "the last " + s.Units.Share(share)
}

// span is when something was done, as far as it was said.
func span(s *session.Session, from, to time.Time) string {
	switch {
	case !from.IsZero() && !to.IsZero():
		return fmt.Sprintf(", %s to %s", s.FormatTime(from), s.FormatTime(to))
	case !from.IsZero():
		return ", from " + s.FormatTime(from)
	case !to.IsZero():
		return ", until " + s.FormatTime(to)
	}
	return ""
}

// leftWords says how much of a batch is left.
func leftWords(s *session.Session, id event.Batch, left view.BatchLeft) string {
	if left.None {
		return fmt.Sprintf("nothing left of batch %s", s.ShortBatch(id))
	}
	return fmt.Sprintf("%s of batch %s left, %s", s.Units.Share(left.Share), s.ShortBatch(id),
		unit.Both(s.Units, unit.Computed(left.Volume), unit.System.Volume))
}

func joinable[S ~string](names []S) []string {
	var all []string
	for _, n := range names {
		all = append(all, string(n))
	}
	return all
}
