package drawing

import (
	"math"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/curing"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

// WeatherLeaf is the weather with its day as a picture has it.
type WeatherLeaf struct {
	view.Conditions
	Read   bool        `json:"read"` // anything was, or is forecast
	Drying view.Drying `json:"drying"`
}

// WeatherLeafOf the site at an instant.
func WeatherLeafOf(s *fold.Site, now time.Time, in *time.Location) WeatherLeaf {
	v := WeatherLeaf{Drying: view.DryingOf(s, now, in)}
	v.Conditions, v.Read = view.WeatherOf(s, now, in)
	return v
}

// StockLeaf is the stock with its balances over time.
type StockLeaf struct {
	view.Stock
	Lines []StockLine `json:"lines"`
}

// StockLeafOf the site at an instant.
func StockLeafOf(s *fold.Site, now time.Time, in *time.Location) StockLeaf {
	return StockLeaf{view.StockOf(s, now, in), stockLines(s, now, in)}
}

// ForecastLeaf is what is left, with how it goes down.
type ForecastLeaf struct {
	ahead.Forecast
	Fan []ahead.FanPoint `json:"fan,omitempty"`
}

// ForecastLeafOf the site at an instant.
func ForecastLeafOf(s *fold.Site, now time.Time, in *time.Location) ForecastLeaf {
	o := ahead.OutlookOf(s, now, in)
	v := ForecastLeaf{Forecast: ahead.ForecastWith(o)}
	v.Fan = o.Fan()
	return v
}

// ZoneLeaf is a zone with how its coats cure.
type ZoneLeaf struct {
	view.Zone
	Cures []CureCourse `json:"cures,omitempty"`
}

// CureCourse is the course of one coat's temperature and maturity by one probe.
type CureCourse struct {
	Face     string         `json:"face,omitempty"`
	Coat     int32          `json:"coat"`
	Probe    string         `json:"probe"`
	Readings []CurePoint    `json:"readings"`
	Gaps     [][2]time.Time `json:"gaps,omitempty"` // counted for nothing
	Wet      [][2]time.Time `json:"wet,omitempty"`  // kept wet or covered
	// the mix's own curve over maturity, where its breaks carry one
	Strength []StrengthPoint `json:"strength,omitempty"`
	Breaks   []StrengthPoint `json:"breaks,omitempty"`
	Maturity float64         `json:"maturity_c_h"` // now
	DatumC   float64         `json:"datum_c"`
	Note     string          `json:"note,omitempty"`
	Caution  string          `json:"caution"`
}

// CurePoint is a reading with the maturity up to it.
type CurePoint struct {
	At         time.Time `json:"at"`
	C          float64   `json:"c"`
	MaturityCH *float64  `json:"maturity_c_h,omitempty"`
}

// StrengthPoint is a strength at a maturity; of a curve with the band in which its mean lies.
type StrengthPoint struct {
	MaturityCH float64 `json:"maturity_c_h"`
	Pa         float64 `json:"pa"`
	LowPa      float64 `json:"low_pa"`
	HighPa     float64 `json:"high_pa"`
}

// ZoneLeafOf the site at an instant; false if no zone of that name is planned.
func ZoneLeafOf(s *fold.Site, now time.Time, in *time.Location, name event.Zone) (ZoneLeaf, bool) {
	z, ok := view.ZoneOf(s, now, in, name)
	if !ok {
		return ZoneLeaf{}, false
	}
	v := ZoneLeaf{Zone: z}
	is, _ := s.Zone(name)
	for _, c := range is.Coats {
		for _, k := range s.CuresOf(c, now) {
			v.Cures = append(v.Cures, courseOf(s, c, k))
		}
	}
	return v, true
}

// mostReadings of a probe are drawn; of more each so-manieth.
const mostReadings = 240

func courseOf(s *fold.Site, c fold.CoatIs, k fold.Cure) CureCourse {
	id := c.CoatPlanned.Coat
	v := CureCourse{
		Face: view.FaceName(id.Face), Coat: int32(id.Number), Probe: k.Probe, Maturity: float64(k.Maturity),
		DatumC: float64(k.Datum), Note: k.Note, Caution: curing.Caution,
	}
	every := 1 + len(k.Samples)/mostReadings
	for i, r := range k.Samples {
		if i%every != 0 && i != len(k.Samples)-1 {
			continue
		}
		p := CurePoint{At: r.At.UTC(), C: float64(r.Temp)}
		if m, err := k.History.Until(r.At).NurseSaul(k.Datum); err == nil && len(k.History.Spans) > 0 {
			p.MaturityCH = view.Number(m)
		}
		v.Readings = append(v.Readings, p)
	}
	for _, g := range k.Gaps {
		v.Gaps = append(v.Gaps, [2]time.Time{g.From.UTC(), g.To.UTC()})
	}
	for _, w := range k.Wet {
		v.Wet = append(v.Wet, [2]time.Time{w.From.UTC(), w.To.UTC()})
	}
	v.curve(s, c.Mix)
	return v
}

// curve of the mix's own breaks, from the youngest to the oldest of them or to the coat's own age.
func (v *CureCourse) curve(s *fold.Site, mix event.Mix) {
	var points []curing.Point
	most := v.Maturity
	for _, b := range s.Breaks(mix) {
		if b.Strength > 0 && b.Maturity > 0 {
			points = append(points, curing.Point{Maturity: b.Maturity, Strength: b.Strength})
			v.Breaks = append(v.Breaks, StrengthPoint{MaturityCH: b.Maturity, Pa: float64(b.Strength)})
			most = math.Max(most, b.Maturity)
		}
	}
	curve, err := curing.Fit(curing.Hyperbolic, points)
	if err != nil {
		return
	}
	const steps = 30
	for i := range steps + 1 {
		m := most * 1.05 * float64(i) / steps
		if e, err := curve.At(m); err == nil {
			v.Strength = append(v.Strength, StrengthPoint{m, float64(e.Strength), float64(e.Low), float64(e.High)})
		}
	}
}
