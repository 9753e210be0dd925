package advice

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/next"
	"hod/internal/trade/setting"
	"hod/internal/unit"
	"hod/internal/view"
)

// What advice reckons with where the record shows nothing better. Choices of this program, no source.
const (
	usualPace    = 20               // minutes from one batch of a crew to its next
	usualMixing  = 10 * time.Minute // of a batch that was begun, where nobody says when it is ready
	usualLead    = 12               // minutes from water contact to the beginning of placing
	usualPlacing = 15               // minutes from the beginning of placing a batch to its end
	leastGaps    = 5                // of them until the record is believed
	latestGaps   = 20               // that count
	longestGap   = 120              // minutes; what is longer is a stop
	setsAhead    = 3                // how far ahead joints count
	curveMinutes = 3 * 1440         // how far ahead the weather is looked at
	mostAhead    = 400              // batches to come that are looked at
	readCounts   = time.Hour        // how long a reading says that nobody may place now
)

// nextJob is what the record says to the adviser, with what its numbers stand for. Once it is gathered, nothing of the
// record is read any more: what advise needs is here.
type nextJob struct {
	next.Job
	site    *fold.Site // while it is gathered
	plan    *fold.Plan
	name    string
	asOf    time.Time
	basis   NextBasis
	batches []nextNumber // of crews
	unfit   []unfitHour
	now     time.Time // at a whole minute
	in      *time.Location
	cells   fold.Cells
	edges   []fold.Border // of Job.Edges
	crews   []NextCrew    // of Job.Crews
	sets    []NextSet
	done    bool // nothing is left to place
	pace    int  // minutes a batch at which a crew counts as 100 %
	lays    int  // minutes in which a batch is placed
	horizon int
	lost    []int        // of Job.Edges, at the last advice
	reach   int          // minutes of the curves
	until   string       // why joints count no further
	missing []string     // why there is no advice
	taken   []fold.Taken // proposals that hold
	last    []fold.Taken // the last proposal that each crew took this day
	factor  int64        // of the day's set, in millionths of the stated one
	tests   int          // of set, that it rests on
	spreads next.Spreads
}

// nextNumber is the batch that a crew asks about.
type nextNumber struct {
	number int32      // of the one in hand, else of its next
	useBy  *time.Time // of the one in hand
	tooOld int32      // one that is mixed, not placed, and past its working time
	ready  time.Time  // of the one in hand, or in the mixer
	begun  bool       // it is in the mixer
}

// unfitHour is a time in which nobody is to place, and why.
type unfitHour struct {
	from, to time.Time
	why      string
}

// nextJobOf the site at an instant. The crew that asks is one of its crews.
func nextJobOf(s *fold.Site, now time.Time, in *time.Location, asks ...event.Crew) *nextJob {
	j := &nextJob{site: s, plan: s.Plan(), name: view.SiteName(s), asOf: now, now: now.Truncate(time.Minute), in: in}
	defer func() { j.site = nil }()
	j.Joint = next.UsualJoint
	j.gatherTaken()
	j.gatherTests()
	j.refuse()
	j.gatherPlacing()
	j.gatherCrews(asks)
	j.gatherUnfit()
	j.gatherSets()
	if len(j.missing) > 0 {
		j.gatherBasis()
		return j
	}
	j.heard(asks)
	j.gatherCells()
	j.gatherBasis()
	j.done = len(j.cells.Unknown) == 0 && !slices.ContainsFunc(j.Cells, func(c next.Cell) bool { return !c.Placed })
	return j
}

// refuse notes what advice cannot do without.
func (j *nextJob) refuse() {
	p := j.site.Plan()
	for _, r := range j.site.PlanDisputes() {
		j.missing = append(j.missing,
			fmt.Sprintf(
				"the plan is not settled: %s and another say different things of one; `hod flags` has the line to settle it", r.Name))
		break
	}
	if len(p.Zones) > 1 && !slices.ContainsFunc(p.Edges, func(e fold.Edge) bool { return e.Length > 0 }) {
		j.missing = append(j.missing,
			"the plan has no edge with a length: `hod zone edge A1 A2 2.4m` says that two zones adjoin")
	}
}

// atWork reports whether a crew is placing on the day of the instant: it has begun a shift or mixed a batch, and not
// ended.
func (j *nextJob) atWork(crew event.Crew) bool {
	if j.site.OpenShift(crew, j.asOf) != nil {
		return true
	}
	today := j.now.In(j.in).Format(time.DateOnly)
	var last time.Time
	for _, b := range j.site.Batches() {
		if b.ID.Crew == crew && b.ID.Day == today && !b.Ready.After(j.asOf) && b.Ready.After(last) {
			last = b.Ready
		}
	}
	if last.IsZero() {
		return false
	}
	return !slices.ContainsFunc(j.site.Shifts(), func(r *fold.Record) bool {
		_, ended := r.Now.(event.ShiftEnded)
		return ended && r.State != fold.SetAside && r.Crew == crew && !r.When.Before(last) && !r.When.After(j.now)
	})
}

// gatherCrews that work, by name, with when each can begin to place and how fast it is.
func (j *nextJob) gatherCrews(asks []event.Crew) {
	named := map[event.Crew]bool{}
	for _, c := range asks {
		named[c] = true
	}
	if len(asks) == 0 {
		j.beganToday(named)
	}
	gaps, all := map[event.Crew][]int{}, []int(nil)
	var leads []int
	last := map[event.Crew]time.Time{}
	began := map[event.Crew]time.Time{} // its last placement
	day := map[event.Crew]string{}
	for _, b := range j.site.Batches() {
		if b.Water.After(j.now) {
			continue
		}
		c := b.ID.Crew
		named[c] = named[c] || j.atWork(c)
		if n := int(b.Water.Sub(last[c]).Minutes()); day[c] == b.ID.Day && n >= 1 && n <= longestGap {
			gaps[c], all = append(gaps[c], n), append(all, n)
		}
		last[c], day[c] = b.Water, b.ID.Day
		for i, part := range b.Parts {
			if i == 0 {
				leads = append(leads, max(0, int(part.From.Sub(b.Water).Minutes())))
			}
			if part.From.After(began[c]) {
				began[c] = part.From
			}
		}
	}
	j.Lead = usualLead
	if len(leads) >= leastGaps {
		j.Lead = middle(leads)
	}
	site, by := usualPace, "assumed"
	if len(all) >= leastGaps {
		site, by = middle(all), "site"
	}
	j.pace = site
	heard := j.site.Heard(j.now)
	for _, c := range slices.Sorted(maps.Keys(named)) {
		k := NextCrew{
			Crew: string(c), LastHeardAt: view.Instant(heard[c]), PaceMin: int32(site), PaceBy: by,
			Gaps: int32(len(all)),
		}
		if n := len(gaps[c]); n >= leastGaps {
			k.PaceMin, k.PaceBy, k.Gaps = int32(middle(gaps[c])), "crew", int32(n)
		}
		batch := j.numberOf(c)
		j.batches = append(j.batches, batch)
		k.FreeAt = j.free(batch, int(k.PaceMin), began[c])
		j.crews = append(j.crews, k)
		j.Crews = append(j.Crews, next.Crew{
			Name: k.Crew, Free: j.minute(k.FreeAt),
			Pace: max(1, (100*int(k.PaceMin)+site/2)/site),
		})
	}
}

// beganToday names the crews that have a shift open that began today, or a batch in the mixer.
func (j *nextJob) beganToday(named map[event.Crew]bool) {
	today := j.now.In(j.in).Format(time.DateOnly)
	for _, r := range j.site.Shifts() {
		if open := j.site.OpenShift(r.Crew, j.asOf); open != nil && open.When.In(j.in).Format(time.DateOnly) == today {
			named[r.Crew] = true
		}
	}
	for _, b := range j.site.Begun(j.asOf) {
		if b.Batch.Day == today {
			named[b.Batch.Crew] = true
		}
	}
}

// numberOf the batch that a crew asks about: the one in hand, else the crew's next of the day.
func (j *nextJob) numberOf(c event.Crew) nextNumber {
	var v nextNumber
	var hand *fold.Batch
	for _, t := range j.site.InTransit(j.now) {
		switch {
		case t.Crew != c:
		case useBy(t.Batch).Before(j.now):
			v.tooOld = int32(t.Batch.ID.Number)
		case hand == nil || t.Batch.Water.Before(hand.Water):
			hand = t.Batch
		}
	}
	if hand != nil {
		v.number, v.useBy, v.ready = int32(hand.ID.Number), view.Instant(useBy(hand)), hand.Ready
		return v
	}
	today := j.now.In(j.in).Format(time.DateOnly)
	for _, b := range j.site.Batches() {
		if b.ID.Crew == c && b.ID.Day == today {
			v.number = max(v.number, int32(b.ID.Number))
		}
	}
	v.number++
	for _, b := range j.site.Begun(j.asOf) {
		if b.Batch.Crew == c && b.Batch.Day == today {
			v.number, v.begun, v.ready = int32(b.Batch.Number), true, b.Ready
			if v.ready.IsZero() {
				v.ready = b.Record.When.Add(usualMixing)
			}
			break
		}
	}
	return v
}

// free is when a crew can begin to place: at once, or when its batch is ready, where it has one in hand; else when its
// next is due by its pace.
func (j *nextJob) free(batch nextNumber, pace int, began time.Time) time.Time {
	due := began.Add(time.Duration(pace) * time.Minute)
	if batch.useBy != nil || batch.begun {
		due = batch.ready
	}
	if due.Before(j.now) || began.IsZero() && batch.useBy == nil && !batch.begun {
		return j.now.UTC()
	}
	return due.Add(time.Minute - 1).Truncate(time.Minute).UTC()
}

// placedBy is when the batch that a crew asks about will be placed: one in hand or in the mixer takes its placing
// alone, the crew's next a whole cycle.
func (j *nextJob) placedBy(own next.Take, asks int) time.Time {
	if b := j.batches[asks]; b.useBy != nil || b.begun {
		return j.instant(min(own.To, own.From+j.lays))
	}
	return j.instant(own.To)
}

// gatherPlacing is how long a batch takes from the beginning of placing to its end.
func (j *nextJob) gatherPlacing() {
	var all []int
	for _, b := range j.site.Batches() {
		for _, part := range b.Parts {
			if n := int(math.Ceil(part.To.Sub(part.From).Minutes())); n >= 1 && !part.To.After(j.now) {
				all = append(all, n)
			}
		}
	}
	j.lays = usualPlacing
	if len(all) >= leastGaps {
		j.lays = middle(all)
	}
}

// useBy is until when a batch may be placed.
func useBy(b *fold.Batch) time.Time {
	working := b.Mix.Working
	if working == 0 {
		working = fold.DefaultWorking
	}
	return b.Water.Add(working)
}

// middle of some numbers, the latest of them: their lower median.
func middle(all []int) int {
	last := slices.Clone(all[max(0, len(all)-latestGaps):])
	slices.Sort(last)
	return last[(len(last)-1)/2]
}

func (j *nextJob) minute(t time.Time) int { return int(math.Floor(t.Sub(j.now).Minutes())) }

func (j *nextJob) instant(minute int) time.Time {
	return j.now.Add(time.Duration(minute) * time.Minute).UTC()
}

// gatherSets are the sets of the mixes that are planned, and how far ahead joints count by the longest of them.
func (j *nextJob) gatherSets() {
	p := j.site.Plan()
	used := map[event.Mix]bool{}
	for _, z := range p.Zones {
		for _, c := range z.Coats {
			used[c.Mix] = true
		}
	}
	for _, name := range slices.Sorted(maps.Keys(used)) {
		m := p.Mixes[name]
		if m == nil {
			continue
		}
		ages, err := j.site.AgesAhead(m, j.now, curveMinutes, nil, j.in)
		if err != nil {
			j.missing = append(j.missing, fmt.Sprintf("the set of mix %s cannot be followed: %v", name, err))
			continue
		}
		whole := m.Set.Initial.Milliseconds()
		after := func(sets int64) int {
			i, _ := slices.BinarySearch(ages, sets*whole)
			return min(i, curveMinutes)
		}
		j.sets = append(j.sets, NextSet{
			Mix: string(name), SetMin: m.Set.Initial.Minutes(), ReferenceC: float64(m.Set.Reference),
			ActivationKJ: float64(m.Set.Ea) / 1000,
			Assumed:      !m.SetSaid, NowMin: int32(after(1)),
		})
		j.horizon, j.reach = max(j.horizon, after(setsAhead)), max(j.reach, after(setsAhead+1))
	}
	if len(j.sets) == 0 && len(j.missing) == 0 {
		j.missing = append(j.missing, "the plan has no coat with a mix: nothing says what is to be placed")
		return
	}
	j.until = fmt.Sprintf("%d sets ahead", setsAhead)
	day := j.site.Calendar(j.now, j.in).On(j.now.In(j.in))
	if end := j.minute(view.StartOfDay(j.now.In(j.in)).Add(day.To)); day.To > 0 && end > 0 && end < j.horizon {
		j.horizon, j.until = end, "the end of work"
	}
	for _, k := range j.unfit {
		if from := j.minute(k.from); from > 0 && from < j.horizon {
			j.horizon, j.until = from, "an hour in which nobody is to place"
		}
	}
}

// told are the forecast hours that have not passed.
func (j *nextJob) told() []fold.Sky {
	_, told := j.site.Weather()
	return slices.DeleteFunc(slices.Clone(told), func(k fold.Sky) bool { return !k.At.After(j.now.Add(-time.Hour)) })
}

// heard refuses where another crew that works has written nothing for longer than a set takes now.
func (j *nextJob) heard(asks []event.Crew) {
	soonest := slices.MinFunc(j.sets, func(a, b NextSet) int { return int(a.NowMin - b.NowMin) })
	for _, c := range j.crews {
		if slices.Contains(asks, event.Crew(c.Crew)) || c.LastHeardAt == nil {
			continue
		}
		if ago := j.now.Sub(*c.LastHeardAt); ago > time.Duration(soonest.NowMin)*time.Minute {
			j.missing = append(j.missing,
				fmt.Sprintf(
					"crew %s was last heard %s ago, longer than the %s in which mix %s sets now: what it placed since is not known here; `hod sync`, or have it write `hod shift end`",
					c.Crew, unit.Duration(ago.Truncate(time.Minute)),
					unit.Duration(time.Duration(soonest.NowMin)*time.Minute), soonest.Mix))
		}
	}
}

// gatherUnfit is when nobody is to place: now and until it is read anew where the weather as read forbids it, and the
// hours of the forecast that do. A full reading of now is believed before the forecast for now.
func (j *nextJob) gatherUnfit() {
	read := view.ReadUntil(j.site, j.now)
	fresh := false
	if n := len(read); n > 0 && j.now.Sub(read[n-1].At) <= readCounts {
		last := []fold.Sky{read[n-1]}
		if full := view.LastFull(read); full != nil && j.now.Sub(full.At) <= readCounts {
			last, fresh = append(last, *full), true
		}
		for _, k := range last {
			if ok, why := view.Workable(j.plan, k); !ok {
				j.unfit = append(j.unfit,
					unfitHour{
						k.At, j.now.Add(readCounts),
						fmt.Sprintf("%s, as read at %s", why, view.ClockOn(k.At, j.now, j.in)),
					})
				break
			}
		}
	}
	for _, k := range j.told() {
		if fresh && !k.At.After(j.now) {
			continue
		}
		if ok, why := view.Workable(j.plan, k); !ok {
			ends := k.At.Add(time.Hour)
			j.unfit = append(j.unfit,
				unfitHour{k.At, ends, fmt.Sprintf("%s, as forecast for %s to %s", why, view.ClockOn(k.At, j.now, j.in),
					view.ClockOn(ends, j.now, j.in))})
		}
	}
}

// forbidden says why nobody is to place between two instants; empty if nothing that was read or forecast says so.
func (j *nextJob) forbidden(from, to time.Time) string {
	for _, k := range j.unfit {
		if k.from.Before(to) && k.to.After(from) {
			return k.why
		}
	}
	return ""
}

// gatherCells and edges, in whole minutes, milliseconds and centimetres.
func (j *nextJob) gatherCells() {
	pace := usualPace
	for _, c := range j.crews {
		pace = min(pace, int(c.PaceMin))
	}
	enough := min(mostAhead, 10+3*len(j.crews)*j.horizon/(2*max(1, pace)))
	j.cells = j.site.CellsLeft(j.now, enough)
	for _, id := range j.cells.Unknown {
		j.missing = append(j.missing, fmt.Sprintf("%s cannot be told in batches: its mix has no figures", id))
	}
	waits := make([]bool, len(j.cells.All)) // what only old or treated borders touch needs no curve
	for _, b := range j.cells.Borders {
		waits[b.A] = waits[b.A] || !b.Treated && !j.old(b)
	}
	type place struct {
		mix *fold.Mix
		sun *event.Exposure
	}
	ahead := map[place]int{}
	for i, c := range j.cells.All {
		cell := next.Cell{Name: fmt.Sprint(i), Minutes: j.pace, Needs: c.Needs, After: c.After, Set: j.set(c)}
		if c.Placed != nil && !waits[i] {
			cell.Placed, cell.Curve = true, len(j.Curves)
			j.Curves = append(j.Curves, next.Curve{})
		} else if c.Placed != nil {
			water := j.minute(c.Placed.Batch.Water)
			ages, err := j.site.AgesOf(c, j.instant(water), j.reach-min(0, water), j.in)
			if err != nil {
				j.missing = append(j.missing, err.Error())
				return
			}
			cell.Placed, cell.From, cell.To = true, water+j.Lead, water+j.Lead
			cell.Curve = len(j.Curves)
			j.Curves = append(j.Curves, next.Curve{From: water, Ages: ages})
		} else if k, known := ahead[place{c.Mix, j.plan.Zones[c.Coat.Zone].Exposure}]; known {
			cell.Curve = k
		} else {
			sun := j.plan.Zones[c.Coat.Zone].Exposure
			ages, err := j.site.AgesAhead(c.Mix, j.now, j.reach, sun, j.in)
			if err != nil {
				j.missing = append(j.missing, err.Error())
				return
			}
			cell.Curve = len(j.Curves)
			ahead[place{c.Mix, sun}] = cell.Curve
			j.Curves = append(j.Curves, next.Curve{Ages: ages})
		}
		j.Cells = append(j.Cells, cell)
	}
	j.sets = slices.DeleteFunc(j.sets, func(k NextSet) bool {
		return !slices.ContainsFunc(j.cells.All,
			func(c fold.Cell) bool { return string(c.Mix.MixPlanned.Mix) == k.Mix })
	})
	j.gatherEdges()
}

// gatherEdges: a border that was made ready, or has been cold since before today and is to be made ready, waits for
// nobody.
func (j *nextJob) gatherEdges() {
	at := map[[2]int]int{}
	for _, b := range j.cells.Borders {
		e := next.Edge{A: b.A, B: b.B, Length: int64(math.Round(float64(b.Length) * 100))}
		e.Permitted = b.Edge != nil && b.Edge.Joint == event.JointYes
		e.Ended = b.Treated || j.old(b)
		pair := [2]int{min(b.A, b.B), max(b.A, b.B)}
		if k, twice := at[pair]; twice { // zones with two edges in one pair of cells
			j.Edges[k].Length += e.Length
			continue
		}
		at[pair] = len(j.Edges)
		j.Edges, j.edges = append(j.Edges, e), append(j.edges, b)
	}
}

// old says that a placement turned cold along a border before the day of the instant, or is older than anything that is
// followed.
func (j *nextJob) old(b fold.Border) bool {
	if c := j.cells.All[b.A]; c.Placed != nil && j.now.Sub(c.Placed.Batch.Water) > setting.Longest {
		return true
	}
	return !b.Turns.IsZero() && b.Turns.Before(view.StartOfDay(j.now.In(j.in)))
}

// gatherBasis is what the answer rests on, but for its trials.
func (j *nextJob) gatherBasis() {
	share := func(perMille int) float64 { return float64(perMille) / 1000 }
	v := NextBasis{
		Sets: j.sets, DaySpread: share(j.spreads.Day), SetSpread: share(j.spreads.Set),
		PaceSpread: share(j.spreads.Batch),
		SetTests:   int32(j.tests), SetFactor: float64(j.factor) / 1_000_000, LeadMin: int32(j.Lead), Crews: j.crews,
		Strips: j.cells.Strips && len(j.cells.All) > 0,
	}
	if j.horizon > 0 {
		v.Until, v.UntilWhy = view.Instant(j.instant(j.horizon)), j.until
		v.Air = j.site.AirSources(j.now, j.horizon/60)
	}
	if read := view.ReadUntil(j.site, j.now); len(read) > 0 {
		v.ReadAt = view.Instant(read[len(read)-1].At)
	}
	for _, k := range j.told() {
		if f, ok := k.Record.Now.(event.WeatherForecast); ok {
			if issued := k.Record.OnSite(f.IssuedAt); v.IssuedAt == nil || issued.After(*v.IssuedAt) {
				v.IssuedAt = view.Instant(issued)
			}
		}
	}
	for _, b := range j.edges {
		if !b.Treated && j.old(b) {
			v.OldEdges++
		}
	}
	j.basis = v
}
