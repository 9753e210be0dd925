package cli

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
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

func newBatch(env *deviceEnv) *cobra.Command {
	var b batch
	c := env.command("batch MIX [NAME=AMOUNT…] [+NAME=AMOUNT…]", "Write down a batch that was mixed",
		"hod batch face --moisture 4% --from 10:30 --to 10:42",
		"hod batch face sand=190lb +water=1qt --spray 10s --spray-rate 1qt/4s --water-at 10:33 --temp 29C",
		"hod batch face --scale 1/2 --lead")
	c.Long = "The amounts are the mix's, at --scale; with --moisture, sand and water as they are weighed at that moisture. NAME=AMOUNT says " +
		"what went in instead, +NAME=AMOUNT what went in on top, sand as weighed, with the water in it. The number is the next of the crew's day."
	c.Args = atLeast(1, "the name of a mix")
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
	f.BoolVar(&b.uncorrected, "uncorrected", false, "sand and water were weighed as the mix has them, whatever the sand's moisture")
	f.BoolVar(&b.corrected, "corrected", false, "sand and water were weighed as corrected for --moisture, which is the default")
	f.IntVar(&b.number, "number", 0, "number of the batch (default: the next)")
	f.StringVar(&b.crew, "crew", "", "the crew that mixed it (default: this device's)")
	f.BoolVar(&b.lead, "lead", false, "lead through the mix's charging order, one key a step")
	f.StringVar(&b.because, "because", "", "why it was done all the same where a rule of the job says no (the rule is then passed over)")
	env.sureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		b.mix, b.amounts = args[0], args[1:]
		return env.with(c.Context(), func(s *site) error { return b.run(c.Context(), s) })
	}
	return c
}

// batchKept is the document hod.batch.v1.
type batchKept struct {
	kept
	Batch        string       `json:"batch"`
	Mix          string       `json:"mix"`
	Charges      []chargeKept `json:"charges"`
	SandMoisture *Quantity    `json:"sand_moisture,omitempty"`
	SpraySeconds float64      `json:"spray_s,omitempty"`
	WCM          float64      `json:"w_cm,omitempty"`
	WaterLimit   float64      `json:"water_limit,omitempty"`
	WaterLeft    *Quantity    `json:"water_left,omitempty"` // that may still be added; negative: too much by so much
	Yield        *Quantity    `json:"yield,omitempty"`      // as designed
	CutShort     []string     `json:"cut_short,omitempty"`
}

type chargeKept struct {
	Constituent string   `json:"constituent"`
	Amount      Quantity `json:"amount"`
	At          Stamp    `json:"at"`
}

func (b batch) run(ctx context.Context, s *site) error {
	m, err := s.findMix(b.mix)
	if err != nil {
		return err
	}
	body, err := b.read(s, m)
	if err != nil {
		return err
	}
	on, err := s.onDay(b.on)
	if err != nil {
		return err
	}
	if b.lead {
		return b.led(ctx, s, m, body, on)
	}
	if err := s.readTimes(on, timeFlag{"from", b.from, &body.MixedFrom}, timeFlag{"to", b.to, &body.MixedTo}, timeFlag{"water-at", b.waterAt, &body.WaterAt}); err != nil {
		return err
	}
	d := draft{
		rules: []string{fold.WaterLimit, fold.SameNumber}, at: body.MixedTo, typed: b.from != "" || b.to != "" || b.waterAt != "", because: b.because,
		say: func(code, text string) string { return b.refusal(s, code, text, body) },
	}
	if d.at.IsZero() && on != "" {
		return usage("--on %s needs the time when the batch was ready: --to 10:42", on)
	}
	if body.Batch, err = b.name(s, s.dayOfBatch(d.at, body.MixedFrom, on)); err != nil {
		return err
	}
	if err := b.notYet(s, body.Batch); err != nil {
		return err
	}
	if err := s.mixedTooLong(body, d.at); err != nil && b.because == "" {
		return err
	}
	body.Because = b.because
	d.body = body // a copy, so after its reason
	d.reason = func(why string) event.Body { body.Because = why; return body }
	k, err := s.keep(ctx, d)
	if err != nil {
		return err
	}
	return s.tellBatch(k, k.body.(event.BatchMixed))
}

// led leads a person through the batch and writes it down. All that can be refused is refused before the first step: what
// is mixed is recorded whatever the rules say, with its times, and shown as what it is.
func (b batch) led(ctx context.Context, s *site, m *fold.Mix, body event.BatchMixed, on string) error {
	if b.from != "" || b.to != "" || b.waterAt != "" || on != "" {
		return usage("--lead keeps the times itself; leave out --from, --to, --water-at and --on")
	}
	id, err := b.name(s, s.today())
	if err != nil {
		return err
	}
	if err := b.notYet(s, id); err != nil {
		return err
	}
	body.Batch = id
	asked := []draft{{body: body}}
	if err := s.settleDoubts(asked); err != nil {
		return err
	}
	body = asked[0].body.(event.BatchMixed)
	if err := s.mayWrite(ctx, id, body); err != nil {
		return err
	}
	if err := s.leadThrough(ctx, m, &body); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx) // a signal that comes now must not cost the batch
	if err := s.read(ctx); err != nil {
		return s.notLost(body, err)
	}
	if body.Batch, err = b.name(s, s.dayOfBatch(time.Time{}, s.onSite(body.MixedFrom), "")); err != nil {
		return s.notLost(body, err)
	}
	body.Because = b.because
	k, err := s.keep(ctx, draft{body: body, mixed: true, sure: asked[0].sure})
	if err != nil {
		return s.notLost(body, err)
	}
	s.dropSteps()
	return s.tellBatch(k, body)
}

// mayWrite finds out before the first step whether the record would take such a batch from this device.
func (s *site) mayWrite(ctx context.Context, id event.Batch, body event.BatchMixed) error {
	body.Batch = id
	if _, err := s.try(ctx, []draft{{body: body}}); err != nil {
		return err
	}
	return s.read(ctx) // without what was tried
}

// notYet refuses the number of a batch that is in the record, unless there is a reason.
func (b batch) notYet(s *site, id event.Batch) error {
	other, ok := s.fold.Batch(id)
	if !ok || b.because != "" {
		return nil
	}
	return refused("batch %s is in the record already, as %s; the next is %d. To correct it: `hod amend %s …`. If there really were two, say so with --because",
		id, other.Mixed.Name, s.nextNumber(id.Crew, id.Day), other.Mixed.Name)
}

// longMixing is what mixing one batch never takes; whoever writes more has slipped on the clock. Common practice, no source.
const longMixing = 2 * time.Hour

// mixedTooLong asks for a reason where mixing would have taken very long; ready is when the batch was, zero: now.
func (s *site) mixedTooLong(body event.BatchMixed, ready time.Time) error {
	if ready.IsZero() {
		ready = s.now
	}
	if body.MixedFrom.IsZero() || ready.Sub(body.MixedFrom) <= longMixing {
		return nil
	}
	return refused("mixing from %s to %s would have taken %s; over %s it needs a reason: correct --from or --to, or say why with --because",
		s.clock(body.MixedFrom), s.clock(ready), unit.Duration(ready.Sub(body.MixedFrom).Round(time.Minute)), unit.Duration(longMixing))
}

// refusal says of a rule that a batch breaks what would be right, in figures that differ as the values do.
func (b batch) refusal(s *site, code, text string, body event.BatchMixed) string {
	batch, ok := s.fold.Batch(body.Batch)
	if code != fold.WaterLimit || !ok || batch.Wrong != "" {
		return text
	}
	ratio, limit := apart(batch.Figures.WaterCementitious, batch.Mix.WaterLimit)
	text = fmt.Sprintf("batch %s has w/cm %s; the mix allows %s", s.shortBatch(body.Batch), ratio, limit)
	if left, err := batch.Figures.WaterLeft(batch.Mix.WaterLimit); err == nil && left < 0 {
		text += fmt.Sprintf(", which is %s of water less", unit.Both(s.units, unit.Computed(unit.WaterDensity.Of(-left)), unit.System.Liquid))
	}
	if body.SandMoisture == nil {
		return text
	}
	scale, err := readScale(b.scale)
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
			weigh = append(weigh, string(c.Name)+" "+unit.Both(s.units, unit.Computed(right.Charges[i].Mass), unit.System.Mass))
		}
	}
	text += fmt.Sprintf(". With the sand at %s the mix is %s", s.units.Share(body.SandMoisture.SI), strings.Join(weigh, ", "))
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
func (b batch) read(s *site, m *fold.Mix) (event.BatchMixed, error) {
	body := event.BatchMixed{Mix: m.MixPlanned.Mix, Revision: m.Revision}
	var err error
	if body.SandMoisture, err = maybe("moisture", b.moisture, unit.ParseShare); err != nil {
		return body, err
	}
	if body.Temperature, err = maybe("temp", b.temperature, unit.ParseTemperature); err != nil {
		return body, err
	}
	scale, err := readScale(b.scale)
	if err != nil {
		return body, err
	}
	if body.Charges, err = b.charges(m, scale, body.SandMoisture); err != nil {
		return body, err
	}
	if err := holdsCement(m, body.Charges); err != nil {
		return body, err
	}
	return body, b.readSpray(s, &body)
}

// holdsCement refuses a batch of a mix with cement into which none went: it has no w/cm and never sets.
func holdsCement(m *fold.Mix, charges []event.Charge) error {
	for _, c := range m.Constituents {
		if c.Kind != event.Cement {
			continue
		}
		if slices.ContainsFunc(charges, func(in event.Charge) bool {
			return in.Amount.Mass+unit.Mass(in.Amount.Volume) > 0 && slices.ContainsFunc(m.Constituents, func(c event.Constituent) bool { return c.Name == in.Constituent && c.Kind == event.Cement })
		}) {
			return nil
		}
		return refused("a batch needs cement, and this one has none of %s; write how much went in, %s=94lb. If it was forgotten, put down with `hod note` what became of the load", c.Name, c.Name)
	}
	return nil
}

func (b batch) readSpray(s *site, body *event.BatchMixed) error {
	if b.spray == "" {
		if b.rate != "" {
			return usage("--spray-rate %s says how fast, not how long: add --spray 10s", safe(b.rate))
		}
		return nil
	}
	var err error
	if body.Spray, err = unit.ParseDuration(b.spray); err != nil {
		return flagged("spray", err)
	}
	if b.rate != "" {
		flow, err := unit.Said(b.rate, unit.ParseFlow)
		if err != nil {
			return flagged("spray-rate", err)
		}
		body.SprayPerS = &unit.As[unit.Volume]{SI: unit.Volume(flow.SI), Entered: flow.Entered}
		return nil
	}
	for _, before := range slices.Backward(s.fold.Batches()) {
		if before.ID.Crew == s.device.Crew && before.Body.SprayPerS != nil {
			body.SprayPerS = before.Body.SprayPerS
			return nil
		}
	}
	return usage("--spray %s says how long, not how much: add what the wand delivers, --spray-rate 1qt/4s; later batches take it over", safe(b.spray))
}

// readScale reads 1/2, 2, 1.5 or 50%.
func readScale(word string) (float64, error) {
	if x, err := parseNumber(strings.TrimSpace(word)); err == nil && x > 0 && x <= 20 {
		return x, nil
	}
	share, err := unit.ParseShare(word)
	if err != nil || share <= 0 {
		return 0, usage("--scale cannot be %q; write 1/2 for half the mix's batch, 2 for two of them, 20 at most", safe(word))
	}
	return float64(share), nil
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
		return nil, usage("--corrected and --uncorrected are opposites; leave one out")
	case b.corrected && moisture == nil:
		return nil, usage("--corrected needs the sand's moisture: --moisture 4%%")
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
			a = scaled(c.Amount, scale)
		}
		all = append(all, event.Charge{Constituent: c.Name, Amount: a})
	}
	return append(all, extra...), nil
}

// correctedBatch is what to weigh of the mix at this size and moisture.
func correctedBatch(m *fold.Mix, scale float64, moisture unit.Share) (mix.Batch, error) {
	at, err := m.Mix.Scaled(scale)
	if err != nil {
		return mix.Batch{}, usage("mix %s at this size: %v", m.MixPlanned.Mix, err)
	}
	wet := map[string]unit.Share{}
	for _, c := range at.Constituents {
		if c.Kind == mix.Sand {
			wet[c.Name] = moisture
		}
	}
	corrected, err := at.AtMoisture(wet)
	if err != nil {
		return mix.Batch{}, usage("mix %s at this moisture: %v", m.MixPlanned.Mix, err)
	}
	return corrected, nil
}

func scaled(a event.Amount, scale float64) event.Amount {
	if scale == 1 {
		return a
	}
	return event.Amount{Mass: a.Mass * unit.Mass(scale), Volume: a.Volume * unit.Volume(scale), ByVolume: a.ByVolume}
}

func (b batch) said(m *fold.Mix) (instead map[event.Material]event.Amount, extra []event.Charge, err error) {
	instead = map[event.Material]event.Amount{}
	for _, word := range b.amounts {
		name, value, ok := strings.Cut(word, "=")
		name, more := strings.CutPrefix(name, "+")
		if !ok || name == "" || value == "" {
			return nil, nil, usage("%q is no amount; write sand=190lb for what went in instead of the mix's, +water=1qt for what went in on top", safe(word))
		}
		c, err := findConstituent(m, name)
		if err != nil {
			return nil, nil, err
		}
		a, err := readAmount(value, c.Kind)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", c.Name, err)
		}
		if more {
			extra = append(extra, event.Charge{Constituent: c.Name, Amount: a})
			continue
		}
		if _, twice := instead[c.Name]; twice {
			return nil, nil, usage("%s is given twice; write +%s=%s for what went in on top", c.Name, c.Name, safe(value))
		}
		instead[c.Name] = a
	}
	return instead, extra, nil
}

func findConstituent(m *fold.Mix, word string) (event.Constituent, error) {
	var names []event.Material
	for _, c := range m.Constituents {
		names = append(names, c.Name)
		if strings.EqualFold(string(c.Name), word) {
			return c, nil
		}
	}
	return event.Constituent{}, notFound("mix %s has no %q%s", m.MixPlanned.Mix, safe(word), offer(word, names))
}

// readAmount reads an amount of a constituent; none and 0 say that it was left out.
func readAmount(value string, kind event.Kind) (event.Amount, error) {
	if value == "none" || value == "0" {
		return event.Amount{Entered: "none"}, nil
	}
	parse := unit.ParseAmount
	if kind == event.Water || kind == event.Admixture {
		parse = unit.ParseLiquid
	}
	a, err := parse(value)
	if err != nil {
		return event.Amount{}, err
	}
	return event.Amount{Mass: a.Mass, Volume: a.Volume, ByVolume: a.IsVolume, Entered: strings.TrimSpace(value)}, nil
}

// dayOfBatch is the site's date of a batch: when mixing began, if that is known.
func (s *site) dayOfBatch(ready, from time.Time, on string) string {
	switch {
	case on != "":
		return on
	case !from.IsZero():
		return from.In(s.in).Format(time.DateOnly)
	case !ready.IsZero():
		return ready.In(s.in).Format(time.DateOnly)
	}
	return s.today()
}

func (b batch) name(s *site, day string) (event.Batch, error) {
	crew := s.device.Crew
	if b.crew != "" {
		var err error
		if crew, err = s.findCrew(b.crew); err != nil {
			return event.Batch{}, err
		}
	}
	if crew == "" {
		return event.Batch{}, usage("this device belongs to no crew: say whose batch it is, --crew north")
	}
	id := event.Batch{Crew: crew, Day: day, Number: b.number}
	if id.Number == 0 {
		id.Number = s.nextNumber(crew, day)
	}
	return id, nil
}

func (s *site) nextNumber(crew event.Crew, day string) int {
	n := 0
	for _, b := range s.fold.Batches() {
		if b.ID.Crew == crew && b.ID.Day == day {
			n = max(n, b.ID.Number)
		}
	}
	return n + 1
}

func (s *site) tellBatch(k kept, body event.BatchMixed) error {
	doc := batchKept{Batch: body.Batch.String(), Mix: string(body.Mix), SpraySeconds: body.Spray.Seconds(), CutShort: body.CutShort}
	for _, c := range body.Charges {
		doc.Charges = append(doc.Charges, chargeKept{string(c.Constituent), amount(c.Amount), Stamp(c.At)})
	}
	ratio := ""
	if b, ok := s.fold.Batch(body.Batch); ok && b.Mixed.Name == k.name && b.Wrong == "" {
		doc.WCM, doc.WaterLimit = round3(b.Figures.WaterCementitious), b.Mix.WaterLimit
		if b.Design > 0 {
			q := quantity(unit.Computed(b.Design), "m3")
			doc.Yield = &q
		}
		k.Next = fmt.Sprintf("w/cm %.3f", b.Figures.WaterCementitious)
		if limit := b.Mix.WaterLimit; limit > 0 {
			if left, err := b.Figures.WaterLeft(limit); err == nil {
				q := quantity(unit.Computed(left), "kg")
				doc.WaterLeft = &q
				ratio, allowed := apart(b.Figures.WaterCementitious, limit)
				k.Next = "w/cm " + ratio + s.waterLeft(left, allowed)
			}
		}
		ratio = k.Next + "; "
	}
	said := s.chargeWords(body)
	if body.SandMoisture != nil {
		q := quantity(*body.SandMoisture, "1")
		doc.SandMoisture = &q
		said += ", sand at " + unit.Both(s.units, *body.SandMoisture, unit.System.Share)
	}
	if body.Spray > 0 {
		said += ", sprayed " + unit.Duration(body.Spray)
	}
	if body.Temperature != nil {
		said += ", at " + unit.Both(s.units, *body.Temperature, unit.System.Temperature)
	}
	from, to := body.MixedFrom, body.MixedTo
	if r, ok := s.fold.Record(k.name); ok {
		from, to = r.OnSite(from), r.OnSite(to)
	}
	switch {
	case !from.IsZero() && !to.IsZero():
		said += fmt.Sprintf(", %s to %s", s.clock(from), s.clock(to))
	case !to.IsZero():
		said += ", ready " + s.clock(to)
	}
	batch := fmt.Sprintf("batch %s of %s: ", s.shortBatch(body.Batch), body.Mix)
	k.Text, k.line = batch+said, batch+ratio+said
	s.warned(&k)
	if body.SandMoisture == nil && s.hasSand(body.Mix) {
		k.Warnings = append(k.Warnings, "the sand's moisture is not said: its water is counted as if it lay saturated and surface dry (--moisture 4%)")
	}
	doc.kept = k
	return s.tellKept(k, doc)
}

// chargeWords are the amounts that a person checks: sand and water, and what went in otherwise than the mix has it; the
// rest is not read out. The JSON document has all.
func (s *site) chargeWords(body event.BatchMixed) string {
	planned := map[event.Material]event.Constituent{}
	if m := s.plan.Mixes[body.Mix]; m != nil {
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
		said = append(said, string(c.Constituent)+" "+s.amount(c.Amount))
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
		*sum = event.Amount{Mass: sum.Mass + c.Amount.Mass, Volume: sum.Volume + c.Amount.Volume, ByVolume: sum.ByVolume}
	}
	return all
}

// alike says whether two amounts are the same to a thousandth, in whatever words.
func alike(a, b event.Amount) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) <= 0.001*math.Abs(y) }
	return a.ByVolume == b.ByVolume && near(float64(a.Mass), float64(b.Mass)) && near(float64(a.Volume), float64(b.Volume))
}

func (s *site) waterLeft(left unit.Mass, limit string) string {
	volume := unit.WaterDensity.Of(unit.Mass(math.Abs(float64(left))))
	both := unit.Both(s.units, unit.Computed(volume), unit.System.Liquid)
	if left < 0 {
		return fmt.Sprintf(", %s of water over the mix's %s", both, limit)
	}
	return fmt.Sprintf(", %s of water may still go in (%s allowed)", both, limit)
}

func (s *site) hasSand(name event.Mix) bool {
	m := s.plan.Mixes[name]
	return m != nil && slices.ContainsFunc(m.Constituents, func(c event.Constituent) bool { return c.Kind == event.Sand })
}

// amount shows an amount in both systems.
func (s *site) amount(a event.Amount) string {
	switch {
	case a.Entered == "none":
		return a.Entered
	case a.ByVolume:
		return unit.Both(s.units, unit.As[unit.Volume]{SI: a.Volume, Entered: a.Entered}, unit.System.Liquid)
	}
	return unit.Both(s.units, unit.As[unit.Mass]{SI: a.Mass, Entered: a.Entered}, unit.System.Mass)
}

// round3 keeps a ratio at the digits that it is judged by.
func round3(x float64) float64 { return math.Round(x*1000) / 1000 }
