package forecast

import "math"

// needs are draws of what the unfinished coats still take.
type needs struct {
	n      int       // draws
	weight []float64 // of each draw; all together 1
	coats  []int     // of Job.Coats, those not finished
	// batches that each of these still takes, draw by draw, each batch of its mix's mean yield in that draw
	left  []float64
	parts []parts
}

// parts of what moves a draw's need away from the mean, in batches: what the width is made of.
type parts struct{ site, coats, yield float64 }

// drawsFor a job with so many batches left: the figures hold as well with fewer, and a phone has to make them.
func drawsFor(batches float64) int {
	switch {
	case batches <= 1000:
		return 1024
	case batches <= 4000:
		return 512
	}
	return 256
}

// groupSeen is what finished and gauged coats of a group say of what its coats have in common.
type groupSeen struct {
	coats []int
	luck  luck
}

// draw makes n draws. The node goes by stratum, the shared quantities by the lattice, a coat's own by its luck.
func (b *belief) draw(n int) needs {
	d, lucks, of := b.gather(n)
	d.left = make([]float64, n*len(d.coats))
	d.parts = make([]parts, n)
	lots := latticeOf(b.n + 1)
	x, z := make([]float64, b.n), make([]float64, b.n)
	left, to := math.Sqrt(b.leftOfJob()/3), b.revisions(d.coats)
	logs := make([]float64, n)
	most := math.Inf(-1)
	at, until := 0, b.nodes[0].weight
	for i := range n {
		for (float64(i)+0.5)/float64(n) > until && at < len(b.nodes)-1 {
			at++
			until += b.nodes[at].weight
		}
		node := &b.nodes[at]
		for j := range b.n {
			z[j] = normal(lots.at(i, j))
		}
		for j := range b.n {
			x[j] = node.mean[j]
			for k := 0; k <= j; k++ {
				x[j] += float64(node.root[j*b.n+k] * z[k])
			}
		}
		one := draw{b: b, node: node, x: x, i: i, to: &to, later: float64(node.drift*left) * normal(lots.at(i, b.n))}
		for u, c := range d.coats {
			yield := one.yield(u, b.coats[c].coat)
			batches := one.coat(&b.coats[c], of[u], lucks[u], yield)
			d.left[i*len(d.coats)+u] = batches
			one.parts.yield -= float64(batches * yield)
		}
		logs[i] = one.log
		most = max(most, one.log)
		d.parts[i] = one.parts
	}
	sum := 0.0
	for i := range n {
		d.weight[i] = exp(logs[i] - most)
		sum += d.weight[i]
	}
	for i := range n {
		d.weight[i] /= sum
	}
	return d
}

// gather the coats that are not finished, their luck, and what is seen of their groups.
func (b *belief) gather(n int) (d needs, lucks []luck, of [][groupings]*groupSeen) {
	d = needs{n: n, weight: make([]float64, n)}
	groups := [groupings]map[string]*groupSeen{{}, {}}
	for i := range b.coats {
		s := &b.coats[i]
		if s.coat.State != Finished {
			d.coats = append(d.coats, i)
		}
		for of, name := range s.groups {
			z := groups[of][name]
			if z == nil {
				z = &groupSeen{luck: luckOf("zone", name)}
				groups[of][name] = z
			}
			if s.r > 0 || s.gr > 0 {
				z.coats = append(z.coats, i)
			}
		}
	}
	for _, i := range d.coats {
		s := &b.coats[i]
		lucks = append(lucks, luckOf("coat", s.coat.Name))
		of = append(of, [groupings]*groupSeen{groups[byZone][s.groups[byZone]], groups[byCrew][s.groups[byCrew]]})
	}
	return d, lucks, of
}

// revisions of mixes that may come: nobody knows of them yet, and each makes the yields that were weighed worth
// nothing.
type revisions struct {
	chance float64   // that a mix is revised in what is left of the job
	before []float64 // of each unfinished coat, the share of what is not begun that comes before it
	lucks  []luck    // of the mixes
}

func (b *belief) revisions(coats []int) revisions {
	left := b.leftOfJob()
	to := revisions{chance: reviseChance * float64(left*left), before: make([]float64, len(coats))}
	if b.settled {
		to.chance = 0
	}
	sum := 0.0
	for u, c := range coats {
		if k := b.coats[c].coat; k.State == Untouched {
			to.before[u] = sum
			sum += k.Design
		}
	}
	for u := range coats {
		to.before[u] /= max(sum, math.SmallestNonzeroFloat64)
	}
	for _, m := range b.job.Mixes {
		to.lucks = append(to.lucks, luckOf("revision", m.Name))
	}
	return to
}

// yield of an unfinished coat's mix in this draw, as the logarithm of what it is over the design: of a coat not begun,
// that of a revision to come if one comes before it.
func (d *draw) yield(u int, c *Coat) float64 {
	if c.State == Untouched {
		if l := d.to.lucks[c.Mix].of(d.i); l.share() < d.to.chance && l.of(1).share() <= d.to.before[u] {
			return yieldSD * l.of(2).normal()
		}
	}
	return d.x[d.b.mix(c.Mix)]
}

// draw is one draw in the making.
type draw struct {
	b     *belief
	node  *node
	x     []float64
	i     int
	to    *revisions
	later float64 // that coats not begun are thicker by drift
	log   float64 // logarithm of the draw's weight
	parts parts
}

// coat draws what a coat that is not finished still takes, in batches of that yield.
func (d *draw) coat(s *seen, z [groupings]*groupSeen, own luck, yield float64) float64 {
	b, tau := d.b, d.node.spread
	batch := float64(b.job.Mixes[s.coat.Mix].Yield * exp(yield))
	base := d.sum(s.terms) // ω + t of this coat, its yields left out: it is not finished
	mean, variance := 0.0, float64((1-d.node.alike)*tau*tau)
	if d.node.alike > 0 {
		mean = d.group(z[d.node.group])
	}
	if s.gr > 0 {
		off := s.gy - d.sum(s.gauge) - mean
		k := variance / (variance + s.gr)
		mean, variance = mean+float64(k*off), float64(variance*(1-k))
	}
	sd := math.Sqrt(variance)
	if s.coat.State == Untouched {
		e := mean + float64(sd*normal(own.spread(d.i)))
		d.count(s, base+d.later, e)
		return s.coat.Design * exp(base+d.later+e) / batch
	}
	taken := s.coat.Weighed
	for _, k := range s.coat.Taken {
		taken += float64(k.Design * exp(d.x[b.mix(k.Mix)]))
	}
	taken = max(taken+float64(s.noise*normal(own.of(-1).spread(d.i))), float64(taken/2))
	bound := ln(taken/s.coat.Design) - base - mean
	// beyond it, what one coat has taken says no more of the others
	far := min(bound, ln(1+b.job.Loss)+farOff-base-mean)
	d.log += ln(above(far / sd))
	e := mean + float64(sd*beyond(bound/sd, own.spread(d.i)))
	total := float64(s.coat.Design * exp(base+e))
	if c := s.coat.Covered; c != nil {
		off := (c.Share - c.Taken*taken/total) / coveredSD
		d.log -= float64(float64(off*off) / 2)
	}
	d.count(s, base, e)
	return max(total-taken, 0) / batch
}

// count what moves the need: the site's part and the coat's own.
func (d *draw) count(s *seen, base, own float64) {
	d.parts.site += float64(s.batches * base)
	d.parts.coats += float64(s.batches * own)
}

// beyond draws a standard normal value that is known to lie above x, by a share.
func beyond(x, share float64) float64 {
	if x > 30 { // the tail is as good as exponential
		return x - ln(share)/x
	}
	p := above(x)
	if p > 0.5 {
		return normal(1 - p + float64(share*p))
	}
	return max(x, -normal(float64((1-share)*p)))
}

func (d *draw) sum(terms []term) float64 {
	sum := 0.0
	for _, t := range terms {
		sum += float64(t.by * d.x[t.at])
	}
	return sum
}

// group draws what the coats of a group have in common, given what the draw has of the shared quantities.
func (d *draw) group(z *groupSeen) float64 {
	tau := d.node.spread
	weight, mean := 1/float64(d.node.alike*tau*tau), 0.0
	for _, i := range z.coats {
		s := &d.b.coats[i]
		w, off := 0.0, 0.0
		if s.r > 0 {
			w, off = 1/s.r, (s.y-d.sum(s.terms))/s.r
		}
		if s.gr > 0 {
			w, off = w+1/s.gr, off+(s.gy-d.sum(s.gauge))/s.gr
		}
		noise := float64((1-d.node.alike)*tau*tau) + 1/w
		weight += 1 / noise
		mean += off / w / noise
	}
	return mean/weight + normal(z.luck.spread(d.i))/math.Sqrt(weight)
}
