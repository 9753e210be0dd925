package daily_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

// Two zones of 8 by 6 m side by side, V1 in the west, with their sides; one coat of 10 mm each. A batch gives 60 litres
// that stay, 6 m² of it: a strip of 0.75 m along a side of 8 m.
func vault(t testing.TB, work ...sim.Work) *fold.Site {
	t.Helper()
	square := func(x float64) *event.Form {
		return &event.Form{
			Outline: []event.Corner{{X: x, Y: 0}, {X: x + 8, Y: 0}, {X: x + 8, Y: 6}, {X: x, Y: 6}},
			Sides:   []event.Side{{Name: "south"}, {Name: "east"}, {Name: "north"}, {Name: "west"}},
		}
	}
	bodies := []event.Body{viewtest.Plan()[0], viewtest.Plan()[1], viewtest.Plan()[2]}
	for i, z := range []event.Zone{"V1", "V2"} {
		bodies = append(bodies, event.ZonePlanned{
			Zone: z, Area: viewtest.As(unit.Area(48)), Order: i + 1,
			Form: square(8 * float64(i)),
		},
			event.CoatPlanned{
				Coat: event.Coat{Zone: z, Face: event.Outer, Number: 1}, Thickness: viewtest.As(unit.Length(0.01)),
				Mix: "face",
			})
	}
	bodies = append(bodies, event.EdgePlanned{
		A: "V1", B: "V2", Length: viewtest.As(unit.Length(6)),
		PartA: &event.EdgePart{Side: "east"}, PartB: &event.EdgePart{Side: "west"},
	})
	return viewtest.Planned(t, bodies, work...)
}

// strip is batch n laid into a zone from a minute after eight on, 64.8 litres of it, which are 60 without the loss of 8
// %.
func strip(n int, zone event.Zone, minute int, start string) []sim.Work {
	from := viewtest.Clock(8, 0).Add(time.Duration(minute) * time.Minute)
	m := viewtest.BatchAt23(viewtest.Batch(n), event.Coat{Zone: zone, Face: event.Outer, Number: 1},
		from.Add(-10*time.Minute), 1)
	p := event.Placement{
		Batch: viewtest.Batch(n), Coat: event.Coat{Zone: zone, Face: event.Outer, Number: 1}, From: from,
		To:     from.Add(4 * time.Minute),
		Part:   event.Part{Volume: viewtest.Ref(unit.Volume(0.0648))},
		Gauges: []unit.As[unit.Length]{viewtest.As(unit.Length(0.01))},
		Start:  start,
	}
	return []sim.Work{m[0], viewtest.Wrote(from.Add(4*time.Minute), p)}
}

// Work that began at the south side lies in strips parallel to it, one after the other.
func TestEachBatchLiesInItsStrip(t *testing.T) {
	work := viewtest.At23()
	for i := range 4 {
		start := ""
		if i == 0 {
			start = "south"
		}
		work = append(work, strip(i+1, "V1", 25*i, start)...)
	}
	z, _ := view.ZoneOf(vault(t, work...), viewtest.Noon, time.UTC, "V1")
	viewtest.Same(t, "why it is not told", z.Coats[0].Untold, "")
	for i, p := range z.Coats[0].Placements {
		if p.Strip == nil {
			t.Fatalf("batch %d lies nowhere: %q", i+1, z.Coats[0].Untold)
		}
		viewtest.Same(t, "from the side", p.Strip.Start, "south")
		viewtest.Is(t, "area", math.Round(p.Strip.AreaM2*1e6)/1e6, 6)
		if p.Strip.BeginsM == nil || math.Abs(*p.Strip.BeginsM-0.75*float64(i)) > 1e-6 ||
			math.Abs(*p.Strip.ReachesM-0.75*float64(i+1)) > 1e-6 {
			t.Errorf("batch %d lies from %v to %v m, want from %g", i+1, p.Strip.BeginsM, p.Strip.ReachesM,
				0.75*float64(i))
		}
		if p.Strip.BeginsDegrees != nil || p.Strip.ReachesDegrees != nil {
			t.Errorf("a flat zone in degrees: %+v", *p.Strip)
		}
	}
}

func TestWithoutASideToBeginFromItIsSaidWhyNothingIsTold(t *testing.T) {
	z, _ := view.ZoneOf(vault(t, append(viewtest.At23(), strip(1, "V1", 0, "")...)...), viewtest.Noon, time.UTC, "V1")
	if z.Coats[0].Placements[0].Strip != nil || !strings.Contains(z.Coats[0].Untold, "at which side") {
		t.Errorf("strip %+v, untold %q", z.Coats[0].Placements[0].Strip, z.Coats[0].Untold)
	}
}

// V1 from the south in 200 min, then V2 from the north: along the edge of 6 m the first strips of V1 wait longest.
// Initial set takes 150 min at 23 °C. Batch i of V1 has water at 25 (i−1) − 10; the strip of V2 opposite to it is
// placed at 375 − 25 (i−1). So the waits are 385, 335, 285, 235, 185, 135, 85 and 35 min: five strips of 0.75 m are
// cold, the sixth, at 90 % of set, is closing, and two are live.
func TestTheMetresOfAnEdgeAreToldByWhereTheBatchesLie(t *testing.T) {
	work := viewtest.At23()
	side := func(i int, name string) string {
		if i == 0 {
			return name
		}
		return ""
	}
	for i := range 8 {
		work = append(work, strip(i+1, "V1", 25*i, side(i, "south"))...)
	}
	for i := range 8 {
		work = append(work, strip(i+9, "V2", 200+25*i, side(i, "north"))...)
	}
	work = append(work, viewtest.Wrote(viewtest.Clock(15, 0),
		event.ProgressStated{
			Coat:     event.Coat{Zone: "V2", Face: event.Outer, Number: 1},
			Complete: viewtest.As(unit.Share(1)),
		}))
	s := vault(t, work...)
	var j view.Joint
	for _, k := range view.JointsOf(s, viewtest.Clock(16, 0), time.UTC).Joints {
		if k.Kind == "edge" && k.Made {
			j = k
		}
	}
	if j.Metres == nil {
		t.Fatalf("no metres: %q", j.Note)
	}
	viewtest.Is(t, "cold", math.Round(j.Metres.Cold*1e3)/1e3, 5*0.75)
	viewtest.Is(t, "closing", math.Round(j.Metres.Closing*1e3)/1e3, 0.75)
	viewtest.Is(t, "live", math.Round(j.Metres.Live*1e3)/1e3, 2*0.75)
	viewtest.Is(t, "open", j.Metres.Open, 0)
	viewtest.Is(t, "bare", j.Metres.Bare, 0)
	if m := j.Metres; m.ColdSurely <= 0 || m.ColdSurely > m.Cold || m.ColdPossibly < m.Cold || m.Contradicts != "" {
		t.Errorf("surely %g, possibly %g of %g m, contradicts %q", m.ColdSurely, m.ColdPossibly, m.Cold, m.Contradicts)
	}
	viewtest.Same(t, "state", j.State, "cold")
	viewtest.Same(t, "flagged", j.Flagged, true)
	f := flagged(t, daily.FlagsOf(s, viewtest.Clock(16, 0), time.UTC, false), "cold-joint")
	k := evidence(t, f, "metres")
	viewtest.MaybeIs(t, "metres of the flag", k.Number, j.Metres.Cold)
	viewtest.MaybeIs(t, "surely", k.Low, j.Metres.ColdSurely)
	viewtest.MaybeIs(t, "at worst", k.High, j.Metres.ColdPossibly)
	viewtest.Same(t, "unit", k.Unit, "m")
	viewtest.MaybeIs(t, "allowed share of set", f.Allowed.High, 1)
}
