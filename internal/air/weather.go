package air

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// How far apart two readings may be to go straight from one to the next, and how long a last reading is held where no
// forecast reaches. Choices of this program.
const (
	airGap  = 3 * time.Hour
	airHeld = 3 * time.Hour
	// AssumedAir stands where the record has no weather at all; whatever rests on it says so.
	AssumedAir unit.Celsius = 20
)

// DefaultWindHeight is where the wind was read of a site that has not said otherwise.
const DefaultWindHeight = 2 * unit.Length(1)

// leastRain is the least rain that counts, mm: what common gauges resolve, below which it is a trace (WMO-No. 8, from
// memory).
const leastRain = 0.1

// Sky is one reading of the weather, the wind brought to the height that evaporation wants.
type Sky struct {
	event.Weather
	Record     *history.Record
	Station    string
	Wind       *unit.Speed // at weather.WorkHeight
	WindHeight unit.Length
}

// Air is the weather that was read and forecast, as records tell it.
type Air struct {
	Observed, Forecasts []*history.Record
	air                 *Timeline   // nil when stale
	airDirty            []time.Time // samples that came or went since
	AirChanges          []Span      // spans of time in which the air was learned anew
}

// Span is a time, its end excluded.
type Span struct{ from, to time.Time }

// Meets reports whether it shares an instant with another time.
func (s Span) Meets(from, to time.Time) bool { return s.from.Before(to) && from.Before(s.to) }

// Timeline is the weather in order of time: what was read, and what the latest forecast for each hour says.
type Timeline struct {
	Read, Told       []Sky
	readAir, toldAir series
	Rainy            []int // of what was read: where rain fell
}

// series is air temperatures alone, packed, since they are looked up a thousand times for each placement.
type series struct {
	at []int64 // ns since 1970
	c  []float64
}

func airOf(of []Sky) series {
	var s series
	for i := range of {
		if of[i].Air != nil {
			s.at, s.c = append(s.at, of[i].At.UnixNano()), append(s.c, float64(*of[i].Air))
		}
	}
	return s
}

// after is the index of the first sample later than an instant.
func (s series) after(at int64) int {
	lo, hi := 0, len(s.at)
	for lo < hi {
		if mid := int(uint(lo+hi) >> 1); s.at[mid] > at {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

// between the samples before and after, where they are no further apart than airGap.
func (s series) between(i int, at int64) (unit.Celsius, bool) {
	if i == 0 || i == len(s.at) || s.at[i]-s.at[i-1] > int64(airGap) {
		return 0, false
	}
	x := float64(at-s.at[i-1]) / float64(s.at[i]-s.at[i-1])
	return unit.Celsius(s.c[i-1] + (s.c[i]-s.c[i-1])*x), true
}

// StaleAir marks the weather stale around the samples that came or went.
func (s *Air) StaleAir(r *history.Record, samples []event.Weather) {
	s.air = nil
	for _, w := range samples {
		s.airDirty = append(s.airDirty, r.OnSite(w.At))
	}
}

// Timeline is the weather in order of time, brought up to date.
func (s *Air) Timeline() *Timeline {
	if s.air != nil {
		return s.air
	}
	t := &Timeline{}
	for _, r := range s.Observed {
		b := r.Now.(event.WeatherObserved)
		for _, w := range b.Samples {
			t.Read = append(t.Read, sky(r, w, b.Station, b.WindHeight.SI))
		}
	}
	for _, r := range s.Forecasts {
		b := r.Now.(event.WeatherForecast)
		for _, w := range b.Samples {
			t.Told = append(t.Told, sky(r, w, b.Source, b.WindHeight.SI))
		}
	}
	byAt := func(a, b Sky) int {
		return cmp.Or(a.At.Compare(b.At), event.CompareNames(a.Record.Name, b.Record.Name))
	}
	slices.SortStableFunc(t.Read, byAt)
	slices.SortStableFunc(t.Told, func(a, b Sky) int {
		issued := func(k Sky) time.Time { return k.Record.Now.(event.WeatherForecast).IssuedAt }
		return cmp.Or(a.At.Compare(b.At), issued(a).Compare(issued(b)),
			event.CompareNames(a.Record.Name, b.Record.Name))
	})
	t.Told = lastOfEach(t.Told)
	t.readAir, t.toldAir = airOf(t.Read), airOf(t.Told)
	for i, k := range t.Read {
		if k.RainMillimetres != nil && *k.RainMillimetres >= leastRain {
			t.Rainy = append(t.Rainy, i)
		}
	}
	s.air = t
	for _, at := range s.airDirty {
		s.AirChanges = append(s.AirChanges, t.reach(at))
	}
	s.airDirty = nil
	return t
}

// lastOfEach keeps the last of those of one instant: the latest forecast for it.
func lastOfEach(sorted []Sky) []Sky {
	kept := sorted[:0]
	for i, k := range sorted {
		if i+1 == len(sorted) || !sorted[i+1].At.Equal(k.At) {
			kept = append(kept, k)
		}
	}
	return kept
}

func sky(r *history.Record, w event.Weather, station string, height unit.Length) Sky {
	w.At = r.OnSite(w.At)
	k := Sky{Weather: w, Record: r, Station: station, WindHeight: height}
	if height == 0 {
		k.WindHeight = DefaultWindHeight
	}
	if w.Wind != nil {
		if v, err := weather.AtWorkHeight(*w.Wind, k.WindHeight); err == nil {
			k.Wind = &v
		}
	}
	return k
}

// reach is the time in which a sample at an instant can matter to what the air is taken to be: up to the readings
// before and after it, and as far beyond as readings are held and forecasts are drawn out.
func (t *Timeline) reach(at time.Time) Span {
	got := Span{time.Time{}, at.AddDate(100, 0, 0)}
	read := t.readAir
	if i := read.after(at.UnixNano() - 1); i > 0 {
		got.from = time.Unix(0, read.at[i-1]).Add(-airHeld)
	}
	if i := read.after(at.UnixNano()); i < len(read.at) {
		got.to = time.Unix(0, read.at[i]).Add(airHeld)
	}
	return got
}

// None says that nobody has read or forecast any air.
func (t *Timeline) None() bool { return len(t.readAir.at) == 0 && len(t.toldAir.at) == 0 }

// Source of an air temperature, in words.
const (
	AirRead     = "air as read"
	AirHeld     = "air as last read"
	AirForecast = "air as forecast"
	AirFar      = "air as read at another time"
	AirAssumed  = "air assumed"
)

// AirAt is the air temperature at an instant and where it is from.
func (t *Timeline) AirAt(when time.Time) (unit.Celsius, string) {
	at := when.UnixNano()
	read := t.readAir
	i := read.after(at)
	if c, ok := read.between(i, at); ok {
		return c, AirRead
	}
	if i > 0 && read.at[i-1] == at {
		return unit.Celsius(read.c[i-1]), AirRead
	}
	told := t.toldAir
	j := told.after(at)
	if c, ok := told.between(j, at); ok {
		return c, AirForecast
	}
	if j > 0 && at-told.at[j-1] < int64(time.Hour) {
		return unit.Celsius(told.c[j-1]), AirForecast
	}
	before, after := int64(-1), int64(-1)
	if i > 0 {
		before = at - read.at[i-1]
	}
	if i < len(read.at) {
		after = read.at[i] - at
	}
	switch {
	case before >= 0 && before <= int64(airHeld):
		return unit.Celsius(read.c[i-1]), AirHeld
	case after >= 0 && after <= int64(airHeld):
		return unit.Celsius(read.c[i]), AirHeld
	case before >= 0 && (after < 0 || before <= after):
		return unit.Celsius(read.c[i-1]), AirFar
	case after >= 0:
		return unit.Celsius(read.c[i]), AirFar
	}
	return AssumedAir, AirAssumed
}

// Hours is the air on each full hour up to an instant, oldest first; false if one of them lies between no two readings
// near enough to each other.
func (t *Timeline) Hours(until time.Time, n int) ([]unit.Celsius, bool) {
	last := until.Truncate(time.Hour)
	all := make([]unit.Celsius, n)
	for i := range all {
		air, source := t.AirAt(last.Add(-time.Duration(n-1-i) * time.Hour))
		if source != AirRead {
			return nil, false
		}
		all[i] = air
	}
	return all, true
}

// Moist is the air of a reading; an error that says what was not read.
func (k Sky) Moist() (weather.Air, error) {
	switch {
	case k.Air == nil:
		return weather.Air{}, fmt.Errorf("air temperature was not read")
	case k.Humidity != nil:
		return weather.Air{Temperature: *k.Air, Humidity: *k.Humidity}, nil
	case k.DewPoint != nil:
		return weather.FromDewPoint(*k.Air, *k.DewPoint, weather.Magnus)
	}
	return weather.Air{}, fmt.Errorf("humidity was not read")
}

// Full reports whether a rate of drying follows from the reading: air, humidity and wind were read.
func (k Sky) Full() bool {
	_, err := k.Moist()
	return err == nil && k.Wind != nil
}

// AirAtStart is the air for a batch that was not measured, when water met cement in it, and where that is from.
func (t *Timeline) AirAtStart(at time.Time) (unit.Celsius, string) {
	air, source := t.AirAt(at)
	return air, "batch not measured, taken at the air's temperature; " + source
}
