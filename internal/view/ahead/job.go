package ahead

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/forecast"
	"hod/internal/trade/mix"
	"hod/internal/view"
)

// job is what the record says to the forecast, with what its numbers stand for.
type job struct {
	forecast.Job
	site    *fold.Site
	now     time.Time
	in      *time.Location
	coats   []fold.CoatIs               // of Job.Coats
	crews   []event.Crew                // of Job.Crews
	mixes   []*fold.Mix                 // of Job.Mixes, as the plan has them now; nil where it has them no more
	wrong   []string                    // what had to be left out
	guessed string                      // how the working days were guessed, where the plan does not name them
	next    map[event.Batch]*fold.Batch // that its crew began after it
	mixedAt map[int]time.Time           // the latest in transit of each of Job.Crews
	volume  float64                     // m³ that the plan still asks for
}

// lookAhead is how many days are laid out to find the day on which it is done.
const lookAhead = 730

// jobOf the site at an instant.
func jobOf(s *fold.Site, now time.Time, in *time.Location) *job {
	p := s.Plan()
	j := &job{site: s, now: now, in: in}
	j.Now, j.Loss = forecast.WallOf(now.In(in)), float64(p.Loss)
	var of func(*fold.Mix) int
	j.Mixes, of = s.Mortars()
	j.mixes = make([]*fold.Mix, len(j.Mixes))
	for _, name := range p.MixNames() {
		if i := of(p.Mixes[name]); i >= 0 {
			j.mixes[i] = p.Mixes[name]
		}
	}
	j.gatherCrews(of)
	j.mixedAt = map[int]time.Time{}
	j.gatherTransit(of)
	j.gatherCoats(of)
	for _, r := range s.MethodChanges() {
		if r.State != fold.SetAside && !r.When.After(now) {
			j.Changed = append(j.Changed, j.wall(r.When))
		}
	}
	j.calendar()
	return j
}

func (j *job) wall(t time.Time) forecast.Wall {
	if t.IsZero() {
		return 0
	}
	return forecast.WallOf(t.In(j.in))
}

func (j *job) crew(name event.Crew) int { return slices.Index(j.crews, name) }

// gatherCrews with their batches: those that the plan has, and all that mixed.
func (j *job) gatherCrews(of func(*fold.Mix) int) {
	j.next = map[event.Batch]*fold.Batch{}
	all := map[event.Crew][]*fold.Batch{}
	for name := range j.site.Plan().Crews {
		all[name] = nil
	}
	for _, b := range j.site.Batches() {
		all[b.ID.Crew] = append(all[b.ID.Crew], b)
	}
	j.crews = slices.Sorted(maps.Keys(all))
	for _, name := range j.crews {
		c := forecast.Crew{Name: string(name)}
		slices.SortStableFunc(all[name], func(a, b *fold.Batch) int { return cmp.Compare(j.startOf(a), j.startOf(b)) })
		for i, b := range all[name] {
			if i > 0 {
				j.next[all[name][i-1].ID] = b
			}
			s := forecast.Start{At: j.startOf(b), Ready: j.wall(b.Ready), Wasted: b.Discarded > 0.99}
			for _, p := range b.Parts {
				s.Placed = max(s.Placed, j.wall(p.To))
			}
			c.Starts = append(c.Starts, s)
		}
		j.Crews = append(j.Crews, c)
	}
}

// startOf a batch, as far as it is written.
func (j *job) startOf(b *fold.Batch) forecast.Wall {
	if b.From.IsZero() || b.Ready.Before(b.From) {
		return j.wall(b.Ready)
	}
	return j.wall(b.From)
}

// gatherTransit is what is mixed and not placed.
func (j *job) gatherTransit(of func(*fold.Mix) int) {
	for _, t := range j.site.InTransit(j.now) {
		k, m := j.crew(t.Crew), of(t.Batch.Mix)
		if k < 0 || m < 0 || t.Batch.Mix.Figures.Yield <= 0 {
			continue
		}
		c := &j.Crews[k]
		if t.Batch.Ready.After(j.mixedAt[k]) {
			j.mixedAt[k] = t.Batch.Ready
		}
		at := slices.IndexFunc(c.Transit, func(t forecast.Transit) bool { return t.Mix == m })
		if at < 0 {
			at, c.Transit = len(c.Transit), append(c.Transit, forecast.Transit{Mix: m})
		}
		left := view.Rounded(float64(t.Left) * float64(t.Batch.Design/t.Batch.Mix.Figures.Yield))
		c.Transit[at].Batches += left
		c.Transit[at].Squares += left * left
	}
}

// gatherCoats in the order in which they are placed: one pass over all zones before the next, as the zones are ordered.
func (j *job) gatherCoats(of func(*fold.Mix) int) {
	p := j.site.Plan()
	last := map[event.Crew]*fold.Placed{}
	j.coats = j.site.CoatsInOrder()
	for _, c := range j.coats {
		for _, k := range c.Placed {
			if l := last[k.Batch.ID.Crew]; l == nil || k.To.After(l.To) || k.To.Equal(l.To) &&
				event.CompareNames(k.Record.Name, l.Record.Name) > 0 {
				last[k.Batch.ID.Crew] = k
			}
		}
	}
	slices.SortStableFunc(j.coats, func(a, b fold.CoatIs) int {
		x, y := a.CoatPlanned.Coat, b.CoatPlanned.Coat
		return cmp.Or(cmp.Compare(x.Number, y.Number), cmp.Compare(x.Face, y.Face))
	})
	j.coats = slices.DeleteFunc(j.coats, func(c fold.CoatIs) bool {
		m := p.Mixes[c.Mix]
		if m == nil || of(m) < 0 {
			j.wrong = append(j.wrong, fmt.Sprintf("%s is left out: its mix %s has no figures", c.CoatPlanned.Coat,
				c.Mix))
			return true
		}
		return c.Needed <= 0
	})
	for _, c := range j.coats {
		k := j.coat(c, of)
		for crew, l := range last {
			if k.State == forecast.Open && slices.Contains(c.Placed, l) {
				k.On = append(k.On, j.crew(crew))
			}
		}
		slices.Sort(k.On)
		if k.State == forecast.Open && k.Covered == nil && len(c.Placed) > 0 && j.left(&k, c) &&
			float64(c.Volume) > asGoodAsFinished*float64(c.Needed) {
			k.State = forecast.Finished
		}
		if k.State == forecast.Finished {
			k.Doubt = j.doubt(c)
		}
		if k.State != forecast.Finished {
			j.volume += float64(c.Left())
		}
		j.Coats = append(j.Coats, k)
	}
}

// doubt is the share of all that a finished coat has taken that its last batch was, if the rest of that may have been
// thrown away though nobody wrote so: it was placed whole, and its crew began no other batch since, or one of another
// mix, so that the rest can't have gone into its next coat.
func (j *job) doubt(c fold.CoatIs) float64 {
	if len(c.Placed) == 0 || c.Volume <= 0 {
		return 0
	}
	p := c.Placed[len(c.Placed)-1]
	b := p.Batch
	next := j.next[b.ID]
	switch {
	case p.Basis == "stated", b.Discarded > 0, len(b.Parts) == 0, b.Parts[len(b.Parts)-1].Record != p.Record,
		view.Rounded(float64(b.Left)) > 0:
		return 0
	case next != nil && next.Body.Mix == b.Body.Mix:
		return 0
	}
	return view.Rounded(float64(p.Volume / c.Volume))
}

// left tells whether every crew has left a coat: the rest of its last batch went elsewhere, or what it has mixed since
// is of a mix that does not go there.
func (j *job) left(k *forecast.Coat, c fold.CoatIs) bool {
	since := c.Placed[len(c.Placed)-1].Batch.Ready
	return !slices.ContainsFunc(k.On, func(crew int) bool {
		in := j.Crews[crew].Transit
		return len(in) == 0 || !j.mixedAt[crew].After(since) ||
			slices.ContainsFunc(in, func(t forecast.Transit) bool { return j.Mixes[t.Mix].Name == j.Mixes[k.Mix].Name })
	})
}

// asGoodAsFinished is the share of the volume needed from which a coat takes no more once its crews have left it,
// although none of them has placed a batch elsewhere yet.
const asGoodAsFinished = 2.0 / 3

var states = map[fold.CoatState]forecast.State{
	fold.Waiting: forecast.Untouched, fold.Open: forecast.Open,
	fold.Finished: forecast.Finished,
}

func (j *job) coat(c fold.CoatIs, of func(*fold.Mix) int) forecast.Coat {
	id := c.CoatPlanned.Coat
	k := forecast.Coat{
		Name: id.String(), Zone: string(id.Zone), Mix: of(j.site.Plan().Mixes[c.Mix]),
		Design: view.Rounded(float64(c.Needed) / (1 + j.Loss)), Ended: j.wall(c.Last), State: states[c.State],
	}
	for _, name := range j.site.Plan().CrewsOf(id.Zone) {
		k.Crews = append(k.Crews, j.crew(name))
	}
	if f := c.Complete; k.State == forecast.Open && f != nil && f.Share > 0 && f.Share < 1 && c.Volume > 0 {
		k.Covered = &forecast.Covered{Share: float64(f.Share), Taken: view.Rounded(float64(f.Volume / c.Volume))}
	}
	gauges := 0.0
	for i, p := range c.Placed {
		if i == 0 {
			k.Begun = j.wall(p.From)
		}
		if by := j.crew(p.Batch.ID.Crew); by >= 0 {
			k.By = append(slices.DeleteFunc(k.By, func(x int) bool { return x == by }), by)
		}
		for _, g := range p.Gauges {
			k.Gauges++
			gauges += float64(g.SI / c.Thickness.SI)
		}
		if m := of(p.Batch.Mix); p.Basis == "estimated" && m >= 0 {
			at := slices.IndexFunc(k.Taken, func(t forecast.Taken) bool { return t.Mix == m })
			if at < 0 {
				at, k.Taken = len(k.Taken), append(k.Taken, forecast.Taken{Mix: m})
			}
			k.Taken[at].Design += float64(p.Batch.Design) * float64(p.Share)
			k.Taken[at].Shares += float64(p.Share)
			k.Taken[at].Squares += float64(p.Share) * float64(p.Share)
		} else {
			k.Weighed += float64(p.Volume)
		}
	}
	if k.Gauges > 0 {
		k.Gauge = view.Rounded(gauges / float64(k.Gauges))
	}
	for i := range k.Taken {
		t := &k.Taken[i]
		t.Design, t.Shares, t.Squares = view.Rounded(t.Design), view.Rounded(t.Shares), view.Rounded(t.Squares)
	}
	k.Weighed = view.Rounded(k.Weighed)
	return k
}

// longestPast is how many days back the record is looked through for days on which nobody worked.
const longestPast = 400

// calendar of the site, by the plan or as the record shows it, and the hours that the forecast weather forbids.
func (j *job) calendar() {
	c := j.site.Calendar(j.now, j.in)
	j.guessed = c.Guessed()
	today := view.StartOfDay(j.now.In(j.in))
	first := j.Now.Day()
	for _, k := range j.Crews {
		if len(k.Starts) > 0 {
			first = min(first, k.Starts[0].At.Day())
		}
	}
	day := func(n int) forecast.Workday { // so many days from today
		at := today.AddDate(0, 0, n)
		d := j.ordered(at, n, c.On(at))
		return forecast.Workday{
			Day: j.Now.Day() + n, From: d.From.Minutes(), To: d.To.Minutes(), Chance: d.Chance,
			Group: int(at.Weekday()),
		}
	}
	for n := max(first-j.Now.Day(), -longestPast); n < 0; n++ {
		j.Calendar.Worked = append(j.Calendar.Worked, day(n))
	}
	for n := range lookAhead {
		j.Calendar.Days = append(j.Calendar.Days, day(n))
	}
	_, told := j.site.Weather()
	for _, k := range told {
		if k.At.Before(j.now.Add(-time.Hour)) {
			continue
		}
		if ok, _ := view.Workable(j.site.Plan(), k); !ok {
			from := j.wall(k.At)
			j.Calendar.Unfit = append(j.Calendar.Unfit, forecast.Span{From: from, To: from + 60})
		}
	}
}

// ordersAhead is for how many days from today on the orders of days are asked for.
const ordersAhead = 14

// ordered is a day, so many from today, as its order has it, where the foreman made one: it is worked, and placing
// begins at that time.
func (j *job) ordered(day time.Time, n int, d fold.WorkDay) fold.WorkDay {
	if n < 0 || n > ordersAhead {
		return d
	}
	o := j.site.OrderOf(day.Format(time.DateOnly), j.now)
	if o == nil {
		return d
	}
	start := o.Start.In(j.in)
	from := time.Duration(start.Hour())*time.Hour + time.Duration(start.Minute())*time.Minute
	if start.Format(time.DateOnly) != day.Format(time.DateOnly) || from >= d.To {
		return d
	}
	return fold.WorkDay{From: from, To: d.To, Chance: 1}
}

// perBatch is what one batch of each mix takes of each material, water left out.
func (j *job) perBatch(material string) []float64 {
	all := make([]float64, len(j.mixes))
	for i, m := range j.mixes {
		if m == nil {
			continue
		}
		for _, c := range m.Mix.Constituents {
			if c.Kind != mix.Water && c.Name == material {
				all[i] += float64(c.Mass)
			}
		}
	}
	return all
}
