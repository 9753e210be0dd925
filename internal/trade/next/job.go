package next

import (
	"fmt"
	"math"
	"slices"
)

// Limits of a job. They bound memory and time, and keep sums of costs far inside 64 bits.
const (
	MaxCells   = 2000
	MaxEdges   = 20_000
	MaxCrews   = 64
	MaxMinutes = 1_000_000   // of any time: about two years
	MaxLength  = 100_000_000 // of an edge, cm: 1000 km
)

// UsualJoint is the percentage of its length that an edge costs that is ended on purpose, where nobody says otherwise:
// a choice of this program.
const UsualJoint = 25

const msPerMinute = 60_000

// Curve is the equivalent age that material at a place has gathered, in milliseconds, at whole minutes: Ages[i] at
// minute From+i. Ages never fall. Beyond its ends a curve goes on as it did in its first or last minute. A curve
// without ages is the clock.
type Curve struct {
	From int
	Ages []int64
}

// At is the age at a minute.
func (c Curve) At(minute int) int64 {
	n := len(c.Ages)
	if n < 2 {
		return int64(minute) * msPerMinute
	}
	switch i := minute - c.From; {
	case i < 0:
		return c.Ages[0] + int64(i)*(c.Ages[1]-c.Ages[0])
	case i >= n:
		return c.Ages[n-1] + int64(i-n+1)*(c.Ages[n-1]-c.Ages[n-2])
	default:
		return c.Ages[i]
	}
}

// latest is the last minute, at most MaxMinutes, at which the age is not beyond the given one.
func (c Curve) latest(age int64, from int) int {
	if len(c.Ages) < 2 {
		return int(floorDiv(age, msPerMinute))
	}
	now := c.At(from)
	if now > age {
		return from
	}
	// Near where it would be if the material went on to age as it does now.
	step := int(max(1, min((age-now)/max(1, c.At(from+1)-now), 2*MaxMinutes)))
	low, high := from, from+step
	step = max(1, step/8)
	if c.At(high) > age {
		for low = high - step; low > from && c.At(low) > age; low -= step {
			high, step = low, 2*step
		}
		low = max(low, from)
	} else {
		for high < 2*MaxMinutes && c.At(high) <= age {
			low, high, step = high, high+step, 2*step
		}
	}
	for high-low > 1 {
		if mid := low + (high-low)/2; c.At(mid) <= age {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// Reaches is the last minute, from one on, at which the age is not beyond the given one.
func (c Curve) Reaches(age int64, from int) int { return c.latest(age, from) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && a < 0 {
		q--
	}
	return q
}

// Cell is what one batch fills.
type Cell struct {
	Name    string
	Minutes int   // that placing takes at a pace of 100 %
	Needs   []int // cells that must have been taken before this one is, and placed before this one is begun
	After   []int // cells that must have been taken before this one is; they need not be placed
	Curve   int   // of Job.Curves: where the material lies
	Set     int64 // initial set, equivalent age in ms since water contact

	Placed   bool // before the job begins
	From, To int  // of placing, minutes, where Placed
}

// Edge is where two cells adjoin.
type Edge struct {
	A, B      int
	Length    int64 // cm
	Permitted bool  // a joint may be made here
	Ended     bool  // it was ended on purpose before: it costs nothing and waits for nobody
}

// Crew places one cell after another.
type Crew struct {
	Name string
	Free int    // minute from which it can take a cell
	Pace int    // percent of a cell's minutes that it takes: 300 is three times as slow
	Away []Span // breaks
}

// Job is what is to be placed, and by whom.
type Job struct {
	Cells  []Cell
	Edges  []Edge
	Crews  []Crew
	Curves []Curve // none: the clock
	Lead   int     // minutes from water contact to the beginning of placing
	Joint  int     // percent of its length that a permitted edge costs that is ended on purpose
	// MayStop says that a crew may stop for good while cells are left. Without it a crew that is free takes a cell at
	// once, and stops only when it finds none.
	MayStop bool
	Closed  []Span // minutes in which nobody places
}

// A Mistake is what is wrong with a job, and where: Path is of the part at fault, such as "cells[2].minutes".
type Mistake struct{ Path, What string }

func (m *Mistake) Error() string { return m.Path + ": " + m.What }

func mistake(path, format string, args ...any) error {
	return &Mistake{path, fmt.Sprintf(format, args...)}
}

// Check returns the first Mistake of a job, or nil.
func (j *Job) Check() error {
	switch {
	case len(j.Cells) == 0:
		return mistake("cells", "there are none; name at least one cell to place")
	case len(j.Cells) > MaxCells:
		return mistake("cells", "%d are too many; at most %d", len(j.Cells), MaxCells)
	case len(j.Edges) > MaxEdges:
		return mistake("edges", "%d are too many; at most %d", len(j.Edges), MaxEdges)
	case len(j.Crews) == 0:
		return mistake("crews", "there are none; name at least one crew")
	case len(j.Crews) > MaxCrews:
		return mistake("crews", "%d are too many; at most %d", len(j.Crews), MaxCrews)
	case j.Lead < 0 || j.Lead > MaxMinutes:
		return mistake("lead_min", "%d must be from 0 to %d", j.Lead, MaxMinutes)
	case j.Joint < 0 || j.Joint > 100:
		return mistake("joint_percent", "%d must be from 0 to 100", j.Joint)
	}
	for _, check := range []func() error{j.checkCells, j.checkEdges, j.checkCrews, j.checkNeeds} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

func (j *Job) checkCells() error {
	named := map[string]int{}
	for i, c := range j.Cells {
		at := fmt.Sprintf("cells[%d].", i)
		if c.Name == "" {
			return mistake(at+"name", "it is empty")
		}
		if k, twice := named[c.Name]; twice {
			return mistake(at+"name", "%q is cells[%d] already", c.Name, k)
		}
		named[c.Name] = i
		switch {
		case c.Placed && (c.From < -MaxMinutes || c.From > MaxMinutes):
			return mistake(at+"placed_from", "%d must be within %d minutes of the beginning", c.From, MaxMinutes)
		case c.Placed && (c.To < c.From || c.To > MaxMinutes):
			return mistake(at+"placed_to", "%d must not be before placed_from, %d, nor beyond %d", c.To, c.From,
				MaxMinutes)
		case !c.Placed && (c.Minutes < 1 || c.Minutes > MaxMinutes):
			return mistake(at+"minutes", "%d must be from 1 to %d", c.Minutes, MaxMinutes)
		case c.Set < 1 || c.Set > MaxMinutes*msPerMinute:
			return mistake("limit_min", "initial set must be above 0 and at most %d minutes", MaxMinutes)
		case c.Curve < 0 || c.Curve >= max(1, len(j.Curves)):
			return mistake(at+"curve", "there is no curve %d", c.Curve)
		}
	}
	return nil
}

func (j *Job) checkEdges() error {
	seen := map[[2]int]int{}
	for i, e := range j.Edges {
		at := fmt.Sprintf("edges[%d].", i)
		for side, k := range map[string]int{"a": e.A, "b": e.B} {
			if k < 0 || k >= len(j.Cells) {
				return mistake(at+side, "there is no cell %d", k)
			}
		}
		pair := [2]int{min(e.A, e.B), max(e.A, e.B)}
		k, twice := seen[pair]
		switch {
		case e.A == e.B:
			return mistake(at+"b", "%q adjoins itself", j.Cells[e.B].Name)
		case e.Length < 0 || e.Length > MaxLength:
			return mistake(at+"length_cm", "%d must be from 0 to %d", e.Length, MaxLength)
		case twice:
			return mistake(at+"b", "%q and %q adjoin in edges[%d] already; give one edge its whole length",
				j.Cells[e.A].Name, j.Cells[e.B].Name, k)
		}
		seen[pair] = i
	}
	return nil
}

func (j *Job) checkCrews() error {
	named := map[string]int{}
	for i, c := range j.Crews {
		at := fmt.Sprintf("crews[%d].", i)
		k, twice := named[c.Name]
		switch {
		case c.Name == "":
			return mistake(at+"name", "it is empty")
		case twice:
			return mistake(at+"name", "%q is crews[%d] already", c.Name, k)
		case c.Free < -MaxMinutes || c.Free > MaxMinutes:
			return mistake(at+"free_at_min", "%d must be within %d minutes of the beginning", c.Free, MaxMinutes)
		case c.Pace < 1 || c.Pace > 10_000:
			return mistake(at+"pace_percent", "%d must be from 1 to 10000", c.Pace)
		}
		named[c.Name] = i
	}
	return nil
}

// checkNeeds sees that needs name cells and do not run in a circle.
func (j *Job) checkNeeds() error {
	const open, done = 1, 2
	state := make([]int, len(j.Cells))
	var visit func(i int) error
	visit = func(i int) error {
		state[i] = open
		first := slices.Concat(j.Cells[i].Needs, j.Cells[i].After)
		for k, n := range first {
			at := fmt.Sprintf("cells[%d].needs[%d]", i, k)
			if needs := len(j.Cells[i].Needs); k >= needs {
				at = fmt.Sprintf("cells[%d].after[%d]", i, k-needs)
			}
			if n < 0 || n >= len(j.Cells) {
				return mistake(at, "there is no cell %d", n)
			}
			if state[n] == open {
				return mistake(at, "%q and %q need each other, directly or through others, so neither can be first",
					j.Cells[i].Name, j.Cells[n].Name)
			}
			if state[n] == 0 {
				if err := visit(n); err != nil {
					return err
				}
			}
		}
		state[i] = done
		return nil
	}
	for i := range j.Cells {
		if state[i] == 0 {
			if err := visit(i); err != nil {
				return err
			}
		}
	}
	return nil
}

func (j *Job) curve(cell int) Curve {
	if i := j.Cells[cell].Curve; i < len(j.Curves) {
		return j.Curves[i]
	}
	return Curve{}
}

// side is an edge as one of its cells has it.
type side struct {
	edge  int
	other int
}

// sides of each cell, by edge: those edges that can still cost anything.
func (j *Job) sides() [][]side {
	all := make([][]side, len(j.Cells))
	for i, e := range j.Edges {
		if e.Ended || j.Cells[e.A].Placed && j.Cells[e.B].Placed {
			continue
		}
		all[e.A] = append(all[e.A], side{i, e.B})
		all[e.B] = append(all[e.B], side{i, e.A})
	}
	return all
}

// Cost of edges, in hundredths of a centimetre so that a percentage of a length is a whole number.
type Cost int64

// Metres of edge that a cost stands for.
func (c Cost) Metres() float64 { return float64(c) / 10_000 }

// worth is what an edge costs that is not met in time.
func (j *Job) worth(edge int) Cost {
	e := j.Edges[edge]
	if e.Permitted {
		return Cost(e.Length * int64(j.Joint))
	}
	return Cost(e.Length * 100)
}

// Take is one cell taken by one crew; Stopped says that the crew stopped for good instead.
type Take struct {
	Crew, Cell int
	From, To   int // of placing
	Stopped    bool
}

// Plan is an order and what it costs.
type Plan struct {
	Takes     []Take
	Cost      Cost
	Cold      []int // edges that go cold, by number
	OnPurpose []int // permitted edges that are ended on purpose because they would go cold
	Exact     bool  // no order costs less
}

// First is the cell that the crew which is free first takes first; false where it takes none.
func (p *Plan) First() (int, bool) {
	for _, t := range p.Takes {
		if !t.Stopped {
			return t.Cell, true
		}
	}
	return 0, false
}

// Length of edges, in centimetres.
func (j *Job) Length(edges []int) int64 {
	var sum int64
	for _, e := range edges {
		sum += j.Edges[e].Length
	}
	return sum
}

// never is later than any time of a job.
const never = math.MaxInt32

// finished puts the lists of a plan in order.
func (p *Plan) finished() *Plan {
	slices.Sort(p.Cold)
	slices.Sort(p.OnPurpose)
	return p
}
