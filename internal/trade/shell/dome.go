package shell

import (
	"errors"
	"fmt"
	"math"

	"hod/internal/unit"
)

// Paraboloid is a dome of revolution on a parabola, by the radius of its rim and its rise.
type Paraboloid struct{ Radius, Rise unit.Length }

// Cap is a part of a sphere, by the radius of its rim and its rise; a rise over the radius is more than half a sphere.
type Cap struct{ Radius, Rise unit.Length }

// HalfSpheroid is half an ellipsoid of revolution that stands upright on its rim: flattened where the rise is under the
// radius, pointed where over.
type HalfSpheroid struct{ Radius, Rise unit.Length }

// Frustum is a cone with its top cut off; TopRadius 0 is a whole cone.
type Frustum struct{ Radius, TopRadius, Rise unit.Length }

// Torus is a ring: the radius of its middle line and that of its tube.
type Torus struct{ Radius, Tube unit.Length }

func checkDome(radius, rise unit.Length) error {
	return errors.Join(dimension("radius", radius, false), dimension("rise", rise, true))
}

// Formula is the closed form, in words.
func (Paraboloid) Formula() string { return "paraboloid: A = π R ((R² + 4h²)^1.5 − R³)/(6h²)" }

// Measure gives the area, the arc from rim to rim over the top and the volume under the dome.
func (p Paraboloid) Measure() (Measures, error) {
	if err := checkDome(p.Radius, p.Rise); err != nil {
		return Measures{}, err
	}
	r, h := float64(p.Radius), float64(p.Rise)
	x := 2 * h / r // slope at the rim
	q := x * x
	area, mean := math.Pi*r*r, 0.0
	if q > 1e-300 {
		area *= 2.0 / 3 * math.Expm1(1.5*math.Log1p(q)) / q
		mean = math.Pi * (h + r*math.Log1p(q)/(2*x))
	}
	return Measures{
		Area: unit.Area(area), Arc: unit.Length(parabola(r, h)), Enclosed: unit.Volume(math.Pi * r * r * h / 2),
		Mean: mean, Gauss: turned(x), Sharpest: x / r,
	}, nil
}

// turned is the solid angle that a dome's normals fill: 2π(1 − cos φ) for a slope of tan φ at the rim.
func turned(slope float64) float64 {
	root := math.Hypot(1, slope)
	return 2 * math.Pi * slope / root * (slope / (root + 1))
}

// Formula is the closed form, in words.
func (Cap) Formula() string { return "spherical cap: A = π(a² + h²), R = (a² + h²)/(2h)" }

// Measure gives the area, the arc from rim to rim over the top and the volume under the cap.
func (c Cap) Measure() (Measures, error) {
	if err := checkDome(c.Radius, c.Rise); err != nil {
		return Measures{}, err
	}
	a, h := float64(c.Radius), float64(c.Rise)
	both := a*a + h*h
	return Measures{
		Area: unit.Area(math.Pi * both), Arc: unit.Length(circle(a, h)),
		Enclosed: unit.Volume(math.Pi * h * (3*a*a + h*h) / 6),
		Mean:     2 * math.Pi * h, Gauss: 4 * math.Pi * h * h / both, Sharpest: 2 * h / both,
	}, nil
}

// SphereRadius is that of the sphere. A cap of rise 0 has none.
func (c Cap) SphereRadius() (unit.Length, error) {
	if err := checkDome(c.Radius, c.Rise); err != nil {
		return 0, err
	}
	return radius(c.Radius, c.Rise)
}

// Formula is the closed form, in words.
func (HalfSpheroid) Formula() string {
	return "half spheroid: A = π a² (1 + (1−e²)/e atanh e) flattened, π a² (1 + c/(a e) asin e) pointed"
}

// Measure gives the area and the volume inside. A half spheroid of rise 0 is refused: its rim would be a knife's edge.
func (s HalfSpheroid) Measure() (Measures, error) {
	if err := errors.Join(dimension("radius", s.Radius, false), dimension("rise", s.Rise, false)); err != nil {
		return Measures{}, err
	}
	a, c := float64(s.Radius), float64(s.Rise)
	area, around := 1.0, 1.0
	switch {
	case c < a:
		e := math.Sqrt((a-c)*(a+c)) / a
		// Near a flat plate e rounds to 1, where atanh has no value; what it is multiplied by is then nearer to 0.
		area = math.Asinh(e*a/c) / e * (c / a) * (c / a)
		around = math.Atan2(e, c/a) / e
	case c > a:
		e := math.Sqrt((c-a)*(c+a)) / c
		area = math.Atan2(e, a/c) / e * (c / a)
		around = math.Asinh(e*c/a) / (e * c / a)
	}
	return Measures{
		Area: unit.Area(math.Pi * a * a * (1 + area)), Enclosed: unit.Volume(2.0 / 3 * math.Pi * a * a * c),
		Mean: math.Pi * (c + a*around), Gauss: 2 * math.Pi, Sharpest: max(c/(a*a), a/(c*c), 1/a),
	}, nil
}

// Formula is the closed form, in words.
func (Frustum) Formula() string { return "frustum: A = π(R + r) s, s = √((R − r)² + h²)" }

// Measure gives the area of the slope alone, the slope's length from rim to rim (Arc) and the volume inside. Near a tip
// narrower than a layer is thick, the layer counts a sliver twice.
func (f Frustum) Measure() (Measures, error) {
	err := errors.Join(dimension("radius", f.Radius, false), dimension("top radius", f.TopRadius, true),
		dimension("rise", f.Rise, true))
	if err != nil {
		return Measures{}, err
	}
	r, top, h := float64(f.Radius), float64(f.TopRadius), float64(f.Rise)
	slope := math.Hypot(r-top, h)
	if slope == 0 {
		return Measures{}, fmt.Errorf("a frustum of rise 0 with both radii %s is a line; give a rise, or a smaller top",
			both(f.Radius, unit.System.Length))
	}
	return Measures{
		Area: unit.Area(math.Pi * (r + top) * slope), Arc: unit.Length(slope),
		Enclosed: unit.Volume(math.Pi * h * (r*r + r*top + top*top) / 3),
		Mean:     math.Pi * h, Sharpest: h / slope / max(r, top),
	}, nil
}

// Formula is the closed form, in words.
func (Torus) Formula() string { return "torus: A = 4 π² R r" }

// Measure gives the area, the way once around the tube (Arc) and the volume inside. The tube must be thinner than the
// ring is wide.
func (o Torus) Measure() (Measures, error) {
	if err := errors.Join(dimension("radius", o.Radius, false), dimension("tube radius", o.Tube, false)); err != nil {
		return Measures{}, err
	}
	if o.Tube >= o.Radius {
		return Measures{}, fmt.Errorf("a tube of radius %s closes the hole of a ring of radius %s; give a smaller tube",
			both(o.Tube, unit.System.Length), both(o.Radius, unit.System.Length))
	}
	r, t := float64(o.Radius), float64(o.Tube)
	return Measures{
		Area: unit.Area(4 * math.Pi * math.Pi * r * t), Arc: unit.Length(2 * math.Pi * t),
		Enclosed: unit.Volume(2 * math.Pi * math.Pi * r * t * t),
		Mean:     2 * math.Pi * math.Pi * r, Sharpest: max(1/t, 1/(r-t)),
	}, nil
}
