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
	deepTakes   = 40  // that they look ahead
	// Advice is left only where another cell is better by so many standard errors: five cells are compared a hundred
	// times a day, and by two the last advice was left for nothing often enough to cost more than plain rows on a mild
	// day.
	leave       = 3
	exactUpTo   = 12   // cells that are left, up to which the exact method is asked too
	exactLabels = 5000 // and its labels
	// Stated chances rest on so many worlds of their own; on half as many for a large job.
	statedTrials = 150
	statedFrom   = 10_000 // number of the first
)

// Question is what a crew asks: where its next batch goes.
type Question struct {
	*Job
	Asks    int // the crew
	Horizon int // minute up to which joints count: some sets ahead, or the end of work
	Trials  int // UsualTrials where it is 0
	Spreads Spreads
	// the order advised last time; cells that have been taken since may be in it. Nil where there was none
	Last   []int
	Oldest bool // what was advised last was to go on beside the front that turns first, Advice.Oldest
}

// lastWay is how the crews go on by what was advised last.
func (q Question) lastWay(t *table) way {
	if q.Oldest {
		return way{t.sweep(), true}
	}
	return way{order: withRest(q.Last, len(q.Cells))}
}

// Chance is how many of so many trials something happened in.
type Chance struct{ Of, Happened int }

// Choice is a cell for the next batch and what becomes of it.
type Choice struct {
	Cell  int
	Order []int  // what follows, for all crews, this cell first; where it is not fixed beforehand, as expected
	Cold  Chance // that an edge goes cold, beyond those that are lost already
	Mean  Cost   // of all that goes cold or is ended on purpose
	way   way
	total int64
	costs []Cost // by trial
}

// way is how all crews go on: in an order, or always beside the front that turns first, which stays true where batches
// take longer than expected; then the order says where no front is open.
type way struct {
	order  []int
	oldest bool
}

func fixedOrders(orders [][]int) []way {
	ways := make([]way, len(orders))
	for i, order := range orders {
		ways[i] = way{order: order}
	}
	return ways
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
	Oldest bool   // what follows is always beside the front that turns first: Question.Oldest of the next question
}

// Advise answers a question. It gives false where the crew has no cell to take: nothing is left, or what is left needs
// what is not placed.
//
// Candidate orders each give a first cell for the crew that asks; all are played through the same numbered scenarios. A
// quarter of the trials picks the best way to go on from each cell, the rest decide among cells (rollout over several
// base policies: Bertsekas, Castañon 1999). The cell advised last time stands unless another is better by three
// standard errors of the paired difference, so that a crew is not sent to and fro.
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
	q.Last = slices.DeleteFunc(slices.Clone(q.Last), func(c int) bool { return now.begin[c] != never })
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
	quarter := max(1, trials/4)
	if len(q.Last) == 0 {
		q.Last, q.Oldest = t.bestHabit(q, worlds[:quarter])
	}
	choices := t.choose(q, worlds[:quarter])
	if len(choices) == 0 {
		return Advice{}, false
	}
	for _, c := range choices {
		c.play(q, worlds[quarter:], math.MaxInt64)
	}
	// What was advised last is compared as it was advised, the order that follows included: else asking again with
	// nothing new would compare another order from the same cell, and could lead away from it.
	last := t.lastFirst(q)
	for i, c := range choices {
		if c.Cell == last && t.begins(q, last, q.lastWay(t)) {
			choices[i] = t.steady(q, c, worlds[quarter:])
		}
	}
	best := decide(choices, last)
	a := Advice{Lost: lost, Trials: trials}
	for _, c := range choices {
		if c.Cell != best.Cell && (a.Instead == nil || c.total < a.Instead.total) {
			a.Instead = c
		}
	}
	if a.Instead != nil {
		mean, se := paired(a.Instead.costs, best.costs)
		a.Either = math.Abs(mean) < 2*se || mean == 0
	}
	t.state(q, best, a.Instead)
	a.Choice = *best
	a.Oldest = best.way.oldest && best.Cell == t.firstBy(q.Asks, best.way)
	a.Takes = t.follow(q.Asks, best.Cell, best.way, q.Horizon).takes
	a.Meets, a.Slack = now.meeting(q.Asks, best.Cell)
	return a, true
}

// state what becomes of the choice that is advised and of the one in its stead, in worlds that had no say in which of
// them it is: the chance of what was chosen because it did well in some worlds is too good in these.
func (t *table) state(q Question, choices ...*Choice) {
	n := statedTrials
	if len(q.Cells) > LargeJob {
		n /= 2
	}
	worlds := make([]*table, n)
	for i := range worlds {
		worlds[i] = t.scenario(statedFrom+i, q.Spreads)
	}
	for _, c := range choices {
		if c != nil {
			c.play(q, worlds, math.MaxInt64)
			c.Order = t.asExpected(q, c)
		}
	}
}

// asExpected is the order of a choice, which for one that is not fixed beforehand is the order where all goes as
// expected.
func (t *table) asExpected(q Question, c *Choice) []int {
	if !c.way.oldest {
		return c.way.order
	}
	s := t.follow(q.Asks, c.Cell, c.way, never)
	defer s.release()
	return withRest(taken(s), len(t.Cells))
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

// bestHabit is the sweep that costs least, or to go on beside the front that turns first: what is advised where nothing
// was before, unless another is clearly better. In a shell that is narrow enough nothing is, and what differs by chance
// alone must not lead away from plain rows, nor from the end at which the plan begins to number: the first of them
// stands unless another is better by a standard error.
func (t *table) bestHabit(q Question, worlds []*table) (order []int, oldest bool) {
	var best *Choice
	for _, w := range append(fixedOrders(t.sweeps()), way{t.sweep(), true}) {
		cell := t.firstBy(q.Asks, w)
		if cell < 0 {
			continue
		}
		c := &Choice{Cell: cell, way: w}
		c.play(q, worlds, math.MaxInt64)
		if best == nil {
			best = c
		} else if mean, se := paired(best.costs, c.costs); mean > se {
			best = c
		}
	}
	if best == nil {
		return nil, false
	}
	return best.way.order, best.way.oldest
}

// choose the cells that are compared, each with the best way to go on from it. Beams, which take the longest, are asked
// only where no simpler way keeps everything live in these worlds.
func (t *table) choose(q Question, worlds []*table) []*Choice {
	ways, from := t.candidates(), map[int]*Choice{}
	choices := t.compare(q, worlds, ways, 0, from)
	if len(choices) == 0 || slices.ContainsFunc(choices, func(c *Choice) bool { return c.total == 0 }) {
		return choices
	}
	return t.compare(q, worlds, append(ways, fixedOrders(t.beams())...), len(ways), from)
}

// compare the first cells of some ways. What is in known was compared by all but the ways from a number on.
func (t *table) compare(q Question, worlds []*table, ways []way, more int, known map[int]*Choice) []*Choice {
	var choices []*Choice
	last, after := t.lastFirst(q), q.lastWay(t)
	for _, cell := range t.firsts(q, ways) {
		best, from := known[cell], ways
		if best != nil {
			from = ways[more:]
		}
		// A way in which the crew that asks must take another cell before this one says nothing of taking it now.
		from = slices.DeleteFunc(slices.Clone(from), func(w way) bool { return !t.begins(q, cell, w) })
		if best == nil && cell == last && t.begins(q, cell, after) {
			from = append(from, after)
		}
		if best = bestFrom(q, worlds, cell, from, best); best != nil {
			known[cell] = best
			choices = append(choices, best)
		}
	}
	return choices
}

// candidates are the ways that are tried from each cell and need no search: the plan's order, the sweep and bays both
// ways, and oldest first. Each is there once. The order advised last is tried from its own cell alone: from another it
// would be a new way to go on, and asking again with nothing new could lead away from what was advised.
func (t *table) candidates() []way {
	all := t.orders()
	bays := bayByBay(t.Job, t.sweep())
	back := slices.Clone(bays)
	slices.Reverse(back)
	all = append(all, bays, back, withRest(taken(t.oldestFirst()), len(t.Cells)))
	var once [][]int
	for _, order := range all {
		if !slices.ContainsFunc(once, func(o []int) bool { return slices.Equal(o, order) }) {
			once = append(once, order)
		}
	}
	return append(fixedOrders(once), way{t.sweep(), true})
}

// beams are what beams find that reckon with the expected set and with a shorter one.
func (t *table) beams() [][]int {
	var all [][]int
	for _, percent := range []int64{100, hurried} {
		j := *t.Job
		j.Cells = slices.Clone(t.Cells)
		for i := range j.Cells {
			j.Cells[i].Set = max(1, j.Cells[i].Set*percent/100)
		}
		hot := newTable(&j)
		hot.swept = t.swept
		beam := hot.beam(deepBeam, -1, deepTakes)
		all = append(all, followed(taken(beam), t.sweep()))
		if hot.start().left <= exactUpTo {
			if best, _ := hot.exact(beam.cost, -1, exactLabels); best != nil {
				all = append(all, followed(taken(best), t.sweep()))
			}
		}
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

// followed is an order, and then the cells that it leaves out in the order of another.
func followed(order, other []int) []int {
	all := slices.Clone(order)
	in := make([]bool, len(other))
	for _, c := range order {
		in[c] = true
	}
	for _, c := range other {
		if !in[c] {
			all = append(all, c)
		}
	}
	return all
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

// firsts are the cells that the ways give the crew that asks, most often named first; the last advised one among them.
func (t *table) firsts(q Question, ways []way) []int {
	votes := map[int]int{}
	if cell := t.lastFirst(q); cell >= 0 {
		votes[cell] = len(ways) + 1
	}
	for _, w := range ways {
		if cell := t.firstBy(q.Asks, w); cell >= 0 {
			votes[cell]++
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

// bestFrom is the way to go on from a cell that costs least over some worlds, of some ways and the best so far, which
// may be nil; nil where there is none.
func bestFrom(q Question, worlds []*table, cell int, ways []way, best *Choice) *Choice {
	for _, w := range ways {
		c, least := &Choice{Cell: cell, way: w}, int64(math.MaxInt64)
		if best != nil {
			least = best.total
		}
		if c.play(q, worlds, least); c.total < least {
			best = c
		}
	}
	return best
}

// play follows a choice through worlds and adds up what it costs, until that is so much that nobody asks for the rest.
func (c *Choice) play(q Question, worlds []*table, least int64) {
	c.costs, c.total, c.Cold = nil, 0, Chance{}
	for _, w := range worlds {
		s := w.follow(q.Asks, c.Cell, c.way, q.Horizon)
		c.costs = append(c.costs, s.cost)
		c.total += int64(s.cost)
		c.Cold.Of++
		for e, gone := range s.charged {
			if gone && !w.Edges[e].Permitted {
				c.Cold.Happened++
				break
			}
		}
		s.release()
		if c.total >= least {
			break
		}
	}
	c.Mean = Cost(c.total / int64(len(c.costs)))
}

// follow plays a world up to the horizon. The first cell is kept for the crew that asks.
func (t *table) follow(asks, first int, w way, horizon int) *shift {
	s := t.start()
	from := 0 // of the order: all before it are taken
	for {
		who, going := s.crew()
		if !going || s.free[who] >= horizon {
			return s
		}
		if first >= 0 && s.begin[first] == never && who == asks && s.open(first) {
			s.take(who, first, 0)
			continue
		}
		kept := first
		if who == asks {
			kept = -1
		}
		next := -1
		if w.oldest {
			next = s.oldest(kept)
		}
		for from < len(w.order) && s.begin[w.order[from]] != never {
			from++
		}
		for _, cell := range w.order[from:] {
			if next >= 0 {
				break
			}
			if s.open(cell) && cell != kept {
				next = cell
			}
		}
		if next < 0 {
			s.stop(who) // only the cell that is kept for another crew is left
			continue
		}
		s.take(who, next, 0)
	}
}

// oldest is the cell that may be taken beside the front that turns first, but for one that is kept; −1 where none
// waits.
func (s *shift) oldest(kept int) int {
	best, due := -1, never
	for _, front := range s.fronts {
		if s.due[front] > due {
			continue
		}
		for _, side := range s.around[front] {
			o := side.other
			if s.charged[side.edge] || o == kept || s.begin[o] != never || s.due[front] == due && o > best ||
				!s.open(o) {
				continue
			}
			best, due = o, s.due[front]
		}
	}
	return best
}

// decide is the choice that costs least, but the last advised one, where it is among them, unless the other is clearly
// better.
func decide(choices []*Choice, last int) *Choice {
	best := slices.MinFunc(choices, func(a, b *Choice) int { return cmp.Compare(a.total, b.total) })
	for _, c := range choices {
		if c.Cell != last || c == best {
			continue
		}
		if mean, se := paired(c.costs, best.costs); mean < leave*se {
			return c
		}
	}
	return best
}

// firstBy is the first cell that a crew takes where all go on in one way; −1 where it takes none.
func (t *table) firstBy(asks int, w way) int {
	if !w.oldest {
		return t.first(asks, w.order)
	}
	s := t.follow(asks, -1, w, t.Crews[asks].Free+1)
	defer s.release()
	for _, take := range s.takes {
		if take.Crew == asks && !take.Stopped {
			return take.Cell
		}
	}
	return -1
}

// first cell that a crew takes where all follow an order; −1 where it takes none.
func (t *table) first(asks int, order []int) int {
	s := t.start()
	defer s.release()
	for len(order) > 0 {
		who, going := s.crew()
		i := slices.IndexFunc(order, s.open)
		switch {
		case !going || i < 0:
			return -1
		case who == asks:
			return order[i]
		}
		s.take(who, order[i], 0)
	}
	return -1
}

// lastFirst is the cell that was advised last, kept for the crew that asks where it can take it first; else the first
// that it takes where all follow that order; −1 where it takes none.
func (t *table) lastFirst(q Question) int {
	if len(q.Last) == 0 {
		return -1
	}
	if q.Oldest {
		return t.firstBy(q.Asks, q.lastWay(t))
	}
	if t.begins(q, q.Last[0], way{order: q.Last}) {
		return q.Last[0]
	}
	return t.first(q.Asks, q.Last)
}

// begins reports whether a cell that is kept for the crew that asks is the first that it takes where all go on in one
// way.
func (t *table) begins(q Question, cell int, w way) bool {
	s := t.follow(q.Asks, cell, w, q.Crews[q.Asks].Free+1)
	defer s.release()
	i := slices.IndexFunc(s.takes, func(t Take) bool { return t.Crew == q.Asks })
	return i >= 0 && !s.takes[i].Stopped && s.takes[i].Cell == cell
}

// Following is the order that advice has in mind, its own cell first: Question.Last of the next question.
func (a Advice) Following() []int {
	return append([]int{a.Cell}, slices.DeleteFunc(slices.Clone(a.Order), func(c int) bool { return c == a.Cell })...)
}

// steady is the choice with the way that was advised last, unless its own is clearly better: then that is what follows.
func (t *table) steady(q Question, c *Choice, worlds []*table) *Choice {
	as := &Choice{Cell: c.Cell, way: q.lastWay(t)}
	as.play(q, worlds, math.MaxInt64)
	if mean, se := paired(as.costs, c.costs); mean >= 2*se && mean > 0 {
		return c
	}
	return as
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
func bayByBay(j *Job, swept []int) []int {
	permitted := map[int]bool{}
	for i, e := range j.Edges {
		permitted[i] = e.Permitted
	}
	rank := make([]int, len(j.Cells))
	for at, cell := range swept {
		rank[cell] = at
	}
	bays := parts(left(j, permitted))
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
