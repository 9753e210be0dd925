package setting

import (
	"fmt"
	"math"
	"time"

	"hod/internal/unit"
)

// Film is a surface's heat transfer coefficient, W/(m²·K): how readily it gives heat to the air.
type Film float64

// StillAir is the film of a surface in still air, radiation included: 8.3 W/(m²·K), the vertical surface of ASHRAE
// Fundamentals (1.46 Btu/(h·ft²·°F); from memory).
const StillAir Film = 8.3

// WindFilm is the film of a surface in wind v: 5.7 + 3.8 v, v in m/s along the surface. Source: McAdams, Heat
// Transmission, for plates below about 5 m/s (from memory); at 10 m/s it is still within a few per cent of his power
// form. An error below 0 or above 30 m/s.
func WindFilm(v unit.Speed) (Film, error) {
	if !(v >= 0 && v <= 30) {
		return 0, fmt.Errorf("wind %.4g m/s is outside 0 to 30 m/s (67 mph)", float64(v))
	}
	return Film(5.7 + 3.8*float64(v)), nil
}

// SpecificHeat is the heat that a kilogram takes up for each kelvin, J/(kg·K).
type SpecificHeat float64

// FreshHeat is the specific heat of fresh mortar of which the share water by mass is water: solids have 0.22 of water's
// 4186.8 J/(kg·K), as in the mix temperature formula of ACI 305R. About 1350 J/(kg·K) for a mortar with 13 % water.
func FreshHeat(water unit.Share) (SpecificHeat, error) {
	if !(water >= 0 && water <= 1) {
		return 0, fmt.Errorf("share of water %g must lie between 0 and 1", float64(water))
	}
	return SpecificHeat(4186.8 * (0.22*(1-float64(water)) + float64(water))), nil
}

// Layer is a coat of mortar between two surfaces that lose heat.
type Layer struct {
	Thickness    unit.Length
	Density      unit.Density
	SpecificHeat SpecificHeat
	Outer, Inner Film // 0 is a face that loses nothing, such as one against foam
}

// TimeConstant is the time in which the layer's difference from the air falls to 37 %: ρ c d / (outer + inner film),
// the layer taken to be of one temperature through its thickness. That holds while its Biot number is small, below 0.1;
// sun, evaporation and the cement's own heat are left out. An error where a figure is missing or both faces are
// insulated.
func (l Layer) TimeConstant() (time.Duration, error) {
	if err := l.check(); err != nil {
		return 0, err
	}
	seconds := float64(l.Density) * float64(l.SpecificHeat) * float64(l.Thickness) / float64(l.Outer+l.Inner)
	if seconds > maxSeconds {
		return 0,
			fmt.Errorf(
				"a layer that takes more than %v to follow the air is as good as insulated: check its film coefficients", maxDuration)
	}
	return duration(seconds), nil
}

func (l Layer) check() error {
	for _, f := range []struct {
		name  string
		value float64
		most  float64
		unit  string
	}{
		{"thickness", float64(l.Thickness), 10, "m"},
		{"density", float64(l.Density), 10000, "kg/m³"},
		{"specific heat", float64(l.SpecificHeat), 10000, "J/(kg·K)"},
		{"sum of the film coefficients", float64(l.Outer + l.Inner), 10000, "W/(m²·K)"},
	} {
		if !(f.value > 0 && f.value <= f.most) {
			return fmt.Errorf("layer's %s is %.4g %s: it must be above 0 and at most %g %s", f.name, f.value, f.unit,
				f.most, f.unit)
		}
	}
	if l.Outer < 0 || l.Inner < 0 {
		return fmt.Errorf("layer's film coefficients are %g and %g W/(m²·K): neither can be below 0", float64(l.Outer),
			float64(l.Inner))
	}
	return nil
}

// RelaxStep and RelaxHorizon are the grid on which Relax computes ahead. Between two of its points the air is taken as
// a straight line and the layer follows that exactly.
const (
	RelaxStep    = 5 * time.Minute
	RelaxHorizon = 72 * time.Hour
)

// Relax is the temperature of a layer that starts at start and follows the air with time constant tau: dT/dt = (air -
// T)/tau. Before from it is start. After RelaxHorizon the layer is the air and what is left of its lag. tau of 0 or
// less follows at once. The air is read once for each RelaxStep, as far as the layer was asked about and never further
// than RelaxHorizon; what the air gives that is no temperature comes out again, and Consumed refuses it. The
// Temperature is not for several goroutines.
func Relax(start unit.Celsius, from time.Time, air Temperature, tau time.Duration) Temperature {
	return RelaxWithin(start, from, air, tau, RelaxHorizon)
}

// RelaxWithin is Relax with a horizon of its own. Within the shorter of two horizons the answers are the same to the
// bit.
func RelaxWithin(start unit.Celsius, from time.Time, air Temperature, tau, horizon time.Duration) Temperature {
	if tau <= 0 {
		return func(at time.Time) unit.Celsius {
			if at.Before(from) {
				return start
			}
			return air(at)
		}
	}
	horizon = min(max(horizon, RelaxStep), RelaxHorizon)
	var (
		n      = int((horizon + RelaxStep - 1) / RelaxStep)
		step   = RelaxStep.Seconds()
		lag    = tau.Seconds()
		decay  = math.Exp(-step / lag)
		airs   = []float64{float64(air(from))}
		layers = []float64{float64(start)}
	)
	reach := func(i int) { // works out the points up to i
		for at := len(airs); at <= i; at++ {
			airs = append(airs, float64(air(from.Add(time.Duration(at)*RelaxStep))))
			layers = append(layers, follow(layers[at-1], airs[at-1], (airs[at]-airs[at-1])/step, step, lag, decay))
		}
	}
	return func(at time.Time) unit.Celsius {
		since := at.Sub(from)
		if since <= 0 {
			return start
		}
		if i := int(since / RelaxStep); i < n {
			reach(i + 1)
			x := (since - time.Duration(i)*RelaxStep).Seconds()
			return unit.Celsius(follow(layers[i], airs[i], (airs[i+1]-airs[i])/step, x, lag, math.Exp(-x/lag)))
		}
		reach(n)
		left := (layers[n] - airs[n]) * math.Exp(-(since-time.Duration(n)*RelaxStep).Seconds()/lag)
		return air(at) + unit.Celsius(left)
	}
}

// follow is a layer at t0 after x seconds beside air that starts at a0 and changes by slope a second.
func follow(t0, a0, slope, x, lag, decay float64) float64 {
	behind := slope * lag // what the layer trails a steady rise by
	return a0 + slope*x - behind + (t0-a0+behind)*decay
}
