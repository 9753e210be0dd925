package fold

import (
	"time"

	"hod/internal/event"
	"hod/internal/setting"
	"hod/internal/unit"
)

// probeNear is how close a reading in the coat must lie to an instant to be taken for the material's temperature.
const probeNear = time.Hour

// near and far are how far ahead a layer's temperature is worked out: most material is met within the first.
const (
	near = 2 * time.Hour
	far  = setting.RelaxHorizon
)

// warmth is the temperature of one placement's material through time, and what was worked out with it.
type warmth struct {
	key      warmthKey
	source   string
	start    unit.Celsius
	horizon  time.Duration
	layer    setting.Temperature
	consumed map[time.Time]float64
	turns    map[float64]turn
	seen     int // airChanges that it has taken in
}

type turn struct {
	at time.Time
	ok bool
}

// warmthKey is all that the temperature hangs on but the air; when it changes the warmth is made anew.
type warmthKey struct {
	water   time.Time
	start   unit.Celsius
	said    bool
	tau     time.Duration
	set     setting.Set
	samples int
	first   time.Time
	last    unit.Celsius
}

// warmCoat gives each placement of the coat its material's temperature, and keeps what was worked out before where
// nothing that it hangs on has changed.
func (s *Site) warmCoat(st *zoneState, c *CoatIs) {
	if st.warm == nil {
		st.warm = map[event.Name]*warmth{}
	}
	for _, p := range c.Placed {
		key := s.warmthKey(c, p)
		w := st.warm[p.Record.Name]
		if w == nil || w.key != key || s.airChanged(w) {
			w = &warmth{key: key, consumed: map[time.Time]float64{}, turns: map[float64]turn{}, seen: len(s.airChanges)}
			st.warm[p.Record.Name] = w
		}
		p.warm = w
	}
}

// airChanged says whether the air was learned anew in the time that the warmth looks at.
func (s *Site) airChanged(w *warmth) bool {
	s.weather()
	for _, change := range s.airChanges[w.seen:] {
		if change.meets(w.key.water.Add(-time.Hour), w.key.water.Add(setting.Longest)) {
			return true
		}
	}
	w.seen = len(s.airChanges)
	return false
}

func (s *Site) warmthKey(c *CoatIs, p *Placed) warmthKey {
	k := warmthKey{water: p.Batch.Water, tau: timeConstant(c, p.Batch), set: p.Batch.Mix.Set, samples: len(c.Samples)}
	if p.Batch.Celsius != nil {
		k.start, k.said = *p.Batch.Celsius, true
	}
	if len(c.Samples) > 0 {
		k.first, k.last = c.Samples[0].At, sum(c.Samples)
	}
	return k
}

// sum stands for all of a probe's samples in a key: it changes when any of them does.
func sum(samples []event.Reading) unit.Celsius {
	total := unit.Celsius(0)
	for i, k := range samples {
		total += k.Temperature * unit.Celsius(i+1)
	}
	return total
}

// timeConstant with which the coat follows the air: its thickness between a face in light wind and one in still air.
func timeConstant(c *CoatIs, b *Batch) time.Duration {
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
	tau, err := setting.Layer{Thickness: c.Thickness.SI, Density: density, SpecificHeat: heat, Outer: film, Inner: setting.StillAir}.TimeConstant()
	if err != nil {
		return 0
	}
	return tau
}

// temperature of the material: a probe in the coat where it has one near that instant, else the batch's temperature going
// over to the air's.
func (s *Site) temperature(c *CoatIs, p *Placed, until time.Time) setting.Temperature {
	w := p.warm
	air := s.weather()
	if need := until.Sub(w.key.water); w.layer == nil || need > w.horizon {
		w.horizon = near
		if need > near {
			w.horizon = far
		}
		w.start, w.source = w.key.start, "batch temperature going over to the air"
		if !w.key.said {
			w.start, w.source = air.airAtStart(w.key.water)
		}
		w.layer = setting.RelaxWithin(w.start, w.key.water, func(at time.Time) unit.Celsius {
			t, _ := air.airAt(at)
			return t
		}, w.key.tau, w.horizon)
	}
	if len(c.Samples) == 0 {
		return w.layer
	}
	return func(at time.Time) unit.Celsius {
		if t, ok := probed(c.Samples, at); ok {
			return t
		}
		return w.layer(at)
	}
}

func (t *timeline) airAtStart(at time.Time) (unit.Celsius, string) {
	air, source := t.airAt(at)
	return air, "batch not measured, taken at the air's temperature; " + source
}

// probed is the coat's temperature between two readings near an instant.
func probed(samples []event.Reading, at time.Time) (unit.Celsius, bool) {
	lo, hi := 0, len(samples)
	for lo < hi {
		if mid := (lo + hi) / 2; samples[mid].At.After(at) {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	if lo == 0 || lo == len(samples) {
		return 0, false
	}
	a, b := samples[lo-1], samples[lo]
	if at.Sub(a.At) > probeNear || b.At.Sub(at) > probeNear {
		return 0, false
	}
	x := float64(at.Sub(a.At)) / float64(b.At.Sub(a.At))
	return a.Temperature + (b.Temperature-a.Temperature)*unit.Celsius(x), true
}

// consumed is the share of initial set that a placement's material had used up at an instant of the record.
func (s *Site) consumed(c *CoatIs, p *Placed, at time.Time) float64 {
	x, ok := p.warm.consumed[at]
	if !ok {
		x = s.consumedBy(c, p, at)
		p.warm.consumed[at] = x
	}
	return x
}

// consumedBy is consumed at an instant that somebody asks about: worked out each time, since there is no end of those.
func (s *Site) consumedBy(c *CoatIs, p *Placed, at time.Time) float64 {
	w := p.warm
	x, err := setting.Consumed(w.key.set, w.key.water, at, s.temperature(c, p, at))
	if err != nil {
		x = setting.Saturated // a temperature out of range: say the worse
	}
	return setting.Rounded(x)
}

// turns is when a placement's material will have used up a share of initial set.
func (s *Site) turns(c *CoatIs, p *Placed, share float64) (time.Time, bool) {
	w := p.warm
	if t, ok := w.turns[share]; ok {
		return t.at, t.ok
	}
	at, ok := setting.Turns(w.key.set, w.key.water, s.temperature(c, p, w.key.water.Add(far)), share, far)
	at = at.Truncate(time.Second)
	w.turns[share] = turn{at, ok}
	return at, ok
}

// materialAt is the temperature of a placement's material, and where that is from.
func (s *Site) materialAt(c *CoatIs, p *Placed, at time.Time) (unit.Celsius, string) {
	t := s.temperature(c, p, at)(at)
	if _, ok := probed(c.Samples, at); ok {
		return t, "probe in the coat"
	}
	_, air := s.weather().airAt(at)
	if p.warm.key.said {
		return t, p.warm.source + "; " + air
	}
	return t, p.warm.source
}
