package forecast

import (
	"math"
	"slices"
)

// worker is one crew in one draw.
type worker struct {
	next    Wall
	day     int // as an index of the calendar's days; below 0 before its first
	lunched bool
	count   int     // batches begun
	coat    int     // of needs.coats; below 0 for none
	spare   float64 // of the last batch, batches
	mix     int     // that it is of
	from    int     // in needs.coats, before which nothing is left for it
	gap     float64 // its mean gap today, minutes, what wears off left out
	luck    luck
	ended   Wall    // its last batch is placed
	closing int     // the day that latest is of
	latest  float64 // minute of that day from which it begins no batch
}

// work plays the rest of the job, draw by draw.
type work struct {
	job    *Job
	needs  *needs
	pace   *pace
	lists  lists
	yields Yields
	yield  [bells]float64 // of a batch over its mix's mean
	gap    [bells]float64 // of a gap over its mean
	lucks  []luck         // of the crews
	lots   lattice
	keep   bool // each draw's batches

	// of the draw at work
	left    []float64
	taken   []bool
	workers []worker
	x       []float64 // pace
	node    *node
	i       int
	batches []DrawBatch

	// what comes of it
	total, tomorrow      []int
	mixes, tomorrowMixes [][]int // by mix, draw by draw
	finish               []Wall
	slow                 []float64   // logarithm of the gap, all crews' mean
	next                 [][]float64 // expected batches of tomorrow, by crew and unfinished coat
	nextDay              int         // of Calendar.Days; below 0 for none
	draws                []Draw
}

func newWork(j *Job, n *needs, p *pace, l lists, y Yields) *work {
	w := &work{job: j, needs: n, pace: p, lists: l, yields: y, nextDay: -1}
	w.yield = bell(func(z float64) float64 { return max(0.2, 1+float64(y.Scatter*z)) })
	w.gap = bell(func(z float64) float64 { return exp(float64(p.scatter * z)) })
	w.lots = latticeOf(len(j.Mixes) + shared + mostChanges + 3)
	for _, c := range j.Crews {
		w.lucks = append(w.lucks, luckOf("crew", c.Name))
	}
	for i, d := range j.Calendar.Days {
		if d.Day > j.Now.Day() && d.To > d.From && d.Chance >= 0.5 {
			w.nextDay = i
			break
		}
	}
	w.left, w.taken = make([]float64, len(n.coats)), make([]bool, len(n.coats))
	w.workers = make([]worker, len(j.Crews))
	w.x = make([]float64, 2+2*len(j.Crews))
	w.mixes, w.tomorrowMixes = make([][]int, len(j.Mixes)), make([][]int, len(j.Mixes))
	for m := range j.Mixes {
		w.mixes[m], w.tomorrowMixes[m] = make([]int, n.n), make([]int, n.n)
	}
	w.total, w.tomorrow, w.finish, w.slow = make([]int, n.n), make([]int, n.n), make([]Wall, n.n), make([]float64, n.n)
	w.next = make([][]float64, len(j.Crews))
	for k := range w.next {
		w.next[k] = make([]float64, len(n.coats))
	}
	return w
}

// play all draws.
func (w *work) play() {
	if len(w.needs.coats) == 0 {
		return
	}
	order := luckOf("pace")
	for i := range w.needs.n {
		// The node of the pace by strata of their own, met in an order that knows nothing of the coats'.
		u := (float64(int(uint64(i)*spreadStep%uint64(w.needs.n))) + 0.5) / float64(w.needs.n)
		at := 0
		for until := w.pace.nodes[0].weight; u > until && at < len(w.pace.nodes)-1; until += w.pace.nodes[at].weight {
			at++
		}
		w.i, w.node = i, &w.pace.nodes[at]
		w.drawPace(order.of(i))
		w.one()
	}
}

// spreadStep is prime to every number of draws.
const spreadStep = 389

// drawPace draws the pace: mean and learning by the lattice, each crew's and day's effect by its luck.
func (w *work) drawPace(own luck) {
	n := len(w.x)
	z := make([]float64, n)
	d := len(w.lots)
	z[0], z[1] = normal(w.lots.at(w.i, d-1)), normal(w.lots.at(w.i, d-2))
	for k := range w.job.Crews {
		l := w.lucks[k].of(w.i)
		z[2+k], z[2+len(w.job.Crews)+k] = l.of(1).normal(), l.of(2).normal()
	}
	for j := range n {
		w.x[j] = w.node.mean[j]
		for k := 0; k <= j; k++ {
			w.x[j] += float64(w.node.root[j*n+k] * z[k])
		}
	}
}

// one plays one draw.
func (w *work) one() {
	i, units := w.i, len(w.needs.coats)
	copy(w.left, w.needs.left[i*units:(i+1)*units])
	clear(w.taken)
	for k := range w.workers {
		w.begin(k)
	}
	for u, c := range w.needs.coats {
		for _, k := range w.job.Coats[c].On {
			if w.workers[k].coat < 0 {
				w.workers[k].coat, w.taken[u] = u, true
			}
		}
	}
	for k := range w.workers { // what is mixed and not placed goes first
		for _, t := range w.job.Crews[k].Transit {
			v := &w.workers[k]
			amount := t.Batches + float64(float64(w.yields.Scatter*math.Sqrt(t.Squares))*v.luck.of(-1).normal())
			// of whatever revision
			if u := w.coat(k); u >= 0 &&
				w.job.Mixes[w.job.Coats[w.needs.coats[u]].Mix].Name == w.job.Mixes[t.Mix].Name {
				v.spare, v.mix = v.spare+max(amount, 0), w.job.Coats[w.needs.coats[u]].Mix
				w.coat(k) // it is on its way already, whoever begins the next batch
				v.ended = max(v.ended, w.pace.crews[k].latest+Wall(w.pace.crews[k].cycle))
			}
		}
	}
	w.batches = w.batches[:0]
	for n := 0; n < mostBatches; n++ {
		k, u := w.turn()
		if k < 0 {
			break
		}
		b := w.mix(k, u)
		if w.keep {
			w.batches = append(w.batches, b)
		}
	}
	end := w.job.Now
	for k := range w.workers {
		end = max(end, w.workers[k].ended)
	}
	w.finish[i] = end
	slow := 0.0
	for k := range w.workers {
		slow += w.x[0] + w.x[2+k]
	}
	w.slow[i] = slow / float64(max(1, len(w.workers)))
	if w.keep {
		w.draws = append(w.draws, Draw{Weight: w.needs.weight[i], Batches: slices.Clone(w.batches)})
	}
}

// turn finds the crew that begins the next batch, and the coat that it is for; below 0 when all is placed.
func (w *work) turn() (crew, coat int) {
	for {
		best := -1
		for k := range w.workers {
			if v := &w.workers[k]; v.coat > -2 && (best < 0 || v.next < w.workers[best].next) {
				best = k
			}
		}
		if best < 0 {
			return -1, -1
		}
		if u := w.coat(best); u >= 0 {
			return best, u
		}
		w.workers[best].coat = -2 // nothing is left for it
	}
}

// coat that a crew places next: the one that it is at, or the next on its list. What was left of its last batch goes
// there first, if it is of that mix, and may fill it.
func (w *work) coat(k int) int {
	v := &w.workers[k]
	for {
		if v.coat < 0 || w.left[v.coat] <= 0 {
			if v.coat = w.pick(k); v.coat < 0 {
				return -1
			}
		}
		if v.spare <= 0 {
			return v.coat
		}
		if v.mix != w.job.Coats[w.needs.coats[v.coat]].Mix {
			v.spare = 0
			return v.coat
		}
		w.left[v.coat], v.spare = w.left[v.coat]-v.spare, v.spare-w.left[v.coat]
		if w.left[v.coat] > 0 {
			v.spare = 0
			return v.coat
		}
	}
}

func (w *work) pick(k int) int {
	v := &w.workers[k]
	for v.from < len(w.left) && (w.left[v.from] <= 0 || w.lists.may[v.from]>>k&1 == 0) {
		v.from++
	}
	for u := v.from; u < len(w.left); u++ {
		if w.left[u] > 0 && w.lists.may[u]>>k&1 == 1 && (w.lists.together || !w.taken[u]) {
			w.taken[u] = true
			return u
		}
	}
	return -1
}

// mix a batch for a coat, and go on to the crew's next start.
func (w *work) mix(k, u int) DrawBatch {
	v, r, i := &w.workers[k], &w.pace.crews[k], w.i
	c := w.needs.coats[u]
	b := DrawBatch{At: v.next, Mix: w.job.Coats[c].Mix, Coat: c, Crew: k}
	lot := v.luck.of(v.count)
	w.total[i]++
	w.mixes[b.Mix][i]++
	if w.nextDay >= 0 && b.At < never && b.At.Day() == w.job.Calendar.Days[w.nextDay].Day {
		w.tomorrow[i]++
		w.tomorrowMixes[b.Mix][i]++
		w.next[k][u] += w.needs.weight[i]
	}
	if w.pace.wasted <= 0 || lot.of(1).share() >= w.pace.wasted {
		y := w.yield[w.lucks[k].of(-1-v.count).rank(w.i)]
		if w.left[u] -= y; w.left[u] <= 0 {
			v.spare, v.mix = -w.left[u], b.Mix
		} else {
			v.spare = 0
		}
	}
	v.ended = b.At
	v.count++
	if b.At < never {
		v.ended += Wall(float64(r.cycle * w.gap[lot>>50&(bells-1)]))
		gap := float64(v.gap * w.gap[lot>>10&(bells-1)])
		if v.count < len(worn) {
			gap *= exp(float64(w.x[1] * worn[v.count]))
		}
		if stop := (float64(lot>>20&0xffffff) + 0.5) / (1 << 24); stop < float64(w.pace.stops*gap)/420 {
			gap -= float64(w.pace.stop * ln(lot.of(2).share()))
		}
		w.schedule(k, v.next+Wall(gap))
	}
	return b
}

// worn is what is left of a crew's first slowness after so many batches.
var worn = func() (t [60]float64) {
	for n := range t {
		t[n] = exp(-float64(n-1) / learningOver)
	}
	return t
}()

func wear(n int) float64 {
	if n < len(worn) {
		return worn[n]
	}
	return 0
}

// begin a draw: when this crew begins its next batch.
func (w *work) begin(k int) {
	r := &w.pace.crews[k]
	v := &w.workers[k]
	*v = worker{coat: -1, day: -1, closing: -1, count: r.count, luck: w.lucks[k].of(w.i)}
	now := w.job.Now
	days := w.job.Calendar.Days
	if len(days) == 0 {
		v.next = never
		return
	}
	start := v.luck.of(-2)
	latest := now - Wall(r.mixing) // a batch that is being mixed may have been begun though nobody has written of it
	switch {
	case r.today:
		v.day, v.lunched = 0, r.lunched
		v.gap = exp(w.x[0] + w.x[2+k] + w.x[2+len(w.job.Crews)+k])
		w.schedule(k, max(w.following(k, start), latest))
	case w.works(0) && now.Minute() < days[0].To-r.last:
		v.day = 0
		v.gap = w.dayGap(k, 0)
		first := WallDay(days[0].Day) + Wall(days[0].From+r.first+float64(r.firstSD*start.normal()))
		if late := float64(latest - first); late > 0 {
			if late > 90 && start.of(2).share() < 0.5 { // it may not come today at all
				w.nextWorkday(k)
				return
			}
			first = latest - Wall(20*ln(start.of(1).share()))
		}
		w.schedule(k, first)
	default:
		v.day = 0
		w.nextWorkday(k)
	}
}

// following is when a crew at work begins its next batch: lognormal after its last start, given that nobody has seen it
// begin yet. A crew that is overdue is at lunch, or has stopped.
func (w *work) following(k int, start luck) Wall {
	r, v := &w.pace.crews[k], &w.workers[k]
	mean := ln(v.gap) + float64(w.x[1]*wear(r.count))
	waited := float64(w.job.Now-r.latest) - r.mixing
	if waited > max(2.2*r.typical, r.typical+18) {
		due := r.latest.Minute() + exp(mean)
		if p := (pause{due: due, extra: waited - r.typical}); !v.lunched && p.isLunch() && r.lunching > 0.3 {
			v.lunched = true
			return max(r.latest+Wall(exp(mean)+r.lunch), w.job.Now-Wall(r.mixing)-Wall(5*ln(start.share())))
		}
		return w.job.Now - Wall(w.pace.stop/2*ln(start.share()))
	}
	return r.latest + Wall(nextGap(mean, w.pace.scatter, waited, start.share()))
}

// nextGap draws a lognormal gap that is known to exceed what was waited already, by a share.
func nextGap(mean, scatter, waited, share float64) float64 {
	if waited <= 0 {
		return exp(mean + float64(scatter*normal(share)))
	}
	return exp(mean + float64(scatter*beyond((ln(waited)-mean)/scatter, share)))
}

// dayGap is a crew's mean gap on a day to come.
func (w *work) dayGap(k, day int) float64 {
	return exp(w.x[0] + w.x[2+k] + float64(w.node.drift*w.workers[k].luck.of(-10-day).normal()))
}

// schedule a crew's next batch for about that instant: after lunch if it is due at noon, after weather that is not fit,
// or on the next working day when it is too late to begin one.
func (w *work) schedule(k int, at Wall) {
	r, v := &w.pace.crews[k], &w.workers[k]
	d := w.job.Calendar.Days[v.day]
	lot := v.luck.of(-1000 - v.day)
	minute := float64(at - WallDay(d.Day))
	if !v.lunched && minute > r.noon-float64(v.gap/2) {
		if v.lunched = true; lot.of(1).share() < r.lunching {
			minute += r.lunch
		}
	}
	for _, s := range w.job.Calendar.Unfit {
		if t := WallDay(d.Day) + Wall(minute); t >= s.From && t < s.To {
			minute = float64(s.To - WallDay(d.Day))
		}
	}
	if v.closing != v.day {
		v.closing, v.latest = v.day, d.To-r.last+float64(r.lastSD*lot.normal())
	}
	if minute >= v.latest {
		w.nextWorkday(k)
		return
	}
	v.next = WallDay(d.Day) + Wall(minute)
}

// nextWorkday puts a crew's next batch on the next day that is worked in this draw.
func (w *work) nextWorkday(k int) {
	r, v := &w.pace.crews[k], &w.workers[k]
	days := w.job.Calendar.Days
	for v.day++; v.day < len(days); v.day++ {
		if !w.works(v.day) {
			continue
		}
		d := days[v.day]
		v.lunched, v.gap = false, w.dayGap(k, v.day)
		first := d.From + r.first + float64(r.firstSD*v.luck.of(-2000-v.day).normal())
		if w.fit(d, first, r.last) {
			w.schedule(k, WallDay(d.Day)+Wall(first))
			return
		}
	}
	v.next = never
}

// fit tells whether the weather leaves any of the day's starts.
func (w *work) fit(d Workday, first, last float64) bool {
	at := WallDay(d.Day) + Wall(first)
	for _, s := range w.job.Calendar.Unfit {
		if at >= s.From && at < s.To {
			at = s.To
		}
	}
	return at < WallDay(d.Day)+Wall(d.To-last)
}

// works tells whether a day is worked in this draw. Days of one group are worked all or none; a day on which nobody
// comes is its own bad luck.
func (w *work) works(day int) bool {
	d := w.job.Calendar.Days[day]
	switch {
	case d.To <= d.From:
		return false
	case d.Chance < 1 && luckOf("group").of(d.Group).of(w.i).share() >= d.Chance:
		return false
	case day == 0:
		return true
	}
	return luckOf("day").of(d.Day).of(w.i).share() >= w.pace.idle
}
