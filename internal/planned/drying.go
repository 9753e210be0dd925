package planned

import (
	"fmt"

	"hod/internal/air"
	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// Drying is what the air of a reading does to a fresh surface at a temperature.
type DryingRate struct {
	SI, US, Menzel weather.Estimate
	Over           bool // the site's limit, judged in the site's system
	Unfit          bool // so far over it that nobody should plan to place
}

// DryingAt a reading. An error says what was not read or cannot be.
func (p *Rules) DryingAt(k air.Sky, surface unit.Celsius) (DryingRate, error) {
	air, err := k.Moist()
	if err != nil {
		return DryingRate{}, err
	}
	if k.Wind == nil {
		return DryingRate{}, fmt.Errorf("wind was not read")
	}
	o := weather.Observation{Air: air, Wind: *k.Wind, Surface: surface}
	var d DryingRate
	if d.SI, err = weather.UnoSI(o); err != nil {
		return d, err
	}
	if d.US, err = weather.UnoUS(o); err != nil {
		return d, err
	}
	if d.Menzel, err = weather.MenzelSI(o, weather.Uno); err != nil {
		return d, err
	}
	d.Over, d.Unfit = p.dries(d, 1), p.dries(d, unfitToPlace)
	return d, nil
}

// unfitToPlace is how many times the site's limit an hour's drying must pass for the hour to count as no working hour.
// A choice of this program.
const unfitToPlace = 2

// Unfit gives a rate, and that over which an hour is no working hour, both as the site's own system has them.
func (p *Rules) Unfit(d DryingRate) (rate, limit unit.Evaporation) {
	if p.System == unit.US {
		return d.US.Rate, unit.Evaporation(unfitToPlace*p.EvaporationUS) * unit.PoundPerSquareFootHour
	}
	return d.SI.Rate, unfitToPlace * p.Evaporation
}

// dries says whether a rate passes the site's limit so many times over, in the site's own system.
func (p *Rules) dries(d DryingRate, times float64) bool {
	limits := unit.EvaporationLimits(times*float64(p.Evaporation), times*p.EvaporationUS, 0.001, 0.0001)
	if p.System == unit.US {
		return limits.Exceeded(unit.US, d.US.Rate)
	}
	return limits.Exceeded(unit.Metric, d.SI.Rate)
}
