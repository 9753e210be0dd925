package cli

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// place is a batch, or part of it, put into a zone's coat.
type place struct {
	batch, zone, part string
	coat              coatWords
	from, to, at, on  string
	thickness, along  []string
	because, complete string
	start             string
}

func newPlace(env *deviceEnv) *cobra.Command {
	var p place
	c := env.command("place [BATCH] ZONE [PART]", "Write down that a batch, or part of it, was placed in a zone",
		"hod place A3", "hod place 7 A3 1/2 --from 10:50 --to 10:58", "hod place A3 40l --along B3 --thickness 12mm,14mm", "hod place north/2026-07-18/7 A3 --coat 2 --face inner")
	c.Long = "Without a batch it is the crew's last, without a part all that is left of it: 1/2, 40%, 40l. The batch comes first."
	c.Args = arguments(1, 3, "a zone, with the batch before it and the part after it where they are not plain")
	f := c.Flags()
	p.coat.flags(f)
	f.StringVar(&p.from, "from", "", "when placing began")
	f.StringVar(&p.to, "to", "", "when it was done (default: now)")
	f.StringVar(&p.at, "at", "", "the same as --to")
	f.StringVar(&p.on, "on", "", "the day of these times (default: today)")
	f.StringArrayVar(&p.thickness, "thickness", nil, "thickness by the gauge, each reading: 12mm,14mm")
	f.StringArrayVar(&p.along, "along", nil, "zones along whose edges it ran: B3,A4")
	f.StringVar(&p.start, "start", "", "the side of the zone, or the neighbour, at which the crew began: south, B3; it goes on from there until it says otherwise")
	f.StringVar(&p.complete, "complete", "", "how much of the coat is complete once this is placed: 60%")
	f.StringVar(&p.because, "because", "", "why it was done all the same where a rule of the job says no (the rule is then passed over)")
	env.sureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		return env.with(c.Context(), func(s *site) error {
			p.words(s, args)
			return p.run(c.Context(), s)
		})
	}
	return c
}

// words sorts out which of one to three words is what: a zone's name decides, then what can only be a part or a batch. The
// batch comes first, but is understood behind its zone.
func (p *place) words(s *site, args []string) {
	swapped := len(args) > 1 && s.isZone(args[0]) && !s.isZone(args[1])
	switch len(args) {
	case 1:
		p.zone = args[0]
	case 3:
		p.batch, p.zone, p.part = args[0], args[1], args[2]
		switch {
		case swapped && isBatch(args[1]):
			p.zone, p.batch = args[0], args[1]
		case swapped && isPart(args[1]) && isBatch(args[2]):
			p.zone, p.part, p.batch = args[0], args[1], args[2]
		case !s.isZone(args[1]) && isPart(args[1]) && s.isZone(args[2]):
			p.part, p.zone = args[1], args[2]
		}
	case 2:
		switch {
		case swapped && isBatch(args[1]):
			p.zone, p.batch = args[0], args[1]
		case !s.isZone(args[1]) && (s.isZone(args[0]) || isPart(args[1])):
			p.zone, p.part = args[0], args[1]
		case isPart(args[0]) && s.isZone(args[1]):
			p.part, p.zone = args[0], args[1]
		default:
			p.batch, p.zone = args[0], args[1]
		}
	}
}

// isBatch reports whether a word can be the name of a batch and nothing else: 16, north/7, but not 1/2.
func isBatch(word string) bool {
	_, err := event.ParseBatch(word, "none", "2006-01-02")
	return err == nil && !isPart(word)
}

// otherFace asks before a placement goes to a face on which nothing of its zone was placed yet, where the face was not said:
// once the coats of one face are done, the only coat left is on the other side of the shell.
func (p place) otherFace(s *site, coat event.Coat) error {
	if p.coat.face != "" || coat.Face == event.AnyFace {
		return nil
	}
	z, _ := s.fold.Zone(coat.Zone)
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
		count(len(done), "coat", "coats"), last.Face, coat.Zone, isOrAre(len(done)), coat)
	if s.env.asks() {
		fmt.Fprintf(s.env.Stderr, "%s\nDid it go there? [y/N] ", safe(capital(text)))
		if said := strings.ToLower(strings.TrimSpace(s.env.line())); said == "y" || said == "yes" {
			return nil
		}
		return refused("nothing was recorded; if it went on top of what is done, say --face %s --coat %d", last.Face, last.Number)
	}
	return refused("%s: say --face %s if it went there; if it went on top of what is done, --face %s --coat %d", text, coat.Face, last.Face, last.Number)
}

func isOrAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// placeKept is the document hod.placement.v1.
type placeKept struct {
	kept
	Batch     string     `json:"batch"`
	Zone      string     `json:"zone"`
	Face      string     `json:"face,omitempty"`
	Coat      int        `json:"coat"`
	Share     Quantity   `json:"share"`
	Volume    Quantity   `json:"volume"`
	Basis     string     `json:"basis,omitempty"` // of the volume: weighed, stated, estimated
	From      Stamp      `json:"from"`
	To        Stamp      `json:"to"`
	Gauges    []Quantity `json:"gauges,omitempty"`
	Along     []string   `json:"along,omitempty"`
	BatchLeft Quantity   `json:"batch_left"` // share
	JointGood Stamp      `json:"joint_good_until"`
}

func (p place) run(ctx context.Context, s *site) error {
	zone, err := s.findZone(p.zone)
	if err != nil {
		return err
	}
	on, err := s.onDay(p.on)
	if err != nil {
		return err
	}
	b, err := s.meant(p.batch, on)
	if err != nil {
		return err
	}
	body := event.Placement{Batch: b.ID, Because: p.because}
	if body.Coat, err = s.findCoat(zone, p.coat); err != nil {
		return err
	}
	if err := p.otherFace(s, body.Coat); err != nil {
		return err
	}
	if body.Part, err = readPart(p.part); err != nil {
		return err
	}
	until := timeFlag{"to", p.to, &body.To}
	if p.at != "" {
		if p.to != "" {
			return usage("--at and --to both say when it was done; leave one out")
		}
		until = timeFlag{"at", p.at, &body.To}
	}
	if err := s.readTimes(on, timeFlag{"from", p.from, &body.From}, until); err != nil {
		return err
	}
	if err := p.readGauges(s, &body); err != nil {
		return err
	}
	if b.Left <= tooLittle {
		return refused("nothing is left of batch %s: it went to %s. Name another batch, or correct what was written of this one with `hod amend` or `hod undo`", s.shortBatch(b.ID), s.went(b))
	}
	d := draft{
		body: body, at: body.To, typed: !body.From.IsZero() || !body.To.IsZero(),
		rules: placementRules, because: p.because, known: s.foundBefore(),
		reason: func(why string) event.Body { body.Because = why; return body },
	}
	if d.at.IsZero() && !body.From.IsZero() && on != "" && on != s.today() {
		d.at = body.From
	}
	k, err := s.keep(ctx, d)
	if err != nil {
		return err
	}
	return s.tellPlacement(k, k.body.(event.Placement))
}

// placementRules are the findings about a placement for which a person is asked why.
var placementRules = []string{fold.ColdJoint, fold.OldBatch, fold.WrongMix, fold.Overfull}

// meant is the batch named, or the crew's last.
func (s *site) meant(word, on string) (*fold.Batch, error) {
	if word == "" {
		return s.lastBatch()
	}
	return s.findBatch(word, on)
}

// went says where a batch went.
func (s *site) went(b *fold.Batch) string {
	var all []string
	for _, p := range b.Parts {
		all = append(all, fmt.Sprintf("%s (%s)", p.Coat, p.Record.Name))
	}
	if b.Discarded > 0 {
		all = append(all, "waste")
	}
	return strings.Join(all, ", ")
}

func (p place) readGauges(s *site, body *event.Placement) error {
	for _, word := range commaList(p.thickness) {
		g, err := unit.Said(word, unit.ParseLength)
		if err != nil {
			return flagged("thickness", err)
		}
		body.Gauges = append(body.Gauges, g)
	}
	if p.complete != "" {
		of, err := unit.Said(p.complete, unit.ParseShare)
		if err != nil {
			return flagged("complete", err)
		}
		body.Complete = &of
	}
	for _, word := range commaList(p.along) {
		z, err := s.findZone(word)
		if err != nil {
			return err
		}
		body.Along = append(body.Along, z)
	}
	var err error
	body.Start, err = s.findSide(body.Coat.Zone, p.start)
	return err
}

// findSide is a side of a zone by its name or by the neighbour across it; none for no word.
func (s *site) findSide(zone event.Zone, word string) (string, error) {
	if word == "" {
		return "", nil
	}
	z := s.fold.Plan().Zones[zone]
	if z == nil || z.Surface == nil {
		return "", usage("the plan does not say where the sides of zone %s lie, so none can be named: plan its sides, outline or ring", zone)
	}
	if _, ok := z.Surface.Side(word); ok {
		return word, nil
	}
	if s.isZone(word) {
		other, err := s.findZone(word)
		if err != nil {
			return "", err
		}
		if side, ok := z.SideTo(other); ok {
			return side, nil
		}
		return "", usage("the plan does not say on which side of %s its edge to %s lies; name a side: %s", zone, other, strings.Join(z.Surface.Sides(), ", "))
	}
	return "", usage("zone %s has no side %q; it has %s", zone, safe(word), strings.Join(z.Surface.Sides(), ", "))
}

func (s *site) tellPlacement(k kept, body event.Placement) error {
	doc := placeKept{
		Batch: body.Batch.String(), Zone: string(body.Coat.Zone), Coat: body.Coat.Number, From: Stamp(body.From), To: Stamp(body.To),
		Along: joinable(body.Along),
	}
	if body.Coat.Face != event.AnyFace {
		doc.Face = body.Coat.Face.String()
	}
	for _, g := range body.Gauges {
		doc.Gauges = append(doc.Gauges, quantity(g, "m"))
	}
	what, size := "all that was left", ""
	b, ok := s.fold.Batch(body.Batch)
	if ok {
		doc.BatchLeft = quantity(unit.Computed(b.Left), "1")
		if part, volume, basis, found := s.placed(b, k.name); found {
			doc.Share, doc.Volume, doc.Basis = quantity(unit.Computed(part.Share), "1"), quantity(unit.Computed(volume), "m3"), basis
			what = s.partWords(body.Part, part.Share)
			if body.Part.Volume == nil {
				size = ", " + unit.Both(s.units, unit.Computed(volume), unit.System.Volume) + ","
			}
		}
	}
	k.Text = fmt.Sprintf("%s of batch %s%s in %s%s", what, s.shortBatch(body.Batch), size, body.Coat, s.span(body.From, body.To))
	if len(body.Along) > 0 {
		k.Text += " along " + join(body.Along)
	}
	switch turns, waits := s.goodUntil(body.Coat, k.name); {
	case turns.After(s.now):
		doc.JointGood = Stamp(turns)
		k.Next = "joint good until " + s.clock(turns)
	case waits:
		k.Next = "what this left open is past its initial set already: treat it before more is placed there"
	}
	if ok {
		if k.Next != "" {
			k.Next += "; "
		}
		k.Next += s.leftOf(b)
	}
	if state := s.coatState(body.Coat, k.name); state != "" {
		k.Next += "; " + state
	}
	s.warned(&k)
	if ahead := s.edgesAhead(body.Coat, k.name); ahead != "" {
		k.Warnings = append(k.Warnings, ahead)
	}
	doc.kept = k
	return s.tellKept(k, doc)
}

// coatState says what a placement made of its coat, where the next one would else go wrong: it opened a finished coat, or
// filled it to its plan while the next coat waits on the same face.
func (s *site) coatState(coat event.Coat, name event.Name) string {
	c, ok := s.coatIs(coat)
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
	if _, more := s.coatIs(next); !more {
		return ""
	}
	return fmt.Sprintf("%s holds what its plan needs; once it is complete say `hod progress %s 100%%`, or --coat %d for what goes on top", coat, coat.Zone, next.Number)
}

// placed is the part of a batch that an event put somewhere, as the record reckons it.
func (s *site) placed(b *fold.Batch, name event.Name) (fold.Part, unit.Volume, string, bool) {
	for _, part := range b.Parts {
		if part.Record.Name != name {
			continue
		}
		z, _ := s.fold.Zone(part.Coat.Zone)
		for _, c := range z.Coats {
			for _, p := range c.Placed {
				if p.Record.Name == name {
					return part, p.Volume, p.Basis, true
				}
			}
		}
		return part, b.Volume(part.Share, 1), "", true
	}
	return fold.Part{}, 0, "", false
}

// partWords is a part as it was said, or the share that it came to.
func (s *site) partWords(p event.Part, share unit.Share) string {
	switch {
	case p.Share != nil && p.Share.Entered != "":
		return p.Share.Entered
	case p.Volume != nil:
		return unit.Both(s.units, *p.Volume, unit.System.Volume)
	case share >= 1:
		return "all"
	}
	return "the last " + s.units.Share(share)
}

// span is when something was done, as far as it was said.
func (s *site) span(from, to time.Time) string {
	switch {
	case !from.IsZero() && !to.IsZero():
		return fmt.Sprintf(", %s to %s", s.clock(from), s.clock(to))
	case !from.IsZero():
		return ", from " + s.clock(from)
	case !to.IsZero():
		return ", until " + s.clock(to)
	}
	return ""
}

// goodUntil is when the material just placed turns cold, of itself and of no other's that lies in the same joint; waits says
// that a joint waits for it.
func (s *site) goodUntil(coat event.Coat, name event.Name) (turns time.Time, waits bool) {
	for _, f := range s.fold.Fronts() {
		if f.Coat != coat {
			continue
		}
		st := s.fold.At(f, s.now)
		switch name {
		case f.First.Record.Name:
			turns, waits = st.Turns, true
		case f.Last.Record.Name:
			turns, waits = st.TurnsLatest, true
		}
	}
	return turns, waits && !turns.IsZero()
}

// tooLittle is the share of a batch below which there is none to place.
const tooLittle = 0.0005

// leftOf says how much of a batch is left.
func (s *site) leftOf(b *fold.Batch) string {
	if b.Left <= tooLittle {
		return fmt.Sprintf("nothing left of batch %s", s.shortBatch(b.ID))
	}
	volume := b.Volume(b.Left, s.fold.YieldOf(b).Ratio)
	return fmt.Sprintf("%s of batch %s left, %s", s.units.Share(b.Left), s.shortBatch(b.ID), unit.Both(s.units, unit.Computed(volume), unit.System.Volume))
}

func joinable[S ~string](names []S) []string {
	var all []string
	for _, n := range names {
		all = append(all, string(n))
	}
	return all
}
