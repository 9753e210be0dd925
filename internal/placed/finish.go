package placed

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/unit"
)

// CoatState is how far a coat is.
type CoatState int

// The states of a coat.
const (
	Waiting  CoatState = iota // nothing is placed in it
	Open                      // under way
	Finished                  // it has all that it is to get, by what people said or did
)

func (c CoatState) String() string { return [...]string{"waiting", "under way", "done"}[c] }

// enough is the share of the volume needed from which a cover, or a crew that went on, is taken to say that a coat is
// finished. Crews cover unfinished work for the night and go from coat to coat to keep edges live, so neither says much
// of a coat that is half empty. No coat is placed as thin as that on purpose: 15 % thin by a crew that places 10 % thin
// is 77 % of the design. A choice of this program, no source.
const enough = 2.0 / 3

// Finish is what finished a coat.
type Finish struct {
	At     time.Time
	How    string          // in words: "covered with wet burlap", "crew north went on to A4 outer 1"
	Record *history.Record // that says or shows it
	Stated bool            // somebody said it: the foreman closed it, or somebody said that all of it is complete
	Went   bool            // shown only by its crew's going on: the crew may yet come back
	by     step            // that shows it, where Record is not fetched
}

// Stated is how much of a coat was complete, as somebody said.
type Stated struct {
	Share  unit.Share
	At     time.Time
	Volume unit.Volume // that was placed by then
	Record *history.Record
}

// word is a statement about a coat: closed by the foreman, or how much of it is complete.
type word struct {
	r      *history.Record
	at     time.Time
	share  unit.Share
	closed bool
}

// words about the coat, by time. That a placement says of its coat is said once it is placed.
func (c *CoatIs) wordsOf() []word {
	all := slices.Clone(c.words)
	for _, p := range c.Placed {
		if body, ok := p.Record.Now.(event.Placement); ok && body.Complete != nil {
			all = append(all, word{r: p.Record, at: p.To, share: body.Complete.SI})
		}
	}
	slices.SortFunc(all, func(a, b word) int { return cmp.Or(a.at.Compare(b.at), history.ByLogged(a.r, b.r)) })
	return all
}

func (w word) finishes() bool { return w.closed || mixed.Rounded(float64(w.share)) >= 1 }

// finish works out whether the coat is finished, by what people said or did; volumes are known by now. The last word
// since the last placement decides. Without one it is finished when its face was covered after it, or when every crew
// that placed in it has begun another batch elsewhere since, if it holds enough. What is placed later opens it again.
func (s *Zones) finish(c *CoatIs, covers []Cover) {
	c.State = Waiting
	if len(c.Placed) > 0 {
		c.State = Open
	}
	words := c.wordsOf()
	last := c.lastBegun()
	c.Complete, c.Again = nil, nil
	var since *word
	for i, w := range words {
		if w.at.Before(last) {
			continue
		}
		since = &words[i]
	}
	if n := len(words); n > 0 && !words[n-1].closed {
		w := words[n-1]
		c.Complete = &Stated{w.share, w.at, c.placedBy(w.at), w.r}
	}
	switch {
	case since != nil && since.finishes():
		c.State, c.Finish = Finished, Finish{At: since.at, How: since.how(), Record: since.r, Stated: true}
	case since != nil, len(c.Placed) == 0: // said to be under way, or nothing is placed
	case mixed.Rounded(float64(c.Volume)) >= mixed.Rounded(enough*float64(c.Needed)):
		if f, ok := s.finishShown(c, covers, last); ok {
			c.State, c.Finish = Finished, f
		}
	}
	if c.State == Open {
		c.Again = c.openedAgain(words, covers)
	}
}

func (w word) how() string {
	if w.closed {
		who := w.r.Person
		if who == "" {
			who = "device " + string(w.r.Device)
		}
		return "closed by " + who
	}
	return "all of it said to be complete"
}

// lastBegun is when the last placement in the coat began; zero if there is none.
func (c *CoatIs) lastBegun() time.Time {
	if n := len(c.Placed); n > 0 {
		return c.Placed[n-1].From
	}
	return time.Time{}
}

// placedBy is the volume that was placed by an instant.
func (c *CoatIs) placedBy(at time.Time) unit.Volume {
	var v unit.Volume
	for _, p := range c.Placed {
		if !p.From.After(at) {
			v += p.Volume
		}
	}
	return v
}

// finishShown is what people did that shows the coat to be finished since its last placement began.
func (s *Zones) finishShown(c *CoatIs, covers []Cover, last time.Time) (Finish, bool) {
	var f Finish
	covered := false
	for _, k := range covers {
		if !k.From.Before(last) {
			f, covered = Finish{At: k.From, How: "covered", Record: k.By}, true
			if k.With != "" {
				f.How += " with " + k.With
			}
			break
		}
	}
	w, went := s.wentOn(c)
	if went && (!covered || w.At.Before(f.At)) {
		w.Went = !covered // covered as well: its crew will not come back
		f = w
	}
	return f, covered || went
}

// step is a part of a batch that a crew placed.
type step struct {
	at, to time.Time
	coat   event.Coat
	batch  event.Batch
	r      event.Name
}

func compareSteps(a, b step) int {
	return cmp.Or(a.at.Compare(b.at), event.CompareNames(a.r, b.r))
}

// steps are each crew's placements by time: the way that it went; of batches that are not fetched keptWay has them.
func (s *Zones) steps() map[event.Crew][]step {
	s.ComputeFetched()
	if s.way.steps == nil || s.way.worked != s.Worked {
		all := map[event.Crew][]step{}
		for _, st := range s.ByBatch { // in any order: they are sorted below
			if st.Is == nil || st.Is.Mixed == nil {
				continue
			}
			for _, p := range st.Is.Parts {
				crew := st.Is.ID.Crew
				all[crew] = append(all[crew], step{p.From, p.To, p.Coat, st.Is.ID, p.Record.Name})
			}
		}
		for _, way := range all {
			slices.SortFunc(way, compareSteps)
		}
		s.way.steps, s.way.worked = all, s.Worked
	}
	return s.way.steps
}

// wentOn is when the last of the coat's crews began another batch in another coat; false if one of them did not. The
// rest of a batch that went elsewhere is not going on.
func (s *Zones) wentOn(c *CoatIs) (Finish, bool) {
	lastOf := map[event.Crew]*Placed{}
	var crews []event.Crew
	for _, p := range c.Placed {
		if lastOf[p.Batch.ID.Crew] == nil {
			crews = append(crews, p.Batch.ID.Crew)
		}
		lastOf[p.Batch.ID.Crew] = p
	}
	var f Finish
	for _, crew := range crews {
		p := lastOf[crew]
		k, went := s.nextStep(crew, p.From, func(k step) bool {
			return k.coat != c.Name() && k.batch != p.Batch.ID &&
				(k.at.After(p.From) || event.CompareNames(k.r, p.Record.Name) > 0)
		})
		if !went {
			return Finish{}, false
		}
		if f.At.IsZero() || k.at.After(f.At) {
			f = Finish{At: k.at, How: fmt.Sprintf("crew %s went on to %s", crew, k.coat), Went: true, by: k}
		}
	}
	return f, len(crews) > 0
}

// openedAgain is the placement by which a coat that was finished is open again; nil if it never was finished before.
func (c *CoatIs) openedAgain(words []word, covers []Cover) *Placed {
	var again *Placed
	sum := unit.Volume(0)
	for i, p := range c.Placed {
		if i > 0 {
			before := c.Placed[i-1].From
			shut := slices.ContainsFunc(words, func(w word) bool {
				return w.finishes() && !w.at.Before(before) &&
					w.at.Before(p.From)
			})
			if mixed.Rounded(float64(sum)) >= mixed.Rounded(enough*float64(c.Needed)) {
				shut = shut || slices.ContainsFunc(covers, func(k Cover) bool {
					return !k.From.Before(before) &&
						k.From.Before(p.From)
				})
			}
			if shut {
				again = p
			}
		}
		sum += p.Volume
	}
	return again
}

// Done says that the coat is finished: by what people said or did, not by how much the plan says that it takes.
func (c CoatIs) Done() bool { return c.State == Finished }

// TakesMore says that the coat's edges may yet be met: it is not finished, or only its crew's going on says so and it
// holds less than it needs, so that the crew may come back to it.
func (c CoatIs) TakesMore() bool {
	return !c.Done() || c.Finish.Went && mixed.Rounded(float64(c.Volume)) < mixed.Rounded(float64(c.Needed))
}

// ReachesAll says that mortar must lie along each of the coat's edges: it is finished, or holds what covers all of it
// by the plan. What is closed with nothing in it reaches none.
func (c CoatIs) ReachesAll() bool {
	return len(c.Placed) > 0 && (c.Done() || mixed.Rounded(float64(c.Volume)) >= mixed.Rounded(float64(c.Needed)))
}

// Left is the volume that the coat still takes by the plan; none of a finished one.
func (c CoatIs) Left() unit.Volume {
	if c.Done() {
		return 0
	}
	return max(0, c.Needed-c.Volume)
}

// Transit is a batch that is mixed and neither placed nor thrown away in the record: it is not among those to come.
type Transit struct {
	Crew  event.Crew
	Batch *mixed.Batch
	Left  unit.Share
}

// transitFor is how long after water contact a batch may be on its way at most, unless the mix states a longer working
// time: what is older went somewhere that nobody wrote down.
const transitFor = 3 * time.Hour

// InTransit are the batches that are on their way at an instant, by day, crew and number.
func (s *Zones) InTransit(now time.Time) []Transit {
	var all []Transit
	for _, b := range s.Batches() {
		longest := max(transitFor, 2*b.Mix.Working)
		if mixed.Rounded(float64(b.Left)) <= 0 || b.Ready.After(now.Add(history.TrustedAhead)) ||
			now.Sub(b.Ready) > longest {
			continue
		}
		all = append(all, Transit{b.ID.Crew, b, b.Left})
	}
	return all
}

// CoatsInOrder are all planned coats in the order in which the shell is placed: by the zones' order, then face and
// number.
func (s *Zones) CoatsInOrder() []CoatIs {
	var all []CoatIs
	for _, name := range s.Plan().ZoneNames() {
		z, _ := s.Zone(name)
		all = append(all, z.Coats...)
	}
	return all
}

// Closed reports whether the foreman closed it.
func (c CoatIs) Closed() bool {
	if c.Finish.Record == nil {
		return false
	}
	_, is := c.Finish.Record.Now.(event.CoatFinished)
	return is
}

// Gauged reports whether a thickness was read in it.
func (c CoatIs) Gauged() bool {
	for _, p := range c.Placed {
		if len(p.Gauges) > 0 {
			return true
		}
	}
	return false
}

// PlacedOver reports whether a coat that lies on it has mortar.
func (z ZoneIs) PlacedOver(c CoatIs) bool {
	for _, other := range z.Coats {
		a, b := c.Name(), other.Name()
		if a.Face == b.Face && b.Number > a.Number && len(other.Placed) > 0 {
			return true
		}
	}
	return false
}
