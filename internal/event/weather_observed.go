package event

import (
	"slices"
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Weather is one reading; nil is not read.
type Weather struct {
	At                 time.Time
	Air                *unit.Celsius
	Humidity           *unit.Share // above 0; 1 is saturated
	DewPoint           *unit.Celsius
	Wind               *unit.Speed // mean, m/s
	SunWattPerM2       *float64
	RainMillimetres    *float64 // in the hour before
	SurfaceTemperature *unit.Celsius
}

// WeatherObserved is weather that was read.
type WeatherObserved struct {
	Station    string
	WindHeight unit.As[unit.Length] // above the surface, m; zero only where no wind was read
	Samples    []Weather            // in order of time
	Entered    string
}

func (b WeatherObserved) check() error {
	return first(
		checkLabel("station", b.Station),
		checkWeather(b.Samples, b.WindHeight),
		checkText("text typed", b.Entered),
	)
}

func checkWeather(samples []Weather, height unit.As[unit.Length]) error {
	var before time.Time
	windy := false
	if err := all("reading", samples, 1, func(w Weather) error {
		if err := checkOrder("reading", before, w.At); err != nil {
			return err
		}
		before = w.At
		windy = windy || w.Wind != nil
		return w.check()
	}); err != nil {
		return err
	}
	if height == (unit.As[unit.Length]{}) {
		if windy {
			return cannot(
				"the wind was read at no height; say how high above the surface, 2m at the shell, 10m at most airfields")
		}
		return nil
	}
	return within("height of the wind", height, windHeight)
}

func (w Weather) check() error {
	if w.Air == nil && w.Humidity == nil && w.DewPoint == nil && w.Wind == nil && w.SunWattPerM2 == nil &&
		w.RainMillimetres == nil && w.SurfaceTemperature == nil {
		return cannot("nothing was read at %s; leave the reading out", clock(w.At))
	}
	if w.Air != nil && w.DewPoint != nil && *w.DewPoint > *w.Air+1 { // two instruments may differ a little
		return cannot("the dew point of %s °C cannot be above the air's %s °C", number(float64(*w.DewPoint)),
			number(float64(*w.Air)))
	}
	return first(
		read("air temperature", w.Air, temperature),
		read("relative humidity", w.Humidity, humidity),
		read("dew point", w.DewPoint, temperature),
		read("wind", w.Wind, wind),
		read("sun", w.SunWattPerM2, sun),
		read("rain", w.RainMillimetres, rain),
		read("surface temperature", w.SurfaceTemperature, temperature),
	)
}

func (b WeatherObserved) about() about { return about{kind: "weather", sort: Work, by: Probes} }

func (b WeatherObserved) shifted(shift func(time.Time) time.Time) Body {
	b.Samples = shiftWeather(b.Samples, shift)
	return b
}

func (b WeatherObserved) until(later func(time.Time) bool) (Body, bool) {
	b.Samples = slices.DeleteFunc(slices.Clone(b.Samples), func(w Weather) bool { return later(w.At) })
	return b, len(b.Samples) > 0
}

func shiftWeather(samples []Weather, shift func(time.Time) time.Time) []Weather {
	return each(samples, func(w Weather) Weather { w.At = shift(w.At); return w })
}

func (b WeatherObserved) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_WeatherObserved{WeatherObserved: &hodv1.WeatherObserved{
		Station: b.Station, WindHeight: lengthProto(said(b.WindHeight)), Samples: each(b.Samples, Weather.proto),
		Entered: b.Entered,
	}}}
}

var _ = reads(func(k *hodv1.Body_WeatherObserved) Body { return weatherObservedOf(k.WeatherObserved) })

func weatherObservedOf(p *hodv1.WeatherObserved) WeatherObserved {
	return WeatherObserved{
		Station: p.GetStation(), WindHeight: unsaid(lengthOf(p.GetWindHeight())),
		Samples: each(p.GetSamples(), weatherOf), Entered: p.GetEntered(),
	}
}

func (w Weather) proto() *hodv1.WeatherSample {
	return &hodv1.WeatherSample{
		At: stamp(w.At), AirC: float(w.Air), Humidity: float(w.Humidity), DewPointC: float(w.DewPoint),
		WindMps: float(w.Wind),
		SunWM2:  float(w.SunWattPerM2), RainMm: float(w.RainMillimetres), SurfaceC: float(w.SurfaceTemperature),
	}
}

func weatherOf(p *hodv1.WeatherSample) Weather {
	return Weather{
		At: instant(p.GetAt()), Air: as[unit.Celsius](p.AirC), Humidity: as[unit.Share](p.Humidity),
		DewPoint: as[unit.Celsius](p.DewPointC), Wind: as[unit.Speed](p.WindMps), SunWattPerM2: as[float64](p.SunWM2),
		RainMillimetres: as[float64](p.RainMm), SurfaceTemperature: as[unit.Celsius](p.SurfaceC),
	}
}
