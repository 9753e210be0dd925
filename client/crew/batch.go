package crew

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/mixplan"
	"hod/internal/trade/mix"
	"hod/internal/unit"
)

// batch is one mixer load as a crew writes it down.
type batch struct {
	mix                      string
	amounts                  []string // NAME=AMOUNT instead of the mix's, +NAME=AMOUNT on top
	moisture, spray, rate    string
	from, to, waterAt, on    string
	temperature, scale, crew string
	because                  string
	number                   int
	lead                     bool
	corrected, uncorrected   bool
}

// NewBatch makes hod batch.
func NewBatch(env *session.Env) *cobra.Command {
	var b batch
	c := env.NewCommand("batch MIX [NAME=AMOUNT…] [+NAME=AMOUNT…]", "Write down a batch that was mixed",
		"hod batch face --moisture 4% --from 10:30 --to 10:42",
		"hod batch face sand=190lb +water=1qt --spray 10s --spray-rate 1qt/4s --water-at 10:33 --temp 29C",
		"hod batch face --scale 1/2 --lead")
	c.Long = "The amounts are the mix's, at --scale; with --moisture, sand and water as they are weighed at that moisture. NAME=AMOUNT says " +
		"what went in instead, +NAME=AMOUNT what went in on top, sand as weighed, with the water in it. The number is the next of the crew's day."
	c.Args = terminal.MinimumArgs(1, "the name of a mix")
	f := c.Flags()
	f.StringVar(&b.moisture, "moisture", "", "total moisture of the sand, of its dry mass: 4%")
	f.StringVar(&b.spray, "spray", "", "how long water was sprayed in: 10s")
	f.StringVar(&b.rate, "spray-rate", "", "what the wand delivers: 1qt/4s (default: as last written by this crew)")
	f.StringVar(&b.from, "from", "", "when mixing began")
	f.StringVar(&b.to, "to", "", "when the batch was ready (default: now)")
	f.StringVar(&b.waterAt, "water-at", "", "when water met cement")
	f.StringVar(&b.on, "on", "", "the day of these times (default: today)")
	f.StringVar(&b.temperature, "temp", "", "temperature of the mortar: 29C, 85F")
	f.StringVar(&b.scale, "scale", "1", "size of the batch against the mix's: 1/2")
	f.BoolVar(&b.uncorrected, "uncorrected", false,
		"sand and water were weighed as the mix has them, whatever the sand's moisture")
	f.BoolVar(&b.corrected, "corrected", false,
		"sand and water were weighed as corrected for --moisture, which is the default")
	f.IntVar(&b.number, "number", 0, "number of the batch (default: the next)")
	f.StringVar(&b.crew, "crew", "", "the crew that mixed it (default: this device's)")
	f.BoolVar(&b.lead, "lead", false, "lead through the mix's charging order, one key a step")
	f.StringVar(&b.because, "because", "",
		"why it was done all the same where a rule of the job says no (the rule is then passed over)")
	env.SureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		b.mix, b.amounts = args[0], args[1:]
		return session.Run(c.Context(), env, func(s *session.Session) error { return b.run(c.Context(), s) })
	}
	return c
}

// batchKept is the document hod.batch.v1.
type batchKept struct {
	session.Kept
	Batch        string             `json:"batch"`
	Mix          string             `json:"mix"`
	Charges      []chargeKept       `json:"charges"`
	SandMoisture *terminal.Quantity `json:"sand_moisture,omitempty"`
	SpraySeconds float64            `json:"spray_s,omitempty"`
	WCM          float64            `json:"w_cm,omitempty"`
	WaterLimit   float64            `json:"water_limit,omitempty"`
	// that may still be added; negative: too much by so much
	WaterLeft *terminal.Quantity `json:"water_left,omitempty"`
	Yield     *terminal.Quantity `json:"yield,omitempty"` // as designed
	CutShort  []string           `json:"cut_short,omitempty"`
}

type chargeKept struct {
	Constituent string            `json:"constituent"`
	Amount      terminal.Quantity `json:"amount"`
	At          terminal.Stamp    `json:"at"`
}

func (b batch) run(ctx context.Context, s *session.Session) error {
	m, err := s.FindMix(b.mix)
	if err != nil {
		return err
	}
	body, err := b.read(s, m)
	if err != nil {
		return err
	}
	on, err := s.OnDay(b.on)
	if err != nil {
		return err
	}
	if b.lead {
		return b.led(ctx, s, m, body, on)
	}
	if err := s.ReadTimes(on, session.TimeFlag{Name: "from", Value: b.from, To: &body.MixedFrom},
		session.TimeFlag{Name: "to", Value: b.to, To: &body.MixedTo},
		session.TimeFlag{Name: "water-at", Value: b.waterAt, To: &body.WaterAt}); err != nil {
		return err
	}
	d := session.Draft{
		Rules: []string{fold.WaterLimit, fold.SameNumber}, At: body.MixedTo, Typed: b.from != "" || b.to != "" ||
			b.waterAt != "", Because: b.because,
		Say: func(code, text string) string { return b.refusal(s, code, text, body) },
	}
	if d.At.IsZero() && on != "" {
		return terminal.Usagef("--on %s needs the time when the batch was ready: --to 10:42", on)
	}
	if body.Batch, err = b.name(s, dayOfBatch(s, d.At, body.MixedFrom, on)); err != nil {
		return err
	}
	if err := b.notYet(s, body.Batch); err != nil {
		return err
	}
	if err := MixedTooLong(s, body, d.At); err != nil && b.because == "" {
		return err
	}
	body.Because = b.because
	d.Body = body // a copy, so after its reason
	d.Reason = func(why string) event.Body { body.Because = why; return body }
	k, err := s.Keep(ctx, d)
	if err != nil {
		return err
	}
	return tellBatch(s, k, k.Body.(event.BatchMixed))
}

// led leads a person through the batch and writes it down. All that can be refused is refused before the first step:
// what is mixed is recorded whatever the rules say, with its times, and shown as what it is.
func (b batch) led(ctx context.Context, s *session.Session, m *fold.Mix, body event.BatchMixed, on string) error {
	if b.from != "" || b.to != "" || b.waterAt != "" || on != "" {
		return terminal.Usagef("--lead keeps the times itself; leave out --from, --to, --water-at and --on")
	}
	id, err := b.name(s, s.Today())
	if err != nil {
		return err
	}
	if err := b.notYet(s, id); err != nil {
		return err
	}
	body.Batch = id
	asked := []session.Draft{{Body: body}}
	if err := s.SettleDoubts(asked); err != nil {
		return err
	}
	body = asked[0].Body.(event.BatchMixed)
	if err := mayWrite(ctx, s, id, body); err != nil {
		return err
	}
	if err := leadThrough(ctx, s, m, &body); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx) // a signal that comes now must not cost the batch
	if err := s.Reload(ctx); err != nil {
		return notLost(s, body, err)
	}
	if body.Batch, err = b.name(s, dayOfBatch(s, time.Time{}, s.ToSiteClock(body.MixedFrom), "")); err != nil {
		return notLost(s, body, err)
	}
	body.Because = b.because
	k, err := s.Keep(ctx, session.Draft{Body: body, Mixed: true, Sure: asked[0].Sure})
	if err != nil {
		return notLost(s, body, err)
	}
	dropSteps(s)
	return tellBatch(s, k, body)
}

// mayWrite finds out before the first step whether the record would take such a batch from this device.
func mayWrite(ctx context.Context, s *session.Session, id event.Batch, body event.BatchMixed) error {
	body.Batch = id
	if _, err := s.Try(ctx, []session.Draft{{Body: body}}); err != nil {
		return err
	}
	return s.Reload(ctx) // without what was tried
}

// notYet refuses the number of a batch that is in the record, unless there is a reason.
func (b batch) notYet(s *session.Session, id event.Batch) error {
	other, ok := s.Fold.Batch(id)
	if !ok || b.because != "" {
		return nil
	}
	return terminal.Refusedf(
		"batch %s is in the record already, as %s; the next is %d. To correct it: `hod amend %s …`. If there really were two, say so with --because",
		id, other.Mixed.Name, nextNumber(s, id.Crew, id.Day), other.Mixed.Name)
}

// longMixing is what mixing one batch never takes; whoever writes more has slipped on the clock. Common practice, no
// source.
const longMixing = 2 * time.Hour

// MixedTooLong asks for a reason where mixing would have taken very long; ready is when the batch was, zero: now.
func MixedTooLong(s *session.Session, body event.BatchMixed, ready time.Time) error {
	if ready.IsZero() {
		ready = s.Now
	}
	if body.MixedFrom.IsZero() || ready.Sub(body.MixedFrom) <= longMixing {
		return nil
	}
	return terminal.Refusedf(
		"mixing from %s to %s would have taken %s; over %s it needs a reason: correct --from or --to, or say why with --because",
		s.FormatTime(body.MixedFrom), s.FormatTime(ready), unit.Duration(ready.Sub(body.MixedFrom).Round(time.Minute)),
		unit.Duration(longMixing))
}

// refusal says of a rule that a batch breaks what would be right, in figures that differ as the values do.
func (b batch) refusal(s *session.Session, code, text string, body event.BatchMixed) string {
	batch, ok := s.Fold.Batch(body.Batch)
	if code != fold.WaterLimit || !ok || batch.Wrong != "" {
		return text
	}
	ratio, limit := apart(batch.Figures.WaterCementitious, batch.Mix.WaterLimit)
	text = fmt.Sprintf("batch %s has w/cm %s; the mix allows %s", s.ShortBatch(body.Batch), ratio, limit)
	if left, err := batch.Figures.WaterLeft(batch.Mix.WaterLimit); err == nil && left < 0 {
		text += fmt.Sprintf(", which is %s of water less",
			unit.Both(s.Units, unit.Computed(unit.WaterDensity.Of(-left)), unit.System.Liquid))
	}
	if body.SandMoisture == nil {
		return text
	}
	scale, err := parse.Scale(b.scale)
	if err != nil {
		return text
	}
	right, err := correctedBatch(batch.Mix, scale, body.SandMoisture.SI)
	if err != nil {
		return text
	}
	var weigh []string
	for i, c := range batch.Mix.Constituents {
		if c.Kind == event.Sand || c.Kind == event.Water {
			weigh = append(weigh, string(c.Name)+" "+unit.Both(s.Units, unit.Computed(right.Charges[i].Mass),
				unit.System.Mass))
		}
	}
	text += fmt.Sprintf(". With the sand at %s the mix is %s", s.Units.Share(body.SandMoisture.SI),
		strings.Join(weigh, ", "))
	if b.uncorrected {
		text += ": leave out --uncorrected if so much was weighed"
	}
	return text
}

// apart writes two ratios with three decimals, or with as many more as show that they differ.
func apart(a, b float64) (string, string) {
	write := func(digits int) (string, string) {
		return strconv.FormatFloat(a, 'f', digits, 64), strconv.FormatFloat(b, 'f', digits, 64)
	}
	for digits := 3; digits <= 6; digits++ {
		if x, y := write(digits); x != y {
			return x, y
		}
	}
	return write(3)
}

// read fills in what does not hang on the clock.
func (b batch) read(s *session.Session, m *fold.Mix) (event.BatchMixed, error) {
	body := event.BatchMixed{Mix: m.MixPlanned.Mix, Revision: m.Revision}
	var err error
	if body.SandMoisture, err = parse.OptionalFlag("moisture", b.moisture, unit.ParseShare); err != nil {
		return body, err
	}
	if body.Temperature, err = parse.OptionalFlag("temp", b.temperature, unit.ParseTemperature); err != nil {
		return body, err
	}
	scale, err := parse.Scale(b.scale)
	if err != nil {
		return body, err
	}
	if body.Charges, err = b.charges(m, scale, body.SandMoisture); err != nil {
		return body, err
	}
	if err := HoldsCement(m, body.Charges); err != nil {
		return body, err
	}
	return body, b.readSpray(s, &body)
}

// HoldsCement refuses a batch of a mix with cement into which none went: it has no w/cm and never sets.
func HoldsCement(m *fold.Mix, charges []event.Charge) error {
	for _, c := range m.Constituents {
		if c.Kind != event.Cement {
			continue
		}
		if slices.ContainsFunc(charges, func(in event.Charge) bool {
			return in.Amount.Mass+unit.Mass(in.Amount.Volume) > 0 &&
				slices.ContainsFunc(m.Constituents,
					func(c event.Constituent) bool { return c.Name == in.Constituent && c.Kind == event.Cement })
		}) {
			return nil
		}
		return terminal.Refusedf(
			"a batch needs cement, and this one has none of %s; write how much went in, %s=94lb. If it was forgotten, put down with `hod note` what became of the load", c.Name, c.Name)
	}
	return nil
}

func (b batch) readSpray(s *session.Session, body *event.BatchMixed) error {
	if b.spray == "" {
		if b.rate != "" {
			return terminal.Usagef("--spray-rate %s says how fast, not how long: add --spray 10s",
				terminal.Safe(b.rate))
		}
		return nil
	}
	var err error
	if body.Spray, err = unit.ParseDuration(b.spray); err != nil {
		return terminal.InFlag("spray", err)
	}
	if b.rate != "" {
		flow, err := unit.Said(b.rate, unit.ParseFlow)
		if err != nil {
			return terminal.InFlag("spray-rate", err)
		}
		body.SprayPerS = &unit.As[unit.Volume]{SI: unit.Volume(flow.SI), Entered: flow.Entered}
		return nil
	}
	for _, before := range slices.Backward(s.Fold.Batches()) {
		if before.ID.Crew == s.Device.Crew && before.Body.SprayPerS != nil {
			body.SprayPerS = before.Body.SprayPerS
			return nil
		}
	}
	return terminal.Usagef(
		"--spray %s says how long, not how much: add what the wand delivers, --spray-rate 1qt/4s; later batches take it over", terminal.Safe(b.spray))
}

// charges are what went in: the mix's own amounts, scaled, with what was said instead and on top.
func (b batch) charges(m *fold.Mix, scale float64, moisture *unit.As[unit.Share]) ([]event.Charge, error) {
	instead, extra, err := b.said(m)
	if err != nil {
		return nil, err
	}
	var corrected mix.Batch
	switch {
	case b.corrected && b.uncorrected:
		return nil, terminal.Usagef("--corrected and --uncorrected are opposites; leave one out")
	case b.corrected && moisture == nil:
		return nil, terminal.Usagef("--corrected needs the sand's moisture: --moisture 4%%")
	}
	wet := moisture != nil && !b.uncorrected
	if wet {
		if corrected, err = correctedBatch(m, scale, moisture.SI); err != nil {
			return nil, err
		}
	}
	var all []event.Charge
	for i, c := range m.Constituents {
		a, ok := instead[c.Name]
		switch {
		case ok:
		case wet && (c.Kind == event.Sand || c.Kind == event.Water):
			a = event.Amount{Mass: corrected.Charges[i].Mass}
		default:
			a = session.ScaledAmount(c.Amount, scale)
		}
		all = append(all, event.Charge{Constituent: c.Name, Amount: a})
	}
	return append(all, extra...), nil
}

// correctedBatch is what to weigh of the mix at this size and moisture.
func correctedBatch(m *fold.Mix, scale float64, moisture unit.Share) (mix.Batch, error) {
	weighed, err := mixplan.Weighed(m.Mix, scale, moisture)
	if err != nil {
		return mix.Batch{}, terminal.Usagef("mix %s %v", m.MixPlanned.Mix, err)
	}
	return weighed, nil
}

func (b batch) said(m *fold.Mix) (instead map[event.Material]event.Amount, extra []event.Charge, err error) {
	instead = map[event.Material]event.Amount{}
	for _, word := range b.amounts {
		name, value, ok := strings.Cut(word, "=")
		name, more := strings.CutPrefix(name, "+")
		if !ok || name == "" || value == "" {
			return nil, nil,
				terminal.Usagef(
					"%q is no amount; write sand=190lb for what went in instead of the mix's, +water=1qt for what went in on top", terminal.Safe(word))
		}
		c, err := session.FindConstituent(m, name)
		if err != nil {
			return nil, nil, err
		}
		a, err := parse.Amount(value, c.Kind)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", c.Name, err)
		}
		if more {
			extra = append(extra, event.Charge{Constituent: c.Name, Amount: a})
			continue
		}
		if _, twice := instead[c.Name]; twice {
			return nil, nil, terminal.Usagef("%s is given twice; write +%s=%s for what went in on top", c.Name, c.Name,
				terminal.Safe(value))
		}
		instead[c.Name] = a
	}
	return instead, extra, nil
}

// dayOfBatch is the site's date of a batch: when mixing began, if that is known.
func dayOfBatch(s *session.Session, ready, from time.Time, on string) string {
	switch {
	case on != "":
		return on
	case !from.IsZero():
		return from.In(s.Location).Format(time.DateOnly)
	case !ready.IsZero():
		return ready.In(s.Location).Format(time.DateOnly)
	}
	return s.Today()
}

func (b batch) name(s *session.Session, day string) (event.Batch, error) {
	crew := s.Device.Crew
	if b.crew != "" {
		var err error
		if crew, err = s.FindCrew(b.crew); err != nil {
			return event.Batch{}, err
		}
	}
	if crew == "" {
		return event.Batch{}, terminal.Usagef("this device belongs to no crew: say whose batch it is, --crew north")
	}
	id := event.Batch{Crew: crew, Day: day, Number: b.number}
	if id.Number == 0 {
		id.Number = nextNumber(s, crew, day)
	}
	return id, nil
}

func nextNumber(s *session.Session, crew event.Crew, day string) int {
	n := 0
	for _, b := range s.Fold.BatchesOn(crew, day) {
		n = max(n, b.ID.Number)
	}
	return n + 1
}

func tellBatch(s *session.Session, k session.Kept, body event.BatchMixed) error {
	doc := batchKept{
		Batch: body.Batch.String(), Mix: string(body.Mix), SpraySeconds: body.Spray.Seconds(),
		CutShort: body.CutShort,
	}
	for _, c := range body.Charges {
		doc.Charges = append(doc.Charges, chargeKept{
			string(c.Constituent), session.QuantityOfAmount(c.Amount),
			terminal.Stamp(c.At),
		})
	}
	ratio := ""
	if b, ok := s.Fold.Batch(body.Batch); ok && b.Mixed.Name == k.Name && b.Wrong == "" {
		k.Next = doc.water(s, b)
		ratio = k.Next + "; "
	}
	said := chargeWords(s, body)
	if body.SandMoisture != nil {
		q := terminal.QuantityOf(*body.SandMoisture, "1")
		doc.SandMoisture = &q
		said += ", sand at " + unit.Both(s.Units, *body.SandMoisture, unit.System.Share)
	}
	if body.Spray > 0 {
		said += ", sprayed " + unit.Duration(body.Spray)
	}
	if body.Temperature != nil {
		said += ", at " + unit.Both(s.Units, *body.Temperature, unit.System.Temperature)
	}
	from, to := body.MixedFrom, body.MixedTo
	if r, ok := s.Fold.Record(k.Name); ok {
		from, to = r.OnSite(from), r.OnSite(to)
	}
	switch {
	case !from.IsZero() && !to.IsZero():
		said += fmt.Sprintf(", %s to %s", s.FormatTime(from), s.FormatTime(to))
	case !to.IsZero():
		said += ", ready " + s.FormatTime(to)
	}
	batch := fmt.Sprintf("batch %s of %s: ", s.ShortBatch(body.Batch), body.Mix)
	k.Text, k.Line = batch+said, batch+ratio+said
	s.AddWarnings(&k)
	if body.SandMoisture == nil && hasSand(s, body.Mix) {
		k.Warnings = append(k.Warnings,
			"the sand's moisture is not said: its water is counted as if it lay saturated and surface dry (--moisture 4%)")
	}
	doc.Kept = k
	return s.Tell(k, doc)
}

// water fills in what the batch's amounts say of its water and of its yield, and gives the water in words.
func (doc *batchKept) water(s *session.Session, b *fold.Batch) string {
	doc.WCM, doc.WaterLimit = terminal.Round3(b.Figures.WaterCementitious), b.Mix.WaterLimit
	if b.Design > 0 {
		q := terminal.QuantityOf(unit.Computed(b.Design), "m3")
		doc.Yield = &q
	}
	plain := fmt.Sprintf("w/cm %.3f", b.Figures.WaterCementitious)
	if b.Mix.WaterLimit <= 0 {
		return plain
	}
	left, err := b.Figures.WaterLeft(b.Mix.WaterLimit)
	if err != nil {
		return plain
	}
	q := terminal.QuantityOf(unit.Computed(left), "kg")
	doc.WaterLeft = &q
	ratio, allowed := apart(b.Figures.WaterCementitious, b.Mix.WaterLimit)
	return "w/cm " + ratio + waterLeft(s, left, allowed)
}

// chargeWords are the amounts that a person checks: sand and water, and what went in otherwise than the mix has it; the
// rest is not read out. The JSON document has all.
func chargeWords(s *session.Session, body event.BatchMixed) string {
	planned := map[event.Material]event.Constituent{}
	if m := s.Plan.Mixes[body.Mix]; m != nil {
		for _, c := range m.Constituents {
			planned[c.Name] = c
		}
	}
	var said []string
	rest := 0
	for _, c := range together(body.Charges) {
		p, ok := planned[c.Constituent]
		if ok && p.Kind != event.Sand && p.Kind != event.Water && alike(c.Amount, p.Amount) {
			rest++
			continue
		}
		said = append(said, string(c.Constituent)+" "+s.FormatAmount(c.Amount))
	}
	switch {
	case rest > 0 && len(said) == 0:
		said = append(said, "as the mix has it")
	case rest > 0:
		said = append(said, "the rest as the mix")
	}
	return strings.Join(said, ", ")
}

// together adds up what went in of one constituent at several steps, as far as it was measured alike.
func together(charges []event.Charge) []event.Charge {
	var all []event.Charge
	for _, c := range charges {
		i := slices.IndexFunc(all, func(o event.Charge) bool {
			return o.Constituent == c.Constituent && o.Amount.ByVolume == c.Amount.ByVolume
		})
		if i < 0 {
			all = append(all, c)
			continue
		}
		sum := &all[i].Amount
		*sum = event.Amount{
			Mass: sum.Mass + c.Amount.Mass, Volume: sum.Volume + c.Amount.Volume,
			ByVolume: sum.ByVolume,
		}
	}
	return all
}

// alike says whether two amounts are the same to a thousandth, in whatever words.
func alike(a, b event.Amount) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) <= 0.001*math.Abs(y) }
	return a.ByVolume == b.ByVolume && near(float64(a.Mass), float64(b.Mass)) &&
		near(float64(a.Volume), float64(b.Volume))
}

func waterLeft(s *session.Session, left unit.Mass, limit string) string {
	volume := unit.WaterDensity.Of(unit.Mass(math.Abs(float64(left))))
	both := unit.Both(s.Units, unit.Computed(volume), unit.System.Liquid)
	if left < 0 {
		return fmt.Sprintf(", %s of water over the mix's %s", both, limit)
	}
	return fmt.Sprintf(", %s of water may still go in (%s allowed)", both, limit)
}

func hasSand(s *session.Session, name event.Mix) bool {
	m := s.Plan.Mixes[name]
	return m != nil && slices.ContainsFunc(m.Constituents,
		func(c event.Constituent) bool { return c.Kind == event.Sand })
}
