package view

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/fold"
	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// Conditions is the weather as last read, and what it does to a fresh surface. What nobody read is nil, and left out of
// the JSON.
//
// Air, humidity, dew point, wind and surface are of one reading, that of ReadAt: the last full one as long as it
// counts, else the last of all.
type Conditions struct {
	Site              string     `json:"site"`
	AsOf              time.Time  `json:"as_of"`
	Units             string     `json:"units"`
	ReadAt            *time.Time `json:"read_at,omitempty"`
	Station           string     `json:"station,omitempty"`
	AirC              *float64   `json:"air_c,omitempty"`
	Humidity          *float64   `json:"humidity,omitempty"` // 1 is saturated
	DewPointC         *float64   `json:"dew_point_c,omitempty"`
	WindMPS           *float64   `json:"wind_mps,omitempty"` // brought to 0.5 m
	WindReadMPS       *float64   `json:"wind_read_mps,omitempty"`
	WindHeightM       *float64   `json:"wind_height_m,omitempty"`
	SurfaceC          *float64   `json:"surface_c,omitempty"` // of the fresh mortar
	SurfaceSource     string     `json:"surface_source,omitempty"`
	EvaporationKgM2H  *float64   `json:"evaporation_kg_m2_h,omitempty"`  // Uno, SI form; nil: no full reading counts
	EvaporationLbFt2H *float64   `json:"evaporation_lb_ft2_h,omitempty"` // Uno, US form
	MenzelKgM2H       *float64   `json:"menzel_kg_m2_h,omitempty"`       // second opinion
	LimitKgM2H        float64    `json:"limit_kg_m2_h"`                  // the site's
	LimitLbFt2H       float64    `json:"limit_lb_ft2_h"`                 // the site's
	// judged in the site's system; nil: it cannot be judged
	OverLimit      *bool      `json:"over_limit,omitempty"`
	HeatIndexF     *float64   `json:"heat_index_f,omitempty"` // nil where it does not apply
	FreshUncovered []string   `json:"fresh_uncovered,omitempty"`
	Judgements     []string   `json:"judgements,omitempty"` // cold and hot rules that apply, in words
	Missing        []string   `json:"missing,omitempty"`    // what was not read
	Caution        string     `json:"caution,omitempty"`
	Hours          []Hour     `json:"hours,omitempty"` // to come, as last forecast
	ForecastSource string     `json:"forecast_source,omitempty"`
	LastFullAt     *time.Time `json:"last_full_at,omitempty"` // the last reading of air, humidity and wind together
	CountsForMin   float64    `json:"counts_for_min"`         // how long a full reading counts
	TooOld         string     `json:"too_old,omitempty"`      // the last full reading no longer counts, in words
	// readings after ReadAt that are not full, newest first
	Since []Reading `json:"since,omitempty"`
}

// Reading is one reading of the weather: what was read of it.
type Reading struct {
	ReadAt    time.Time `json:"read_at"`
	Station   string    `json:"station"`
	AirC      *float64  `json:"air_c,omitempty"`
	Humidity  *float64  `json:"humidity,omitempty"`
	DewPointC *float64  `json:"dew_point_c,omitempty"`
	WindMPS   *float64  `json:"wind_mps,omitempty"` // brought to 0.5 m
	RainMM    *float64  `json:"rain_mm,omitempty"`  // in the hour before
	SunWM2    *float64  `json:"sun_w_m2,omitempty"`
	SurfaceC  *float64  `json:"surface_c,omitempty"`
}

// Hour is an hour to come. What the forecast does not say is nil.
type Hour struct {
	At               time.Time `json:"at"`
	AirC             *float64  `json:"air_c,omitempty"`
	EvaporationKgM2H *float64  `json:"evaporation_kg_m2_h,omitempty"`
	RainMM           *float64  `json:"rain_mm,omitempty"`
	Workable         bool      `json:"workable"`
	Why              string    `json:"why,omitempty"` // it is not
}

// fullCounts is how long a full reading says how fast a fresh surface dries now, as flags are judged by.
const fullCounts = fold.FullCounts

// WeatherOf the site at an instant; false if nobody has read any.
func WeatherOf(s *fold.Site, now time.Time, in *time.Location) (Conditions, bool) {
	p := s.Plan()
	v := Conditions{
		Site: SiteName(s), AsOf: now, Units: p.System.String(), LimitKgM2H: float64(p.Evaporation),
		LimitLbFt2H:  p.EvaporationUS,
		CountsForMin: fullCounts.Minutes(), Caution: weather.Caution,
	}
	v.Hours, v.ForecastSource = hours(s, now, in)
	read := ReadUntil(s, now)
	if len(read) == 0 {
		return v, len(v.Hours) > 0
	}
	basis := &read[len(read)-1]
	if full := LastFull(read); full != nil {
		v.LastFullAt = Instant(full.At)
		if age := now.Sub(full.At); age > fullCounts {
			v.TooOld = fmt.Sprintf(
				"the last reading of air, humidity and wind together, of %s, is %s old and counts for %s: how fast a fresh surface dries now is not known",
				ClockOn(full.At, now, in), unit.Duration(age.Round(time.Minute)), unit.Duration(fullCounts))
		} else {
			basis = full
		}
	}
	v.show(*basis, p)
	v.Since = since(read, basis.At)
	v.judgeDrying(s, *basis, now)
	v.judgeAir(s, read)
	if last := read[len(read)-1].At; now.Sub(last) > fullCounts {
		v.Missing = append(v.Missing, fmt.Sprintf("anything since %s, %s ago", ClockOn(last, now, in),
			unit.Duration(now.Sub(last).Round(time.Minute))))
	}
	return v, true
}

// ReadUntil are the readings up to an instant, by time.
func ReadUntil(s *fold.Site, now time.Time) []fold.Sky {
	read, _ := s.Weather()
	n, _ := slices.BinarySearchFunc(read, now, func(k fold.Sky, now time.Time) int {
		if k.At.After(now) {
			return 1
		}
		return -1
	})
	return read[:n]
}

// LastFull is the last reading from which a rate of drying follows; nil if there is none.
func LastFull(read []fold.Sky) *fold.Sky {
	for i := range slices.Backward(read) {
		if read[i].Full() {
			return &read[i]
		}
	}
	return nil
}

// Unjudged is how long of a time something fresh lay uncovered while no full reading counted. It is counted in half
// hours, at which ACI 305.1 asks for a reading (from memory).
func Unjudged(s *fold.Site, from, until time.Time) time.Duration {
	const step = 30 * time.Minute
	var sum time.Duration
	for now := from; now.Before(until); now = now.Add(step) {
		if full := LastFull(ReadUntil(s, now)); full != nil && now.Sub(full.At) <= fullCounts {
			continue
		}
		if _, _, open := s.FreshSurface(now); len(open) > 0 {
			sum += step
		}
	}
	return sum
}

// show puts down what one reading read, and by name what it did not.
func (v *Conditions) show(k fold.Sky, p *fold.Plan) {
	r := ReadingOf(k)
	v.ReadAt, v.Station, v.AirC, v.Humidity, v.DewPointC, v.WindMPS = Instant(k.At), r.Station, r.AirC, r.Humidity,
		r.DewPointC, r.WindMPS
	if v.WindMPS != nil {
		v.WindReadMPS, v.WindHeightM = Number(*k.Weather.Wind), Number(k.WindHeight)
	}
	for _, of := range []struct {
		name string
		read *float64
	}{{"air temperature", v.AirC}, {"humidity", v.Humidity}, {"wind", v.WindMPS}} {
		if of.read == nil {
			v.Missing = append(v.Missing, of.name)
		}
	}
	air, err := k.Moist()
	if err != nil {
		return
	}
	if heat, err := weather.HeatIndex(air); err == nil && heat.Level != weather.Comfortable {
		v.HeatIndexF = Number(heat.Fahrenheit())
		v.Judgements = append(v.Judgements, fmt.Sprintf("heat index %s: %s for people",
			p.System.Temperature(heat.Index), heat.Level))
	}
}

// ReadingOf is what was read: humidity and dew point each follow from the other where the air was read with it.
func ReadingOf(k fold.Sky) Reading {
	r := Reading{
		ReadAt: k.At.UTC(), Station: k.Station, AirC: Maybe(k.Air), Humidity: Maybe(k.Humidity),
		DewPointC: Maybe(k.DewPoint),
		WindMPS:   Maybe(k.Wind), RainMM: k.RainMillimetres, SunWM2: k.SunWattPerM2,
		SurfaceC: Maybe(k.SurfaceTemperature),
	}
	if air, err := k.Moist(); err == nil {
		r.Humidity = Number(air.Humidity)
		if dew, err := air.DewPoint(weather.Magnus); err == nil {
			r.DewPointC = Number(dew)
		}
	}
	return r
}

// since are the readings after an instant, newest first: those that say something that none newer says.
func since(read []fold.Sky, after time.Time) []Reading {
	var all []Reading
	var air, humid, wind, rain, sun, surface bool
	for _, k := range slices.Backward(read) {
		if !k.At.After(after) {
			break
		}
		r := ReadingOf(k)
		says := false
		for _, of := range []struct {
			value *float64
			seen  *bool
		}{{r.AirC, &air}, {r.Humidity, &humid}, {r.WindMPS, &wind}, {r.RainMM, &rain}, {r.SunWM2, &sun}, {
			r.SurfaceC,
			&surface,
		}} {
			says = says || of.value != nil && !*of.seen
			*of.seen = *of.seen || of.value != nil
		}
		if says {
			all = append(all, r)
		}
	}
	return all
}

// judgeDrying says what the reading does to a fresh surface; nothing where it is not full or too old.
func (v *Conditions) judgeDrying(s *fold.Site, k fold.Sky, now time.Time) {
	surface, source, open := s.FreshSurface(now)
	v.FreshUncovered = open
	if source == "" && k.Air != nil {
		surface, source = *k.Air, "taken at the air's temperature: nothing fresh lies uncovered"
	}
	if k.SurfaceTemperature != nil {
		surface, source = *k.SurfaceTemperature, "read"
	}
	if source == "" {
		return
	}
	v.SurfaceC, v.SurfaceSource = Number(surface), source
	if v.TooOld != "" {
		return
	}
	if rate, err := s.Plan().DryingAt(k, surface); err == nil {
		v.EvaporationKgM2H, v.EvaporationLbFt2H, v.MenzelKgM2H = Number(rate.SI.Rate), Number(rate.US.Pounds()),
			Number(rate.Menzel.Rate)
		v.OverLimit = &rate.Over
	}
}

// judgeAir says which rules of cold weather the air as last read breaks.
func (v *Conditions) judgeAir(s *fold.Site, read []fold.Sky) {
	for _, k := range slices.Backward(read) {
		if k.Air == nil {
			continue
		}
		if j, err := weather.ColdWeather(*k.Air); err == nil && Verdict(j, s.Plan().System).Broken {
			v.Judgements = append(v.Judgements, j.Rule+": "+j.Says)
		}
		if hourly, ok := s.AirHours(k.At, 72); ok {
			if j, err := weather.ColdSpell(hourly); err == nil && j.Broken() {
				v.Judgements = append(v.Judgements, j.Rule+": "+j.Says)
			}
		}
		return
	}
}

// hours to come, as last forecast, to the end of tomorrow.
func hours(s *fold.Site, now time.Time, in *time.Location) ([]Hour, string) {
	_, told := s.Weather()
	until := StartOfDay(now.In(in)).AddDate(0, 0, 2)
	var all []Hour
	source := ""
	for _, k := range told {
		if k.At.Before(now.Add(-time.Hour)) || !k.At.Before(until) {
			continue
		}
		h := Hour{At: k.At.UTC(), AirC: Maybe(k.Air), RainMM: k.RainMillimetres}
		if k.Full() {
			if rate, err := s.Plan().DryingAt(k, *k.Air); err == nil {
				h.EvaporationKgM2H = Number(rate.SI.Rate)
			}
		}
		h.Workable, h.Why = Workable(s.Plan(), k)
		all, source = append(all, h), k.Station
	}
	return all, source
}

// Workable says whether an hour's weather lets a crew place, and if not, why. Rain from 1 mm an hour is a choice of
// this program, and so is how far over the site's evaporation limit an hour must be; the cold is the published limit.
func Workable(p *fold.Plan, k fold.Sky) (bool, string) {
	const rain = 1.0 // mm in the hour
	fallen := func(mm float64) string { return p.System.Thickness(unit.Length(mm) * unit.Millimetre) }
	if k.RainMillimetres != nil && *k.RainMillimetres >= rain {
		return false, fmt.Sprintf("rain %s, from %s in the hour on", fallen(*k.RainMillimetres), fallen(rain))
	}
	if k.Air == nil {
		return true, ""
	}
	if j, err := weather.ColdWeather(*k.Air); err == nil {
		if v := Verdict(j, p.System); v.Broken {
			return false, fmt.Sprintf("cold: %s, under %g %s", p.System.Temperature(*k.Air), v.Limit, v.Unit)
		}
	}
	if rate, err := p.DryingAt(k, *k.Air); err == nil && rate.Unfit {
		is, limit := p.Unfit(rate)
		return false, fmt.Sprintf("drying: %s, over %s, twice the site's limit", p.System.Evaporation(is),
			p.System.Evaporation(limit))
	}
	return true, ""
}

// Verdict is what evaporation asks for, in words.
func Verdict(j weather.Judgement, sys unit.System) weather.Verdict {
	if sys == unit.US {
		return j.US
	}
	return j.SI
}
