package mixed

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/mixplan"
	"hod/internal/planned"
	"hod/internal/plausible"
	"hod/internal/trade/mix"
	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// How far stated volumes may exceed what a batch is known to hold before the excess is set aside: buckets are not
// measures, and an unweighed batch is only known from its design. Common practice, no source.
const (
	BeyondWeighed   = 0.05
	BeyondUnweighed = 0.15
	shareStep       = 1e-6 // shares are compared at this step, so that two machines agree
)

// Mixing is all batches of a site, and what their mixes yield.
type Mixing struct {
	planned.Plans
	ByBatch map[event.Batch]*batchState
	stale   []*batchState
	byPlan  *planned.Plan     // by which they were worked out
	Worked  int               // how many times one was brought up to date
	touched []event.Zone      // in which something may lie otherwise than before
	all     []*Batch          // in order; nil when stale
	keptOf  *history.Deferred // of whose batches what is known is counted
	yields  map[planned.YieldKey]*yieldState
	taught  *yieldsIs // nil when stale
}

// NewMixing is without batches.
func NewMixing(plans planned.Plans) Mixing {
	return Mixing{Plans: plans, ByBatch: map[event.Batch]*batchState{}, yields: map[planned.YieldKey]*yieldState{}}
}

// batchState is all that concerns one batch.
type batchState struct {
	id                                 event.Batch
	Mixed, Tests, Placements, Discards []*history.Record
	stale                              bool
	Is                                 *Batch
}

// Batch is one mixer load as the record has it.
type Batch struct {
	ID    event.Batch
	Mixed *history.Record // nil where only tests or placements speak of it
	Body  event.BatchMixed
	Twins []*history.Record // others written under the same name
	Mix   *planned.Mix      // by which it is judged: see planned/history.go
	Timing
	Charged
	Fresh
	Dealt
	Findings []finding.Finding

	unknown bool // the log has not the revision that it carries
}

// Timing is when a batch was made.
type Timing struct {
	From, Water, Ready time.Time
	WaterKnown         bool
}

// Charged is what went into a batch, and what it came to.
type Charged struct {
	Batch   mix.Batch
	Figures mix.Figures     // at the measured yield where there is one, else at design air
	Wrong   string          // why there are no figures
	Weighed []mix.Judgement // each constituent against what the mix asks for
	Design  unit.Volume     // as charged, at design air
	Yield   unit.Volume     // measured; 0 if not weighed
}

// Fresh is what was measured of a batch before it was placed.
type Fresh struct {
	Tests    []Test
	Celsius  *unit.Celsius // as last measured
	Measured string        // the event that measured it
}

// Dealt is where a batch went.
type Dealt struct {
	Parts     []Part // placements that stand, in order
	Discarded unit.Share
	Left      unit.Share
}

// Part of a batch in one coat.
type Part struct {
	Record   *history.Record
	Share    unit.Share  // of the batch, by its design where a volume was stated
	Stated   unit.Volume // 0: by share
	Coat     event.Coat
	From, To time.Time
	Along    []event.Zone
	Gauges   []unit.As[unit.Length]
}

// Test of a fresh batch.
type Test struct {
	Record     *history.Record
	Body       event.BatchTested
	UnitWeight unit.Density // 0: not tested for
	Yield      unit.Volume
	Relative   float64
	Air        unit.Share
	AirKnown   bool
	Judgement  string
	Within     bool
	Low, High  unit.Density // within which the mix asks for it; 0: it is not asked of the mix, or not judged
}

// Batch by its name.
func (s *Mixing) Batch(id event.Batch) (*Batch, bool) {
	s.followPlan()
	if s.Deferred != nil {
		s.EnsureBatches(id)
		s.ComputeFetched()
	}
	st := s.ByBatch[id]
	if st != nil && st.stale {
		s.computeOne(st)
	}
	if st == nil || st.Is == nil || st.Is.Mixed == nil {
		return nil, false
	}
	return st.Is, true
}

// Batches that stand, by day, crew and number. The caller must not change the slice.
func (s *Mixing) Batches() []*Batch {
	s.ComputeBatches()
	if s.all == nil {
		all := make([]*Batch, 0, len(s.ByBatch))
		for _, st := range s.ByBatch {
			if st.Is != nil && st.Is.Mixed != nil {
				all = append(all, st.Is)
			}
		}
		slices.SortFunc(all, func(a, b *Batch) int { return compareBatches(a.ID, b.ID) })
		s.all = all
	}
	return s.all
}

// followPlan has all batches worked out anew where the plan is another than before.
func (s *Mixing) followPlan() {
	s.ComputePlan()
	s.followDeferred()
	if s.byPlan == s.Current {
		return
	}
	s.byPlan = s.Current
	for b := range s.ByBatch {
		s.StaleBatch(b)
	}
}

// StaleBatch marks a batch for computing. The zones that it went to are marked when it is computed, and those that it
// went to before by the placements that left.
func (s *Mixing) StaleBatch(b event.Batch) {
	state := s.BatchOf(b)
	if !state.stale {
		state.stale = true
		s.stale = append(s.stale, state)
	}
}

// BatchOf is the state of a batch of that name, made when it is first asked for.
func (s *Mixing) BatchOf(b event.Batch) *batchState {
	if s.ByBatch[b] == nil {
		s.ByBatch[b] = &batchState{id: b}
	}
	return s.ByBatch[b]
}

// ComputeBatches brings all batches up to date, and with them what the mixes yield.
func (s *Mixing) ComputeBatches() {
	s.LoadAll()
	s.followPlan()
	for _, b := range s.stale {
		if b.stale {
			s.computeOne(b)
		}
	}
	s.stale = nil
}

// TakeTouched are the zones in which something may lie otherwise than when it was asked last.
func (s *Mixing) TakeTouched() []event.Zone {
	all := s.touched
	s.touched = nil
	return all
}

// computeOne brings one batch up to date and notes the zones that it went to.
func (s *Mixing) computeOne(b *batchState) {
	s.computeBatch(b)
	for _, r := range b.Placements {
		s.touched = append(s.touched, r.Now.(event.Placement).Coat.Zone)
	}
}

func compareBatches(a, b event.Batch) int {
	if c := strings.Compare(a.Day, b.Day); c != 0 {
		return c
	}
	if c := strings.Compare(string(a.Crew), string(b.Crew)); c != 0 {
		return c
	}
	return a.Number - b.Number
}

func (s *Mixing) computeBatch(st *batchState) {
	st.stale = false
	s.Cost.Batches++
	s.Worked++
	s.all = nil
	s.forgetYield(st.Is)
	b := &Batch{ID: st.id}
	st.Is = b
	slices.SortFunc(st.Mixed, history.ByTime)
	for _, r := range st.Mixed {
		body := r.Now.(event.BatchMixed)
		m, known := s.Current.MixOf(body, r.When)
		if m == nil {
			r.Lacks(&history.Aside{Code: history.UnknownMix, Why: fmt.Sprintf("no mix %s is planned", body.Mix)})
			continue
		}
		r.Stands()
		if b.Mixed != nil {
			b.Twins = append(b.Twins, r)
			continue
		}
		b.Mixed, b.Body, b.Mix, b.unknown = r, body, m, !known
	}
	if b.Mixed == nil {
		st.wait()
		return
	}
	b.times()
	b.charge(s.Current.LimitsAt(b.Ready).Weighing)
	b.test(st.Tests)
	s.learnYield(b)
	s.share(b, st)
	b.judge(s.Current.System)
	s.judgeBatchDoubts(b)
}

// judgeBatchDoubts finds values of the batch and its tests that the trade does not know.
func (s *Mixing) judgeBatchDoubts(b *Batch) {
	put := func(r *history.Record) {
		if f, ok := s.JudgeDoubts(r, r.Now); ok {
			if t, is := r.Now.(event.BatchTested); is && b.beyond(unitWeight(t)) {
				f.Text += "; the batch's volume rests on what its mix is known to yield, not on this"
			}
			if f.Events = nil; r != b.Mixed { // the batch's own event is put in front of all
				f.Events = []event.Name{r.Name}
			}
			b.find(f)
		}
	}
	put(b.Mixed)
	for _, t := range b.Tests {
		put(t.Record)
	}
}

// beyond reports whether a unit weight leaves air in the batch that such a mix cannot hold. No volume rests on it,
// whoever says that so it was.
func (b *Batch) beyond(d unit.Density) bool {
	if d <= 0 || b.Wrong != "" {
		return false
	}
	_, doubtful := plausible.Weight(d, b.Figures.AirFreeUnitWeight, b.designAir(), "", unit.Metric)
	return doubtful
}

// wait sets aside what speaks of a batch that nobody has mixed in the record.
func (st *batchState) wait() {
	for _, list := range [][]*history.Record{st.Tests, st.Placements, st.Discards} {
		for _, r := range list {
			r.Lacks(&history.Aside{Code: history.UnknownBatch, Why: fmt.Sprintf("no batch %s is in the record", st.id)})
		}
	}
}

func (b *Batch) times() {
	r := b.Mixed
	b.Ready = r.When
	if !b.Body.MixedTo.IsZero() {
		b.Ready = r.OnSite(b.Body.MixedTo)
	}
	b.From = r.OnSite(b.Body.MixedFrom)
	if b.Water = r.OnSite(b.Body.WaterAt); !b.Water.IsZero() {
		b.WaterKnown = true
		return
	}
	if b.Water = b.From; b.Water.IsZero() {
		b.Water = b.Ready
	}
}

// charge brings what went in to the figures of the batch.
func (b *Batch) charge(weighing unit.Share) {
	var amounts []mix.Amount
	for _, c := range b.Body.Charges {
		k, ok := b.Mix.Constituent(c.Constituent)
		if !ok {
			b.Wrong = fmt.Sprintf("mix %s has no %s; its constituents are %s", b.Body.Mix, c.Constituent,
				names(b.Mix.Mix))
			break
		}
		mass, err := mixplan.Mass(c.Amount, k)
		if err != nil {
			b.Wrong = err.Error()
			break
		}
		a := mix.Amount{Name: string(k.Name), Mass: mass}
		if k.Kind == event.Sand && b.Body.SandMoisture != nil {
			a.Moisture = &b.Body.SandMoisture.SI
		}
		amounts = append(amounts, a)
	}
	var sprays []mix.Spray
	if b.Body.Spray > 0 && b.Body.SprayPerS != nil {
		sprays = append(sprays, mix.Spray{Rate: unit.Flow(b.Body.SprayPerS.SI), For: b.Body.Spray})
	}
	var err error
	if b.Wrong == "" {
		if b.Batch, err = b.Mix.Mix.Charged(amounts, sprays...); err != nil {
			b.Wrong = err.Error()
		} else if b.Figures, err = b.Batch.Figures(b.designAir()); err != nil {
			b.Wrong = err.Error()
		}
	}
	if b.Wrong != "" {
		b.Design = b.Mix.Figures.Yield
		b.find(finding.Finding{Code: finding.NoFigures, Text: fmt.Sprintf("batch %s has no figures: %s", b.ID,
			b.Wrong)})
		return
	}
	b.Design = b.Figures.Yield
	target, err := b.Mix.Mix.Scaled(b.scale())
	if err != nil {
		return
	}
	moisture := map[string]unit.Share{}
	for _, a := range amounts {
		if a.Moisture != nil {
			moisture[a.Name] = *a.Moisture
		}
	}
	wet, err := target.AtMoisture(moisture)
	if err != nil {
		return
	}
	if b.Weighed, err = (mix.Weighing{Standard: mix.ByHand, Tolerance: weighing}).Judge(wet, b.Batch); err != nil {
		b.Weighed = nil
	}
}

// designAir is the air that the mix was designed to hold; what its stated yield means where it states one.
func (b *Batch) designAir() unit.Share { return b.Mix.Figures.Air }

// scale of the batch to the mix's own, by the cement that went in. People mix whole batches, halves and quarters: a
// scale within 5 % of one is taken for it, so that cement itself is judged too.
func (b *Batch) scale() float64 {
	design := b.Mix.Mix.Cement()
	if design <= 0 || b.Figures.Cement <= 0 {
		return 1
	}
	scale := float64(b.Figures.Cement) / float64(design)
	if quarters := math.Round(4*scale) / 4; quarters > 0 && math.Abs(scale-quarters) <= 0.05*quarters {
		return quarters
	}
	return scale
}

func names(m mix.Mix) string {
	var all []string
	for _, c := range m.Constituents {
		all = append(all, c.Name)
	}
	return strings.Join(all, ", ")
}

func (b *Batch) test(records []*history.Record) {
	slices.SortFunc(records, history.ByTime)
	if b.Body.Temperature != nil {
		b.Celsius, b.Measured = &b.Body.Temperature.SI, b.Mixed.Name.String()
	}
	for _, r := range records {
		r.Stands()
		t := Test{Record: r, Body: r.Now.(event.BatchTested), Within: true}
		if t.Body.Temperature != nil {
			b.Celsius, b.Measured = &t.Body.Temperature.SI, r.Name.String()
		}
		if t.UnitWeight = unitWeight(t.Body); t.UnitWeight > 0 && b.Wrong == "" {
			b.weigh(&t)
		}
		b.Tests = append(b.Tests, t)
	}
}

func unitWeight(t event.BatchTested) unit.Density {
	if t.UnitWeight != nil {
		return t.UnitWeight.SI
	}
	if t.Gross == nil || t.Measure == nil {
		return 0
	}
	var tare unit.Mass
	if t.Tare != nil {
		tare = t.Tare.SI
	}
	d, err := mix.UnitWeight(t.Gross.SI, tare, t.Measure.SI)
	if err != nil {
		return 0
	}
	return d
}

// weigh takes the batch's yield from its unit weight (ASTM C138).
func (b *Batch) weigh(t *Test) {
	if b.beyond(t.UnitWeight) {
		t.Judgement, t.Within = "no yield of such a mix: it is not counted", false
		return
	}
	y, err := mix.Yield(b.Figures.Mass, t.UnitWeight)
	if err != nil {
		return
	}
	f, err := b.Batch.FiguresAtYield(y)
	if err != nil {
		t.Judgement, t.Within = err.Error(), false
		return
	}
	t.Yield, t.Air, t.AirKnown = y, f.Air, true
	if t.Relative, err = mix.RelativeYield(y, b.Design); err != nil {
		t.Relative = 0
	}
	b.Yield, b.Figures = y, f
}

// Volume of a share of the batch: weighed where it was, else by its design and what the mix was found to yield.
func (b *Batch) Volume(share unit.Share, ratio float64) unit.Volume {
	if b.Yield > 0 {
		return b.Yield * unit.Volume(share)
	}
	return b.Design * unit.Volume(share) * unit.Volume(ratio)
}

// claim is what a placement or a discard takes of a batch.
type claim struct {
	r    *history.Record
	part event.Part
	from time.Time
}

// share deals the batch out to its placements and discards in the order in which they happened.
//
// Invariant: what is dealt out and what is left are the whole batch, but for BeyondWeighed or BeyondUnweighed that a
// stated volume may take over it.
func (s *Mixing) share(b *Batch, st *batchState) {
	whole, beyond := b.Design, BeyondUnweighed
	if b.Yield > 0 {
		whole, beyond = b.Yield, BeyondWeighed
	}
	left := 1.0
	for _, c := range s.claimsOn(b, st) {
		share, stated := left, unit.Volume(0)
		switch {
		case c.part.Share != nil:
			share = float64(c.part.Share.SI)
		case c.part.Volume != nil && whole > 0:
			stated = c.part.Volume.SI
			share = float64(stated / whole)
		}
		allowed := left
		if stated > 0 {
			allowed += beyond
		}
		if Rounded(share) > Rounded(allowed) || (Rounded(left) <= 0 && Rounded(share) <= 0) {
			if Rounded(left) <= 0 {
				c.r.Lacks(&history.Aside{
					Code: history.PlacedBeyondMixed,
					Why:  fmt.Sprintf("nothing of batch %s is left", b.ID),
				})
				continue
			}
			c.r.Lacks(&history.Aside{Code: history.PlacedBeyondMixed, Why: fmt.Sprintf("batch %s has %s left, not %s",
				b.ID,
				s.Current.System.Volume(whole*unit.Volume(max(left, 0))),
				s.Current.System.Volume(whole*unit.Volume(share)))})
			continue
		}
		c.r.Stands()
		left = max(0, left-share)
		if body, placed := c.r.Now.(event.Placement); placed {
			b.Parts = append(b.Parts, s.part(c.r, body, unit.Share(share), stated, c.from))
		} else {
			b.Discarded += unit.Share(share)
		}
	}
	b.Left = unit.Share(left)
}

// claimsOn a batch in the order in which they happened. A placement that cannot be of it is set aside.
func (s *Mixing) claimsOn(b *Batch, st *batchState) []claim {
	var claims []claim
	for _, r := range st.Placements {
		p := r.Now.(event.Placement)
		if _, aside := s.Current.Coat(p.Coat); aside != nil {
			r.Lacks(aside)
			continue
		}
		from := r.When
		if !p.From.IsZero() {
			from = r.OnSite(p.From)
		}
		if aside := b.misplaced(r, from); aside != nil {
			r.Lacks(aside)
			continue
		}
		claims = append(claims, claim{r, p.Part, from})
	}
	for _, r := range st.Discards {
		claims = append(claims, claim{r, r.Now.(event.BatchDiscarded).Part, r.When})
	}
	slices.SortFunc(claims, func(x, y claim) int {
		return cmp.Or(x.from.Compare(y.from), event.CompareNames(x.r.Name, y.r.Name))
	})
	return claims
}

func (s *Mixing) part(r *history.Record, p event.Placement, share unit.Share, stated unit.Volume, from time.Time) Part {
	coat, _ := s.Current.Coat(p.Coat)
	to := r.When
	if !p.To.IsZero() {
		to = r.OnSite(p.To)
	} else if !p.From.IsZero() {
		to = from
	}
	if to.Before(from) {
		to = from
	}
	return Part{r, share, stated, coat.Coat, from, to, p.Along, p.Gauges}
}

// Rounded brings a share or a ratio to the step at which decisions compare it, so that two machines agree.
func Rounded(x float64) float64 {
	if x < 0 {
		return -Rounded(-x)
	}
	return float64(int64(x/shareStep+0.5)) * shareStep
}

// find adds a finding about the batch.
func (b *Batch) find(f finding.Finding) {
	f.Subject = "batch " + b.ID.String()
	for i := range f.Formerly {
		f.Formerly[i].Key = f.Formerly[i].Code + " " + f.Key + " " + b.Mixed.Name.String()
	}
	f.Key = f.Code + " " + f.Key + " " + b.Mixed.Name.String()
	if f.Code != finding.SameNumber {
		f.Group, f.About = b.ID.Day, "on "+b.ID.Day
	}
	if f.Code == finding.PassedOver || f.Code == finding.CutShort {
		f.Brief = f.Text
	}
	f.Brief = strings.TrimSuffix(fmt.Sprintf("%s/%d: %s", b.ID.Crew, b.ID.Number, f.Brief), ": ")
	if f.Since.IsZero() {
		f.Since = b.Ready
	}
	f.Events = append([]event.Name{b.Mixed.Name}, f.Events...)
	b.Findings = append(b.Findings, f)
}

// judge holds the batch against its mix.
func (b *Batch) judge(system unit.System) {
	b.judgeTwins()
	b.judgeWater(system)
	b.judgeWeighing(system)
	for i := range b.Tests {
		b.judgeTest(&b.Tests[i], system)
	}
	b.judgeTemperature(system)
	if b.unknown {
		b.find(finding.Finding{
			Code: finding.UnknownRevision, Text: fmt.Sprintf(
				"batch %s was mixed by revision %d of mix %s, which is not in the record; it is judged by revision %d",
				b.ID, b.Body.Revision, b.Body.Mix, b.Mix.Revision),
		})
	}
	for _, text := range b.Body.CutShort {
		b.find(finding.Finding{
			Code: finding.CutShort, Key: text, Text: text,
			Basis: finding.Basis{Limit: "the mix's charging order"},
		})
	}
	b.judgeAge()
	told := slices.ContainsFunc(b.Findings, func(f finding.Finding) bool { return f.Concerns(b.Mixed.Name) })
	if b.Body.Because != "" && !told { // what was passed over is no finding, such as a mixing of hours
		b.find(finding.Finding{
			Code: finding.PassedOver,
			Text: "a rule of the job was passed over, which is done all the same for a reason: " + b.Body.Because,
		})
	}
}

// judgeTwins finds that others were written under the same name.
func (b *Batch) judgeTwins() {
	if len(b.Twins) == 0 {
		return
	}
	f := finding.Finding{
		Code: finding.SameNumber, Grave: true,
		Text: fmt.Sprintf(
			"%d batches were written as %s; only %s counts until one is taken back or given another number",
			len(b.Twins)+1, b.ID, b.Mixed.Name),
	}
	f.Asks = []event.Name{b.Mixed.Name}
	for _, r := range b.Twins {
		f.Events, f.Asks = append(f.Events, r.Name), append(f.Asks, r.Name)
	}
	b.find(f)
}

// judgeAge finds what was placed when the batch was older than its mix may be worked.
func (b *Batch) judgeAge() {
	working := b.Mix.Working
	if working == 0 {
		working = planned.DefaultWorking
	}
	for _, p := range b.Parts {
		if age := p.To.Sub(b.Water); age > working {
			b.find(finding.Finding{
				Code: finding.OldBatch, Key: p.Record.Name.String(), Since: p.To, Events: []event.Name{p.Record.Name},
				Reason: finding.Reason{Asks: []event.Name{p.Record.Name}},
				Text:   fmt.Sprintf("batch %s was %s old when it was placed in %s", b.ID, unit.Duration(age), p.Coat),
				Grouping: finding.Grouping{
					Brief:  fmt.Sprintf("%s old in %s", unit.Duration(age), p.Coat),
					Amount: age.Hours(),
				},

				Basis: finding.Basis{
					Evidence: []finding.Fact{{Name: "water contact", At: b.Water}, {Name: "placed until", At: p.To}},
					Limit:    unit.Duration(working) + " after water contact",
					Allowed:  finding.Figure{High: finding.Minutes(working).Number, Unit: "min"},
					Source:   "the mix's working time; 90 min where it states none (ASTM C94, from memory)",
				},
			})
		}
	}
}

func (b *Batch) judgeWater(system unit.System) {
	limit := b.Mix.WaterLimit
	if limit <= 0 || b.Wrong != "" || Rounded(b.Figures.WaterCementitious) <= Rounded(limit) {
		return
	}
	f := finding.Finding{
		Code: finding.WaterLimit, Grave: true,
		Text: fmt.Sprintf("batch %s has w/cm %.3f; the mix allows %.3f", b.ID, b.Figures.WaterCementitious, limit),
		Grouping: finding.Grouping{
			Brief:  fmt.Sprintf("w/cm %.3f", b.Figures.WaterCementitious),
			Amount: b.Figures.WaterCementitious,
		},

		Basis: finding.Basis{
			Formula: "w/cm = all water / (cement + pozzolan), by mass",
			Limit:   fmt.Sprintf("%.3f", limit),
			Allowed: finding.AtMost(limit),
			Source:  "mix " + string(b.Body.Mix),
		},

		Caution: mix.Caution, Reason: finding.Reason{Asks: []event.Name{b.Mixed.Name}},
	}
	for _, w := range b.Figures.Water.Parts {
		f.Evidence = append(f.Evidence, finding.FactOf("water: "+w.Source.String()+" "+w.Name, w.Mass, unit.System.Mass,
			system))
	}
	f.Evidence = append(f.Evidence, finding.FactOf("water in all", b.Figures.Water.Total, unit.System.Mass, system),
		finding.FactOf("cementitious", b.Figures.Cementitious, unit.System.Mass, system))
	b.find(f)
}

// judgeWeighing says in one finding what of the batch was weighed further off than the plan allows. Where the mix has a
// w/cm limit, water is judged by that alone: inside it water is no fault by itself, and over it judgeWater says so.
func (b *Batch) judgeWeighing(system unit.System) {
	var off []string
	f := finding.Finding{Code: finding.Weighing, Formerly: []finding.Former{{Code: "ticket"}}}
	for _, j := range b.Weighed {
		if !j.Judged || j.Within || j.Kind == mix.Water && b.Mix.WaterLimit > 0 {
			continue
		}
		off = append(off, fmt.Sprintf("%s %+.1f %%", j.Name, 100*float64(j.Share)))
		f.Amount = max(f.Amount, math.Abs(float64(j.Share)))
		f.Evidence = append(f.Evidence, finding.Fact{
			Name: j.Name,
			Value: fmt.Sprintf("%s; as designed at this moisture %s, allowed %s to %s", system.Mass(j.Charged),
				system.Mass(j.Target), system.Mass(j.Low), system.Mass(j.High)),
			Figure: finding.FigureOf(j.Charged).Within(float64(j.Low), float64(j.High)),
		})
		f.Source = j.Source
	}
	if len(off) == 0 {
		return
	}
	f.Brief = strings.Join(off, ", ")
	f.Text = fmt.Sprintf("batch %s was weighed out of tolerance: %s", b.ID, f.Brief)
	f.Limit = "the tolerance of each constituent, beside it"
	b.find(f)
}

func (b *Batch) judgeTest(t *Test, system unit.System) {
	if t.UnitWeight <= 0 {
		return
	}
	if t.Judgement == "" {
		t.Judgement = "no unit weight is asked of this mix"
	}
	target := b.Mix.Mix.TargetUnitWeight
	if target <= 0 || !t.AirKnown {
		return
	}
	j, err := mix.JudgeUnitWeight(t.UnitWeight, target, b.Mix.Mix.UnitWeightTolerance)
	if err != nil {
		t.Judgement, t.Within = err.Error(), false
		return
	}
	t.Low, t.High = j.Low, j.High
	if t.Within = j.Within; t.Within {
		t.Judgement = "within"
		return
	}
	by, beyond := j.Low-t.UnitWeight, "under"
	if by < 0 {
		by, beyond = t.UnitWeight-j.High, "over"
	}
	off := system.Density(by)
	if off == system.Density(0) { // the figures beside it look alike
		off = "less than 1 kg/m³"
		if system == unit.US {
			off = "less than 0.1 lb/ft³"
		}
	}
	t.Judgement = fmt.Sprintf("%s, not %s to %s: %s by %s", system.Density(t.UnitWeight), system.Density(j.Low),
		system.Density(j.High), beyond, off)
	b.find(finding.Finding{
		Code: finding.UnitWeight, Key: t.Record.Name.String(), Since: t.Record.When,
		Events: []event.Name{t.Record.Name},
		Text:   fmt.Sprintf("batch %s weighs %s", b.ID, t.Judgement), Grouping: finding.Grouping{Brief: t.Judgement},
		Basis: finding.Basis{
			Evidence: []finding.Fact{
				finding.FactOf("unit weight", t.UnitWeight, unit.System.Density, system),
				finding.FactOf("yield", t.Yield, unit.System.Volume, system),
				finding.FactIn("relative yield", fmt.Sprintf("%.3f", t.Relative), t.Relative),
				finding.FactIn("air", fmt.Sprintf("%.1f %%", 100*float64(t.Air)), t.Air),
			},
			Formula: "D = (gross − tare)/measure; Y = mass/D",
			Limit: system.Density(j.Low) + " to " +
				system.Density(j.High),
			Allowed: finding.Between(j.Low, j.High),
			Source:  "ASTM C138; mix " + string(b.Body.Mix),
		},
	})
}

func (b *Batch) judgeTemperature(system unit.System) {
	if b.Celsius == nil {
		return
	}
	if j, err := weather.HotWeather(*b.Celsius); err == nil && Broken(j, system) {
		b.find(finding.Finding{
			Code: finding.HotMix, Grave: true, Text: fmt.Sprintf("batch %s left the mixer at %s", b.ID,
				system.Temperature(*b.Celsius)), Grouping: finding.Grouping{Brief: system.Temperature(*b.Celsius)},
			Basis: finding.Basis{
				Evidence: []finding.Fact{
					finding.FactOf("mortar", *b.Celsius, unit.System.Temperature, system),
					{Name: "read in", Value: b.Measured},
				},
				Limit:   j.Says,
				Allowed: finding.AllowedBy(j),
				Source:  j.Source.Published,
			},
		})
	}
}

// Broken judges in the site's own system, since the printed limits are rounded.
func Broken(j weather.Judgement, system unit.System) bool {
	if system == unit.US {
		return j.US.Broken
	}
	return j.SI.Broken
}
