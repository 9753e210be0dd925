package drawing_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
	"hod/internal/view/viewtest"
)

// The views that pages are made of: the same values as those of the terminal, gathered otherwise.

func overview(t testing.TB, now time.Time, work ...sim.Work) drawing.Overview {
	t.Helper()
	return drawing.OverviewOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), work...), now, time.UTC, nil, false)
}

// Edges of one coat that turn at one instant are one thing to look at.
func TestAnOverviewGathersWhatTurnsTogether(t *testing.T) {
	work := append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
		0.5)...)
	for _, c := range []struct {
		now    time.Time
		states string
		worst  string
	}{
		{viewtest.Clock(9, 0), "live A1 inside, live A1 to A2", "live"},
		{viewtest.Clock(10, 10), "closing A1 inside, closing A1 to A2", "closing"},
		{viewtest.Clock(11, 0), "cold A1 inside, cold A1 to A2", "cold"},
	} {
		v := overview(t, c.now, work...)
		var got []string
		for _, g := range v.Edges {
			what := "inside"
			if !g.Inside {
				what = "to " + strings.Join(g.Others, " ")
				viewtest.Is(t, "length", g.LengthM, 3)
			}
			got = append(got, g.State+" "+g.Zone+" "+what)
			viewtest.At(t, "turns", g.TurnsAt, viewtest.Clock(10, 30))
			if len(g.Joints) != 1 {
				t.Errorf("joints %v", g.Joints)
			}
		}
		slices.Sort(got)
		viewtest.Same(t, "edges at "+c.now.Format("15:04"), strings.Join(got, ", "), c.states)
		if v.Worst == nil || v.Worst.State != c.worst {
			t.Errorf("the worst at %s is %+v", c.now.Format("15:04"), v.Worst)
		}
	}
	v := overview(t, viewtest.Clock(23, 0).Add(3*time.Hour), work...)
	viewtest.Same(t, "old edges the day after", v.OldEdges, 2)
	if v.Worst != nil || len(v.Edges) != 0 {
		t.Errorf("the day after nothing presses, and there is %+v", v.Edges)
	}
}

// Two placements may lie along the edge, and the older has set: it may be cold.
func TestAnOverviewSaysWhatMayBeCold(t *testing.T) {
	work := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
		0.5), viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(10, 0), 0.5))
	v := overview(t, viewtest.Clock(11, 0), work...)
	if v.Worst == nil || v.Worst.State != view.MayBeCold {
		t.Fatalf("the worst is %+v", v.Worst)
	}
	viewtest.At(t, "the soonest", v.Worst.TurnsAt, viewtest.Clock(10, 30))
	viewtest.At(t, "the latest", v.Worst.TurnsLatest, viewtest.Clock(12, 30))
}

func TestAnOverviewTellsWhatEachCrewDidLast(t *testing.T) {
	work := append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Wrote(viewtest.Clock(7, 0), event.ShiftStarted{People: 3}),
		viewtest.Read(viewtest.Full(viewtest.Clock(11, 0), 20, 0.5, 1)))
	v := overview(t, viewtest.Noon, work...)
	if len(v.Crews) != 1 {
		t.Fatalf("crews %+v", v.Crews)
	}
	c := v.Crews[0]
	viewtest.Same(t, "crew", c.Crew, "north")
	viewtest.At(t, "heard", c.HeardAt, viewtest.Clock(11, 0)) // by its reading, which is no work
	viewtest.At(t, "did last", c.LastAt, viewtest.Clock(8, 10))
	viewtest.Same(t, "event", c.LastEvent, "n1/3")
	if !strings.Contains(c.Last, "batch 1 into A1 outer 1") {
		t.Errorf("in words %q", c.Last)
	}
	viewtest.Same(t, "batches", c.Batches, 1)
	viewtest.Is(t, "placed", c.PlacedM3, viewtest.BatchM3)
	viewtest.Same(t, "on shift", c.OnShift, true)
	c = overview(t, viewtest.Noon).Crews[0]
	if c.HeardAt != nil || c.LastAt != nil || c.Last != "" || c.OnShift {
		t.Errorf("a crew that wrote nothing: %+v", c)
	}
}

func TestAnOverviewCountsWhatIsToSettle(t *testing.T) {
	v := overview(t, viewtest.Clock(10, 30),
		viewtest.BatchWith(1, viewtest.Clock(8, 0),
			func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 95, 16) }),
		viewtest.BatchWith(2, viewtest.Clock(9, 0),
			func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 22) }),
		viewtest.BatchWith(3, viewtest.Clock(10, 0),
			func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 23) }))
	grave, other := 0, 0
	for _, g := range v.Settle.Groups {
		for _, f := range g.Flags {
			if f.Code != g.Code || f.Grave != g.Grave {
				t.Errorf("%s in the group of %s", f.Code, g.Code)
			}
			if f.Grave {
				grave++
			} else {
				other++
			}
		}
	}
	if int(v.Settle.Grave) != grave || int(v.Settle.Other) != other || grave == 0 || other == 0 {
		t.Errorf("%d grave and %d others are told, and there are %d and %d", v.Settle.Grave, v.Settle.Other, grave,
			other)
	}
	if first := v.Settle.Groups[0]; first.Code != "water-limit" || !first.Grave || len(first.Flags) != 1 ||
		len(first.Flags[0].Lines) != 2 {
		t.Errorf("the first group is %+v", first)
	}
}

func mapZone(t testing.TB, m drawing.Map, zone string) drawing.MapZone {
	t.Helper()
	for _, p := range m.Parts {
		for _, z := range p.Zones {
			if z.Zone == zone {
				return z
			}
		}
	}
	t.Fatalf("no zone %s on the map", zone)
	return drawing.MapZone{}
}

// A zone on the map: how far its coat is, and what its surface is like.
func TestAZoneOnTheMapIsAsItsCoatIs(t *testing.T) {
	one := viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 0))
	cover := viewtest.Wrote(viewtest.Clock(11, 30), event.SurfaceTended{
		Zone: "A1", Face: event.Outer,
		Tending: event.Covered,
	})
	for _, c := range []struct {
		name           string
		work           []sim.Work
		state, surface string
		mean           float64
		done           int32
	}{
		{"nothing placed", nil, "waiting", "", 0, 0},
		{
			"fresh and bare", append(one, viewtest.Read(viewtest.Full(viewtest.Noon, 15, 0.9, 1))), "under way", "bare",
			viewtest.BatchM3 / 1.08 / 9, 0,
		},
		{
			"fresh and drying", append(one, viewtest.Read(viewtest.Hot(viewtest.Noon))), "under way", "drying",
			viewtest.BatchM3 / 1.08 / 9, 0,
		},
		{"covered", append(one, cover), "under way", "covered", viewtest.BatchM3 / 1.08 / 9, 0},
		{
			"finished", append(one, viewtest.Wrote(viewtest.Clock(11, 30),
				event.ProgressStated{Coat: viewtest.CoatA1, Complete: viewtest.As(unit.Share(1))})),
			"done", "bare", viewtest.BatchM3 / 1.08 / 9, 1,
		},
	} {
		m := drawing.MapOf(viewtest.Planned(t, viewtest.Plan(), c.work...), viewtest.Noon, time.UTC,
			&drawing.MapCoat{Face: "outer", Coat: 1},
			false)
		z := mapZone(t, m, "A1")
		viewtest.Same(t, c.name+": state", z.State, c.state)
		viewtest.Same(t, c.name+": surface", z.Surface, c.surface)
		viewtest.Is(t, c.name+": mean", z.MeanM, c.mean)
		viewtest.Is(t, c.name+": design", z.DesignM, 0.012)
		viewtest.Same(t, c.name+": coats done", z.Done, c.done)
		viewtest.Same(t, c.name+": coats planned", z.Planned, 1)
	}
}

// What an edge on the map says, as the joint along it stands.
func TestAnEdgeOnTheMapIsAsItsJointIs(t *testing.T) {
	one := viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), 1)
	second := func(at time.Time) []sim.Work {
		w := viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, at, 1)
		p := w[1].Body.(event.Placement)
		p.Along = []event.Zone{"A1"}
		w[1].Body = p
		return append(w, viewtest.Wrote(at.Add(20*time.Minute), event.ProgressStated{
			Coat:     viewtest.CoatA2,
			Complete: viewtest.As(unit.Share(1)),
		}),
			viewtest.Wrote(at.Add(20*time.Minute), event.ProgressStated{
				Coat:     viewtest.CoatA1,
				Complete: viewtest.As(unit.Share(1)),
			}))
	}
	for _, c := range []struct {
		name    string
		work    []sim.Work
		now     time.Time
		state   string
		minutes float64 // until it turns
	}{
		{"nothing placed", viewtest.At23(), viewtest.Noon, view.NotMet, viewtest.None},
		{"live", append(viewtest.At23(), one...), viewtest.Clock(9, 0), "live", 90},
		{"closing", append(viewtest.At23(), one...), viewtest.Clock(10, 10), "closing", 20},
		{"cold", append(viewtest.At23(), one...), viewtest.Clock(11, 0), "cold", 0},
		{
			"made in time", viewtest.All(viewtest.At23(), one, second(viewtest.Clock(9, 0))), viewtest.Clock(10, 0),
			view.MadeLive, viewtest.None,
		},
		{
			"made late", viewtest.All(viewtest.At23(), one, second(viewtest.Clock(10, 5))), viewtest.Clock(11, 0),
			view.MadeLate, viewtest.None,
		},
		{
			"made cold", viewtest.All(viewtest.At23(), one, second(viewtest.Clock(11, 0))), viewtest.Clock(12, 0),
			view.MadeCold, viewtest.None,
		},
	} {
		m := drawing.MapOf(viewtest.Planned(t, viewtest.Plan(), c.work...), c.now, time.UTC,
			&drawing.MapCoat{Face: "outer", Coat: 1},
			false)
		if len(m.Parts) != 1 || len(m.Parts[0].Edges) != 1 {
			t.Fatalf("%s: parts %+v", c.name, m.Parts)
		}
		e := m.Parts[0].Edges[0]
		viewtest.Same(t, c.name, e.State, c.state)
		viewtest.Same(t, c.name+": between", e.A+" "+e.B, "A1 A2")
		viewtest.Is(t, c.name+": length", e.LengthM, 3)
		viewtest.MaybeIs(t, c.name+": minutes", e.MinutesLow, c.minutes)
		viewtest.MaybeIs(t, c.name+": minutes at most", e.MinutesHigh, c.minutes)
	}
}

// A front that was ended on purpose waits for nobody, so that no map counts down to when it turns cold.
func TestAMapCountsDownNoEdgeThatWasEndedOnPurpose(t *testing.T) {
	work := append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), 1)...)
	work = append(work, viewtest.Wrote(viewtest.Clock(8, 30), event.FrontEnded{
		Coat: viewtest.CoatA1, OtherZone: "A2", Treatment: "cut square, damp",
	}))
	for _, now := range []time.Time{viewtest.Clock(9, 0), viewtest.Clock(10, 10), viewtest.Clock(11, 0)} {
		m := drawing.MapOf(viewtest.Planned(t, viewtest.Plan(), work...), now, time.UTC, nil, false)
		e := m.Parts[0].Edges[0]
		viewtest.Same(t, "state", e.State, "ended")
		viewtest.MaybeIs(t, "minutes", e.MinutesLow, viewtest.None)
		viewtest.MaybeIs(t, "minutes at most", e.MinutesHigh, viewtest.None)
		if e.TurnsAt != nil || e.TurnsLatest != nil {
			t.Errorf("it turns cold at %v, %v", e.TurnsAt, e.TurnsLatest)
		}
		if e.Joint == "" {
			t.Error("the edge leads to no joint")
		}
	}
}

func TestAMapHasTheCoatThatIsAskedForOrWasPlacedLast(t *testing.T) {
	inner := event.Coat{Zone: "A2", Face: event.Inner, Number: 1}
	bodies := append(viewtest.Plan(), event.CoatPlanned{
		Coat: inner, Thickness: viewtest.As(unit.Length(0.01)),
		Mix: "face",
	})
	s := viewtest.Planned(t, bodies,
		viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
			viewtest.Whole(viewtest.Batch(2), inner, viewtest.Clock(9, 0)))...)
	for _, c := range []struct {
		name string
		ask  *drawing.MapCoat
		all  bool
		want string
	}{
		{"asked for", &drawing.MapCoat{Face: "outer", Coat: 1}, false, "outer"},
		{"placed last", nil, false, "inner"},
		{"not planned", &drawing.MapCoat{Face: "outer", Coat: 9}, false, "inner"},
		{"all", nil, true, ""},
	} {
		m := drawing.MapOf(s, viewtest.Noon, time.UTC, c.ask, c.all)
		got := ""
		if m.Shown != nil {
			got = m.Shown.Face
		}
		viewtest.Same(t, c.name, got, c.want)
		viewtest.List(t, c.name+": coats", m.Coats, drawing.MapCoat{Face: "outer", Coat: 1},
			drawing.MapCoat{Face: "inner", Coat: 1})
	}
	viewtest.Same(t, "a zone without such a coat", mapZone(t, drawing.MapOf(s, viewtest.Noon, time.UTC, nil, false),
		"A1").State,
		"not planned")
}

// The rate of drying through a day, with what it may be off by: Uno's formula, ±40 % (Hover, ACI SP-338).
func TestADaysDryingIsThatOfEachFullReading(t *testing.T) {
	f := viewtest.Wrote(viewtest.Clock(6, 0), event.WeatherForecast{
		Source: "office", IssuedAt: viewtest.Clock(6, 0),
		WindHeight: viewtest.As(unit.Length(2)), Samples: []event.Weather{
			viewtest.Full(viewtest.Clock(11, 0), 30, 0.3, 6),
			viewtest.Full(viewtest.Clock(14, 0), 30, 0.3, 6),
		},
	})
	v := view.DryingOf(viewtest.Site(t, f, viewtest.Read(viewtest.Full(viewtest.Clock(9, 0), 20, 0.8, 1)),
		viewtest.Read(viewtest.Air(viewtest.Clock(9, 30))),
		viewtest.Read(viewtest.Full(viewtest.Clock(10, 0), 32, 0.3, 7)),
		viewtest.Read(viewtest.Full(viewtest.Clock(11, 30), 33, 0.25, 8))), viewtest.Noon, time.UTC)
	if len(v.Points) != 4 {
		t.Fatalf("points %+v", v.Points)
	}
	viewtest.Is(t, "limit", v.LimitKgM2H, 0.5)
	viewtest.Is(t, "spread", v.Spread, 0.4)
	viewtest.At(t, "over since", v.OverSince, viewtest.Clock(10, 0))
	for i, c := range []struct {
		at                  time.Time
		told, over          bool
		air, humidity, wind float64
	}{{viewtest.Clock(9, 0), false, false, 20, 0.8, 1}, {viewtest.Clock(10, 0), false, true, 32, 0.3, 7}, {
		viewtest.Clock(11, 30), false, true, 33,
		0.25, 8,
	}, {viewtest.Clock(14, 0), true, true, 30, 0.3, 6}} {
		p := v.Points[i]
		if !p.At.Equal(c.at) || p.Forecast != c.told || p.Over != c.over {
			t.Errorf("point %d: %+v", i, p)
		}
		want := viewtest.Uno(c.air, c.air, c.humidity, *p.WindMPS)
		if math.Abs(p.RateKgM2H-want) > 1e-6 {
			t.Errorf("at %s it dries at %g, want %g", c.at.Format("15:04"), p.RateKgM2H, want)
		}
		viewtest.Is(t, "low", p.LowKgM2H, p.RateKgM2H*0.6)
		viewtest.Is(t, "high", p.HighKgM2H, p.RateKgM2H*1.4)
		viewtest.Is(t, "surface", p.SurfaceC, c.air)
	}
}

func TestADayWithoutAFullReadingHasNoDrying(t *testing.T) {
	if v := view.DryingOf(viewtest.Site(t, viewtest.Read(viewtest.Air(viewtest.Clock(9, 0)))), viewtest.Noon,
		time.UTC); len(v.Points) != 0 || v.OverSince != nil {
		t.Errorf("the air alone was read, and it dries at %+v", v.Points)
	}
}

// A page of the log: the newest first, and what it leaves out.
func TestAPageOfTheLogSaysWhatItLeavesOut(t *testing.T) {
	var work []sim.Work
	for i := range 7 {
		work = append(work, viewtest.Wrote(viewtest.Clock(8, i), event.Noted{Text: string(rune('a' + i))}))
	}
	s := viewtest.Site(t, append(work, viewtest.Mixed(viewtest.BatchOf("south", 1), viewtest.Clock(9, 0)))...)
	for _, c := range []struct {
		page, size, is, of int
		want               string
	}{{1, 3, 1, 3, "g f e"}, {2, 3, 2, 3, "d c b"}, {3, 3, 3, 3, "a"}, {9, 3, 3, 3, "a"}, {0, 3, 1, 3, "g f e"}, {
		1,
		100, 1, 1, "g f e d c b a",
	}} {
		v := drawing.LogLeafOf(s, viewtest.Noon, time.UTC, view.LogQuery{Kind: "note"}, c.page, c.size)
		var got []string
		for _, e := range v.Entries {
			got = append(got, e.Text)
		}
		viewtest.Same(t, "page", strings.Join(got, " "), c.want)
		viewtest.Same(t, "number", v.Page, c.is)
		viewtest.Same(t, "of", v.Pages, c.of)
		viewtest.Same(t, "found", v.Found, 7)
		viewtest.Same(t, "left out", v.LeftOut, s.Len()-7)
		viewtest.List(t, "crews", v.Crews, "north", "office", "south")
		if !slices.Contains(v.Kinds, "batch") || !slices.IsSorted(v.Kinds) {
			t.Errorf("kinds %v", v.Kinds)
		}
	}
}

func TestAnEventsPageHasWhatCorrectsItAndItsFlags(t *testing.T) {
	d := viewtest.NewDesk(t, viewtest.BatchWith(1, viewtest.Clock(8, 0),
		func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 22) }),
		viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 5), viewtest.Clock(8, 9), 1))
	d.Write("n1", "north", viewtest.Clock(9, 0),
		event.Amended{Target: d.Of("n1/2"), Body: event.Placement{
			Batch: viewtest.Batch(1), Coat: viewtest.CoatA2,
			From: viewtest.Clock(8, 5),
		}})
	s := d.Site()
	names := func(v drawing.EventLeaf) string {
		var all []string
		for _, e := range v.Chain {
			all = append(all, e.Name)
		}
		return strings.Join(all, " ")
	}
	v, ok := drawing.EventLeafOf(s, viewtest.Noon, time.UTC, "n1/2")
	if !ok || names(v) != "n1/2 n1/3" || len(v.Zones) != 1 || v.Zones[0] != "A2" {
		t.Errorf("known %t: chain %q, zones %v", ok, names(v), v.Zones)
	}
	v, _ = drawing.EventLeafOf(s, viewtest.Noon, time.UTC, "n1/3")
	viewtest.Same(t, "chain of the amendment", names(v), "n1/2 n1/3")
	v, _ = drawing.EventLeafOf(s, viewtest.Noon, time.UTC, "n1/1")
	if len(v.Chain) != 0 || !slices.ContainsFunc(v.Flags, func(f daily.Flag) bool { return f.Code == "water-limit" }) {
		t.Errorf("chain %q, flags %+v", names(v), v.Flags)
	}
	for _, name := range []string{"n1/99", "n1", ""} {
		if _, ok := drawing.EventLeafOf(s, viewtest.Noon, time.UTC, name); ok {
			t.Errorf("there is no event %q", name)
		}
	}
}

func TestAJointsPageHasItsLimits(t *testing.T) {
	s := viewtest.Site(t, append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 1)...)...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(9, 0), time.UTC).Joints, "edge", "A1", "A2", false)
	v, ok := drawing.JointLeafOf(s, viewtest.Clock(9, 0), time.UTC, j.ID)
	if !ok || v.Joint.ID != j.ID {
		t.Fatalf("known %t, %+v", ok, v.Joint)
	}
	viewtest.Is(t, "closing", v.Limit.Closing, 0.8)
	viewtest.Is(t, "cold", v.Limit.Cold, 1)
	if _, ok := drawing.JointLeafOf(s, viewtest.Clock(9, 0), time.UTC, "xxxxx"); ok {
		t.Error("there is no such joint")
	}
}

// The whole record: each of its parts is the view of that name.
func TestTheWholeRecordIsEachView(t *testing.T) {
	s := viewtest.Site(t, viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		[]sim.Work{viewtest.Received(viewtest.Clock(7, 0), 1000, "")})...)
	v := drawing.RecordOf(s, viewtest.Noon, time.UTC)
	viewtest.Same(t, "site", v.Site+", "+v.Place, "Tarn vault, Underhay")
	if len(v.Lines) != 2 || len(v.Zones) != 2 || len(v.Maps) != 1 {
		t.Errorf("%d lines, %d zones, %d maps", len(v.Lines), len(v.Zones), len(v.Maps))
	}
	viewtest.Is(t, "placed", v.Lines[0].PlacedM3, viewtest.BatchM3)
	viewtest.MaybeIs(t, "cement", viewtest.Cement(t, v.Stock).OnHandKg, 958)
	viewtest.Same(t, "entries", len(v.Log.Entries), s.Len())
	viewtest.Same(t, "left out", v.LeftOut, 0)
	if l := drawing.ZoneListOf(s, viewtest.Noon); len(l.Lines) != 2 || l.Lines[0].Zone != "A1" {
		t.Errorf("the list of zones %+v", l)
	}
}

// The fan goes down from what is left now to none.
func TestTheFanGoesDownToNone(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(60))
			bodies[i] = z
		}
	}
	v := drawing.OverviewOf(viewtest.Planned(t, bodies, viewtest.EveryHalfHour(4, viewtest.Clock(8, 0))...),
		viewtest.Noon, time.UTC, nil, false)
	if len(v.Fan) < 2 {
		t.Fatalf("fan %+v", v.Fan)
	}
	first, last := v.Fan[0], v.Fan[len(v.Fan)-1]
	if math.Abs(first.P50-float64(v.Left.Batches.P50)) > 1 || last.P50 != 0 || last.P95 > 1 {
		t.Errorf("from %+v (left %+v) to %+v", first, *v.Left.Batches, last)
	}
	for i, p := range v.Fan {
		if p.P05 > p.P25 || p.P25 > p.P50 || p.P50 > p.P75 || p.P75 > p.P95 {
			t.Errorf("quantiles %+v", p)
		}
		if i > 0 && (p.P50 > v.Fan[i-1].P50 || !p.At.After(v.Fan[i-1].At)) {
			t.Errorf("it does not go down: %+v after %+v", p, v.Fan[i-1])
		}
	}
	if v := overview(t, viewtest.Noon); v.Fan != nil { // no pace, no fan
		t.Errorf("without a pace %+v", v.Fan)
	}
}
