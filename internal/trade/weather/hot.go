package weather

import (
	"hod/internal/unit"
)

// The limits of hot weather and of heat inside a member, as printed in both systems.
var (
	HotMortar       = Degrees{C: 35, F: 95}
	PeakInside      = Degrees{C: 70, F: 158}
	InsideToSurface = Degrees{C: 20, F: 35}
)

// HotWeather judges mortar as it leaves the mixer against 95 °F (35 °C). Source: ACI 301-20 and ACI 305.1-14.
func HotWeather(mortar unit.Celsius) (Judgement, error) {
	if err := checkTemperature("a mortar temperature", mortar); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "hot weather",
		Says: "mortar this hot sets fast and dries fast: cool the water, shade the sand, mix less at a time",
		Source: Source{
			Name: "temperature at discharge", Text: "at most 95 °F (35 °C)",
			Published: "ACI 301-20; ACI 305.1-14",
		},
	}
	j.SI, j.US = above(mortar, HotMortar)
	return j, nil
}

// Peak judges the hottest reading inside a coat against 158 °F (70 °C), a mass-concrete limit: a thin shell seldom
// comes near it, so a reading over it first throws doubt on the probe. Source: ACI 301 and 207, from memory.
func Peak(inside unit.Celsius) (Judgement, error) {
	if err := checkTemperature("a temperature inside", inside); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "peak inside", Says: "hotter than a thin shell should get: check the probe, then tell the engineer",
		Source: Source{
			Name: "peak temperature in place", Text: "at most 158 °F (70 °C)", Published: "ACI 301; ACI 207",
			FromMemory: true,
		},
	}
	j.SI, j.US = above(inside, PeakInside)
	return j, nil
}

// InsideOverSurface judges by how much the inside is warmer than the surface against 35 F° (20 K), a mass-concrete
// limit: see Peak.
func InsideOverSurface(difference unit.Kelvins) (Judgement, error) {
	if err := checkDifference("a difference", difference); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "inside over surface",
		Says: "a wider difference than a thin shell should have: check the probe, then tell the engineer",
		Source: Source{
			Name: "inside over surface", Text: "at most 35 F° (20 K)", Published: "ACI 301; ACI 207",
			FromMemory: true,
		},
	}
	j.SI, j.US = moreThan(difference, InsideToSurface)
	return j, nil
}
