package shell

import (
	"errors"
	"math"

	"hod/internal/unit"
)

// Hypar is a hyperbolic paraboloid over a rectangle with one corner lifted by Rise: z = Rise x y/(Length Width).
type Hypar struct{ Length, Width, Rise unit.Length }

// Formula is the closed form, in words.
func (Hypar) Formula() string {
	return "hypar: A c² = XYr/3 + X(3+X²)/6 asinh(Y/√(1+X²)) + Y(3+Y²)/6 asinh(X/√(1+Y²)) − atan(XY/r)/3, c = rise/(length width), X = c length, Y = c width, r = √(1+X²+Y²)"
}

// Measure gives the area and the volume over the flat rectangle. The surface has no arc: its straight lines run both
// ways.
func (s Hypar) Measure() (Measures, error) {
	err := errors.Join(dimension("length", s.Length, false), dimension("width", s.Width, false),
		dimension("rise", s.Rise, true))
	if err != nil {
		return Measures{}, err
	}
	a, b, h := float64(s.Length), float64(s.Width), float64(s.Rise)
	c := h / a / b
	x, y := h/b, h/a
	m := Measures{Area: unit.Area(a * b), Enclosed: unit.Volume(a * b * h / 4), Sharpest: c}
	if x*y < 1e-200 { // flat to every digit that there is
		return m, nil
	}
	r := math.Sqrt(1 + x*x + y*y)
	sum := x*y*r/3 + x*(3+x*x)/6*math.Asinh(y/math.Sqrt(1+x*x)) +
		y*(3+y*y)/6*math.Asinh(x/math.Sqrt(1+y*y)) - math.Atan(x*y/r)/3
	m.Area = unit.Area(a * b * (sum / (x * y)))
	m.Mean = corners(x*x, y*y) / (4 * c)
	m.Gauss = -math.Atan(x * y / r)
	return m, nil
}

// corners is [s ln s] over the rectangle's corners, s = 1 + p + q: (1+p+q)ln(1+p+q) − (1+p)ln(1+p) − (1+q)ln(1+q). A
// low rise makes that a small difference of large terms, so there it is written otherwise.
func corners(p, q float64) float64 {
	if both := p / (1 + p) * (q / (1 + q)); both < 0.5 {
		return (1+p+q)*math.Log1p(-both) + q*math.Log1p(p) + p*math.Log1p(q)
	}
	return (1+p+q)*math.Log(1+p+q) - (1+p)*math.Log1p(p) - (1+q)*math.Log1p(q)
}
