package forecast

import (
	"math"
	"slices"
)

// What is known beforehand of a crew's day. All are choices of this program, common practice without a source, and tuned
// on invented jobs.
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
	days     int
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
	crew, day, n     int
	mean, learn, squ float64
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
		long := max(2.2*r.typical, r.typical+18)
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
				pausing := long
				if due := s.At.Minute() - g + r.typical; due > 660 && due < 810 && !lunched { // about noon a short pause is lunch, too
					pausing = max(1.5*r.typical, r.typical+14)
				}
				switch {
				case g < 1:
				case g > pausing:
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
				likely += g.observe([]term{{0, 1}, {1, c.learn}, {2 + c.crew, 1}, {2 + len(j.Crews) + c.crew, 1}}, c.mean,
					float64(p.scatter*p.scatter)/float64(c.n))
			}
			p.nodes = append(p.nodes, node{spread: crew, drift: day, weight: likely, mean: slices.Clone(g.mean), root: g.root(n)})
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

// days learns when crews begin, pause and end.
func (p *pace) days(j *Job, open map[int]Workday) {
	worked := map[int]bool{}
	stops, stopped, crewDays, wasted, mixed := stopsPrior, 2*stopPrior, stopsWorth, 0.0, 10.0
	stopsSeen := 2.0
	lunch, noon := meanFrom(lunchPrior, 1, 10), meanFrom(noonPrior, 2, 15)
	lunches, noons := 1.0, 1.0
	type own struct{ lunch, lunches, noons float64 }
	owns := make([]own, len(p.crews))
	cycleAll := meanFrom(cyclePrior, 1, 5)
	for k := range p.crews {
		r, c := &p.crews[k], j.Crews[k]
		mixing := mean{worth: 1e-9, freedom: 1}
		cycle := meanFrom(cyclePrior, 1, 5)
		for _, s := range c.Starts {
			if s.Ready > s.At && s.Ready < s.At+240 {
				mixing.add(float64(s.Ready - s.At))
			}
			if took := float64(s.Placed - s.At); s.Placed > 0 && took > 0 && took < 240 {
				cycle.add(took)
				cycleAll.add(took)
			}
			if mixed++; s.Wasted {
				wasted++
			}
		}
		r.mixing, r.cycle = mixing.value(), cycle.value()
		for _, q := range r.pauses {
			if q.isLunch() {
				lunch.add(q.extra)
				noon.add(q.due)
				owns[k].lunch += q.extra
				owns[k].lunches++
			} else {
				stops++
				stopsSeen++
				stopped += q.extra
			}
		}
		first, last := meanFrom(firstAfter, 1, 8), meanFrom(r.cycle+lastBefore, 1, 12)
		p.ofDays(j, k, open, func(d Workday, from, to Wall, n int) {
			worked[d.Day] = true
			crewDays++
			if to.Minute() > noonPrior+45 && from.Minute() < noonPrior-45 || d.Day < j.Now.Day() && from.Minute() < noonPrior-45 && to.Minute() > noonPrior+45 {
				owns[k].noons++
			}
			if d.To <= d.From {
				return
			}
			first.add(min(from.Minute()-d.From, 90))
			if d.Day < j.Now.Day() && n > 1 {
				before := d.To - to.Minute() - float64(r.typical/2)
				if before < 180 {
					last.add(before)
				} else {
					stops++
					stopsSeen++
					stopped += before - last.value()
				}
			}
		})
		r.first, r.firstSD, r.last, r.lastSD = first.value(), first.sd(), last.value(), last.sd()
		lunches += owns[k].lunches
		noons += owns[k].noons
	}
	for k := range p.crews {
		r, o := &p.crews[k], owns[k]
		r.lunch = (2*lunch.value() + o.lunch) / (2 + o.lunches)
		r.noon = noon.value()
		all := min(lunches/noons, 1)
		r.lunching = min((2*all+o.lunches)/(2+max(o.noons, o.lunches)), 1)
		if r.count == 0 {
			r.cycle = cycleAll.value()
		}
	}
	p.stops, p.stop, p.wasted = stops/crewDays, stopped/stopsSeen, wasted/mixed
	p.idleDays(j, worked)
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
