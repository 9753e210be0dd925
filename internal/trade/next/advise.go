package next

import (
	"cmp"
	"math"
	"slices"
)

// Bounds of an answer. They are counts, never times, so that every device decides alike.
const (
	MaxFirsts   = 5   // cells that are compared
	UsualTrials = 200 // scenarios
	LargeTrials = 100 // the same for a job of more than LargeJob cells
	LargeJob    = 300 // cells
	hurried     = 85  // percent of the set that the second beam reckons with
	deepBeam    = 12  // width of the beams of an answer
)

// Question is what a crew asks: where its next batch goes.
type Question struct {
	*Job
	Asks    int // the crew
	Horizon int // minute up to which joints count: some sets ahead, or the end of work
	Trials  int // UsualTrials where it is 0
	Spreads Spreads
	Last    []int // the order advised last time, its first cell still to be taken; nil where there was none
}

// Chance is how many of so many trials something happened in.
type Chance struct{ Of, Happened int }

// Choice is a cell for the next batch and what becomes of it.
type Choice struct {
	Cell  int
	Order []int  // what follows, for all crews, this cell first
	Cold  Chance // that an edge goes cold, beyond those that are lost already
	Mean  Cost   // of all that goes cold or is ended on purpose
	total int64
	costs []Cost // by trial
}

// Advice is an answer.
type Advice struct {
	Choice
	Instead *Choice // the next best cell; nil where there is no other
	// Either says that the two do not differ by two standard errors: take the nearer.
	Either bool
	Meets  []int // open edges that the cell meets
	Slack  int   // minutes from the end of placing to the turning of the first of them, at the expected set
	Lost   []int // edges that nobody can meet in time any more
	Trials int
	Takes  []Take // what follows where all goes as expected, up to the horizon
}

// Advise answers a question. It gives false where the crew has no cell to take: nothing is left, or what is left needs
// what is not placed.
//
// Candidate orders each give a first cell for the crew that asks; all are played through the same numbered scenarios. A
// quarter of the trials picks the best way to go on from each cell, the rest decide among cells (rollout over several
// base policies: Bertsekas, Castañon 1999). The cell advised last time stands unless another is better by two standard
// errors of the paired difference, so that a crew is not sent to and fro.
func Advise(q Question) (Advice, bool) {
	if q.Asks < 0 || q.Asks >= len(q.Crews) {
		return Advice{}, false
	}
	lost := paid(newTable(q.Job).start().charged)
	q.Job = q.Job.ended(lost) // what is lost must not attract the next batch
	t := newTable(q.Job)
	now := t.start()
	if now.left == 0 {
		return Advice{}, false
	}
	trials := q.Trials
	if trials <= 0 {
		trials = UsualTrials
		if len(q.Cells) > LargeJob {
			trials = LargeTrials
		}
	}
	worlds := make([]*table, trials)
	for i := range worlds {
		worlds[i] = t.scenario(i, q.Spreads)
	}
	orders := t.candidates(q)
	firsts := t.firsts(q, orders)
	if len(firsts) == 0 {
		return Advice{}, false
	}
	quarter := max(1, trials/4)
	choices := make([]*Choice, len(firsts))
	for i, cell := range firsts {
		choices[i] = bestFrom(q, worlds[:quarter], cell, orders)
	}
	for _, c := range choices {
		c.costs, c.total, c.Cold = nil, 0, Chance{}
		c.play(q, worlds[quarter:])
	}
	best := decide(choices, q.Last)
	a := Advice{Choice: *best, Lost: lost, Trials: trials}
	a.Takes = t.follow(q.Asks, best.Cell, best.Order, q.Horizon).takes
	for _, c := range choices {
		if c != best && (a.Instead == nil || c.total < a.Instead.total) {
			a.Instead = c
		}
	}
	if a.Instead != nil {
		mean, se := paired(a.Instead.costs, best.costs)
		a.Either = math.Abs(mean) < 2*se || mean == 0
	}
	a.Meets, a.Slack = now.meeting(q.Asks, best.Cell)
	return a, true
}

// ended is a job in which edges wait for nobody any more.
func (j *Job) ended(edges []int) *Job {
	now := *j
	now.Edges = slices.Clone(j.Edges)
	for _, e := range edges {
		now.Edges[e].Ended = true
	}
	return &now
}

// candidates are the orders that are tried: the one advised last, the plan's, the sweep and bays both ways, and what
// beams find that reckon with the expected set and with a shorter one.
func (t *table) candidates(q Question) [][]int {
	var all [][]int
	if len(q.Last) > 0 {
		all = append(all, withRest(q.Last, len(t.Cells)))
	}
	all = append(all, t.orders()...)
	bays := bayByBay(t.Job)
	back := slices.Clone(bays)
	slices.Reverse(back)
	all = append(all, bays, back, withRest(taken(t.oldestFirst()), len(t.Cells)))
	for _, percent := range []int64{100, hurried} {
		j := *t.Job
		j.Cells = slices.Clone(t.Cells)
		for i := range j.Cells {
			j.Cells[i].Set = max(1, j.Cells[i].Set*percent/100)
		}
		all = append(all, withRest(taken(newTable(&j).beam(deepBeam, -1)), len(t.Cells)))
	}
	return all
}

func taken(s *shift) []int {
	var order []int
	for _, t := range s.takes {
		if !t.Stopped {
			order = append(order, t.Cell)
		}
	}
	return order
}

// withRest is an order followed by the cells that it leaves out.
func withRest(order []int, cells int) []int {
	all := slices.Clone(order)
	in := make([]bool, cells)
	for _, c := range order {
		in[c] = true
	}
	for c := range cells {
		if !in[c] {
			all = append(all, c)
		}
	}
	return all
}

// firsts are the cells that the orders give the crew that asks, most often named first; the last advised one among them.
func (t *table) firsts(q Question, orders [][]int) []int {
	votes := map[int]int{}
	if len(q.Last) > 0 && t.start().open(q.Last[0]) {
		votes[q.Last[0]] = len(orders) + 1
	}
	for _, order := range orders {
		s := t.start()
		for {
			who, going := s.crew()
			if !going {
				break
			}
			cell := order[slices.IndexFunc(order, s.open)]
			if who == q.Asks {
				votes[cell]++
				break
			}
			s.take(who, cell, 0)
		}
	}
	var all []int
	for cell := range t.Cells {
		if votes[cell] > 0 {
			all = append(all, cell)
		}
	}
	slices.SortStableFunc(all, func(a, b int) int { return votes[b] - votes[a] })
	return all[:min(len(all), MaxFirsts)]
}

// bestFrom is the way to go on from a cell that costs least over some worlds.
func bestFrom(q Question, worlds []*table, cell int, orders [][]int) *Choice {
	var best *Choice
	for _, order := range orders {
		c := &Choice{Cell: cell, Order: order}
		c.play(q, worlds)
		if best == nil || c.total < best.total {
			best = c
		}
	}
	return best
}

// play follows a choice through worlds and adds up what it costs.
func (c *Choice) play(q Question, worlds []*table) {
	for _, w := range worlds {
		s := w.follow(q.Asks, c.Cell, c.Order, q.Horizon)
		c.costs = append(c.costs, s.cost)
		c.total += int64(s.cost)
		c.Cold.Of++
		for e, gone := range s.charged {
			if gone && !w.Edges[e].Permitted {
				c.Cold.Happened++
				break
			}
		}
	}
	c.Mean = Cost(c.total / int64(len(c.costs)))
}

// follow plays a world up to the horizon. The first cell is kept for the crew that asks.
func (t *table) follow(asks, first int, order []int, horizon int) *shift {
	s := t.start()
	from := 0 // of the order: all before it are taken
	for {
		who, going := s.crew()
		if !going || s.free[who] >= horizon {
			return s
		}
		if s.begin[first] == never && who == asks && s.open(first) {
			s.take(who, first, 0)
			continue
		}
		for from < len(order) && s.begin[order[from]] != never {
			from++
		}
		next := -1
		for _, cell := range order[from:] {
			if s.open(cell) && (cell != first || who == asks) {
				next = cell
				break
			}
		}
		if next < 0 {
			s.stop(who) // only the cell that is kept for another crew is left
			continue
		}
		s.take(who, next, 0)
	}
}

// decide is the choice that costs least, but the last advised one unless the other is better by two standard errors.
func decide(choices []*Choice, last []int) *Choice {
	best := slices.MinFunc(choices, func(a, b *Choice) int { return cmp.Compare(a.total, b.total) })
	if len(last) == 0 {
		return best
	}
	for _, c := range choices {
		if c.Cell != last[0] || c == best {
			continue
		}
		if mean, se := paired(c.costs, best.costs); mean < 2*se {
			return c
		}
	}
	return best
}

// paired is the mean of a − b, trial by trial, and its standard error, in metres.
func paired(a, b []Cost) (mean, se float64) {
	n := float64(len(a))
	if n < 2 {
		return 0, math.Inf(1)
	}
	sum, squares := int64(0), 0.0
	for i := range a {
		sum += int64(a[i] - b[i])
	}
	mean = float64(sum) / n
	for i := range a {
		d := float64(a[i]-b[i]) - mean
		squares += float64(d * d)
	}
	return mean / 10_000, math.Sqrt(squares/(n-1)/n) / 10_000
}

func paid(charged []bool) []int {
	var all []int
	for e, gone := range charged {
		if gone {
			all = append(all, e)
		}
	}
	return all
}

// meeting are the open edges that a crew meets with a cell, and the minutes from the end of placing to the turning of
// the first of them.
func (s *shift) meeting(crew, cell int) (edges []int, slack int) {
	_, end := s.span(crew, cell)
	due := never
	for _, side := range s.around[cell] {
		if s.begin[side.other] != never && !s.charged[side.edge] {
			edges = append(edges, side.edge)
			due = min(due, s.due[side.other])
		}
	}
	slices.Sort(edges)
	return edges, due - end
}

// bayByBay is an order that finishes what lies together when the shell is cut at every permitted joint, in the order of
// the sweep.
func bayByBay(j *Job) []int {
	cut := *j
	cut.Edges = slices.DeleteFunc(slices.Clone(j.Edges), func(e Edge) bool { return e.Permitted })
	rank := make([]int, len(j.Cells))
	for at, cell := range sweep(j) {
		rank[cell] = at
	}
	bays := parts(neighbours(&cut))
	least := func(bay []int) int {
		low := never
		for _, c := range bay {
			low = min(low, rank[c])
		}
		return low
	}
	slices.SortStableFunc(bays, func(a, b []int) int { return least(a) - least(b) })
	var order []int
	for _, bay := range bays {
		slices.SortStableFunc(bay, func(a, b int) int { return rank[a] - rank[b] })
		order = append(order, bay...)
	}
	return order
}
