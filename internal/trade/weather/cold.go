package weather

import (
	"errors"
	"fmt"
	"time"

	"hod/internal/unit"
)

// The limits of cold weather, each as printed in both systems.
var (
	// ColdAir is the air below which cold-weather care is due.
	ColdAir = Degrees{C: 4, F: 40}
	// MaturedEnough is the strength from which a single freezing does no lasting harm: 3.5 MPa, 500 psi.
	MaturedEnough = unit.PressureLimits(3.5, 500, 1e-4, 1e-2)
	// NearFreezing is how close to 0 °C a surface is "near" it. The source gives no number; 2 K is our reading.
	NearFreezing unit.Kelvins = 2
)

const aci306 = "ACI 306R-10"

// ColdWeather judges the lowest air expected at any time in the protection period against 40 °F (4 °C). Source: ACI
// 306R-10, from memory.
func ColdWeather(lowestAir unit.Celsius) (Judgement, error) {
	if err := checkTemperature("an air temperature", lowestAir); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "cold weather", Says: "air this cold in the protection period calls for cold-weather care",
		Source: Source{
			Name: "cold weather", Text: "air below 40 °F (4 °C) at any time in the protection period",
			Published: aci306, FromMemory: true,
		},
	}
	j.SI, j.US = below(lowestAir, ColdAir)
	return j, nil
}

// ColdSpell is the older rule: the mean of each of the last three days below 40 °F, and in no 24 hours of them more
// than half above 50 °F. It takes hourly air, oldest first, of which the last 72 are judged; fewer are an error. It
// judges in °F alone, as it was written. Source: PCA Design and Control of Concrete Mixtures, chapter 14.
func ColdSpell(hourly []unit.Celsius) (Judgement, error) {
	if len(hourly) < 72 {
		return Judgement{}, fmt.Errorf("%d hourly readings do not make three days; give 72 or more", len(hourly))
	}
	hourly = hourly[len(hourly)-72:]
	warm, spell, worst := 0, true, 0.0
	var mean [3]float64
	for i, t := range hourly {
		if err := checkTemperature(fmt.Sprintf("reading %d: an air temperature", i+1), t); err != nil {
			return Judgement{}, err
		}
		mean[i/24] += t.Fahrenheit() / 24
		if isWarm(t) {
			warm++
		}
		if i >= 24 && isWarm(hourly[i-24]) {
			warm--
		}
		if warm > 12 {
			spell = false
		}
	}
	worst = max(mean[0], mean[1], mean[2]) // the warmest of the three decides
	if rounded(worst, stepDegrees) >= ColdAir.F {
		spell = false
	}
	return Judgement{
		Rule: "cold spell", Says: "three days as cold as this call for cold-weather care",
		SI: Verdict{Measured: float64(unit.Fahrenheit(worst)), Limit: ColdAir.C, Unit: "°C", Broken: spell},
		US: Verdict{Measured: worst, Limit: ColdAir.F, Unit: "°F", Broken: spell},
		Source: Source{
			Name:      "cold weather, older text",
			Text:      "mean daily air below 40 °F for three days and not above 50 °F for more than half of any 24 hours",
			Published: "PCA Design and Control of Concrete Mixtures, chapter 14",
		},
	}, nil
}

func isWarm(t unit.Celsius) bool { return rounded(t.Fahrenheit(), stepDegrees) > 50 }

var placing = [...]Degrees{Thin: {13, 55}, Medium: {10, 50}, Thick: {7, 45}, Massive: {5, 40}}

// PlacingTemperature judges mortar as placed, and as it is kept through the protection period, against the least that a
// section of that thickness may have. Source: ACI 306R-10, table 3.1, from memory.
func PlacingTemperature(mortar unit.Celsius, thickness unit.Length) (Judgement, error) {
	class, err := SectionOf(thickness)
	if err != nil {
		return Judgement{}, err
	}
	if err := checkTemperature("a mortar temperature", mortar); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "temperature as placed and kept",
		Says: "mortar colder than this may freeze or set too late: warm it and insulate",
		Source: Source{
			Name:      "least temperature as placed and maintained",
			Text:      "under 12 in 55 °F, to 36 in 50, to 72 in 45, over 40",
			Published: aci306 + ", table 3.1", FromMemory: true,
		},
	}
	j.SI, j.US = below(mortar, placing[class])
	return j, nil
}

// MixedTemperature judges mortar as mixed in cold weather: for a section under 12 in 60 °F in air above 30 °F, 65 down
// to 0 °F, 70 below; five degrees less for each thicker class. Source: ACI 306R-10, table 3.1, from memory.
func MixedTemperature(mortar, air unit.Celsius, thickness unit.Length) (Judgement, error) {
	class, err := SectionOf(thickness)
	if err != nil {
		return Judgement{}, err
	}
	if err := errors.Join(checkTemperature("a mortar temperature", mortar),
		checkTemperature("an air temperature", air)); err != nil {
		return Judgement{}, err
	}
	table := [3][4]Degrees{
		{{16, 60}, {13, 55}, {10, 50}, {7, 45}},
		{{18, 65}, {16, 60}, {13, 55}, {10, 50}},
		{{21, 70}, {18, 65}, {16, 60}, {13, 55}},
	}
	row := 0
	switch f := rounded(air.Fahrenheit(), stepDegrees); {
	case f < 0:
		row = 2
	case f <= 30:
		row = 1
	}
	j := Judgement{
		Rule: "temperature as mixed",
		Says: "mixed colder than this it will be too cold once placed: warm the water, then the sand",
		Source: Source{
			Name:      "least temperature as mixed",
			Text:      "under 12 in: 60 °F in air above 30 °F, 65 at 0 to 30, 70 below 0; 5 less for each thicker class",
			Published: aci306 + ", table 3.1", FromMemory: true,
		},
	}
	j.SI, j.US = below(mortar, table[row][class])
	return j, nil
}

var cooling = [...]Degrees{Thin: {28, 50}, Medium: {22, 40}, Thick: {17, 30}, Massive: {11, 20}}

// Cooling judges how far the surface fell in any 24 hours after protection ended. Source: ACI 306R-10, table 3.1, from
// memory.
func Cooling(fall unit.Kelvins, thickness unit.Length) (Judgement, error) {
	class, err := SectionOf(thickness)
	if err != nil {
		return Judgement{}, err
	}
	if err := checkDifference("a fall", fall); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "cooling after protection",
		Says: "cooling faster than this can crack it: take the protection off by degrees",
		Source: Source{
			Name: "greatest fall in 24 hours", Text: "under 12 in 50 F°, to 36 in 40, to 72 in 30, over 20",
			Published: aci306 + ", table 3.1", FromMemory: true,
		},
	}
	j.SI, j.US = moreThan(fall, cooling[class])
	return j, nil
}

// Service is what a member must bear when protection ends.
type Service int

const (
	NoLoadSheltered Service = iota // no load, not exposed
	NoLoadExposed                  // no load, exposed to weather
	PartialLoad                    // partial load, exposed
)

// ProtectionSource is the table behind Protection.
var ProtectionSource = Source{
	Name:      "protection period",
	Text:      "no load and not exposed 2 days (1 with accelerator), no load and exposed 3 (2), partial load and exposed 6 (4)",
	Published: aci306 + ", table 5.1", FromMemory: true,
}

// Protection is how long a member is protected in cold weather. It says nothing of when supports may go: that is for
// the responsible licensed engineer.
func Protection(s Service, accelerated bool) (time.Duration, error) {
	days := [...][2]int{NoLoadSheltered: {2, 1}, NoLoadExposed: {3, 2}, PartialLoad: {6, 4}}
	if s < 0 || int(s) >= len(days) {
		return 0, fmt.Errorf("no protection period for service %d; full load is for the engineer to decide", int(s))
	}
	column := 0
	if accelerated {
		column = 1
	}
	return time.Duration(days[s][column]) * day, nil
}

const day = 24 * time.Hour

// Frost judges the lowest temperature of the mortar itself against freezing, while it is weaker than 3.5 MPa (500 psi).
// SI and US differ where the strength lies between the two printed figures. Strength 0 is fresh. Source: PCA Design and
// Control of Concrete Mixtures, chapter 14, after Powers: reached in about 24 hours at ordinary temperature with w/cm
// under 0.60.
func Frost(lowest unit.Celsius, strength unit.Pressure) (Judgement, error) {
	if err := checkTemperature("a mortar temperature", lowest); err != nil {
		return Judgement{}, err
	}
	if !(strength >= 0 && strength <= 500*unit.Megapascal) {
		return Judgement{}, fmt.Errorf("a strength of %.4g MPa cannot be used; give 0 to 500 MPa",
			float64(strength/unit.Megapascal))
	}
	j := Judgement{
		Rule: "frost", Says: "frozen before 3.5 MPa (500 psi): its strength may be lost for good; have it examined",
		Source: Source{
			Name:      "no freezing before 500 psi (3.5 MPa)",
			Text:      "mortar at or below freezing while weaker than 500 psi (3.5 MPa)",
			Published: "PCA Design and Control of Concrete Mixtures, chapter 14, after Powers",
		},
	}
	frozen := rounded(float64(lowest), stepDegrees) <= 0
	j.SI = Verdict{Measured: float64(lowest), Limit: 0, Unit: "°C", Broken: frozen &&
		MaturedEnough.Below(unit.Metric, strength)}
	j.US = Verdict{Measured: lowest.Fahrenheit(), Limit: 32, Unit: "°F", Broken: frozen &&
		MaturedEnough.Below(unit.US, strength)}
	return j, nil
}

// ColdSurface judges the surface or armature that mortar is to be placed on: stop near freezing, which is taken as
// NearFreezing above it. Source: ACI 306R-10, from memory; no placing on frozen ground or forms.
func ColdSurface(surface unit.Celsius) (Judgement, error) {
	if err := checkTemperature("a surface temperature", surface); err != nil {
		return Judgement{}, err
	}
	j := Judgement{
		Rule: "placing on a cold surface",
		Says: "stop: the surface is at or near freezing; nothing is placed on frozen ground, mesh or forms",
		Source: Source{
			Name:      "no placing on frozen surfaces",
			Text:      "stop where the surface is near 32 °F (0 °C); near is taken as within 2 K",
			Published: aci306, FromMemory: true,
		},
	}
	near := Degrees{C: float64(NearFreezing), F: 32 + float64(NearFreezing)*9/5}
	j.SI, j.US = below(surface, near)
	return j, nil
}
