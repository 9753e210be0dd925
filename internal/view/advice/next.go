package advice

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/next"
	"hod/internal/view"
)

// Next is where a crew's next batch goes, what that risks, and on what it rests. It never says anything of stripping,
// loading or strength, nor that a joint is sound.
type Next struct {
	Site     string      `json:"site"`
	AsOf     time.Time   `json:"as_of"`
	Units    string      `json:"units"`
	Crew     string      `json:"crew"`
	Missing  []string    `json:"missing,omitempty"`      // why there is no advice; then nothing but Basis is said
	Done     bool        `json:"nothing_left,omitempty"` // no coat takes another batch
	Batch    int32       `json:"batch"`                  // its number in the crew's day
	InHand   bool        `json:"in_hand"`                // it is mixed
	UseBy    *time.Time  `json:"use_by,omitempty"`       // end of its working time, where it is mixed
	TooOld   int32       `json:"too_old,omitempty"`      // a batch that is mixed, not placed, and past its working time
	Place    *NextPlace  `json:"place,omitempty"`
	Then     []NextPlace `json:"then,omitempty"`        // the same crew's, as far as joints count
	Plan     []NextTake  `json:"plan,omitempty"`        // all crews', as expected
	Turns    *NextEdge   `json:"turns_first,omitempty"` // of the edges that it meets, the one that turns cold first
	SlackMin *int32      `json:"slack_min,omitempty"`   // from the end of placing until then
	Either   bool        `json:"either,omitempty"`      // the second choice is as good: take the nearer
	Instead  *NextPlace  `json:"instead,omitempty"`     // the second choice
	Risk     *NextRisk   `json:"risk,omitempty"`
	Else     *NextRisk   `json:"risk_instead,omitempty"`
	Lost     []NextEdge  `json:"lost,omitempty"`        // that nobody can meet before they turn cold
	Treat    []NextEdge  `json:"treat_first,omitempty"` // cold edges that this batch would meet
	Basis    NextBasis   `json:"basis"`
	InMixer  bool        `json:"in_mixer,omitempty"`     // the batch is begun, and not yet mixed
	Taken    *NextTaken  `json:"taken,omitempty"`        // the crew's proposal that holds
	Others   []NextTaken `json:"others_taken,omitempty"` // the other crews' that hold
	// TooWide says, before its first batch, that no order was found that keeps the bay whole.
	TooWide *NextTooWide `json:"too_wide,omitempty"`
	// OldestFirst says that what follows is always beside the front that turns cold first; Then and Plan are as
	// expected.
	OldestFirst bool `json:"oldest_first,omitempty"`
}

// NextTooWide says what the pace and the air allow: with one crew and even batches a grid stays live exactly where its
// short side is no longer than this (Chvátalová 1975, bandwidth of a grid); for several crews it is a guide.
type NextTooWide struct {
	MostAcross int32   `json:"most_across"` // about so many batches across stay live
	SetMin     int32   `json:"set_min"`     // of the mix that sets first, in this air
	PaceMin    int32   `json:"pace_min"`    // from batch to batch of a crew
	PermittedM float64 `json:"permitted_m"` // metres of edge within where the plan permits a joint
}

// NextTaken is a proposal that a crew took, and that holds.
type NextTaken struct {
	Crew   string    `json:"crew"`
	Zone   string    `json:"zone"`
	Face   string    `json:"face,omitempty"`
	Coat   int32     `json:"coat"`
	Nth    int32     `json:"nth"`
	At     time.Time `json:"at"`
	Until  time.Time `json:"until"`
	Before string    `json:"before,omitempty"` // who took the same before, and holds it
}

// NextPlace is a coat, and the neighbours whose open edges a batch meets there.
type NextPlace struct {
	Zone   string   `json:"zone"`
	Face   string   `json:"face,omitempty"`
	Coat   int32    `json:"coat"`
	Mix    string   `json:"mix"`
	Nth    int32    `json:"nth"`             // of the batches that the coat still takes
	Along  []string `json:"along,omitempty"` // zones
	Onward bool     `json:"onward"`          // it goes on from the last batch in the coat
	For    []string `json:"for,omitempty"`   // crews that the plan has for the zone, where this one is not among them
}

// NextTake is one batch of the plan that the advice has in mind.
type NextTake struct {
	Crew string    `json:"crew"`
	Zone string    `json:"zone"`
	Face string    `json:"face,omitempty"`
	Coat int32     `json:"coat"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// NextEdge is an open edge of what is placed.
type NextEdge struct {
	Zone    string     `json:"zone"`
	Face    string     `json:"face,omitempty"`
	Coat    int32      `json:"coat"`
	Other   string     `json:"other,omitempty"` // across the edge; none where it is inside the coat
	LengthM float64    `json:"length_m"`
	TurnsAt *time.Time `json:"turns_at,omitempty"`
	// whether work may stop here by the plan: yes, engineer, no; none: not said
	Joint string `json:"joint,omitempty"`
}

// NextRisk is in how many of so many trials an edge went cold that is not lost already, and the mean of what that
// costs.
type NextRisk struct {
	Trials int32   `json:"trials"`
	Cold   int32   `json:"cold"`
	MeanM  float64 `json:"mean_m"` // metres cold, and a quarter of those ended on purpose
}

// NextBasis is what advice rests on.
type NextBasis struct {
	Sets       []NextSet  `json:"sets"`
	DaySpread  float64    `json:"set_day_spread"`   // of the day's set, as a share; 1 standard deviation
	SetSpread  float64    `json:"set_batch_spread"` // of a batch's set beside it
	PaceSpread float64    `json:"pace_spread"`
	LeadMin    int32      `json:"lead_min"` // from water contact to the beginning of placing
	Air        []string   `json:"air"`      // where its temperature is from
	ReadAt     *time.Time `json:"read_at,omitempty"`
	IssuedAt   *time.Time `json:"forecast_issued_at,omitempty"`
	Crews      []NextCrew `json:"crews"`
	Trials     int32      `json:"trials"`
	Until      *time.Time `json:"joints_count_until,omitempty"`
	UntilWhy   string     `json:"joints_count_why,omitempty"`
	Strips     bool       `json:"by_strips"`  // where each batch lies follows from the sides of the zones
	OldEdges   int32      `json:"old_edges"`  // cold since before today, not counted
	SetTests   int32      `json:"set_tests"`  // of the day, that moved the set that is reckoned with
	SetFactor  float64    `json:"set_factor"` // the day's set by them, as a share of the stated one; 1 without
}

// NextSet is the initial set of a mix that is planned.
type NextSet struct {
	Mix          string  `json:"mix"`
	SetMin       float64 `json:"set_min"`
	ReferenceC   float64 `json:"reference_c"`
	ActivationKJ float64 `json:"activation_kj_mol"`
	Assumed      bool    `json:"assumed,omitempty"` // the mix states none
	NowMin       int32   `json:"now_min"`           // that it takes in this air
}

// NextCrew is a crew that works.
type NextCrew struct {
	Crew        string     `json:"crew"`
	FreeAt      time.Time  `json:"free_at"`
	PaceMin     int32      `json:"pace_min"` // from one batch to the next
	PaceBy      string     `json:"pace_by"`  // crew, site, assumed
	Gaps        int32      `json:"gaps"`     // that it is the median of
	LastHeardAt *time.Time `json:"last_heard_at,omitempty"`
}

// NextAll is what each crew that works is to do next, the one that is free first before the others.
type NextAll struct {
	Site  string    `json:"site"`
	AsOf  time.Time `json:"as_of"`
	Units string    `json:"units"`
	Crews []Next    `json:"crews"`
}

// NextQuestion is what a crew asks, or all crews, with all that the record says to it. Answering it takes longer than
// asking and does not touch the record, so that a server need not keep others from it meanwhile.
type NextQuestion struct {
	j    *nextJob
	asks event.Crew // none: all that work
}

// AskNext asks where a crew's next batch goes, at an instant; of no crew, where that of each goes that works.
func AskNext(s *fold.Site, now time.Time, in *time.Location, crew event.Crew) *NextQuestion {
	if crew == "" {
		return &NextQuestion{j: nextJobOf(s, now, in)}
	}
	return &NextQuestion{nextJobOf(s, now, in, crew), crew}
}

// One is the answer to a crew.
func (q *NextQuestion) One() Next {
	return q.j.advise(slices.IndexFunc(q.j.crews, func(c NextCrew) bool { return c.Crew == string(q.asks) }))
}

// All is the answer to each crew that works. Each reckons with what those before it take.
func (q *NextQuestion) All() NextAll {
	j := q.j
	v := NextAll{Site: j.name, AsOf: j.asOf, Units: j.plan.System.String()}
	order := make([]int, len(j.crews))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return j.crews[a].FreeAt.Compare(j.crews[b].FreeAt) })
	for _, k := range order {
		one := j.advise(k)
		v.Crews = append(v.Crews, one)
		if len(one.Plan) > 0 {
			j.take(k, one)
		}
	}
	return v
}

// NextOf a crew at an instant.
func NextOf(s *fold.Site, now time.Time, in *time.Location, crew event.Crew) Next {
	return AskNext(s, now, in, crew).One()
}

// NextOfAll crews that work, at an instant.
func NextOfAll(s *fold.Site, now time.Time, in *time.Location) NextAll {
	return AskNext(s, now, in, "").All()
}

// take has a crew place what it was advised, so that the others reckon with it.
func (j *nextJob) take(crew int, v Next) {
	cell := slices.IndexFunc(j.cells.All, func(c fold.Cell) bool {
		return c.Placed == nil && string(c.Coat.Zone) == v.Place.Zone && view.FaceName(c.Coat.Face) == v.Place.Face &&
			int32(c.Coat.Number) == v.Place.Coat && int32(c.Nth) == v.Place.Nth
	})
	i := slices.IndexFunc(v.Plan, func(t NextTake) bool { return t.Crew == v.Crew })
	if cell < 0 || i < 0 {
		return
	}
	c := &j.Cells[cell]
	c.Placed, c.From, c.To = true, j.minute(v.Plan[i].From), j.minute(v.Plan[i].To)
	j.Crews[crew].Free = c.To
}

func (j *nextJob) advise(asks int) Next {
	v := Next{
		Site: j.name, AsOf: j.asOf, Units: j.plan.System.String(), Missing: slices.Clone(j.missing),
		Crew: j.crews[asks].Crew,
	}
	v.Basis = j.basis
	batch := j.batches[asks]
	v.Batch, v.InHand, v.UseBy, v.TooOld, v.InMixer = batch.number, batch.useBy != nil, batch.useBy, batch.tooOld,
		batch.begun
	j.tellTaken(&v)
	if v.Done = j.done; v.Done {
		v.Missing = nil
		return v
	}
	if len(v.Missing) > 0 {
		return v
	}
	if !slices.ContainsFunc(j.Cells, func(c next.Cell) bool { return !c.Placed }) {
		v.Missing = append(v.Missing, "the other crews take all that is left")
		return v
	}
	job := j.reserved(asks)
	if err := job.Check(); err != nil {
		v.Missing = append(v.Missing, err.Error())
		return v
	}
	last, oldest := j.lastOrder(event.Crew(v.Crew))
	a, ok := next.Advise(next.Question{
		Job: job, Asks: asks, Horizon: max(j.horizon, j.Crews[asks].Free+1),
		Spreads: j.spreads, Last: last, Oldest: oldest,
	})
	if !ok {
		v.Missing = append(v.Missing, "what is left waits for a coat below it that another crew is placing")
		return v
	}
	j.answer(&v, a, asks)
	return v
}

func (j *nextJob) answer(v *Next, a next.Advice, asks int) {
	v.Lost = j.edgesOf(a.Lost)
	j.lost = a.Lost
	v.Basis.Trials = int32(a.Trials)
	i := slices.IndexFunc(a.Takes, func(t next.Take) bool { return t.Crew == asks && !t.Stopped })
	if i < 0 {
		v.Missing = append(v.Missing, "the crew cannot begin another batch before "+j.until)
		return
	}
	own := a.Takes[i]
	placed := j.placedBy(own, asks)
	if why := j.forbidden(j.instant(own.From), placed); why != "" {
		v.Missing = append(v.Missing, fmt.Sprintf("nobody is to place between %s and %s: %s",
			view.ClockOn(j.instant(own.From), j.now, j.in), view.ClockOn(placed, j.now, j.in), why))
		return
	}
	if v.UseBy != nil && placed.After(*v.UseBy) {
		v.Missing = append(v.Missing,
			fmt.Sprintf(
				"batch %d is past its working time at %s, before it would be placed: a batch that old is discarded, not placed (`hod discard %d`)",
				v.Batch, view.ClockOn(*v.UseBy, j.now, j.in), v.Batch))
		return
	}
	v.Place = j.placeOf(a.Cell, v.Crew)
	v.meets(j, a.Meets, placed)
	v.Treat = j.treatFirst(a.Cell)
	v.Risk = risk(a.Choice)
	v.TooWide = j.tooWide(a)
	v.OldestFirst = a.Oldest
	if a.Instead != nil {
		v.Instead, v.Else = j.placeOf(a.Instead.Cell, v.Crew), risk(*a.Instead)
		v.Either = a.Either && !v.Instead.same(*v.Place)
	}
	for _, t := range a.Takes {
		if t.Stopped {
			continue
		}
		c := j.cells.All[t.Cell].Coat
		v.Plan = append(v.Plan, NextTake{
			j.crews[t.Crew].Crew, string(c.Zone), view.FaceName(c.Face), int32(c.Number),
			j.instant(t.From), j.instant(t.To),
		})
		if t.Crew == asks && t != own {
			v.Then = append(v.Then, *j.placeOf(t.Cell, v.Crew))
		}
	}
}

func risk(c next.Choice) *NextRisk {
	return &NextRisk{int32(c.Cold.Of), int32(c.Cold.Happened), c.Mean.Metres()}
}

func (p NextPlace) same(o NextPlace) bool {
	return p.Zone == o.Zone && p.Face == o.Face && p.Coat == o.Coat
}

// placeOf is a cell to come, with the neighbours whose open edges it meets.
func (j *nextJob) placeOf(cell int, crew string) *NextPlace {
	c := j.cells.All[cell]
	v := &NextPlace{
		Zone: string(c.Coat.Zone), Face: view.FaceName(c.Coat.Face), Coat: int32(c.Coat.Number),
		Mix: string(c.Mix.MixPlanned.Mix), Nth: int32(c.Nth),
	}
	for i, b := range j.edges {
		if beside, touches := b.Beside(cell); !touches || !j.Cells[beside].Placed {
			continue
		}
		switch {
		case j.Edges[i].Ended || slices.Contains(j.lost, i):
		case b.Edge == nil:
			v.Onward = true
		case !slices.Contains(v.Along, string(b.Edge.Other(c.Coat.Zone))):
			v.Along = append(v.Along, string(b.Edge.Other(c.Coat.Zone)))
		}
	}
	slices.Sort(v.Along)
	if by := j.plan.CrewsOf(c.Coat.Zone); len(by) > 0 && !slices.Contains(by, event.Crew(crew)) {
		for _, name := range by {
			v.For = append(v.For, string(name))
		}
	}
	return v
}

// meets says which of the edges that the batch meets turns cold first, and how long before that it is placed.
func (v *Next) meets(j *nextJob, edges []int, placed time.Time) {
	for _, one := range j.edgesOf(edges) {
		if one.TurnsAt != nil && (v.Turns == nil || one.TurnsAt.Before(*v.Turns.TurnsAt)) {
			v.Turns = &one
		}
	}
	if v.Turns != nil {
		v.SlackMin = new(int32(v.Turns.TurnsAt.Sub(placed).Minutes()))
	}
}

// turns is when an edge of the job turns cold, by the set by which it is judged whether it can be met in time: the
// stated one, or what tests of set of today made of it. Zero where that is not known.
func (j *nextJob) turns(edge int) time.Time {
	b := j.edges[edge]
	c := j.Cells[b.A]
	if j.tests == 0 || b.Turns.IsZero() || !c.Placed || len(j.Curves[c.Curve].Ages) < 2 {
		return b.Turns
	}
	curve, water := j.Curves[c.Curve], c.From-j.Lead
	return j.instant(curve.Reaches(curve.At(water)+c.Set, water))
}

// edgesOf the job by what lies there, the soonest first: one entry for what waits in one coat for one other zone.
func (j *nextJob) edgesOf(edges []int) []NextEdge {
	var all []NextEdge
	for _, i := range edges {
		b := j.edges[i]
		c := j.cells.All[b.A].Coat
		e := NextEdge{
			Zone: string(c.Zone), Face: view.FaceName(c.Face), Coat: int32(c.Number),
			LengthM: float64(j.Edges[i].Length) / 100, TurnsAt: view.Instant(j.turns(i)),
		}
		if b.Edge != nil {
			e.Other = string(b.Edge.Other(c.Zone))
			if b.Edge.Joint != event.JointUnsaid {
				e.Joint = b.Edge.Joint.String()
			}
		}
		k := slices.IndexFunc(all, func(o NextEdge) bool {
			return o.Zone == e.Zone && o.Face == e.Face && o.Coat == e.Coat && o.Other == e.Other
		})
		if k < 0 {
			all = append(all, e)
			continue
		}
		all[k].LengthM += e.LengthM
		if view.Sooner(e.TurnsAt, all[k].TurnsAt) < 0 {
			all[k].TurnsAt = e.TurnsAt
		}
	}
	slices.SortStableFunc(all, func(a, b NextEdge) int {
		return cmp.Or(view.Sooner(a.TurnsAt, b.TurnsAt), cmp.Compare(a.Zone, b.Zone), cmp.Compare(a.Other, b.Other))
	})
	return all
}

// treatFirst are the edges beside a cell that are cold, by the stated set or by the tests of today, and that nobody has
// made ready.
func (j *nextJob) treatFirst(cell int) []NextEdge {
	var cold []int
	for i, b := range j.edges {
		if b.B == cell && j.cells.All[b.A].Placed != nil && !b.Ready && !b.Turns.IsZero() &&
			!(b.Turns.After(j.now) && j.turns(i).After(j.now)) {
			cold = append(cold, i)
		}
	}
	return j.edgesOf(cold)
}

// tooWide is nil where the bay is begun already, or an order was found that keeps it whole in some trial.
func (j *nextJob) tooWide(a next.Advice) *NextTooWide {
	begun := slices.ContainsFunc(j.Job.Edges, func(e next.Edge) bool {
		return !e.Ended &&
			(j.Cells[e.A].Placed || j.Cells[e.B].Placed)
	})
	lost := func(c next.Choice) bool { return c.Cold.Of > 0 && c.Cold.Happened == c.Cold.Of }
	if begun || !lost(a.Choice) || a.Instead != nil && !lost(*a.Instead) || len(j.sets) == 0 {
		return nil
	}
	set := slices.MinFunc(j.sets, func(x, y NextSet) int { return int(x.NowMin - y.NowMin) }).NowMin
	v := &NextTooWide{SetMin: set, PaceMin: int32(j.pace)}
	v.MostAcross = max(1, int32(len(j.crews))*((set-int32(j.Lead))/int32(max(1, j.pace)))-1)
	for _, e := range j.Job.Edges {
		if e.Permitted && !e.Ended {
			v.PermittedM += float64(e.Length) / 100
		}
	}
	return v
}
