package event

import (
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// WeatherForecast is the weather to come, as a forecaster gave it.
type WeatherForecast struct {
	Source     string
	IssuedAt   time.Time
	WindHeight unit.As[unit.Length] // above the surface, m; zero only where no wind is told
	Samples    []Weather            // the hours, in order
}

func (b WeatherForecast) check() error {
	if b.IssuedAt.IsZero() {
		return cannot("the forecast has no time of issue; without it no one knows which forecast is the newer")
	}
	return first(
		checkLabel("source of the forecast", b.Source),
		checkTime("issue", b.IssuedAt),
		checkWeather(b.Samples, b.WindHeight),
	)
}

func (b WeatherForecast) about() about { return about{kind: "forecast", sort: Work, by: Crews} }

func (b WeatherForecast) shifted(shift func(time.Time) time.Time) Body {
	b.IssuedAt, b.Samples = shift(b.IssuedAt), shiftWeather(b.Samples, shift)
	return b
}

// until goes by the issue: the hours of a forecast lie ahead of it.
func (b WeatherForecast) until(later func(time.Time) bool) (Body, bool) { return b, !later(b.IssuedAt) }

func (b WeatherForecast) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_WeatherForecast{WeatherForecast: &hodv1.WeatherForecast{
		Source: b.Source, IssuedAt: stamp(b.IssuedAt), WindHeight: lengthProto(said(b.WindHeight)),
		Samples: each(b.Samples, Weather.proto),
	}}}
}

var _ = reads(func(k *hodv1.Body_WeatherForecast) Body { return weatherForecastOf(k.WeatherForecast) })

func weatherForecastOf(p *hodv1.WeatherForecast) WeatherForecast {
	return WeatherForecast{
		Source: p.GetSource(), IssuedAt: instant(p.GetIssuedAt()), WindHeight: unsaid(lengthOf(p.GetWindHeight())),
		Samples: each(p.GetSamples(), weatherOf),
	}
}
