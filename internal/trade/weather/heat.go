package weather

import (
	"fmt"
	"math"

	"hod/internal/unit"
)

// HeatIndexSource is the formula of HeatIndex.
var HeatIndexSource = Source{
	Name:      "heat index",
	Text:      "Rothfusz regression in °F and %, with the adjustments below 13 % and above 85 %; below 80 °F the mean of the air and 0.5 (T + 61 + 1.2 (T − 68) + 0.094 RH)",
	Published: "US National Weather Service, technical attachment SR 90-23", FromMemory: true,
}

// HeatLevel is the word that the weather service puts beside a heat index.
type HeatLevel string

const (
	Comfortable    HeatLevel = ""
	HeatCaution    HeatLevel = "caution"         // 80 °F and more
	ExtremeCaution HeatLevel = "extreme caution" // 90 °F and more
	Danger         HeatLevel = "danger"          // 103 °F and more
	ExtremeDanger  HeatLevel = "extreme danger"  // 125 °F and more
)

// Heat is how hot the air feels to a person in the shade.
type Heat struct {
	Index  unit.Celsius
	Level  HeatLevel
	Beyond bool // past the 137 °F where the published table ends: the number means only "far too hot"
}

// Fahrenheit is the index in °F, the unit of the formula.
func (h Heat) Fahrenheit() float64 { return h.Index.Fahrenheit() }

// HeatIndex tells how hot the air feels, for shade and light wind; full sun can add 15 °F (8 °C). Air −45 to 54 °C
// (130 °F). It speaks of people, not of mortar.
func HeatIndex(a Air) (Heat, error) {
	if err := a.check(); err != nil {
		return Heat{}, fmt.Errorf("heat index: %w", err)
	}
	t, r := a.Temperature.Fahrenheit(), 100*float64(a.Humidity)
	if !(t >= -50 && t <= 130) {
		return Heat{}, fmt.Errorf("heat index: air at %.4g °C cannot be used; give −45 to 54 °C (−50 to 130 °F)",
			float64(a.Temperature))
	}
	index := t
	if t > 40 { // below it the service shows the air as it is
		index = (t + 0.5*(t+61+1.2*(t-68)+0.094*r)) / 2
	}
	if index >= 80 {
		index = -42.379 + 2.04901523*t + 10.14333127*r - 0.22475541*t*r - 6.83783e-3*t*t - 5.481717e-2*r*r +
			1.22874e-3*t*t*r + 8.5282e-4*t*r*r - 1.99e-6*t*t*r*r
		switch {
		case r < 13 && t >= 80 && t <= 112:
			index -= (13 - r) / 4 * math.Sqrt((17-math.Abs(t-95))/17)
		case r > 85 && t >= 80 && t <= 87:
			index += (r - 85) / 10 * (87 - t) / 5
		}
	}
	h := Heat{Index: unit.Fahrenheit(index), Beyond: index > 137}
	switch at := rounded(index, 0.1); {
	case at >= 125:
		h.Level = ExtremeDanger
	case at >= 103:
		h.Level = Danger
	case at >= 90:
		h.Level = ExtremeCaution
	case at >= 80:
		h.Level = HeatCaution
	}
	return h, nil
}
