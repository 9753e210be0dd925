package advice

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/next"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

// DayPlans are ways to place a part of the job on the next day with work, to choose from. What is begun is finished:
// bays are what is left together when the shell is cut where the plan permits a joint.
type DayPlans struct {
	Site    string      `json:"site"`
	AsOf    time.Time   `json:"as_of"`
	Units   string      `json:"units"`
	Date    string      `json:"date"`
	Work    *DaySpan    `json:"work,omitempty"` // hours of work
	Missing []string    `json:"missing,omitempty"`
	Closed  []DayClosed `json:"closed"` // hours in which nobody places
	Plans   []DayPlan   `json:"plans"`  // best first
	Ifs     []DayIf     `json:"ifs"`    // of the first plan
	Ordered *DayOrder   `json:"ordered,omitempty"`
	Notes   []string    `json:"notes,omitempty"`
	Basis   NextBasis   `json:"basis"`
}

// DaySpan is a time of the day.
type DaySpan struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// DayClosed is a time in which nobody is to place, and why.
type DayClosed struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Why    string    `json:"why"`
	Source string    `json:"source"`
}

// DayPlan is one plan.
type DayPlan struct {
	Number int32 `json:"number"`
	// says this very plan, with all that is shown of it; another number may be given to it
	Key        string     `json:"key"`
	Start      time.Time  `json:"start"`
	Crews      []string   `json:"crews"`
	Mixes      []string   `json:"mixes,omitempty"` // used in place of those planned: "face=face-slow"
	Bays       []DayBay   `json:"bays"`
	Batches    int32      `json:"batches"`
	Trials     int32      `json:"trials"`
	Cold       int32      `json:"cold"` // trials in which an edge goes cold
	Done       int32      `json:"done"` // trials in which all is placed by the end of work
	OnPurposeM float64    `json:"on_purpose_m"`
	ForbiddenM float64    `json:"not_permitted_m"` // of those, where the plan permits no joint of itself
	Rim        []NextEdge `json:"rim"`             // where to end on purpose
	LastTo     time.Time  `json:"last_to"`         // the last batch is placed, as expected
	// the first batch has set: it is covered or wetted from here on at the latest
	CoverFrom time.Time  `json:"cover_from"`
	CoverLast time.Time  `json:"cover_last"` // the last one has
	CureUntil time.Time  `json:"cure_until"` // of the last, moist
	Covers    []DayCover `json:"covers"`     // by coat, the first to be covered first
	Begun     []DayBegun `json:"begun"`      // coats that are begun and not finished, and what becomes of them
	Breaks    []DayBreak `json:"breaks"`
	Needs     []DayNeed  `json:"needs"`
	Takes     []NextTake `json:"takes"` // as expected
}

// DayBay is what is placed without a joint. An order says of a bay neither its batches nor when it is begun.
type DayBay struct {
	Zones   []string  `json:"zones"`
	Batches int32     `json:"batches,omitzero"`
	Begins  time.Time `json:"begins,omitzero"`
	BeginBy time.Time `json:"begin_by,omitzero"` // not later, so that it can be finished
}

// DayBreak is when a crew rests: one after another, so that one is always at the front.
type DayBreak struct {
	Crew string    `json:"crew"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// DayNeed is what a plan takes of a material, nine times in ten no more.
type DayNeed struct {
	Material string   `json:"material"`
	Kg       float64  `json:"need_p90_kg"`
	Bags     *float64 `json:"need_p90_bags,omitempty"`
	OnHandKg *float64 `json:"on_hand_kg,omitempty"`
	// that lacks of it; nil where enough is on hand, or nobody wrote what there is
	ShortKg *float64 `json:"short_kg,omitempty"`
	// AsDesigned says that it is what the batches take as designed, and nothing of nine in ten: the forecast has no
	// draws.
	AsDesigned bool `json:"as_designed,omitempty"`
}

// DayIf is what becomes of the first plan where something is otherwise.
type DayIf struct {
	What   string `json:"what"`
	Trials int32  `json:"trials"`
	Cold   int32  `json:"cold"`
	Done   int32  `json:"done"`
	// Best is, of the plans shown that are then done in time in nine of ten trials, the number of the best; 0: none is.
	Best int32 `json:"best_plan"`
}

// Choices of this program, no source, but for the moist cure: 7 days, ACI 308R for normal cement (from memory).
const (
	dayShown   = 5
	breakFor   = 30 * time.Minute
	breakAfter = 4 * time.Hour // from the start of work
	moistCure  = 7 * 24 * time.Hour
	dayReach   = 36 * 60 // minutes of the curves
	hotter     = 2       // K
	sandLate   = 2 * time.Hour
)

// dayAsk is what plans of a day are made from.
type dayAsk struct {
	*nextJob
	from, to time.Time // work
	closed   []DayClosed
	crewsAll []next.Crew
	stock    *ahead.Needs
	forecast bool                  // of the day is in the record
	begun    []event.Coat          // and not finished
	heated   map[*fold.Mix]float64 // by what a set is shortened where the air is warmer by hotter
}

// nextDay is the next day with work after an instant's own, as its clocks begin it, and its hours; none are within two
// weeks where To is not above From.
func nextDay(s *fold.Site, now time.Time, in *time.Location) (time.Time, fold.WorkDay) {
	calendar := s.Calendar(now, in)
	day := view.StartOfDay(now.In(in)).AddDate(0, 0, 1)
	work := calendar.On(day)
	for n := 0; work.To <= work.From && n < 14; n++ {
		day = day.AddDate(0, 0, 1)
		work = calendar.On(day)
	}
	return day, work
}

// NextOrderOf is the plan that was made the order of the next day with work; nil where none was.
func NextOrderOf(s *fold.Site, now time.Time, in *time.Location) *DayOrder {
	day, _ := nextDay(s, now, in)
	if o := s.OrderOf(day.Format(time.DateOnly), now); o != nil {
		return orderOf(o)
	}
	return nil
}

// DayQuestion asks for plans of a day, with all that the record says to it. Answering it takes longer than asking and
// does not touch the record, so that a server need not keep others from it meanwhile.
type DayQuestion struct {
	v DayPlans
	a *dayAsk // nil: there is nothing to reckon
}

// AskDay asks for plans of the next day with work.
func AskDay(s *fold.Site, now time.Time, in *time.Location) *DayQuestion {
	q := &DayQuestion{v: DayPlans{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String()}}
	v := &q.v
	day, work := nextDay(s, now, in)
	v.Date = day.Format(time.DateOnly)
	if order := s.OrderOf(v.Date, now); order != nil {
		v.Ordered = orderOf(order)
	}
	if work.To <= work.From {
		v.Missing = append(v.Missing, "no day of work comes within two weeks by the plan's hours")
		return q
	}
	a := &dayAsk{from: onClock(day, work.From), to: onClock(day, work.To)}
	v.Work = &DaySpan{a.from.UTC(), a.to.UTC()}
	a.nextJob = dayJobOf(s, a.from.Add(-time.Hour), in)
	defer func() { a.site = nil }()
	v.Missing, v.Basis = a.missing, a.basis
	v.Closed = closedOf(s, a.from.Add(-time.Hour), a.to, in)
	a.closed, a.forecast = v.Closed, len(a.told()) > 0
	if !a.forecast {
		v.Notes = append(v.Notes,
			"No forecast of that day is in the record: no hour is judged, and the air is taken as last read or assumed.")
	}
	if len(v.Missing) > 0 || a.done {
		return q
	}
	q.a = a
	a.crewsAll = a.Crews
	rest := ahead.OutlookOf(s, now, in)
	a.stock = rest.Needs()
	a.gatherBegun()
	a.gatherHeat()
	if slices.ContainsFunc(a.crews, func(c NextCrew) bool { return s.OpenShift(event.Crew(c.Crew), now) != nil }) {
		v.Notes = append(v.Notes, "Reckoned from what is placed by now: what the crews place until then changes it.")
	}
	return q
}

// DayPlansOf the next day with work.
func DayPlansOf(s *fold.Site, now time.Time, in *time.Location) DayPlans {
	return AskDay(s, now, in).Answer()
}

// Answer the question.
func (q *DayQuestion) Answer() DayPlans {
	v, a := q.v, q.a
	if a == nil {
		return v
	}
	v.Plans, v.Ifs = a.plans()
	if len(v.Plans) == 0 {
		v.Notes = append(slices.Clone(v.Notes),
			fmt.Sprintf("No bay was found that is finished by %s in nine of ten trials: "+
				"more crews, an earlier start, or a joint permitted nearer by would make one.",
				view.ClockOn(a.to, v.AsOf, a.in)))
	}
	return v
}

// dayJobOf is what the record says of a day to come, as it will be asked about at its first hour: nobody is at work
// then, and what is read and heard today says nothing of it.
func dayJobOf(s *fold.Site, start time.Time, in *time.Location) *nextJob {
	j := &nextJob{
		site: s, plan: s.Plan(), name: view.SiteName(s), asOf: start, now: start.Truncate(time.Minute),
		in: in,
	}
	j.Joint = next.UsualJoint
	j.gatherTests()
	j.refuse()
	var crews []event.Crew
	for c := range j.plan.Crews {
		crews = append(crews, c)
	}
	for _, b := range s.Batches() {
		if !slices.Contains(crews, b.ID.Crew) {
			crews = append(crews, b.ID.Crew)
		}
	}
	slices.Sort(crews)
	if len(crews) == 0 {
		j.missing = append(j.missing, "no crew is planned, and none has mixed a batch yet")
	}
	j.gatherCrews(crews)
	j.gatherSets()
	j.reach = max(j.reach, dayReach)
	if len(j.missing) == 0 {
		j.gatherCells()
		j.done = len(j.cells.Unknown) == 0 && !slices.ContainsFunc(j.Cells, func(c next.Cell) bool { return !c.Placed })
	}
	for k := range j.Crews {
		j.Crews[k].Free = 0
	}
	j.gatherBasis()
	return j
}

// foundPlan is a plan with the question that it answers.
type foundPlan struct {
	p    next.DayPlan
	q    next.DayQuestion
	from time.Time
	mix  []string
}

// plans of the day, best first: for starts an hour about the usual one, all crews and one less, mixes as they are and
// slower.
func (a *dayAsk) plans() ([]DayPlan, []DayIf) {
	var all []foundPlan
	for _, start := range []time.Time{a.from, a.from.Add(-time.Hour), a.from.Add(time.Hour)} {
		for crews := len(a.crewsAll); crews >= max(1, len(a.crewsAll)-1); crews-- {
			for _, mixes := range a.variants() {
				q := a.question(start, a.crewsAll[:crews], mixes, 0)
				for _, cut := range a.cuts() {
					if p, ok := next.PlanDay(q, cut); ok {
						all = append(all, foundPlan{p, q, start, mixes})
						break
					}
				}
			}
		}
	}
	slices.SortStableFunc(all, func(x, y foundPlan) int { return cmp.Compare(y.p.Worth(), x.p.Worth()) })
	all = all[:min(dayShown, len(all))]
	var plans []DayPlan
	for i := range all {
		f := &all[i]
		f.p = f.q.Try(f.p, next.DayTrials)
		plans = append(plans, a.planOf(i+1, f.from, f.q, f.p, f.mix))
	}
	return plans, a.ifs(all)
}

// ifs are what becomes of the first plan where something is otherwise, and which of those shown is then the best.
func (a *dayAsk) ifs(all []foundPlan) []DayIf {
	air := "than forecast"
	if !a.forecast {
		air = "than the air that is reckoned with"
	}
	changes := []struct {
		what string
		of   func(f foundPlan) (next.DayQuestion, bool)
	}{
		{fmt.Sprintf("%d °C hotter %s", hotter, air), func(f foundPlan) (next.DayQuestion, bool) {
			return a.question(f.from, f.q.Crews, f.mix, hotter), true
		}},
		{"one crew less", func(f foundPlan) (next.DayQuestion, bool) {
			n := min(len(f.q.Crews), len(a.crewsAll)-1)
			return a.question(f.from, a.crewsAll[:n], f.mix, 0), n > 0
		}},
		{"sand two hours late", func(f foundPlan) (next.DayQuestion, bool) {
			return a.question(f.from.Add(sandLate), f.q.Crews, f.mix, 0), true
		}},
	}
	var ifs []DayIf
	for _, change := range changes {
		var one DayIf
		worth := int64(0)
		for i, f := range all {
			q, ok := change.of(f)
			if !ok {
				continue
			}
			p := q.Try(f.p, next.DayTrials)
			if i == 0 {
				one = DayIf{change.what, int32(p.Cold.Of), int32(p.Cold.Happened), int32(p.Done.Happened), 0}
			}
			done := p.Done.Happened*100 >= p.Done.Of*next.DoneInHund
			if is := p.Worth(); done && (one.Best == 0 || is > worth) {
				one.Best, worth = int32(i+1), is
			}
		}
		if one.What != "" {
			ifs = append(ifs, one)
		}
	}
	return ifs
}

// cuts of the shell that give bays: at permitted joints; where no such bay can be finished, where the engineer may
// permit one, too; and last along every edge of a zone.
func (a *dayAsk) cuts() []map[int]bool {
	var all []map[int]bool
	for level := range 3 {
		cut := map[int]bool{}
		for i, b := range a.edges {
			joint := event.JointUnsaid
			if b.Edge != nil {
				joint = b.Edge.Joint
			}
			cut[i] = joint == event.JointYes || level > 0 && joint == event.JointEngineer || level > 1 && b.Edge != nil
		}
		all = append(all, cut)
	}
	return all
}

// variants are the mixes as planned, and where the plan has slower ones (a mix of the same name and more behind a dash,
// which states a longer set) those in their place.
func (a *dayAsk) variants() [][]string {
	var slow []string
	for _, k := range a.sets {
		base := a.plan.Mixes[event.Mix(k.Mix)]
		for _, name := range slices.Sorted(maps.Keys(a.plan.Mixes)) {
			m := a.plan.Mixes[name]
			if len(name) > len(k.Mix)+1 && string(name[:len(k.Mix)+1]) == k.Mix+"-" && m.SetSaid &&
				m.Set.Initial > base.Set.Initial {
				slow = append(slow, k.Mix+"="+string(name))
				break
			}
		}
	}
	if len(slow) == 0 {
		return [][]string{nil}
	}
	return [][]string{nil, slow}
}

// question of a day that starts at an instant, with some crews and mixes, in air warmer than forecast by so many
// kelvin.
func (a *dayAsk) question(start time.Time, crews []next.Crew, mixes []string, warmer float64) next.DayQuestion {
	job := a.Job
	job.Cells = slices.Clone(a.Cells)
	job.Crews = slices.Clone(crews)
	for i := range job.Cells {
		c := &job.Cells[i]
		if c.Placed {
			continue
		}
		c.Set = max(1, int64(math.Round(float64(c.Set)*a.slower(a.cells.All[i].Mix, mixes)*a.heat(a.cells.All[i].Mix,
			warmer))))
	}
	for k := range job.Crews {
		rest := a.restOf(start, k)
		job.Crews[k].Free = a.minute(start)
		job.Crews[k].Away = []next.Span{{From: a.minute(rest), To: a.minute(rest.Add(breakFor))}}
	}
	for _, c := range a.closed {
		job.Closed = append(job.Closed, next.Span{From: a.minute(c.From), To: a.minute(c.To)})
	}
	return next.DayQuestion{Job: &job, End: a.minute(a.to), Spreads: a.spreads}
}

// restOf is when a crew's break begins: one crew after the other.
func (a *dayAsk) restOf(start time.Time, crew int) time.Time {
	return start.Add(breakAfter + time.Duration(crew)*breakFor)
}

// slower is how many times as long the mix sets that is used in the place of one.
func (a *dayAsk) slower(m *fold.Mix, mixes []string) float64 {
	for _, pair := range mixes {
		name := string(m.MixPlanned.Mix) + "="
		if len(pair) > len(name) && pair[:len(name)] == name {
			if other := a.plan.Mixes[event.Mix(pair[len(name):])]; other != nil && m.Set.Initial > 0 {
				return float64(other.Set.Initial) / float64(m.Set.Initial)
			}
		}
	}
	return 1
}

// heat is by how much a set is shortened where the air is so much warmer.
func (a *dayAsk) heat(m *fold.Mix, warmer float64) float64 {
	if by, known := a.heated[m]; known && warmer != 0 {
		return by
	}
	return 1
}

// gatherHeat is what each mix gathers of age in a quarter of a day in the forecast's air, over what it then gathers in
// air that is warmer by hotter.
func (a *dayAsk) gatherHeat() {
	const look = 360
	a.heated = map[*fold.Mix]float64{}
	for _, c := range a.cells.All {
		if _, known := a.heated[c.Mix]; known || c.Placed != nil {
			continue
		}
		as, err := a.site.AgesAhead(c.Mix, a.now, look, nil, a.in)
		hot, err2 := a.site.AgesAhead(c.Mix, a.now, look, &event.Exposure{To: 24 * time.Hour, Warmer: hotter}, a.in)
		if err == nil && err2 == nil && hot[look] > 0 {
			a.heated[c.Mix] = float64(as[look]) / float64(hot[look])
		}
	}
}

// onClock is the instant of a day at which the clocks of its time zone show a time: on the day on which they are put
// forward or back that is not midnight and as many hours.
func onClock(day time.Time, t time.Duration) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, 0, int(t/time.Minute), 0, 0, day.Location())
}
