package view_test

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/viewtest"
)

func said[Q any](q Q, entered string) unit.As[Q] { return unit.As[Q]{SI: q, Entered: entered} }

func saidRef[Q any](q Q, entered string) *unit.As[Q] { return &unit.As[Q]{SI: q, Entered: entered} }

// What of a plan differs, in the words in which it was written, or in both systems where it was worked out.
func TestWhatOfAPlanDiffers(t *testing.T) {
	site := event.SitePlanned{
		Name: "Tarn vault", Loss: saidRef(unit.Share(0.05), "5%"), WorkFrom: 7 * time.Hour,
		WorkTo: 17 * time.Hour,
	}
	zone := event.ZonePlanned{Zone: "A1", Area: said(unit.Area(9), "9m2"), Order: 1}
	mix := viewtest.Plan()[2].(event.MixPlanned)
	for _, c := range []struct {
		name    string
		was, is event.Body
		want    string
	}{
		{"nothing", zone, zone, ""},
		{"what it replaces is no difference", zone, func() event.Body {
			z := zone
			z.Replaces = []event.Hash{{1}}
			return z
		}(), ""},
		{"two kinds", zone, site, ""},
		{"no body", nil, zone, ""},
		{
			"a loss", site, func() event.Body { s := site; s.Loss = saidRef(unit.Share(0.08), "8%"); return s }(),
			"loss 8%, was 5%",
		},
		{
			"a loss no longer said", site, func() event.Body { s := site; s.Loss = nil; return s }(),
			"loss not said, was 5%",
		},
		{
			"hours of work", site, func() event.Body {
				s := site
				s.WorkTo = 16*time.Hour + 30*time.Minute
				return s
			}(),
			"work to 16:30, was 17:00",
		},
		{
			"an area", zone, func() event.Body { z := zone; z.Area = viewtest.As(unit.Area(10)); return z }(),
			"area 10 m² (108 ft²), was 9 m2",
		},
		{"an area in other words", zone, func() event.Body {
			z := zone
			z.Area = said(unit.Area(9.0000001), "9m2")
			return z
		}(), "area 9 m2, written otherwise"},
		{"an order", zone, func() event.Body { z := zone; z.Order = 4; return z }(), "order 4, was 1"},
		{
			"a limit of evaporation", site, func() event.Body { s := site; s.EvaporationMetric = 0.75; return s }(),
			"evaporation metric 0.75 kg/m²/h, was not said",
		},
		{"an amount in a mix", mix, func() event.Body {
			m := mix
			m.Constituents = append([]event.Constituent(nil), mix.Constituents...)
			m.Constituents[2].Amount = event.Amount{Mass: 15}
			return m
		}(), "water amount 15 kg (33.1 lb), was 16 kg (35.3 lb)"},
		{"a constituent more", mix, func() event.Body {
			m := mix
			m.Constituents = append(append([]event.Constituent(nil), mix.Constituents...),
				event.Constituent{Name: "fibre", Kind: event.Fibre, Amount: event.Amount{Mass: 1, Entered: "1kg"}})
			return m
		}(), "fibre 1 kg is new"},
		{"a constituent less", mix, func() event.Body {
			m := mix
			m.Constituents = mix.Constituents[:2]
			return m
		}(), "water is left out"},
		{
			"initial set", mix, func() event.Body { m := mix; m.InitialSet = 2 * time.Hour; return m }(),
			"initial set 2 h, was 2 h 30 min",
		},
		{
			"steps", mix, func() event.Body { m := mix; m.Steps = []event.Step{{Constituent: "cement"}}; return m }(),
			"steps 1 step, was 0 steps",
		},
		{
			"a thickness",
			event.CoatPlanned{Coat: viewtest.CoatA1, Thickness: viewtest.As(unit.Length(0.012))},
			event.CoatPlanned{Coat: viewtest.CoatA1, Thickness: viewtest.As(unit.Length(0.015))},
			"thickness 15 mm (0.591 in), was 12 mm (0.472 in)",
		},
	} {
		if got := view.Differs(c.was, c.is); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// What a correction of a plan moved in what is on record.
func TestWhatACorrectionOfAPlanMoved(t *testing.T) {
	done := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
		1), func() []sim.Work {
		w := viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 0), 1)
		p := w[1].Body.(event.Placement)
		p.Along = []event.Zone{"A1"}
		w[1].Body = p
		return w
	}())
	for _, c := range []struct {
		name string
		fix  func(d *viewtest.Desk)
		want []string
	}{
		// 9 m² × 15 mm × 1.08 = 145.8 l
		{"a thickness", func(d *viewtest.Desk) {
			d.Write("f1", "office", viewtest.Noon,
				event.Amended{
					Target: d.Of("f1/5"),
					Body: event.CoatPlanned{
						Coat: viewtest.CoatA1, Thickness: viewtest.As(unit.Length(0.015)),
						Mix: "face",
					},
				})
		}, []string{"1 coat takes 117 L -> 146 L"}},
		// 65 min are live of 150 and cold of 60
		{"an initial set", func(d *viewtest.Desk) {
			m := viewtest.Plan()[2].(event.MixPlanned)
			m.InitialSet = time.Hour
			d.Write("f1", "office", viewtest.Noon, event.Amended{Target: d.Of("f1/3"), Body: m})
		}, []string{"1 joint live -> cold", "1 flag cold-joint more"}},
		// the sand's gravity makes a batch 85/2.65 − 85/2.5 = 1.92 litres larger, air beside
		{"a gravity", func(d *viewtest.Desk) {
			m := viewtest.Plan()[2].(event.MixPlanned)
			m.Constituents[1].Gravity = 2.5
			d.Write("f1", "office", viewtest.Noon, event.Amended{Target: d.Of("f1/3"), Body: m})
		}, []string{"2 batches 65.4 L -> 67.4 L"}},
		{"a place", func(d *viewtest.Desk) {
			s := viewtest.Plan()[0].(event.SitePlanned)
			s.Place = "Overhay"
			d.Write("f1", "office", viewtest.Noon, event.Amended{Target: d.Of("f1/1"), Body: s})
		}, []string{"nothing moved"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := viewtest.NewDesk(t, done...)
			c.fix(d)
			s := d.Site()
			r, _ := s.Record(d.Last().Name)
			if !view.CorrectsPlan(s, r) {
				t.Error("it corrects a plan")
			}
			got := view.Moved(s, d.Last().Name)
			for _, w := range c.want {
				if !strings.Contains(got, w) {
					t.Errorf("it moved %q, want %q in it", got, w)
				}
			}
		})
	}
}

func TestOnlyWhatPutsAPlanRightCorrectsIt(t *testing.T) {
	d := viewtest.NewDesk(t, viewtest.Wrote(viewtest.Clock(8, 0), event.Noted{Text: "x"}))
	is := func(what string, want bool) {
		t.Helper()
		s := d.Site()
		r, ok := s.Record(d.Last().Name)
		if !ok || view.CorrectsPlan(s, r) != want {
			t.Errorf("%s corrects a plan: want %t", what, want)
		}
	}
	d.Write("n1", "north", viewtest.Clock(9, 0), event.Amended{Target: d.Of("n1/1"), Body: event.Noted{Text: "y"}})
	is("the amendment of a note", false)
	d.Write("n1", "north", viewtest.Clock(9, 1), event.Voided{Target: d.Of("n1/2")})
	is("the taking back of it", false)
	m := viewtest.Plan()[2].(event.MixPlanned)
	m.Revision, m.Replaces = 2, []event.Hash{d.Of("f1/3")}
	d.Write("f1", "office", viewtest.Clock(9, 2), m)
	is("a revision from now on", false)
	m.Revision, m.Corrects, m.Replaces = 3, 2, []event.Hash{d.Last().Hash()}
	d.Write("f1", "office", viewtest.Clock(9, 3), m)
	is("a revision that corrects", true)
	d.Write("f1", "office", viewtest.Clock(9, 4), event.Voided{Target: d.Of("f1/8")})
	is("the taking back of an edge", true)
	d.Write("f1", "office", viewtest.Clock(9, 5),
		event.MaterialPlanned{Material: "sand", Bulk: viewtest.Ref(unit.Density(1500))})
	is("a material as it was measured", false)
}
