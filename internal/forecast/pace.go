package forecast

import (
	"math"
	"slices"
)

// What is known beforehand of a crew's day. All are choices of this program, common practice without a source, and
// tuned on invented jobs.
const (
	gapPrior      = 25.0 // minutes from one batch to the next
	gapSD         = 0.7  // of its logarithm
	learningPrior = 0.15 // by how much the logarithm of a crew's first gaps is longer
	learningSD    = 0.12
	learningOver  = 6.0 // gaps over which that wears off
	gapScatter    = 0.3 // of one gap's logarithm
	gapWorth      = 6.0 // gaps that it is worth
	firstAfter    = 8.0 // minutes from opening to the first start
	lastBefore    = 14.0
	cyclePrior    = 24.0 // minutes from start to placed
	lunchPrior    = 35.0 // minutes
	noonPrior     = 735.0
	stopsPrior    = 0.75 // in so many days
	stopsWorth    = 5.0
	stopPrior     = 140.0 // minutes; worth two
	idlePrior     = 0.1   // days without work in so many
	idleWorth     = 5.0
	standstill    = 4 // days in a row from which a stop is no day's bad luck any more
)

var (
	crewSpreads = []float64{0.02, 0.06, 0.12, 0.22}
	daySpreads  = []float64{0.01, 0.035, 0.065, 0.1, 0.16}
)

// rhythm is what is known of one crew's day.
type rhythm struct {
	count    int // batches that it has begun
	first    float64
	firstSD  float64
	last     float64 // of a start, before closing
	lastSD   float64
	cycle    float64
	mixing   float64 // from the start of a batch until somebody may have written of it
	lunch    float64
	noon     float64 // about which it has lunch
	lunching float64 // chance that it has lunch at all
	latest   Wall    // its last start; 0 for none
	today    bool    // it has begun work today
	lunched  bool    // and had lunch
	gaps     int     // learned from
	typical  float64 // gap, for what is a pause
	pauses   []pause
}

// pause is a gap too long for work alone.
type pause struct{ due, extra float64 }

// pace is what is known of how crews work: gaps between starts as normal logarithms, with an effect of each crew and of
// each of its days, and what wears off as crews learn; the rest as means.
type pace struct {
	crews   []rhythm
	nodes   []node // spread: of crews; drift: of days
	scatter float64
	gaps    int
	stops   float64 // chance a crew and day
	stop    float64 // minutes
	idle    float64 // chance that nobody works on a working day
	still   int     // days in a row on which nobody worked until now, if a standstill
	wasted  float64 // chance that a batch is thrown away
}

// cell is the gaps of one crew on one day in one stage of its learning.
type cell struct {
	crew, day, n int
	mean, learn  float64
}

func learnPace(j *Job) *pace {
	p := &pace{crews: make([]rhythm, len(j.Crews))}
	open := map[int]Workday{}
	for _, list := range [][]Workday{j.Calendar.Worked, j.Calendar.Days} {
		for _, d := range list {
			open[d.Day] = d
		}
	}
	var all []float64
	gaps := make([][]float64, len(j.Crews))
	for k, c := range j.Crews {
		for i := 1; i < len(c.Starts); i++ {
			a, b := c.Starts[i-1].At, c.Starts[i].At
			if g := float64(b - a); a.Day() == b.Day() && g >= 1 && b <= j.Now {
				gaps[k] = append(gaps[k], g)
			}
		}
		all = append(all, gaps[k]...)
	}
	for k := range j.Crews {
		p.crews[k].typical = median(all)
		if len(gaps[k]) >= 6 {
			p.crews[k].typical = median(gaps[k])
		}
	}
	cells := p.cells(j)
	p.learn(j, cells)
	p.days(j, open)
	return p
}

func median(xs []float64) float64 {
	if len(xs) == 0 {
		return gapPrior
	}
	sorted := slices.Sorted(slices.Values(xs))
	return (sorted[(len(sorted)-1)/2] + sorted[len(sorted)/2]) / 2
}

// cells sorts the gaps of all crews by day and stage, and the pauses out.
func (p *pace) cells(j *Job) []cell {
	var cells []cell
	today := j.Now.Day()
	squares, freedom := gapWorth*gapScatter*gapScatter, gapWorth
	for k, c := range j.Crews {
		r := &p.crews[k]
		var logs []float64
		var learn float64
		at := cell{crew: k, day: -1}
		flush := func() {
			if len(logs) == 0 {
				return
			}
			at.n, at.mean, at.learn = len(logs), meanOf(logs), learn/float64(len(logs))
			for _, x := range logs {
				squares += float64((x - at.mean) * (x - at.mean))
			}
			freedom += float64(len(logs) - 1)
			cells = append(cells, at)
			logs, learn = nil, 0
		}
		stage, lunched := 0, false
		for i, s := range c.Starts {
			if s.At > j.Now {
				break
			}
			day := s.At.Day()
			if now := stageOf(r.count); day != at.day || now != stage {
				flush()
				lunched = lunched && day == at.day
				at.day, stage = day, now
			}
			if i > 0 && c.Starts[i-1].At.Day() == day {
				g := float64(s.At - c.Starts[i-1].At)
				switch {
				case g < 1:
				case g > r.longest(s.At.Minute()-g+r.typical, lunched):
					r.pauses = append(r.pauses, pause{due: s.At.Minute() - g + r.typical, extra: g - r.typical})
					noon := r.pauses[len(r.pauses)-1]
					lunched = lunched || noon.isLunch()
					r.lunched = lunched && day == today
				default:
					logs, learn = append(logs, ln(g)), learn+exp(-float64(r.count-1)/learningOver)
					r.gaps++
				}
			}
			r.count++
			r.latest = s.At
		}
		flush()
		r.today = r.latest > 0 && r.latest.Day() == today
		r.lunched = r.lunched && r.today
		p.gaps += r.gaps
	}
	p.scatter = math.Sqrt(squares / freedom)
	return cells
}

// longest that a gap may be, minutes, that is no pause: the next batch was due at that minute of the day. About noon,
// and before lunch, a short pause is lunch.
func (r *rhythm) longest(due float64, lunched bool) float64 {
	if due > 660 && due < 810 && !lunched {
		return max(1.5*r.typical, r.typical+14)
	}
	return max(2.2*r.typical, r.typical+18)
}

func stageOf(n int) int {
	switch {
	case n <= 5:
		return 0
	case n <= 12:
		return 1
	}
	return 2
}

// isLunch tells whether the pause began when the next batch was due about noon, and was no longer than a lunch.
func (p pause) isLunch() bool { return p.due > 645 && p.due < 855 && p.extra < 120 }

// learn the gaps: the mean logarithm, what wears off, each crew's and each latest day's effect.
func (p *pace) learn(j *Job, cells []cell) {
	n := 2 + 2*len(j.Crews)
	g := gaussOf(n)
	most := math.Inf(-1)
	for _, crew := range crewSpreads {
		for _, day := range daySpreads {
			g.set(0, ln(gapPrior), gapSD*gapSD)
			g.set(1, learningPrior, learningSD*learningSD)
			for k := range j.Crews {
				g.set(2+k, 0, float64(crew*crew))
				g.set(2+len(j.Crews)+k, 0, float64(day*day))
			}
			likely, was := 0.0, cell{crew: -1}
			for _, c := range cells {
				if c.crew != was.crew || c.day != was.day {
					g.set(2+len(j.Crews)+c.crew, 0, float64(day*day))
				}
				was = c
				likely += g.observe([]term{{0, 1}, {1, c.learn}, {2 + c.crew, 1}, {2 + len(j.Crews) + c.crew, 1}},
					c.mean,
					float64(p.scatter*p.scatter)/float64(c.n))
			}
			p.nodes = append(p.nodes, node{
				spread: crew, drift: day, weight: likely, mean: slices.Clone(g.mean),
				root: g.root(n),
			})
			most = max(most, likely)
		}
	}
	sum := 0.0
	for i := range p.nodes {
		p.nodes[i].weight = exp(p.nodes[i].weight - most)
		sum += p.nodes[i].weight
	}
	for i := range p.nodes {
		p.nodes[i].weight /= sum
	}
}

// mean is a mean that a prior has a part in, and the spread about it, whose prior is worth three values.
type mean struct{ sum, worth, squares, freedom float64 }

func meanFrom(prior, worth, sd float64) mean {
	return mean{float64(prior * worth), worth, float64(3 * sd * sd), 3}
}

func (m *mean) add(x float64) {
	off := x - m.sum/m.worth
	m.squares += float64(off * off)
	m.freedom++
	m.sum += x
	m.worth++
}

func (m mean) value() float64 { return m.sum / m.worth }
func (m mean) sd() float64    { return math.Sqrt(m.squares / m.freedom) }

// habits are sums over all crews and days, with their priors, from which the means of a crew's day are taken.
type habits struct {
	job                         *Job
	worked                      map[int]bool // days with a batch
	stops, stopped, crewDays    float64
	stopsSeen                   float64
	wasted, mixed               float64
	lunch, noon, cycle          mean
	lunches, noons              float64 // of crew days
	ownLunch, ownLunches, ownNs []float64
}

// days learns when crews begin, pause and end.
func (p *pace) days(j *Job, open map[int]Workday) {
	n := len(p.crews)
	h := &habits{
		job: j, worked: map[int]bool{}, stops: stopsPrior, stopped: 2 * stopPrior, crewDays: stopsWorth, stopsSeen: 2,
		mixed: 10,
		lunch: meanFrom(lunchPrior, 1, 10), noon: meanFrom(noonPrior, 2, 15), cycle: meanFrom(cyclePrior, 1, 5),
		lunches: 1, noons: 1,
		ownLunch: make([]float64, n), ownLunches: make([]float64, n), ownNs: make([]float64, n),
	}
	for k := range p.crews {
		h.batches(&p.crews[k], j.Crews[k])
		h.pauses(&p.crews[k], k)
		h.days(p, k, open)
	}
	all := min(h.lunches/h.noons, 1)
	for k := range p.crews {
		r := &p.crews[k]
		r.lunch = (float64(2*h.lunch.value()) + h.ownLunch[k]) / (2 + h.ownLunches[k])
		r.noon = h.noon.value()
		r.lunching = min((float64(2*all)+h.ownLunches[k])/(2+max(h.ownNs[k], h.ownLunches[k])), 1)
		if r.count == 0 {
			r.cycle = h.cycle.value()
		}
	}
	p.stops, p.stop, p.wasted = h.stops/h.crewDays, h.stopped/h.stopsSeen, h.wasted/h.mixed
	p.idleDays(j, h.worked)
}

// batches of a crew: how long they are mixed, how long until they are placed, how many were thrown away.
func (h *habits) batches(r *rhythm, c Crew) {
	mixing, cycle := mean{worth: 1e-9, freedom: 1}, meanFrom(cyclePrior, 1, 5)
	for _, s := range c.Starts {
		if s.Ready > s.At && s.Ready < s.At+240 {
			mixing.add(float64(s.Ready - s.At))
		}
		if took := float64(s.Placed - s.At); s.Placed > 0 && took > 0 && took < 240 {
			cycle.add(took)
			h.cycle.add(took)
		}
		if h.mixed++; s.Wasted {
			h.wasted++
		}
	}
	r.mixing, r.cycle = mixing.value(), cycle.value()
}

// pauses of a crew: lunch about noon, else a stop.
func (h *habits) pauses(r *rhythm, k int) {
	for _, q := range r.pauses {
		if !q.isLunch() {
			h.stop(q.extra)
			continue
		}
		h.lunch.add(q.extra)
		h.noon.add(q.due)
		h.lunches++
		h.ownLunch[k] += q.extra
		h.ownLunches[k]++
	}
}

func (h *habits) stop(minutes float64) {
	h.stops++
	h.stopsSeen++
	h.stopped += minutes
}

// days of a crew: its first and last starts. A day that ended long before closing was stopped.
func (h *habits) days(p *pace, k int, open map[int]Workday) {
	r := &p.crews[k]
	first, last := meanFrom(firstAfter, 1, 8), meanFrom(r.cycle+lastBefore, 1, 12)
	p.ofDays(h.job, k, open, func(d Workday, from, to Wall, n int) {
		h.worked[d.Day] = true
		h.crewDays++
		if from.Minute() < noonPrior-45 && to.Minute() > noonPrior+45 {
			h.noons++
			h.ownNs[k]++
		}
		if d.To <= d.From {
			return
		}
		first.add(min(from.Minute()-d.From, 90))
		if d.Day < h.job.Now.Day() && n > 1 {
			if before := d.To - to.Minute() - float64(r.typical/2); before < 180 {
				last.add(before)
			} else {
				h.stop(before - last.value())
			}
		}
	})
	r.first, r.firstSD, r.last, r.lastSD = first.value(), first.sd(), last.value(), last.sd()
}

// ofDays tells of each day of a crew its first and last start.
func (p *pace) ofDays(j *Job, k int, open map[int]Workday, tell func(d Workday, from, to Wall, n int)) {
	starts := j.Crews[k].Starts
	for i := 0; i < len(starts) && starts[i].At <= j.Now; {
		day := starts[i].At.Day()
		to := i
		for to+1 < len(starts) && starts[to+1].At.Day() == day && starts[to+1].At <= j.Now {
			to++
		}
		d, ok := open[day]
		if !ok {
			d = Workday{Day: day}
		}
		tell(d, starts[i].At, starts[to].At, to-i+1)
		i = to + 1
	}
}

// idleDays learns how often nobody works on a working day; a standstill of many days is no such day.
func (p *pace) idleDays(j *Job, worked map[int]bool) {
	idle, days, run := idlePrior, idleWorth, 0
	for _, d := range j.Calendar.Worked {
		if d.Chance < 1 || d.To <= d.From || d.Day >= j.Now.Day() {
			continue
		}
		if worked[d.Day] {
			if run <= standstill {
				idle += float64(run)
				days += float64(run)
			}
			run = 0
			days++
			continue
		}
		run++
	}
	if p.still = run; run <= standstill {
		p.still = 0
		idle += float64(run)
		days += float64(run)
	}
	p.idle = idle / days
}
