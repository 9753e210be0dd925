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
	Number     int32      `json:"number"`
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
	Breaks    []DayBreak `json:"breaks"`
	Needs     []DayNeed  `json:"needs"`
	Takes     []NextTake `json:"takes"` // as expected
}

// DayBay is what is placed without a joint.
type DayBay struct {
	Zones   []string  `json:"zones"`
	Batches int32     `json:"batches"`
	Begins  time.Time `json:"begins"`
	BeginBy time.Time `json:"begin_by"` // not later, so that it can be finished
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
}

// DayIf is what becomes of the first plan where something is otherwise.
type DayIf struct {
	What   string `json:"what"`
	Trials int32  `json:"trials"`
	Cold   int32  `json:"cold"`
	Done   int32  `json:"done"`
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
}

// DayPlansOf the next day with work.
func DayPlansOf(s *fold.Site, now time.Time, in *time.Location) DayPlans {
	v := DayPlans{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String()}
	day := view.StartOfDay(now.In(in)).AddDate(0, 0, 1)
	work := s.Calendar(now, in).On(day)
	for n := 0; work.To <= work.From && n < 14; n++ {
		day = day.AddDate(0, 0, 1)
		work = s.Calendar(now, in).On(day)
	}
	v.Date = day.Format(time.DateOnly)
	if order := s.OrderOf(v.Date, now); order != nil {
		v.Ordered = orderOf(order)
	}
	if work.To <= work.From {
		v.Missing = append(v.Missing, "no day of work comes within two weeks by the plan's hours")
		return v
	}
	a := &dayAsk{from: onClock(day, work.From), to: onClock(day, work.To)}
	v.Work = &DaySpan{a.from.UTC(), a.to.UTC()}
	a.nextJob = dayJobOf(s, a.from.Add(-time.Hour), in)
	v.Missing, v.Basis = a.missing, a.basis
	v.Closed = closedOf(s, a.from.Add(-time.Hour), a.to, in)
	a.closed = v.Closed
	if len(a.told()) == 0 {
		v.Notes = append(v.Notes,
			"No forecast of that day is in the record: no hour is judged, and the air is taken as last read or assumed.")
	}
	if len(v.Missing) > 0 || a.done {
		return v
	}
	a.crewsAll = a.Crews
	v.Plans = a.plans(&v)
	if len(v.Plans) == 0 {
		v.Notes = append(v.Notes,
			fmt.Sprintf(
				"No bay was found that is finished by %s in nine of ten trials: more crews, an earlier start, or a joint permitted nearer by would make one.", view.ClockOn(a.to, now, in)))
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

// plans of the day, best first: for starts an hour about the usual one, all crews and one less, mixes as they are and
// slower.
func (a *dayAsk) plans(v *DayPlans) []DayPlan {
	type found struct {
		p    next.DayPlan
		q    next.DayQuestion
		from time.Time
		mix  []string
	}
	var all []found
	for _, start := range []time.Time{a.from, a.from.Add(-time.Hour), a.from.Add(time.Hour)} {
		for crews := len(a.crewsAll); crews >= max(1, len(a.crewsAll)-1); crews-- {
			for _, mixes := range a.variants() {
				q := a.question(start, a.crewsAll[:crews], mixes, 0)
				for _, cut := range a.cuts() {
					if p, ok := next.PlanDay(q, cut); ok {
						all = append(all, found{p, q, start, mixes})
						break
					}
				}
			}
		}
	}
	slices.SortStableFunc(all, func(x, y found) int { return cmp.Compare(y.p.Worth(), x.p.Worth()) })
	var plans []DayPlan
	for i, f := range all[:min(dayShown, len(all))] {
		f.p = f.q.Try(f.p, next.DayTrials)
		plans = append(plans, a.planOf(i+1, f.from, f.q, f.p, f.mix))
	}
	if len(all) > 0 {
		f := all[0]
		try := func(what string, q next.DayQuestion) {
			p := q.Try(f.p, next.DayTrials)
			v.Ifs = append(v.Ifs, DayIf{what, int32(p.Cold.Of), int32(p.Cold.Happened), int32(p.Done.Happened)})
		}
		try(fmt.Sprintf("%d °C hotter than forecast", hotter), a.question(f.from, f.q.Crews, f.mix, hotter))
		if n := len(f.q.Crews); n > 1 {
			try("one crew less", a.question(f.from, a.crewsAll[:n-1], f.mix, 0))
		}
		try("sand two hours late", a.question(f.from.Add(sandLate), f.q.Crews, f.mix, 0))
	}
	return plans
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

// heat is by how much a set is shortened where the air is so much warmer: what a mix gathers of age in a quarter of a
// day in the forecast's air over what it then gathers.
func (a *dayAsk) heat(m *fold.Mix, warmer float64) float64 {
	const look = 360
	if warmer == 0 {
		return 1
	}
	as, err := a.site.AgesAhead(m, a.now, look, nil, a.in)
	hot, err2 := a.site.AgesAhead(m, a.now, look, &event.Exposure{To: 24 * time.Hour, Warmer: warmer}, a.in)
	if err != nil || err2 != nil || hot[look] == 0 {
		return 1
	}
	return float64(as[look]) / float64(hot[look])
}

// onClock is the instant of a day at which the clocks of its time zone show a time: on the day on which they are put
// forward or back that is not midnight and as many hours.
func onClock(day time.Time, t time.Duration) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, 0, int(t/time.Minute), 0, 0, day.Location())
}
