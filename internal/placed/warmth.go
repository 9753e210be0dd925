package placed

import (
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/mixed"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// probeNear is how close a reading in the coat must lie to an instant to be taken for the material's temperature.
const probeNear = time.Hour

// far is how far ahead it is told when material turns.
const Horizon = setting.RelaxHorizon

// warmth is the temperature of one placement's material through time, and what was worked out with it.
type warmth struct {
	Key      warmthKey
	source   string
	start    unit.Celsius
	layer    setting.Temperature
	course   *setting.Course // by the layer, and by probes
	consumed map[time.Time]float64
	turns    map[float64]turn
	full     time.Time // an instant at which consumed was at its end, and ever after; zero if none was met yet
	seen     int       // airChanges that it has taken in
}

type turn struct {
	at time.Time
	ok bool
}

// warmthKey is all that the temperature hangs on but the air; when it changes the warmth is made anew.
type warmthKey struct {
	water  time.Time
	start  unit.Celsius
	said   bool
	tau    time.Duration
	Set    setting.Set
	probes [2]uint64
}

// warmCoat gives each placement of the coat its material's temperature, and keeps what was worked out before where
// nothing that it hangs on has changed.
func (s *Zones) warmCoat(st *ZoneState, c *CoatIs) {
	if st.warm == nil {
		st.warm = map[event.Name]*warmth{}
	}
	probes := digest(c.Probes)
	for _, p := range c.Placed {
		key := s.warmthKey(p, probes)
		w := st.warm[p.Record.Name]
		if w == nil || w.Key != key || s.airChanged(w) {
			w = &warmth{Key: key, consumed: map[time.Time]float64{}, turns: map[float64]turn{}, seen: len(s.AirChanges)}
			st.warm[p.Record.Name] = w
		}
		p.Warm = w
	}
}

// airChanged says whether the air was learned anew in the time that the warmth looks at.
func (s *Zones) airChanged(w *warmth) bool {
	s.Timeline()
	for _, change := range s.AirChanges[w.seen:] {
		if change.Meets(w.Key.water.Add(-time.Hour), w.Key.water.Add(setting.Longest)) {
			return true
		}
	}
	w.seen = len(s.AirChanges)
	return false
}

func (s *Zones) warmthKey(p *Placed, probes [2]uint64) warmthKey {
	k := warmthKey{
		water: p.Batch.Water, tau: timeConstant(p.Then.Thickness.SI, p.Batch), Set: p.Batch.Mix.Set,
		probes: probes,
	}
	if p.Batch.Celsius != nil {
		k.start, k.said = *p.Batch.Celsius, true
	}
	return k
}

// digest stands for all that probes read: it changes when any reading does.
func digest(probes []Probe) (d [2]uint64) {
	mix := func(x uint64) {
		d[0] = (d[0] ^ x) * 0x100000001b3
		d[1] = d[1]*0x9e3779b97f4a7c15 + x
	}
	for _, p := range probes {
		for _, c := range p.Name {
			mix(uint64(c))
		}
		for _, k := range p.Samples {
			mix(uint64(k.At.UnixNano()))
			mix(math.Float64bits(float64(k.Temp)))
		}
	}
	return d
}

// timeConstant with which the coat follows the air: its thickness between a face in light wind and one in still air.
func timeConstant(thickness unit.Length, b *mixed.Batch) time.Duration {
	density := b.Figures.UnitWeight
	if density <= 0 {
		density = 2100
	}
	water := unit.Share(0.12)
	if b.Figures.Mass > 0 && b.Wrong == "" {
		water = unit.Share(b.Figures.Water.Total / b.Figures.Mass)
	}
	heat, err := setting.FreshHeat(water)
	if err != nil {
		heat = 1000
	}
	film, err := setting.WindFilm(2)
	if err != nil {
		film = setting.StillAir
	}
	tau, err := setting.Layer{
		Thickness: thickness, Density: density, SpecificHeat: heat, Outer: film,
		Inner: setting.StillAir,
	}.TimeConstant()
	if err != nil {
		return 0
	}
	return tau
}

// Temperature of the material: a probe in the coat where it has one near that instant, else the batch's temperature
// going over to the air's.
func (s *Zones) Temperature(c *CoatIs, p *Placed) setting.Temperature {
	w := p.Warm
	s.Timeline()
	if w.layer == nil {
		w.start, w.source = w.Key.start, "batch temperature going over to the air"
		if !w.Key.said {
			w.start, w.source = s.airAtStart(w.Key.water)
		}
		if w.Key.said && s.noAir() {
			w.source, w.layer = "batch temperature held: no air was read", setting.Constant(w.start)
			return byProbe(c.Probes, w.layer)
		}
		w.layer = setting.Relax(w.start, w.Key.water, func(at time.Time) unit.Celsius {
			t, _ := s.AirAt(at)
			return t
		}, w.Key.tau)
	}
	return byProbe(c.Probes, w.layer)
}

// byProbe is the temperature by a coat's probes where they say one, else as given.
func byProbe(probes []Probe, layer setting.Temperature) setting.Temperature {
	if len(probes) == 0 {
		return layer
	}
	return func(at time.Time) unit.Celsius {
		if t, ok := probed(probes, at); ok {
			return t
		}
		return layer(at)
	}
}

// course of a placement's material, each part of it worked out once.
func (s *Zones) course(c *CoatIs, p *Placed) *setting.Course {
	w := p.Warm
	if w.course == nil {
		w.course = setting.NewCourse(w.Key.Set, w.Key.water, s.Temperature(c, p))
	}
	return w.course
}

// probed is a coat's temperature between two readings near an instant; of several probes the warmest, since that sets
// first.
func probed(probes []Probe, at time.Time) (warmest unit.Celsius, ok bool) {
	for _, p := range probes {
		i, _ := slices.BinarySearchFunc(p.Samples, at, func(k setting.Sample, at time.Time) int {
			if k.At.After(at) {
				return 1
			}
			return -1
		})
		if i == 0 || i == len(p.Samples) {
			continue
		}
		a, b := p.Samples[i-1], p.Samples[i]
		if at.Sub(a.At) > probeNear || b.At.Sub(at) > probeNear {
			continue
		}
		x := float64(at.Sub(a.At)) / float64(b.At.Sub(a.At))
		if t := a.Temp + (b.Temp-a.Temp)*unit.Celsius(x); !ok || t > warmest {
			warmest, ok = t, true
		}
	}
	return warmest, ok
}

// Consumed is the share of initial set that a placement's material had used up at an instant of the record.
func (s *Zones) Consumed(c *CoatIs, p *Placed, at time.Time) float64 {
	x, ok := p.Warm.consumed[at]
	if !ok {
		x = s.ConsumedBy(c, p, at)
		p.Warm.consumed[at] = x
	}
	return x
}

// ConsumedBy is consumed at an instant that somebody asks about: worked out each time, since there is no end of those.
func (s *Zones) ConsumedBy(c *CoatIs, p *Placed, at time.Time) float64 {
	w := p.Warm
	if !w.full.IsZero() && !at.Before(w.full) {
		return setting.Saturated
	}
	x, err := s.course(c, p).Consumed(at)
	if err != nil {
		return setting.Saturated // a temperature out of range: say the worse
	}
	if x >= setting.Saturated {
		w.full = at
	}
	return setting.Rounded(x)
}

// Turns is when a placement's material will have used up a share of initial set.
func (s *Zones) Turns(c *CoatIs, p *Placed, share float64) (time.Time, bool) {
	w := p.Warm
	if t, ok := w.turns[share]; ok {
		return t.at, t.ok
	}
	at, ok := s.course(c, p).Turns(share, Horizon)
	at = at.Truncate(time.Second)
	w.turns[share] = turn{at, ok}
	return at, ok
}

// MaterialAt is the temperature of a placement's material, and where that is from.
func (s *Zones) MaterialAt(c *CoatIs, p *Placed, at time.Time) (unit.Celsius, string) {
	t := s.Temperature(c, p)(at)
	if _, ok := probed(c.Probes, at); ok {
		return t, "probe in the coat"
	}
	_, air := s.AirAt(at)
	if p.Warm.Key.said && !s.noAir() {
		return t, p.Warm.source + "; " + air
	}
	return t, p.Warm.source
}

// Fresh says whether a placement's material is still fresh at an instant: before initial set at its temperatures.
func (s *Zones) Fresh(c *CoatIs, p *Placed, at time.Time) bool {
	if at.Before(p.From) {
		return false
	}
	turns, ok := s.Turns(c, p, 1)
	return !ok || at.Before(turns)
}
