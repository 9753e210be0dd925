package curing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"hod/internal/unit"
)

// Cube is a mortar cube of ASTM C109, 2 in or 50 mm on edge.
type Cube struct{ Edge unit.Length }

// Cylinder is a specimen of ASTM C39. A Length of 0 means that it was not measured and is taken as twice the diameter.
type Cylinder struct{ Diameter, Length unit.Length }

// Strength is load over the area of one face.
func (c Cube) Strength(load unit.Force) (unit.Pressure, error) {
	if err := size("cube's edge", c.Edge); err != nil {
		return 0, err
	}
	return pressure(load, float64(c.Edge)*float64(c.Edge))
}

// Strength is load over the cross-section, times Correction.
func (c Cylinder) Strength(load unit.Force) (unit.Pressure, error) {
	if err := size("cylinder's diameter", c.Diameter); err != nil {
		return 0, err
	}
	factor, err := c.Correction()
	if err != nil {
		return 0, err
	}
	p, err := pressure(load, math.Pi/4*float64(c.Diameter)*float64(c.Diameter))
	return p * unit.Pressure(factor), err
}

// slenderness are the correction factors of ASTM C39 by length over diameter (from memory), straight between.
var slenderness = mustLinear([]float64{1, 1.25, 1.5, 1.75, 2}, []float64{0.87, 0.93, 0.96, 0.98, 1})

func mustLinear(xs, ys []float64) *interp.PiecewiseLinear {
	p := new(interp.PiecewiseLinear)
	if err := p.Fit(xs, ys); err != nil {
		panic(err) // the table above is wrong
	}
	return p
}

// Correction is the factor for a cylinder shorter than twice its diameter, 0.87 at once its diameter; 1 from twice on.
// C39 itself asks for it from 1.75 down; between 1.75 and 2 it is the cautious reading. An error where length over
// diameter is below 1 or above 2.5.
func (c Cylinder) Correction() (float64, error) {
	if c.Length == 0 {
		return 1, nil
	}
	if err := size("cylinder's length", c.Length); err != nil {
		return 0, err
	}
	if err := size("cylinder's diameter", c.Diameter); err != nil {
		return 0, err
	}
	ratio := math.Round(float64(c.Length)/float64(c.Diameter)*1e9) / 1e9 // 0.2/0.1 is 2 on every machine
	if ratio < 1 || ratio > 2.5 {
		return 0, fmt.Errorf("cylinder of %.4g mm by %.4g mm is %.3g diameters long: ASTM C39 has factors from 1 to 2",
			float64(c.Length)*1e3, float64(c.Diameter)*1e3, ratio)
	}
	return slenderness.Predict(min(ratio, 2)), nil
}

func size(what string, l unit.Length) error {
	if !(l >= 0.01 && l <= 1) {
		return fmt.Errorf("%s %.4g mm must lie between 10 and 1000 mm", what, float64(l)*1e3)
	}
	return nil
}

func pressure(load unit.Force, area float64) (unit.Pressure, error) {
	if !(load > 0) || load > 1e8 {
		return 0, fmt.Errorf("load %.4g N must be above 0 and at most 100 MN", float64(load))
	}
	return unit.Pressure(float64(load) / area), nil
}

// RunningAverages are those of each three consecutive tests, in the order given; none for fewer than three.
func RunningAverages(tests []unit.Pressure) []unit.Pressure {
	var averages []unit.Pressure
	for i := 2; i < len(tests); i++ {
		averages = append(averages, (tests[i-2]+tests[i-1]+tests[i])/3)
	}
	return averages
}

// RequiredAverage is the average strength that a mix must have for the specified strength to be met, from the standard
// deviation s of earlier tests and their number. Source: ACI 301 and 214R, in psi (from memory): the larger of fc' +
// 1.34 s and fc' + 2.33 s - 500, the latter 0.90 fc' + 2.33 s above 5000 psi; s larger by 1.16 to 1.00 for 15 to 30
// tests. With fewer than 15 tests s says nothing: fc' + 1000 below 3000 psi, + 1200 up to 5000, 1.10 fc' + 700 above.
func RequiredAverage(specified, s unit.Pressure, tests int) (unit.Pressure, error) {
	fc, sd := float64(specified/unit.PSI), float64(s/unit.PSI)
	if !(fc > 0) || fc > 150e3 {
		return 0, fmt.Errorf("specified strength %.4g psi must be above 0", fc)
	}
	if tests < 15 {
		switch {
		case rounded(fc) < 3000:
			fc += 1000
		case rounded(fc) <= 5000:
			fc += 1200
		default:
			fc = 1.10*fc + 700
		}
		return unit.Pressure(fc) * unit.PSI, nil
	}
	if !(sd >= 0) || sd > 150e3 {
		return 0, fmt.Errorf("standard deviation %.4g psi must be 0 or above", sd)
	}
	sd *= fewTests.Predict(float64(min(tests, 30)))
	second := fc + 2.33*sd - 500
	if rounded(fc) > 5000 {
		second = 0.90*fc + 2.33*sd
	}
	return unit.Pressure(max(fc+1.34*sd, second)) * unit.PSI, nil
}

// fewTests enlarges a standard deviation from fewer than thirty tests. Source: ACI 301 (from memory).
var fewTests = mustLinear([]float64{15, 20, 25, 30}, []float64{1.16, 1.08, 1.03, 1})

// rounded is a strength in psi to the step in which it is compared with a limit.
func rounded(psi float64) float64 { return math.Round(psi*10) / 10 }
