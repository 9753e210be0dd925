package shell

import (
	"errors"
	"math"

	"hod/internal/unit"
)

// Vault is a parabolic vault: a parabola of that span and rise drawn along a length.
type Vault struct{ Span, Rise, Length unit.Length }

// Barrel is a circular barrel vault; a rise over half the span closes beyond the half-circle.
type Barrel struct{ Span, Rise, Length unit.Length }

// Catenary is a vault on a hanging chain's curve turned over.
type Catenary struct{ Span, Rise, Length unit.Length }

func checkVault(span, rise, length unit.Length) error {
	return errors.Join(dimension("span", span, false), dimension("rise", rise, true),
		dimension("length", length, false))
}

// Formula is the closed form, in words.
func (Vault) Formula() string {
	return "parabola: s = a √(1+k²) + (a/k) asinh k, a = span/2, k = 2 rise/a; area = s × length"
}

// Measure gives the area, the arc from edge to edge and the volume under the vault (2/3 span × rise × length).
func (v Vault) Measure() (Measures, error) {
	if err := checkVault(v.Span, v.Rise, v.Length); err != nil {
		return Measures{}, err
	}
	a, h, l := float64(v.Span)/2, float64(v.Rise), float64(v.Length)
	arc := parabola(a, h)
	return Measures{
		Area: unit.Area(arc * l), Arc: unit.Length(arc), Enclosed: unit.Volume(2.0 / 3 * 2 * a * h * l),
		Mean: l * math.Atan(2*h/a), Sharpest: 2 * h / (a * a),
	}, nil
}

// Formula is the closed form, in words.
func (Barrel) Formula() string {
	return "circle: s = R θ, R = (a² + rise²)/(2 rise), a = span/2, θ = 4 atan(rise/a); area = s × length"
}

// Measure gives the area, the arc from edge to edge and the volume under the vault.
func (b Barrel) Measure() (Measures, error) {
	if err := checkVault(b.Span, b.Rise, b.Length); err != nil {
		return Measures{}, err
	}
	a, h, l := float64(b.Span)/2, float64(b.Rise), float64(b.Length)
	arc := circle(a, h)
	return Measures{
		Area: unit.Area(arc * l), Arc: unit.Length(arc), Enclosed: unit.Volume(segment(a, h) * l),
		Mean: l * 2 * math.Atan(h/a), Sharpest: 2 * h / (a*a + h*h),
	}, nil
}

// Radius is that of the circle. A barrel of rise 0 has none.
func (b Barrel) Radius() (unit.Length, error) {
	if err := checkVault(b.Span, b.Rise, b.Length); err != nil {
		return 0, err
	}
	return radius(b.Span/2, b.Rise)
}

// radius is that of the circle through a chord of that half-width and a rise over it.
func radius(a, h unit.Length) (unit.Length, error) {
	if h < 1e-9 {
		return 0, errors.New("a rise of 0 has no radius of curvature: the shape is flat; give a rise above 0")
	}
	return (a*a + h*h) / (2 * h), nil
}

// Formula is the closed form, in words.
func (Catenary) Formula() string {
	return "catenary: s = 2 c sinh(a/c), c from rise = c (cosh(a/c) − 1), a = span/2; area = s × length"
}

// Measure gives the area, the arc from edge to edge and the volume under the vault.
func (c Catenary) Measure() (Measures, error) {
	if err := checkVault(c.Span, c.Rise, c.Length); err != nil {
		return Measures{}, err
	}
	a, h, l := float64(c.Span)/2, float64(c.Rise), float64(c.Length)
	u := hanging(h / a)
	arc, under := 2*a, 0.0
	if u > 0 {
		arc = 2 * a * math.Sinh(u) / u
		under = max(0, 2*a*(h-a*u*moreSinh(u)))
	}
	return Measures{
		Area: unit.Area(arc * l), Arc: unit.Length(arc), Enclosed: unit.Volume(under * l),
		Mean: l * math.Atan(math.Sinh(u)), Sharpest: u / a,
	}, nil
}

// Parameter is the catenary's c, its radius of curvature at the crown. A catenary of rise 0 has none.
func (c Catenary) Parameter() (unit.Length, error) {
	if err := checkVault(c.Span, c.Rise, c.Length); err != nil {
		return 0, err
	}
	if c.Rise < 1e-9 {
		return 0, errors.New("a catenary of rise 0 has no parameter: the chain is straight; give a rise above 0")
	}
	a := float64(c.Span) / 2
	return unit.Length(a / hanging(float64(c.Rise)/a)), nil
}
