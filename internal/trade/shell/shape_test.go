package shell

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"

	"hod/internal/unit"
)

// surface is a twin of a shape by its parametrisation alone: the integrals come from quadrature of derivatives, which
// share nothing with the closed forms.
type surface struct {
	name       string
	shape      Shape
	at         func(u, v float64) (pu, pv, puu, puv, pvv Point)
	u0, u1     float64
	v0, v1     float64
	outwardUVs float64 // +1 where pu × pv points outward, else −1
}

func (s surface) integrals() (area, mean, gauss float64) {
	over := func(f func(u, v float64) float64) float64 {
		return quad.Fixed(func(u float64) float64 {
			return quad.Fixed(func(v float64) float64 { return f(u, v) }, s.v0, s.v1, 80, nil, 0)
		}, s.u0, s.u1, 80, nil, 0)
	}
	forms := func(u, v float64) (w, h, k float64) {
		pu, pv, puu, puv, pvv := s.at(u, v)
		n := cross(pu, pv)
		w = length(n)
		e, f, g := dot(pu, pu), dot(pu, pv), dot(pv, pv)
		l, m, o := dot(puu, n)/w, dot(puv, n)/w, dot(pvv, n)/w
		det := e*g - f*f
		return w, -s.outwardUVs * (e*o - 2*f*m + g*l) / (2 * det), (l*o - m*m) / det
	}
	area = over(func(u, v float64) float64 { w, _, _ := forms(u, v); return w })
	mean = over(func(u, v float64) float64 { w, h, _ := forms(u, v); return w * h })
	gauss = over(func(u, v float64) float64 { w, _, k := forms(u, v); return w * k })
	return area, mean, gauss
}

// cylindrical is a vault over the curve z(x); revolved is a dome of the profile z(r).
func cylindrical(dz, ddz func(x float64) float64) func(u, v float64) (pu, pv, puu, puv, pvv Point) {
	return func(u, _ float64) (pu, pv, puu, puv, pvv Point) {
		return Point{1, 0, dz(u)}, Point{0, 1, 0}, Point{0, 0, ddz(u)}, Point{}, Point{}
	}
}

func revolved(dz, ddz func(r float64) float64) func(u, v float64) (pu, pv, puu, puv, pvv Point) {
	return func(r, v float64) (pu, pv, puu, puv, pvv Point) {
		s, c := math.Sincos(v)
		return Point{c, s, dz(r)}, Point{-r * s, r * c, 0}, Point{0, 0, ddz(r)}, Point{-s, c, 0},
			Point{-r * c, -r * s, 0}
	}
}

func twins() []surface {
	turn := 2 * math.Pi
	const barrelRadius, capRadius = (12*12 + 4*4) / 8.0, (10*10 + 4*4) / 8.0
	circleSlopes := func(r float64) (dz, ddz func(x float64) float64) {
		return func(x float64) float64 { return -x / math.Sqrt(r*r-x*x) },
			func(x float64) float64 { return -r * r / math.Pow(r*r-x*x, 1.5) }
	}
	bz, bzz := circleSlopes(barrelRadius)
	cz, czz := circleSlopes(capRadius)
	ellipsoid := func(a, c float64) func(u, v float64) (pu, pv, puu, puv, pvv Point) {
		return func(u, v float64) (pu, pv, puu, puv, pvv Point) {
			su, cu := math.Sincos(u)
			sv, cv := math.Sincos(v)
			return Point{a * cu * cv, a * cu * sv, -c * su}, Point{-a * su * sv, a * su * cv, 0},
				Point{-a * su * cv, -a * su * sv, -c * cu}, Point{-a * cu * sv, a * cu * cv, 0}, Point{
					-a * su * cv,
					-a * su * sv, 0,
				}
		}
	}
	return []surface{
		{"parabolic vault", Vault{24, 4, 30}, cylindrical(func(x float64) float64 { return -8 * x / 144 },
			func(float64) float64 { return -8.0 / 144 }), -12, 12, 0, 30, 1},
		{"barrel", Barrel{24, 4, 30}, cylindrical(bz, bzz), -12, 12, 0, 30, 1},
		{
			"catenary",
			Catenary{2, unit.Length(math.Cosh(1) - 1), 3},
			cylindrical(func(x float64) float64 { return -math.Sinh(x) },
				func(x float64) float64 { return -math.Cosh(x) }), -1, 1, 0, 3, 1,
		},
		{"paraboloid", Paraboloid{10, 5}, revolved(func(r float64) float64 { return -0.1 * r },
			func(float64) float64 { return -0.1 }), 0, 10, 0, turn, 1},
		{"cap", Cap{10, 4}, revolved(cz, czz), 0, 10, 0, turn, 1},
		{"frustum", Frustum{10, 4, 6}, revolved(func(float64) float64 { return -1 },
			func(float64) float64 { return 0 }), 4, 10, 0, turn, 1},
		{"hypar", Hypar{10, 8, 4}, func(x, y float64) (pu, pv, puu, puv, pvv Point) {
			const c = 4.0 / 80
			return Point{1, 0, c * y}, Point{0, 1, c * x}, Point{}, Point{0, 0, c}, Point{}
		}, 0, 10, 0, 8, 1},
		{"flattened half spheroid", HalfSpheroid{10, 6}, ellipsoid(10, 6), 0, math.Pi / 2, 0, turn, 1},
		{"pointed half spheroid", HalfSpheroid{5, 9}, ellipsoid(5, 9), 0, math.Pi / 2, 0, turn, 1},
		{"half sphere", HalfSpheroid{7, 7}, ellipsoid(7, 7), 0, math.Pi / 2, 0, turn, 1},
		{"torus", Torus{10, 2}, func(u, v float64) (pu, pv, puu, puv, pvv Point) {
			su, cu := math.Sincos(u)
			sv, cv := math.Sincos(v)
			w := 10 + 2*cu
			return Point{-2 * su * cv, -2 * su * sv, 2 * cu}, Point{-w * sv, w * cv, 0},
				Point{-2 * cu * cv, -2 * cu * sv, -2 * su}, Point{2 * su * sv, -2 * su * cv, 0}, Point{
					-w * cv, -w * sv,
					0,
				}
		}, 0, turn, 0, turn, -1},
	}
}

func TestClosedFormsAgreeWithQuadrature(t *testing.T) {
	for _, s := range twins() {
		t.Run(s.name, func(t *testing.T) {
			m, err := s.shape.Measure()
			if err != nil {
				t.Fatal(err)
			}
			area, mean, gauss := s.integrals()
			for _, c := range []struct {
				what      string
				got, want float64
			}{{"area", float64(m.Area), area}, {"∫H", m.Mean, mean}, {"∫K", m.Gauss, gauss}} {
				if !(math.Abs(c.got-c.want) <= 1e-9*max(1, math.Abs(c.want))) {
					t.Errorf("%s: %.12g by the closed form, %.12g by quadrature", c.what, c.got, c.want)
				}
			}
			if s.shape.Formula() == "" {
				t.Error("no formula is named")
			}
		})
	}
}

func TestVolumesAgreeWithQuadrature(t *testing.T) {
	half := func(z func(x float64) float64, a float64) float64 { return 2 * quad.Fixed(z, 0, a, 80, nil, 0) }
	dome := func(z func(r float64) float64, a float64) float64 {
		return 2 * math.Pi * quad.Fixed(func(r float64) float64 { return r * z(r) }, 0, a, 80, nil, 0)
	}
	const barrelRadius = 20.0
	for name, c := range map[string]struct {
		shape Shape
		want  float64
	}{
		"barrel": {
			Barrel{24, 4, 30},
			30 * half(func(x float64) float64 { return math.Sqrt(barrelRadius*barrelRadius-x*x) - 16 }, 12),
		},
		"low barrel": {Barrel{24, 0.1, 1}, half(func(x float64) float64 {
			r := (144 + 0.01) / 0.2
			return (0.1*(2*r-0.1) - x*x) / (math.Sqrt(r*r-x*x) + r - 0.1)
		}, 12)},
		"catenary": {
			Catenary{2, unit.Length(math.Cosh(1) - 1), 3},
			3 * half(func(x float64) float64 { return math.Cosh(1) - math.Cosh(x) }, 1),
		},
		"paraboloid": {Paraboloid{10, 5}, dome(func(r float64) float64 { return 5 - r*r/20 }, 10)},
		"hypar":      {Hypar{10, 8, 4}, 4 * 10 * 8 / 4},
	} {
		m, err := c.shape.Measure()
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(float64(m.Enclosed)-c.want) <= 1e-9*c.want) {
			t.Errorf("%s: %.12g, by quadrature %.12g", name, float64(m.Enclosed), c.want)
		}
	}
}

// The exact difference of two spheres' sectors, and a parabola's true offset by quadrature.
func TestLayerCountsCurvature(t *testing.T) {
	c := Cap{10, 4}
	m, err := c.Measure()
	if err != nil {
		t.Fatal(err)
	}
	const r = 14.5
	omega := float64(m.Area) / (r * r)
	for side, faces := range map[Side][2]float64{About: {r - 0.4, r + 0.4}, Inside: {r - 0.8, r}, Outside: {
		r,
		r + 0.8,
	}} {
		v, err := m.Layer(0.8, side)
		if err != nil {
			t.Fatal(err)
		}
		want := omega / 3 * (math.Pow(faces[1], 3) - math.Pow(faces[0], 3))
		if math.Abs(float64(v)-want) > 1e-11*want {
			t.Errorf("side %d: %.12g, between the spheres %.12g", side, float64(v), want)
		}
	}
	v, err := Vault{24, 4, 30}.Measure()
	if err != nil {
		t.Fatal(err)
	}
	about, err := v.Layer(0.05, About)
	if err != nil || math.Abs(float64(about)-float64(v.Area)*0.05) > 1e-12 {
		t.Errorf("a cylinder about its middle: %v, %v; want exactly area × thickness", about, err)
	}
	if _, err := (Cap{0.5, 0.5}).layer(1.2, About); err == nil {
		t.Error("a layer thicker than the sphere gave a volume")
	}
	if _, err := (Cap{0.5, 0.5}).layer(0.6, Inside); err == nil {
		t.Error("a layer inside, thicker than the radius, gave a volume")
	}
	for _, bad := range []float64{-0.01, math.NaN(), math.Inf(1), 1e6} {
		if _, err := m.Layer(unit.Length(bad), About); err == nil {
			t.Errorf("a thickness of %v gave a volume", bad)
		}
	}
	if _, err := m.Layer(0.01, Side(7)); err == nil {
		t.Error("an unknown side gave a volume")
	}
}

func (c Cap) layer(t unit.Length, s Side) (unit.Volume, error) {
	m, err := c.Measure()
	if err != nil {
		return 0, err
	}
	return m.Layer(t, s)
}

func TestNonsenseIsRefused(t *testing.T) {
	nan, inf := unit.Length(math.NaN()), unit.Length(math.Inf(1))
	for _, s := range []Shape{
		Vault{0, 4, 30},
		Vault{24, -1, 30},
		Vault{24, 4, 0},
		Vault{nan, 4, 30},
		Vault{24, inf, 30},
		Vault{24, 4, 1e9},
		Barrel{-24, 4, 30},
		Barrel{24, nan, 30},
		Catenary{24, -4, 30},
		Catenary{24, 4, nan},
		Paraboloid{0, 5},
		Paraboloid{10, -5},
		Cap{0, 1},
		Cap{10, nan},
		Cap{10, -1},
		HalfSpheroid{10, 0},
		HalfSpheroid{0, 5},
		Frustum{0, 0, 5},
		Frustum{10, -1, 5},
		Frustum{10, 10, 0},
		Torus{2, 2},
		Torus{2, 0},
		Hypar{0, 10, 4},
		Hypar{10, 10, -4},
		Hypar{10, nan, 4},
	} {
		if m, err := s.Measure(); err == nil {
			t.Errorf("%#v measured %+v, want an error", s, m)
		}
	}
	if _, err := (Cap{10, 0}).SphereRadius(); err == nil {
		t.Error("a flat cap has a radius of its sphere")
	}
	if _, err := (Barrel{10, 0, 1}).Radius(); err == nil {
		t.Error("a flat barrel has a radius")
	}
	if _, err := (Catenary{10, 0, 1}).Parameter(); err == nil {
		t.Error("a straight chain has a parameter")
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := Coverage(unit.Volume(bad), 0.01); err == nil {
			t.Errorf("a volume of %v covers an area", bad)
		}
		if _, err := MeanThickness(1, unit.Area(bad)); err == nil {
			t.Errorf("an area of %v has a mean thickness", bad)
		}
		if _, err := Flat(unit.Area(bad), 0.01); err == nil {
			t.Errorf("an area of %v takes a volume", bad)
		}
		if _, err := DeadLoad(0.01, unit.Density(bad)); err == nil {
			t.Errorf("a density of %v has a load", bad)
		}
		if _, err := Batches(1, 0, unit.Volume(bad)); err == nil {
			t.Errorf("batches of %v fill a volume", bad)
		}
	}
	if _, err := Coverage(1, 1e-320); err == nil {
		t.Error("a volume over a vanishing thickness covers an area")
	}
}

// rising builds each kind of shape from its size and a rise, both as drawn.
var rising = map[string]func(size, rise unit.Length) Shape{
	"vault":      func(s, h unit.Length) Shape { return Vault{2 * s, h, 3 * s} },
	"barrel":     func(s, h unit.Length) Shape { return Barrel{2 * s, h, 3 * s} },
	"catenary":   func(s, h unit.Length) Shape { return Catenary{2 * s, h, 3 * s} },
	"paraboloid": func(s, h unit.Length) Shape { return Paraboloid{s, h} },
	"cap":        func(s, h unit.Length) Shape { return Cap{s, h} },
	"hypar":      func(s, h unit.Length) Shape { return Hypar{s, 2 * s, h} },
	"frustum":    func(s, h unit.Length) Shape { return Frustum{s, s / 2, h} },
}

func TestFlatIsTheLimitOfLow(t *testing.T) {
	for name, of := range rising {
		flat, err := of(5, 0).Measure()
		if err != nil {
			t.Errorf("%s of rise 0: %v", name, err)
			continue
		}
		if flat.Mean != 0 || flat.Gauss != 0 {
			t.Errorf("%s of rise 0 is curved: %+v", name, flat)
		}
		for rise := unit.Length(1e-300); rise < 1e-5; rise *= 10 {
			m, err := of(5, rise).Measure()
			if err != nil {
				t.Fatalf("%s of rise %g: %v", name, float64(rise), err)
			}
			if d := float64(m.Area/flat.Area) - 1; !(d >= -4e-16 && d < 1e-10) {
				t.Fatalf("%s of rise %g: area %.17g, flat %.17g", name, float64(rise), float64(m.Area),
					float64(flat.Area))
			}
			if !(m.Enclosed >= 0 && float64(m.Enclosed) < 1e4*float64(rise)) {
				t.Fatalf("%s of rise %g encloses %g", name, float64(rise), float64(m.Enclosed))
			}
		}
	}
	// The second term, where an unguarded form has long lost it, in (rise/span)²: 8/3 for each low arc, 4 for a low
	// dome.
	for name, second := range map[string]float64{
		"vault": 8.0 / 3, "barrel": 8.0 / 3, "catenary": 8.0 / 3, "paraboloid": 4, "cap": 4,
	} {
		const size, rise = 5, 5e-6
		m, err := rising[name](size, rise).Measure()
		if err != nil {
			t.Fatal(err)
		}
		flat, err := rising[name](size, 0).Measure()
		if err != nil {
			t.Fatal(err)
		}
		want := second * (rise / (2 * size)) * (rise / (2 * size))
		if got := float64((m.Area - flat.Area) / flat.Area); math.Abs(got-want) > 1e-3*want {
			t.Errorf("%s: a rise of 1e-6 adds %.6g of the area, want %.6g", name, got, want)
		}
	}
}

func TestMeasuresScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{
			"vault", "barrel", "catenary", "paraboloid", "cap", "hypar",
			"frustum",
		}).Draw(t, "shape")
		size := unit.Length(rapid.Float64Range(0.1, 50).Draw(t, "size"))
		rise := size * unit.Length(rapid.Float64Range(0, 3).Draw(t, "rise"))
		k := rapid.Float64Range(0.01, 100).Draw(t, "scale")
		a, err := rising[name](size, rise).Measure()
		if err != nil {
			t.Fatal(err)
		}
		b, err := rising[name](size*unit.Length(k), rise*unit.Length(k)).Measure()
		if err != nil {
			t.Fatal(err)
		}
		near := func(what string, got, want float64) {
			// Below the smallest normal number a float has fewer digits than the bound asks for.
			if !(math.Abs(got-want) <= 1e-9*math.Abs(want)+1e-307) {
				t.Fatalf("%s of a %s scaled by %v: %v, want %v", what, name, k, got, want)
			}
		}
		near("area", float64(b.Area), float64(a.Area)*k*k)
		near("arc", float64(b.Arc), float64(a.Arc)*k)
		near("volume", float64(b.Enclosed), float64(a.Enclosed)*k*k*k)
		near("∫H", b.Mean, a.Mean*k)
		near("∫K", b.Gauss, a.Gauss)
	})
}

// More rise is more of everything; and no dimension that is taken gives what is no number.
func TestHigherIsLarger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{
			"vault", "barrel", "catenary", "paraboloid", "cap", "hypar",
			"frustum",
		}).Draw(t, "shape")
		size := unit.Length(math.Pow(10, rapid.Float64Range(-9, 4.4).Draw(t, "size")))
		rise := unit.Length(math.Pow(10, rapid.Float64Range(-12, 4.9).Draw(t, "rise")))
		a, err := rising[name](size, rise).Measure()
		if err != nil {
			t.Skip("out of range")
		}
		for _, x := range []float64{float64(a.Area), float64(a.Arc), float64(a.Enclosed), a.Mean, a.Gauss, a.Sharpest} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%s of %v and rise %v: %+v", name, size, rise, a)
			}
		}
		b, err := rising[name](size, rise*1.01).Measure()
		if err != nil {
			t.Skip("out of range")
		}
		if float64(b.Area) < float64(a.Area)*(1-1e-14) || b.Enclosed < a.Enclosed*(1-1e-14) {
			t.Fatalf("%s of %v: rise %v gives %+v, a hundredth more %+v", name, size, rise, a, b)
		}
	})
}
