package forecast

import (
	"cmp"
	"math"
	"slices"
)

// What is known beforehand of coats and mixes, in natural logarithms. The priors are choices of this program: loss
// about the planned one by 1.5 %, hands that place 1.5 % thick give or take 6 %, coats that differ by a few per cent,
// mixes that yield within 2.5 % of their design. They were tuned on invented jobs, other than those of the test that
// measures them.
const (
	wasteSD      = 0.015
	thickMean    = 0.015
	thickSD      = 0.06
	biasSD       = 0.02  // of all gauges' readings together
	readingSD    = 0.08  // of one reading
	yieldSD      = 0.025 // of a mix about its design
	scatterPrior = 0.055 // from batch to batch
	scatterWorth = 4.0   // weighed batches that the prior of the scatter is worth
	miscSD       = 0.006 // of a finished coat's volume beside what its batches explain
	driftSD      = 0.06  // of an unnoticed change of habit over a whole job
	driftChance  = 0.1
	changeSD     = 0.05 // of a change that was told
	zoneShare    = 0.9  // share of the variance that coats of one zone have in common, if they go together
	zoneChance   = 0.4  // that they do
	crewShare    = 0.6  // share of it that coats of one crew have in common, if crews place unlike
	crewChance   = 0.15 // that they do
	coveredSD    = 0.05 // of a share called covered
	farOff       = 0.5  // beyond which what one coat has taken says less of the others
	mostChanges  = 6    // told changes that are told apart
	reviseChance = 0.35 // that a mix is revised before a job not yet begun is done; the square of what is left of it
)

// spreads from coat to coat that are tried, each with its weight: half-Cauchy on nodes spaced by their logarithm
// (Gelman 2006, from memory).
var spreads = []float64{.005, .01, .015, .02, .027, .035, .045, .058, .075, .095, .12, .155, .2}

func spreadWeight(tau float64) float64 { return tau / (1 + float64(tau/0.03*(tau/0.03))) }

// The quantities that all coats share; changes told follow them, then each mix's yield, and at the end what is a
// group's and a coat's own.
const (
	waste = iota // ω, what is mixed and does not stay
	thick        // t, how thick the site places
	bias         // g, how far gauges are off
	shared
)

// Yields is what the weighed batches say of the mixes: the scatter from batch to batch, pooled over all mixes, and for
// each mix the expected ln(yield/design) with its standard deviation.
type Yields struct {
	Scatter float64
	Mean    []float64
	SD      []float64
}

// Ratio is the expected yield of a mix over its design.
func (y Yields) Ratio(m int) float64 { return exp(y.Mean[m]) }

// YieldsOf mixes by their weighed batches.
func YieldsOf(mixes []Mix) Yields {
	squares, freedom := scatterWorth*scatterPrior*scatterPrior, scatterWorth
	for _, m := range mixes {
		mean := meanOf(m.Logs)
		for _, y := range m.Logs {
			squares += float64((y - mean) * (y - mean))
		}
		freedom += float64(max(0, len(m.Logs)-1))
	}
	return yieldsAt(mixes, math.Sqrt(squares/freedom))
}

func yieldsAt(mixes []Mix, scatter float64) Yields {
	y := Yields{Scatter: scatter}
	for _, m := range mixes {
		g := gaussOf(1)
		g.set(0, 0, yieldSD*yieldSD)
		if n := len(m.Logs); n > 0 {
			g.observe([]term{{0, 1}}, meanOf(m.Logs), float64(y.Scatter*y.Scatter)/float64(n))
		}
		y.Mean, y.SD = append(y.Mean, g.mean[0]), append(y.SD, math.Sqrt(g.cov[0]))
	}
	return y
}

func meanOf(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// seen is what the record says of one coat.
type seen struct {
	coat    *Coat
	volume  float64 // that it has taken, by what the mixes are expected to yield
	noise   float64 // standard deviation of volume by the scatter of its batches
	terms   []term  // what ln(volume/design) is the sum of, beside the zone's and its own
	y, r    float64 // ln(volume/design) less the yields', and the variance of its noise; r 0: says nothing
	gauge   []term
	gy, gr  float64 // ln(reading/planned) and the variance of its noise; gr 0: no gauges
	batches float64 // that its design volume is, by what its mix is expected to yield
	odd     bool    // it has taken so much, or so little, that its record is in doubt
	groups  [groupings]string
}

// Coats go together by zone or by crew, if at all. A coat whose crew is not known is a group of its own.
const (
	byZone = iota
	byCrew
	groupings
)

func (b *belief) groupsOf(c *Coat) [groupings]string {
	g := [groupings]string{c.Zone, "coat " + c.Name}
	if c.Zone == "" {
		g[byZone] = "coat " + c.Name
	}
	crews := c.By
	if len(crews) == 0 {
		crews = c.Crews
	}
	if len(crews) == 1 && crews[0] >= 0 && crews[0] < len(b.job.Crews) {
		g[byCrew] = "crew " + b.job.Crews[crews[0]].Name
	}
	return g
}

// node is one set of what is not normal: the spread from coat to coat, the drift, how far coats of a group go together.
type node struct {
	spread, drift, alike float64
	group                int // of what alike is: byZone or byCrew
	weight               float64
	mean, root           []float64 // of the shared quantities
}

// belief is what is known of what coats take.
type belief struct {
	job     *Job
	yields  Yields
	changes []Wall
	n       int // shared quantities, changes and yields
	coats   []seen
	nodes   []node
	settled bool // no mix will be revised any more
}

func (b *belief) mix(m int) int { return shared + len(b.changes) + m }

func believe(j *Job) *belief {
	b := &belief{job: j, yields: YieldsOf(j.Mixes), changes: j.Changed}
	if over := len(b.changes) - mostChanges; over > 0 {
		b.changes = b.changes[over:]
	}
	b.n = shared + len(b.changes) + len(j.Mixes)
	for i := range j.Coats {
		b.coats = append(b.coats, b.see(&j.Coats[i]))
	}
	b.learn()
	return b
}

// see sums up what the record says of a coat.
func (b *belief) see(c *Coat) seen {
	// Of its last batch, if nobody wrote what became of the rest, anything between nothing and all of it stayed.
	sure := 1 - float64(c.Doubt/2)
	s := seen{coat: c, volume: float64(sure * c.Weighed), groups: b.groupsOf(c)}
	squares, shares, whole := 0.0, 0.0, 0.0
	for _, k := range c.Taken {
		s.volume += float64(sure * float64(k.Design*exp(b.yields.Mean[k.Mix])))
		yield := float64(b.job.Mixes[k.Mix].Yield * exp(b.yields.Mean[k.Mix]))
		whole += float64(yield * yield * k.Squares)
		squares += k.Squares
		shares += k.Shares
	}
	s.noise = float64(b.yields.Scatter * math.Sqrt(whole))
	s.batches = c.Design / float64(b.job.Mixes[c.Mix].Yield*exp(b.yields.Mean[c.Mix]))
	s.terms = append(s.terms, term{waste, 1}, term{thick, 1})
	s.gauge = append(s.gauge, term{thick, 1}, term{bias, 1})
	for i, at := range b.changes {
		if c.State == Untouched || c.Begun > at {
			s.terms, s.gauge = append(s.terms, term{shared + i, 1}), append(s.gauge, term{shared + i, 1})
		}
	}
	if c.State == Finished && s.volume > 0 {
		s.y = ln(s.volume / c.Design)
		unweighed := 0.0
		for _, k := range c.Taken {
			h := float64(sure*float64(k.Design*exp(b.yields.Mean[k.Mix]))) / s.volume
			s.y -= float64(h * b.yields.Mean[k.Mix])
			s.terms = append(s.terms, term{b.mix(k.Mix), -h})
			unweighed += h
		}
		s.r = miscSD*miscSD + float64(c.Doubt*c.Doubt)/12/float64(sure*sure)
		if shares > 0 {
			relative := float64(b.yields.Scatter*unweighed) / shares
			s.r += float64(float64(relative*relative) * squares)
		}
		if off := math.Abs(s.y-ln(1+b.job.Loss)) - farOff; off > 0 {
			s.odd = true
			s.r += float64(4 * float64(off+0.2) * float64(off+0.2))
		}
	}
	if c.Gauges > 0 && c.Gauge > 0 {
		s.gy, s.gr = ln(c.Gauge), readingSD*readingSD/float64(c.Gauges)
		if off := math.Abs(s.gy) - farOff; off > 0 {
			s.gr += float64(4 * float64(off+0.2) * float64(off+0.2))
		}
	}
	return s
}

// prior of the shared quantities, the mixes' yields learned already.
func (b *belief) prior() *gauss {
	g := gaussOf(b.n + 2)
	g.set(waste, ln(1+b.job.Loss), wasteSD*wasteSD)
	g.set(thick, thickMean, thickSD*thickSD)
	g.set(bias, 0, biasSD*biasSD)
	for i := range b.changes {
		g.set(shared+i, 0, changeSD*changeSD)
	}
	for m := range b.job.Mixes {
		g.set(b.mix(m), b.yields.Mean[m], float64(b.yields.SD[m]*b.yields.SD[m]))
	}
	return g
}

// learn goes through the coats once for each node: the finished in the order in which they were, then those under way
// that have gauges. Where coats of a group go together they are taken group by group, which is the same without drift.
func (b *belief) learn() {
	var order []int
	for i, s := range b.coats {
		if s.r > 0 || s.gr > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(x, y int) int {
		p, q := b.coats[x].coat, b.coats[y].coat
		return cmp.Or(-cmp.Compare(p.State, q.State), cmp.Compare(p.Ended, q.Ended), cmp.Compare(p.Name, q.Name))
	})
	var grouped [groupings][]int
	for of := range grouped {
		grouped[of] = slices.Clone(order)
		slices.SortStableFunc(grouped[of],
			func(x, y int) int { return cmp.Compare(b.coats[x].groups[of], b.coats[y].groups[of]) })
	}

	prior, g := b.prior(), gaussOf(b.n+2)
	most := math.Inf(-1)
	add := func(n node, order []int) {
		g.copyOf(prior)
		n.weight = ln(n.weight) + b.pass(g, n, order)
		n.mean, n.root = slices.Clone(g.mean[:b.n]), g.root(b.n)
		b.nodes = append(b.nodes, n)
		most = max(most, n.weight)
	}
	chances, none := b.groupChances(), 1.0
	for _, p := range chances {
		none -= p
	}
	for _, tau := range spreads {
		w := spreadWeight(tau)
		add(node{spread: tau, weight: float64(w * none * (1 - driftChance))}, order)
		add(node{spread: tau, drift: driftSD, weight: float64(w * none * driftChance)}, order)
		for of, p := range chances {
			if p > 0 {
				add(node{spread: tau, alike: groupShares[of], group: of, weight: float64(w * p)}, grouped[of])
			}
		}
	}
	sum := 0.0
	for i := range b.nodes {
		b.nodes[i].weight = exp(b.nodes[i].weight - most)
		sum += b.nodes[i].weight
	}
	for i := range b.nodes {
		b.nodes[i].weight /= sum
	}
}

var groupShares = [groupings]float64{zoneShare, crewShare}

// groupChances are the chances beforehand that coats of a zone, or of a crew, go together; none where no zone has two
// coats, or fewer than two crews are known to place.
func (b *belief) groupChances() (p [groupings]float64) {
	coats := [groupings]map[string]int{{}, {}}
	crews := map[string]bool{}
	for _, s := range b.coats {
		for of, name := range s.groups {
			if coats[of][name]++; coats[of][name] > 1 {
				p[of] = [groupings]float64{zoneChance, crewChance}[of]
			}
		}
		crews[s.groups[byCrew]] = true
	}
	if len(crews) < 2 {
		p[byCrew] = 0
	}
	return p
}

// design volume of all coats.
func (j *Job) design() float64 {
	sum := 0.0
	for _, c := range j.Coats {
		sum += c.Design
	}
	return sum
}

// pass learns from the coats in order and tells the logarithm of how likely what they took was.
func (b *belief) pass(g *gauss, n node, order []int) float64 {
	group, own := b.n, b.n+1
	likely := 0.0
	whole := b.job.design()
	before := 0.0 // share of the job that the coat before was
	was := ""
	for k, i := range order {
		s := &b.coats[i]
		if n.drift > 0 && k > 0 {
			g.widen(thick, float64(float64(n.drift*n.drift)*before))
		}
		before = s.coat.Design / whole
		if k == 0 || s.groups[n.group] != was {
			g.set(group, 0, float64(n.alike*n.spread*n.spread))
			was = s.groups[n.group]
		}
		g.set(own, 0, float64((1-n.alike)*n.spread*n.spread))
		if s.r > 0 {
			likely += g.observe(append(slices.Clip(s.terms), term{group, 1}, term{own, 1}), s.y, s.r)
		}
		if s.gr > 0 {
			likely += g.observe(append(slices.Clip(s.gauge), term{group, 1}, term{own, 1}), s.gy, s.gr)
		}
	}
	return likely
}

// leftOfJob is the share of the design volume that coats not begun are.
func (b *belief) leftOfJob() float64 {
	left := 0.0
	for _, s := range b.coats {
		if s.coat.State == Untouched {
			left += s.coat.Design
		}
	}
	return left / b.job.design()
}
