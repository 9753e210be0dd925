package shell

import (
	"errors"
	"math"
	"testing"

	"hod/internal/unit"
	"hod/testdata"
)

// Each row of trade/shell.csv, with its source, against this room.
func TestPublishedValues(t *testing.T) {
	for _, v := range testdata.Trade(t, "shell") {
		if !v.Assert {
			continue
		}
		t.Run(v.ID, func(t *testing.T) {
			got := figures(t, v)
			for name := range v.Expected {
				x, ok := got[name]
				if !ok {
					t.Fatalf("%s: the test computes no figure %q from %v", v.ID, name, v.Inputs)
				}
				v.Want(t, name, x)
			}
		})
	}
}

func figures(t *testing.T, v testdata.Value) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	m := func(name string) unit.Length { return unit.Length(v.Inputs[name+"_m"]) }
	in := func(name string) unit.Length { return unit.Length(v.Inputs[name+"_in"]) * unit.Inch }
	ft3 := unit.Volume(v.Inputs["volume_ft3"]) * unit.CubicFoot
	ft2 := unit.Area(v.Inputs["area_ft2"]) * unit.SquareFoot
	var s Shape
	var err, err2 error
	switch v.Words["shape"] {
	case "vault":
		s = Vault{m("span"), m("rise"), m("length")}
	case "barrel":
		b := Barrel{m("span"), m("rise"), m("length")}
		var r unit.Length
		r, err = b.Radius()
		out["radius_m"] = float64(r)
		s = b
	case "catenary":
		c := Catenary{m("span"), m("rise"), m("length")}
		var p unit.Length
		p, err = c.Parameter()
		out["parameter_m"] = float64(p)
		s = c
	case "paraboloid":
		s = Paraboloid{m("radius"), m("rise")}
	case "cap":
		c := Cap{m("radius"), m("rise")}
		var r unit.Length
		r, err = c.SphereRadius()
		out["radius_m"] = float64(r)
		s = c
		if n := int(v.Inputs["rings"]); n > 0 {
			survey, e := dome(n, 4*n, float64(c.Radius), capHeight(c)).Survey(0)
			err = errors.Join(err, e)
			out["mesh_area_m2"] = float64(survey.Whole.Area)
		}
	case "hypar":
		s = Hypar{m("length"), m("width"), m("rise")}
	case "frustum":
		s = Frustum{m("radius"), m("top_radius"), m("rise")}
	case "halfspheroid":
		s = HalfSpheroid{m("radius"), m("rise")}
	case "torus":
		s = Torus{m("radius"), m("tube")}
	case "flat":
		var vol unit.Volume
		vol, err = Flat(ft2, in("thickness"))
		out["volume_ft3"] = float64(vol / unit.CubicFoot)
		out["volume_yd3"] = float64(vol / unit.CubicYard)
		if batch, ok := v.Inputs["batch_ft3"]; ok {
			var n int
			n, err2 = Batches(vol, unit.Share(v.Inputs["waste_pct"]/100), unit.Volume(batch)*unit.CubicFoot)
			out["batches"] = float64(n)
		}
	case "coverage":
		var a unit.Area
		a, err = Coverage(ft3, in("thickness"))
		out["area_ft2"] = float64(a / unit.SquareFoot)
	case "mean":
		var l unit.Length
		l, err = MeanThickness(ft3, ft2)
		out["thickness_in"], out["thickness_mm"] = float64(l/unit.Inch), float64(l/unit.Millimetre)
	case "load":
		var l unit.AreaMass
		l, err = DeadLoad(in("thickness"), unit.Density(v.Inputs["density_lb_ft3"])*unit.PoundPerCubicFoot)
		out["load_lb_ft2"] = float64(l) * float64(unit.SquareFoot) / float64(unit.Pound)
	default:
		t.Fatalf("no shape %q", v.Words["shape"])
	}
	if err := errors.Join(err, err2); err != nil {
		t.Fatal(err)
	}
	if s == nil {
		return out
	}
	got, err := s.Measure()
	if err != nil {
		t.Fatal(err)
	}
	out["area_m2"], out["arc_m"], out["enclosed_m3"] = float64(got.Area), float64(got.Arc), float64(got.Enclosed)
	if l := float64(m("length")); l > 0 {
		out["under_m2"] = float64(got.Enclosed) / l
	}
	if thick := m("thickness"); thick > 0 {
		for side, name := range map[Side]string{About: "about_m3", Inside: "inside_m3", Outside: "outside_m3"} {
			vol, err := got.Layer(thick, side)
			if err != nil {
				t.Fatal(err)
			}
			out[name] = float64(vol)
		}
		out["area_times_thickness_m3"] = float64(got.Area) * float64(thick)
	}
	return out
}

// The three-term series of a low parabolic arc (GEO-04) is no formula of this room; it bounds the exact one.
func TestSeriesOfALowParabola(t *testing.T) {
	const span, ratio = 10.0, 0.1
	series := span * (1 + 8.0/3*ratio*ratio - 32.0/5*ratio*ratio*ratio*ratio)
	if math.Abs(series-10.2602667) > 1e-6 {
		t.Errorf("series %.8f, want 10.2602667 (GEO-04)", series)
	}
	m, err := Vault{span, span * ratio, 1}.Measure()
	if err != nil {
		t.Fatal(err)
	}
	if off := float64(m.Arc) - series; off < 0 || off > 1e-3 {
		t.Errorf("arc %.8f and its series %.8f lie %.2g apart; want the next term, about 3e-4", m.Arc, series, off)
	}
}
