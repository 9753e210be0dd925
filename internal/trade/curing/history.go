package curing

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// Coldest and Hottest bound the readings that are believed; outside, a probe is broken or the unit is wrong. No shell
// comes near the upper one (mass concrete's own limit is 70 °C).
const (
	Coldest unit.Celsius = -60
	Hottest unit.Celsius = 120
)

// Reading is a temperature of a zone's coat at an instant.
type Reading = setting.Sample

// Bridging is what a gap in the readings is taken to have been.
type Bridging int

const (
	Unbridged Bridging = iota // nothing: the gap adds no maturity
	Held                      // the temperature of the reading before it, throughout
	Straight                  // a straight line from the reading before it to the one after
)

func (b Bridging) String() string {
	switch b {
	case Held:
		return "held at the reading before it"
	case Straight:
		return "straight from the reading before to the one after"
	}
	return "not bridged, adds nothing"
}

// Gaps says which pauses between readings are gaps and how they are bridged.
type Gaps struct {
	Longest time.Duration // a longer pause is a gap; 0 means that no pause is
	Bridge  Bridging
}

// Gap is a pause longer than allowed.
type Gap struct {
	From, To time.Time
	Bridge   Bridging // how it was bridged
}

// Span is a time at one temperature.
type Span struct {
	From, To time.Time
	Mean     unit.Celsius
	Bridged  bool // lies in a gap: not measured
}

// History is a coat's temperature as spans in order of time, with the gaps that were found. Gaps left unbridged are no
// spans. Make one with Sampled or Means.
type History struct {
	Spans []Span
	Gaps  []Gap
}

// Sampled is the history of a thermometer read at instants: each interval has the mean of its two ends (ASTM C1074).
// The readings need no order and may be irregular; those of one instant are averaged. At least two instants are needed.
func Sampled(readings []Reading, gaps Gaps) (History, error) {
	points, err := inOrder(readings)
	if err != nil {
		return History{}, err
	}
	return build(points, gaps, func(a, b Reading) unit.Celsius { return a.Temp + (b.Temp-a.Temp)/2 })
}

// Means is the history of a record of interval means: each temperature holds from its instant to the next, and the last
// row only closes the one before it. The rows need no order. An error where two rows have one instant.
func Means(rows []Reading, gaps Gaps) (History, error) {
	points, err := inOrder(rows)
	if err != nil {
		return History{}, err
	}
	if len(points) != len(rows) {
		return History{}, fmt.Errorf(
			"%d of %d rows of interval means share an instant with another: each must begin at its own",
			len(rows)-len(points), len(rows))
	}
	return build(points, gaps, func(a, _ Reading) unit.Celsius { return a.Temp })
}

func inOrder(readings []Reading) ([]Reading, error) {
	sorted := slices.Clone(readings)
	slices.SortStableFunc(sorted, func(a, b Reading) int { return a.At.Compare(b.At) })
	points, same := sorted[:0], 1
	for _, r := range sorted {
		if !(r.Temp >= Coldest && r.Temp <= Hottest) {
			return nil,
				fmt.Errorf("reading of %s is %.4g °C, outside %g to %g °C: is the probe sound and the unit right?",
					r.At.Format(time.RFC3339), float64(r.Temp), float64(Coldest), float64(Hottest))
		}
		if n := len(points); n > 0 && points[n-1].At.Equal(r.At) {
			same++
			points[n-1].Temp += (r.Temp - points[n-1].Temp) / unit.Celsius(same)
			continue
		}
		points, same = append(points, r), 1
	}
	if len(points) < 2 {
		instants := "one instant"
		if len(points) == 0 {
			instants = "no instant"
		}
		return nil, fmt.Errorf("readings of %s: two at least make an interval", instants)
	}
	return points, nil
}

func build(points []Reading, gaps Gaps, mean func(a, b Reading) unit.Celsius) (History, error) {
	if gaps.Longest < 0 {
		return History{}, fmt.Errorf("longest pause %v cannot be below 0", gaps.Longest)
	}
	var h History
	for i, b := range points[1:] {
		a := points[i]
		pause := b.At.Sub(a.At)
		if pause == math.MaxInt64 {
			return History{}, fmt.Errorf("readings of %s and %s are centuries apart", a.At.Format(time.RFC3339),
				b.At.Format(time.RFC3339))
		}
		if gaps.Longest == 0 || pause <= gaps.Longest {
			h.Spans = append(h.Spans, Span{From: a.At, To: b.At, Mean: mean(a, b)})
			continue
		}
		h.Gaps = append(h.Gaps, Gap{From: a.At, To: b.At, Bridge: gaps.Bridge})
		switch gaps.Bridge {
		case Unbridged:
		case Held:
			h.Spans = append(h.Spans, Span{From: a.At, To: b.At, Mean: a.Temp, Bridged: true})
		case Straight:
			h.Spans = append(h.Spans, ramp(a, b, gaps.Longest)...)
		default:
			return History{}, fmt.Errorf("bridging %d of a gap is not known", gaps.Bridge)
		}
	}
	return h, nil
}

// mostRamp bounds the spans that one gap becomes.
const mostRamp = 100

// ramp cuts a straight bridge into spans no longer than a pause that needs none, since the age factor is no straight
// line.
func ramp(a, b Reading, longest time.Duration) []Span {
	pause := b.At.Sub(a.At)
	n := int(min((pause-1)/longest+1, mostRamp))
	spans := make([]Span, n)
	for i := range n {
		spans[i] = Span{
			From:    a.At.Add(part(pause, i, n)),
			To:      a.At.Add(part(pause, i+1, n)),
			Mean:    a.Temp + (b.Temp-a.Temp)*unit.Celsius(2*i+1)/unit.Celsius(2*n),
			Bridged: true,
		}
	}
	return spans
}

// part is i n-ths of d, without passing what an int64 holds.
func part(d time.Duration, i, n int) time.Duration {
	return d/time.Duration(n)*time.Duration(i) + d%time.Duration(n)*time.Duration(i)/time.Duration(n)
}

// Measured is the time that readings cover.
func (h History) Measured() time.Duration { return h.total(false) }

// Bridged is the time that a bridge covers.
func (h History) Bridged() time.Duration { return h.total(true) }

func (h History) total(bridged bool) (sum time.Duration) {
	for _, s := range h.Spans {
		if s.Bridged == bridged {
			sum += s.To.Sub(s.From)
		}
	}
	return sum
}

// Until is the history up to at: the span that at falls into is cut there.
func (h History) Until(at time.Time) History { return h.clip(time.Time{}, at) }

// From is the history from at on: for a thermometer that was running before the coat was placed.
func (h History) From(at time.Time) History {
	last := at
	for _, s := range h.Spans {
		if s.To.After(last) {
			last = s.To
		}
	}
	for _, g := range h.Gaps {
		if g.To.After(last) {
			last = g.To
		}
	}
	return h.clip(at, last)
}

func (h History) clip(from, to time.Time) History {
	var c History
	for _, s := range h.Spans {
		s.From, s.To = latest(s.From, from), earliest(s.To, to)
		if s.From.Before(s.To) {
			c.Spans = append(c.Spans, s)
		}
	}
	for _, g := range h.Gaps {
		g.From, g.To = latest(g.From, from), earliest(g.To, to)
		if g.From.Before(g.To) {
			c.Gaps = append(c.Gaps, g)
		}
	}
	return c
}

func latest(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

func earliest(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
