package forecast

import (
	"fmt"
	"math"

	"hod/internal/renewal"
)

// Answer is what is left of a job, as distributions that all come from the same draws.
type Answer struct {
	Batches  renewal.Distribution   // that are still to be mixed
	Mixes    []renewal.Distribution // of each of Job.Mixes
	Finish   Instants               // when the last of them is placed
	Paced    bool                   // false: too few batches have followed one another to say anything of time
	Tomorrow Tomorrow
	Width    Width
	Yields   Yields
	Pace     Rhythm
	Lists    string  // how the crews were taken to share the work
	Odd      []Odd   // coats whose record is in doubt
	Still    int     // working days in a row, until now, on which nobody worked, where they are too many to be chance
	Draws    []Draw  // where they were asked for
	Drawn    int     // how many draws it rests on
	Effect   float64 // how many equal draws their weights are worth
}

// Tomorrow is the next day with work.
type Tomorrow struct {
	Known   bool // false: the calendar has none
	Day     Workday
	Batches renewal.Distribution
	Mixes   []renewal.Distribution
	Shares  []CrewCoat // by crew, then coat: what is expected of whom
}

// CrewCoat is how many batches of a crew are expected to go into a coat.
type CrewCoat struct {
	Crew, Coat int
	Batches    float64
}

// Width is what makes the answer uncertain: half of the range that holds nine in ten, from each cause alone.
type Width struct {
	Site    float64 // batches, by how thick and with how much waste the site places
	Coats   float64 // by what one coat takes more or less than another
	Yield   float64 // by what the mixes yield on the whole
	Batch   float64 // by the scatter from batch to batch, and whole batches
	Pace    float64 // hours, by how fast the crews are
	Taken   float64 // what coats take over what is planned with the planned loss, as far as is known
	TakenSD float64 // of its logarithm
	Spread  float64 // from coat to coat, as a share
	Rests   int     // finished coats that it rests on
}

// Rhythm is the pace in words that a person knows.
type Rhythm struct {
	Gaps     int     // times from one batch to the next that it was learned from
	Minutes  float64 // from one batch of a crew to its next, all crews' mean
	PerHour  float64 // batches, all crews together
	Lunch    float64 // minutes
	FirstMin float64 // from opening to the first batch
	Idle     float64 // chance that nobody works on a working day
}

// Odd is a coat that took so much or so little that its record, or its plan, should be looked at.
type Odd struct {
	Coat  int
	Ratio float64 // taken over design
}

// enoughGaps between batches are needed before anything is said of time.
const enoughGaps = 2

// Ahead says what is left of a job. keep asks for each draw's batches too.
func Ahead(j Job, keep bool) (Answer, error) {
	if err := j.check(); err != nil {
		return Answer{}, err
	}
	if len(j.Crews) == 0 { // somebody will place it; nothing can be said of when
		j.Crews = []Crew{{}}
	}
	b := believe(&j)
	n := b.draw(drawsFor(b.most()))
	p := learnPace(&j)
	l := listsOf(&j, n.coats)
	w := newWork(&j, &n, p, l, b.yields)
	w.keep = keep
	w.play()
	a := Answer{
		Batches: counted(w.total, n.weight), Finish: instants(w.finish, n.weight), Paced: p.gaps >= enoughGaps,
		Yields: b.yields, Lists: l.said, Still: p.still, Draws: w.draws, Drawn: n.n, Effect: n.effect(),
	}
	for m := range j.Mixes {
		a.Mixes = append(a.Mixes, counted(w.mixes[m], n.weight))
	}
	for i, s := range b.coats {
		if s.coat.State == Open && s.volume > 0 && math.Abs(ln(s.volume/s.coat.Design)-ln(1+j.Loss)) > farOff &&
			s.volume > s.coat.Design {
			s.odd = true
		}
		if s.odd {
			a.Odd = append(a.Odd, Odd{i, s.volume / s.coat.Design})
		}
	}
	a.Tomorrow = w.nextDayOf()
	a.Width = b.width(&n, w)
	a.Pace = p.rhythm(w, &n)
	return a, nil
}

// check refuses what no job is, and says what would be right.
func (j *Job) check() error {
	for _, m := range j.Mixes {
		if !(m.Yield > 0) || math.IsInf(m.Yield, 0) {
			return fmt.Errorf("mix %s yields %v m³ a batch: must be above 0", m.Name, m.Yield)
		}
		for _, y := range m.Logs {
			if math.IsNaN(y) || math.Abs(y) > 5 {
				return fmt.Errorf("a batch of mix %s weighed e^%v of its design: check its weights", m.Name, y)
			}
		}
	}
	batches := 0.0
	for _, c := range j.Coats {
		if !(c.Design > 0) || math.IsInf(c.Design, 0) {
			return fmt.Errorf("coat %s takes %v m³ as designed: must be above 0", c.Name, c.Design)
		}
		if c.Mix < 0 || c.Mix >= len(j.Mixes) {
			return fmt.Errorf("coat %s has no mix", c.Name)
		}
		if c.State != Finished {
			batches += c.Design / j.Mixes[c.Mix].Yield
		}
	}
	if !(batches <= mostBatches/10) {
		return fmt.Errorf(
			"what is left would take %.3g batches, and %d are the most that can be counted: check the areas, thicknesses and yields",
			batches, mostBatches/10)
	}
	if !(j.Loss > -0.5 && j.Loss < 5) {
		return fmt.Errorf("the planned loss is %v: must lie between 0 and 5", j.Loss)
	}
	return nil
}

// most batches that are left, roughly.
func (b *belief) most() float64 {
	sum := 0.0
	for _, s := range b.coats {
		if s.coat.State != Finished {
			sum += max(s.batches-float64(s.volume/s.coat.Design*s.batches), 0.1)
		}
	}
	return sum
}

// effect is how many equal draws the weights are worth.
func (n *needs) effect() float64 {
	sum := 0.0
	for _, w := range n.weight {
		sum += float64(w * w)
	}
	return 1 / sum
}

func (w *work) nextDayOf() Tomorrow {
	if w.nextDay < 0 {
		return Tomorrow{}
	}
	t := Tomorrow{Known: true, Day: w.job.Calendar.Days[w.nextDay], Batches: counted(w.tomorrow, w.needs.weight)}
	for m := range w.job.Mixes {
		t.Mixes = append(t.Mixes, counted(w.tomorrowMixes[m], w.needs.weight))
	}
	for k := range w.next {
		for u, x := range w.next[k] {
			if x > 0 {
				t.Shares = append(t.Shares, CrewCoat{k, w.needs.coats[u], x})
			}
		}
	}
	return t
}

// deviation is the weighted standard deviation of what f says of each draw, and the mean.
func (n *needs) deviation(f func(i int) float64) (mean, sd float64) {
	for i, w := range n.weight {
		mean += float64(w * f(i))
	}
	square := 0.0
	for i, w := range n.weight {
		off := f(i) - mean
		square += float64(w * float64(off*off))
	}
	return mean, math.Sqrt(square)
}

// nine is how many standard deviations to each side hold nine in ten.
const nine = 1.6448536269514722

func (b *belief) width(n *needs, w *work) Width {
	var v Width
	part := func(f func(p parts) float64) float64 {
		_, sd := n.deviation(func(i int) float64 { return f(n.parts[i]) })
		return nine * sd
	}
	v.Site = part(func(p parts) float64 { return p.site })
	v.Coats = part(func(p parts) float64 { return p.coats })
	v.Yield = part(func(p parts) float64 { return p.yield })
	total, _ := n.deviation(func(i int) float64 { return float64(w.total[i]) })
	v.Batch = nine * math.Sqrt(float64(float64(b.yields.Scatter*b.yields.Scatter)*total)+1.0/12)
	per, sd := n.deviation(func(i int) float64 { return w.slow[i] })
	crews := float64(max(1, len(w.workers)))
	v.Pace = nine * sd * total / crews * exp(per) / 60
	mean, square := 0.0, 0.0
	for _, k := range b.nodes {
		m := k.mean[waste] + k.mean[thick]
		both := k.root[thick*b.n+waste] + k.root[waste*b.n+waste]
		own := float64(both * both)
		own += float64(k.root[thick*b.n+thick] * k.root[thick*b.n+thick])
		mean += float64(k.weight * m)
		square += float64(k.weight * (own + float64(m*m)))
		v.Spread += float64(k.weight * k.spread)
	}
	v.Taken, v.TakenSD = exp(mean)/(1+b.job.Loss), math.Sqrt(max(0, square-float64(mean*mean)))
	for _, s := range b.coats {
		if s.r > 0 {
			v.Rests++
		}
	}
	return v
}

func (p *pace) rhythm(w *work, n *needs) Rhythm {
	r := Rhythm{Gaps: p.gaps, Idle: p.idle}
	crews := float64(len(p.crews))
	for k := range p.crews {
		mean := 0.0
		for _, node := range p.nodes {
			mean += float64(node.weight * (node.mean[0] + node.mean[2+k]))
		}
		gap := exp(mean)
		r.Minutes += gap / crews
		r.PerHour += 60 / gap
		r.Lunch += p.crews[k].lunch * p.crews[k].lunching / crews
		r.FirstMin += p.crews[k].first / crews
	}
	return r
}
