package placed

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/mixed"
	"hod/internal/planned"
	"hod/internal/trade/curing"
	"hod/internal/trade/setting"
	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// cureGap is the longest pause between readings of a coat that counts as measured; a longer one is a gap and is said.
const CureGap = 2 * time.Hour

// Cure is what one probe's readings in a coat say of its age.
type Cure struct {
	Probe         string
	Readings      int
	Lowest        unit.Celsius
	Maturity      curing.DegreeHours
	EquivalentAge time.Duration // at 20 °C
	Gaps          []curing.Gap
	Strength      *curing.Estimate // by the mix's own breaks
	Borrowed      []Borrowed       // by codes' curves, where the mix's breaks carry none
	Moist         curing.MoistCredit
	Note          string
	// What the figures rest on, to be drawn: the readings, the measured time, when the coat was kept wet or covered,
	// the datum.
	Samples []setting.Sample
	History curing.History
	Wet     []curing.Period
	Datum   unit.Celsius
}

// CuresOf a coat until an instant, one a probe.
func (s *Zones) CuresOf(c CoatIs, now time.Time) []Cure {
	var all []Cure
	for _, p := range c.Probes {
		if cure, ok := s.cureOf(c, p, now); ok {
			all = append(all, cure)
		}
	}
	return all
}

func (s *Zones) cureOf(c CoatIs, p Probe, now time.Time) (Cure, bool) {
	samples := p.Samples
	if len(c.Placed) > 0 {
		samples = p.Since(c.Placed[0].From)
	}
	n := 0
	for n < len(samples) && !samples[n].At.After(now) {
		n++
	}
	if samples = samples[:n]; n == 0 {
		return Cure{}, false
	}
	cure := Cure{Probe: p.Name, Readings: len(samples), Lowest: samples[0].Temp, Samples: samples, Wet: s.wet(c, now)}
	for _, k := range samples {
		cure.Lowest = min(cure.Lowest, k.Temp)
	}
	m := s.MixIn(&c)
	if len(samples) < 2 || m == nil {
		cure.Note = "one reading says no age"
		return cure, true
	}
	history, err := curing.Sampled(samples, curing.Gaps{Longest: CureGap, Bridge: curing.Unbridged})
	if err != nil {
		cure.Note = err.Error()
		return cure, true
	}
	cure.Gaps, cure.History = history.Gaps, history
	datum := curing.DatumC1074
	if m.Datum != nil {
		datum = m.Datum.SI
	}
	cure.Datum = datum
	if cure.Maturity, err = history.NurseSaul(datum); err != nil {
		cure.Note = err.Error()
		return cure, true
	}
	if cure.EquivalentAge, err = history.EquivalentAge(curing.Reference, m.Set.Ea); err != nil {
		cure.Note = err.Error()
		return cure, true
	}
	if n := len(cure.Gaps); n > 0 {
		cure.Note = unit.Count(n, "gap", "gaps") + " in the readings, counted for nothing"
	}
	if cure.Moist, err = curing.Moist(cure.Wet, history); err != nil {
		cure.Note = join(cure.Note, err.Error())
	}
	if cure.Strength = s.strength(c.Mix, datum, float64(cure.Maturity), &cure.Note); cure.Strength == nil {
		cure.Borrowed = s.borrowed(c.Mix, cure.EquivalentAge)
	}
	cure.Note = join(cure.Note, tooHot(samples, s.Current.System))
	return cure, true
}

// MixIn is the mix that a coat's temperatures are read by: that of the first batch of the coat's mix in it, by the
// revision that the batch carries; of a coat that holds none, the mix as planned.
func (s *Zones) MixIn(c *CoatIs) *planned.Mix {
	for _, p := range c.Placed {
		if p.Batch.Body.Mix == c.Mix {
			return p.Batch.Mix
		}
	}
	return s.Current.Mixes[c.Mix]
}

// tooHot is what to say of readings that no thin coat comes to.
func tooHot(samples []setting.Sample, sys unit.System) string {
	highest := slices.MaxFunc(samples, func(a, b setting.Sample) int { return cmp.Compare(a.Temp, b.Temp) })
	j, err := weather.Peak(highest.Temp)
	if err != nil || !mixed.Broken(j, sys) {
		return ""
	}
	return fmt.Sprintf("it read up to %s: %s", sys.Temperature(highest.Temp), j.Says)
}

// Borrowed is what a code's general curve says of a coat whose mix has no curve of its own. Show curing.NotOwn beside
// it.
type Borrowed struct {
	Curve    string
	Share    float64       // of the 28-day strength
	Strength unit.Pressure // 0 where no break says what the 28-day strength may be
	Breaks   int           // of the mix, to which the curve was scaled
}

// youngest is the age from which a break scales a code's curve: EN 1992-1-1 3.1.2 names ages from 3 days on.
const youngest = 3 * 24 * time.Hour

func (s *Zones) borrowed(mix event.Mix, age time.Duration) []Borrowed {
	var all []Borrowed
	for _, curve := range []func(time.Duration) (curing.Growth, error){
		func(t time.Duration) (curing.Growth, error) { return curing.EN1992Growth(curing.Normal, t) },
		func(t time.Duration) (curing.Growth, error) { return curing.ACI209Growth(curing.MoistTypeI, t) },
	} {
		g, err := curve(age)
		if err != nil {
			continue
		}
		b := Borrowed{Curve: g.Curve, Share: g.Share}
		var at28 unit.Pressure
		for _, k := range s.Breaks(mix) {
			if of, err := curve(k.Body.Age); err == nil && k.Strength > 0 && k.Body.Age >= youngest {
				at28 += k.Strength / unit.Pressure(of.Share)
				b.Breaks++
			}
		}
		if b.Breaks > 0 {
			if is, err := g.Of(at28 / unit.Pressure(b.Breaks)); err == nil {
				b.Strength = is.Strength
			}
		}
		all = append(all, b)
	}
	return all
}

// wetFor is how long a wetting is taken to keep a bare surface wet. A choice of this program: common practice, no
// source.
const wetFor = 4 * time.Hour

// wet are the times in which a coat lay covered, or was wet from a wetting, until an instant.
func (s *Zones) wet(c CoatIs, now time.Time) []curing.Period {
	id := c.Name()
	st := s.ByZone[id.Zone]
	if st == nil || st.Is == nil || len(c.Placed) == 0 {
		return nil
	}
	var all []curing.Period
	add := func(from, to time.Time) {
		if from.Before(c.Placed[0].From) {
			from = c.Placed[0].From
		}
		if to.After(now) {
			to = now
		}
		if from.Before(to) {
			all = append(all, curing.Period{From: from, To: to})
		}
	}
	for _, k := range st.Is.covers[id.Face] {
		if k.To.IsZero() {
			k.To = now
		}
		add(k.From, k.To)
	}
	on := st.Is.placedOn(id.Face)
	for _, t := range st.Is.tended {
		if t.What != event.Wetted || !sameFace(t.Face, id.Face) {
			continue
		}
		until := t.At.Add(wetFor)
		for _, p := range on { // what is placed on a wet face ends that, too
			if p.From.After(t.At) {
				if p.From.Before(until) {
					until = p.From
				}
				break
			}
		}
		add(t.At, until)
	}
	return all
}

// strength off the mix's own curve, where its breaks carry one.
func (s *Zones) strength(mix event.Mix, datum unit.Celsius, maturity float64, note *string) *curing.Estimate {
	var points []curing.Point
	for _, b := range s.Breaks(mix) {
		if b.Strength > 0 && b.Maturity > 0 {
			points = append(points, curing.Point{Maturity: b.Maturity, Strength: b.Strength})
		}
	}
	if len(points) == 0 {
		return nil
	}
	curve, err := curing.Fit(curing.Hyperbolic, points)
	if err == nil {
		var e curing.Estimate
		if e, err = curve.At(maturity); err == nil {
			return &e
		}
	}
	*note = join(*note, "no strength from the breaks: "+err.Error())
	return nil
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}
