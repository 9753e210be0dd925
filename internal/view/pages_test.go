package view_test

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
)

// The views that pages are made of: the same values as those of the terminal, gathered otherwise.

func overview(t testing.TB, now time.Time, work ...sim.Work) drawing.Overview {
	t.Helper()
	return drawing.OverviewOf(planned(t, week(plan()), work...), now, time.UTC, nil, false)
}

// Edges of one coat that turn at one instant are one thing to look at.
func TestAnOverviewGathersWhatTurnsTogether(t *testing.T) {
	work := append(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5)...)
	for _, c := range []struct {
		now    time.Time
		states string
		worst  string
	}{
		{clock(9, 0), "live A1 inside, live A1 to A2", "live"},
		{clock(10, 10), "closing A1 inside, closing A1 to A2", "closing"},
		{clock(11, 0), "cold A1 inside, cold A1 to A2", "cold"},
	} {
		v := overview(t, c.now, work...)
		var got []string
		for _, g := range v.Edges {
			what := "inside"
			if !g.Inside {
				what = "to " + strings.Join(g.Others, " ")
				is(t, "length", g.LengthM, 3)
			}
			got = append(got, g.State+" "+g.Zone+" "+what)
			at(t, "turns", g.TurnsAt, clock(10, 30))
			if len(g.Joints) != 1 {
				t.Errorf("joints %v", g.Joints)
			}
		}
		slices.Sort(got)
		same(t, "edges at "+c.now.Format("15:04"), strings.Join(got, ", "), c.states)
		if v.Worst == nil || v.Worst.State != c.worst {
			t.Errorf("the worst at %s is %+v", c.now.Format("15:04"), v.Worst)
		}
	}
	v := overview(t, clock(23, 0).Add(3*time.Hour), work...)
	same(t, "old edges the day after", v.OldEdges, 2)
	if v.Worst != nil || len(v.Edges) != 0 {
		t.Errorf("the day after nothing presses, and there is %+v", v.Edges)
	}
}

// Two placements may lie along the edge, and the older has set: it may be cold.
func TestAnOverviewSaysWhatMayBeCold(t *testing.T) {
	work := all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5), batchAt23(batch(2), coatA1, clock(10, 0), 0.5))
	v := overview(t, clock(11, 0), work...)
	if v.Worst == nil || v.Worst.State != view.MayBeCold {
		t.Fatalf("the worst is %+v", v.Worst)
	}
	at(t, "the soonest", v.Worst.TurnsAt, clock(10, 30))
	at(t, "the latest", v.Worst.TurnsLatest, clock(12, 30))
}

func TestAnOverviewTellsWhatEachCrewDidLast(t *testing.T) {
	work := append(whole(batch(1), coatA1, clock(8, 0)), wrote(clock(7, 0), event.ShiftStarted{People: 3}),
		read(full(clock(11, 0), 20, 0.5, 1)))
	v := overview(t, noon, work...)
	if len(v.Crews) != 1 {
		t.Fatalf("crews %+v", v.Crews)
	}
	c := v.Crews[0]
	same(t, "crew", c.Crew, "north")
	at(t, "heard", c.HeardAt, clock(11, 0)) // by its reading, which is no work
	at(t, "did last", c.LastAt, clock(8, 10))
	same(t, "event", c.LastEvent, "n1/3")
	if !strings.Contains(c.Last, "batch 1 into A1 outer 1") {
		t.Errorf("in words %q", c.Last)
	}
	same(t, "batches", c.Batches, 1)
	is(t, "placed", c.PlacedM3, batchM3)
	same(t, "on shift", c.OnShift, true)
	c = overview(t, noon).Crews[0]
	if c.HeardAt != nil || c.LastAt != nil || c.Last != "" || c.OnShift {
		t.Errorf("a crew that wrote nothing: %+v", c)
	}
}

func TestAnOverviewCountsWhatIsToSettle(t *testing.T) {
	v := overview(t, clock(10, 30),
		batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 95, 16) }),
		batchWith(2, clock(9, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 85, 22) }),
		batchWith(3, clock(10, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 85, 23) }))
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
	one := whole(batch(1), coatA1, clock(11, 0))
	cover := wrote(clock(11, 30), event.SurfaceTended{Zone: "A1", Face: event.Outer, Tending: event.Covered})
	for _, c := range []struct {
		name           string
		work           []sim.Work
		state, surface string
		mean           float64
		done           int32
	}{
		{"nothing placed", nil, "waiting", "", 0, 0},
		{"fresh and bare", append(one, read(full(noon, 15, 0.9, 1))), "under way", "bare", batchM3 / 1.08 / 9, 0},
		{"fresh and drying", append(one, read(hot(noon))), "under way", "drying", batchM3 / 1.08 / 9, 0},
		{"covered", append(one, cover), "under way", "covered", batchM3 / 1.08 / 9, 0},
		{
			"finished", append(one, wrote(clock(11, 30),
				event.ProgressStated{Coat: coatA1, Complete: as(unit.Share(1))})),
			"done", "bare", batchM3 / 1.08 / 9, 1,
		},
	} {
		m := drawing.MapOf(planned(t, plan(), c.work...), noon, time.UTC, &drawing.MapCoat{Face: "outer", Coat: 1},
			false)
		z := mapZone(t, m, "A1")
		same(t, c.name+": state", z.State, c.state)
		same(t, c.name+": surface", z.Surface, c.surface)
		is(t, c.name+": mean", z.MeanM, c.mean)
		is(t, c.name+": design", z.DesignM, 0.012)
		same(t, c.name+": coats done", z.Done, c.done)
		same(t, c.name+": coats planned", z.Planned, 1)
	}
}

// What an edge on the map says, as the joint along it stands.
func TestAnEdgeOnTheMapIsAsItsJointIs(t *testing.T) {
	one := batchAt23(batch(1), coatA1, clock(8, 0), 1)
	second := func(at time.Time) []sim.Work {
		w := batchAt23(batch(2), coatA2, at, 1)
		p := w[1].Body.(event.Placement)
		p.Along = []event.Zone{"A1"}
		w[1].Body = p
		return append(w, wrote(at.Add(20*time.Minute), event.ProgressStated{Coat: coatA2, Complete: as(unit.Share(1))}),
			wrote(at.Add(20*time.Minute), event.ProgressStated{Coat: coatA1, Complete: as(unit.Share(1))}))
	}
	for _, c := range []struct {
		name    string
		work    []sim.Work
		now     time.Time
		state   string
		minutes float64 // until it turns
	}{
		{"nothing placed", at23(), noon, view.NotMet, none},
		{"live", append(at23(), one...), clock(9, 0), "live", 90},
		{"closing", append(at23(), one...), clock(10, 10), "closing", 20},
		{"cold", append(at23(), one...), clock(11, 0), "cold", 0},
		{"made in time", all(at23(), one, second(clock(9, 0))), clock(10, 0), view.MadeLive, none},
		{"made late", all(at23(), one, second(clock(10, 5))), clock(11, 0), view.MadeLate, none},
		{"made cold", all(at23(), one, second(clock(11, 0))), clock(12, 0), view.MadeCold, none},
	} {
		m := drawing.MapOf(planned(t, plan(), c.work...), c.now, time.UTC, &drawing.MapCoat{Face: "outer", Coat: 1},
			false)
		if len(m.Parts) != 1 || len(m.Parts[0].Edges) != 1 {
			t.Fatalf("%s: parts %+v", c.name, m.Parts)
		}
		e := m.Parts[0].Edges[0]
		same(t, c.name, e.State, c.state)
		same(t, c.name+": between", e.A+" "+e.B, "A1 A2")
		is(t, c.name+": length", e.LengthM, 3)
		maybeIs(t, c.name+": minutes", e.MinutesLow, c.minutes)
		maybeIs(t, c.name+": minutes at most", e.MinutesHigh, c.minutes)
	}
}

func TestAMapHasTheCoatThatIsAskedForOrWasPlacedLast(t *testing.T) {
	inner := event.Coat{Zone: "A2", Face: event.Inner, Number: 1}
	bodies := append(plan(), event.CoatPlanned{Coat: inner, Thickness: as(unit.Length(0.01)), Mix: "face"})
	s := planned(t, bodies, all(whole(batch(1), coatA1, clock(8, 0)), whole(batch(2), inner, clock(9, 0)))...)
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
		m := drawing.MapOf(s, noon, time.UTC, c.ask, c.all)
		got := ""
		if m.Shown != nil {
			got = m.Shown.Face
		}
		same(t, c.name, got, c.want)
		list(t, c.name+": coats", m.Coats, drawing.MapCoat{Face: "outer", Coat: 1},
			drawing.MapCoat{Face: "inner", Coat: 1})
	}
	same(t, "a zone without such a coat", mapZone(t, drawing.MapOf(s, noon, time.UTC, nil, false), "A1").State,
		"not planned")
}

// The rate of drying through a day, with what it may be off by: Uno's formula, ±40 % (Hover, ACI SP-338).
func TestADaysDryingIsThatOfEachFullReading(t *testing.T) {
	f := wrote(clock(6, 0), event.WeatherForecast{
		Source: "office", IssuedAt: clock(6, 0),
		WindHeight: as(unit.Length(2)), Samples: []event.Weather{
			full(clock(11, 0), 30, 0.3, 6),
			full(clock(14, 0), 30, 0.3, 6),
		},
	})
	v := view.DryingOf(site(t, f, read(full(clock(9, 0), 20, 0.8, 1)), read(air(clock(9, 30))),
		read(full(clock(10, 0), 32, 0.3, 7)), read(full(clock(11, 30), 33, 0.25, 8))), noon, time.UTC)
	if len(v.Points) != 4 {
		t.Fatalf("points %+v", v.Points)
	}
	is(t, "limit", v.LimitKgM2H, 0.5)
	is(t, "spread", v.Spread, 0.4)
	at(t, "over since", v.OverSince, clock(10, 0))
	for i, c := range []struct {
		at                  time.Time
		told, over          bool
		air, humidity, wind float64
	}{{clock(9, 0), false, false, 20, 0.8, 1}, {clock(10, 0), false, true, 32, 0.3, 7}, {
		clock(11, 30), false, true, 33,
		0.25, 8,
	}, {clock(14, 0), true, true, 30, 0.3, 6}} {
		p := v.Points[i]
		if !p.At.Equal(c.at) || p.Forecast != c.told || p.Over != c.over {
			t.Errorf("point %d: %+v", i, p)
		}
		want := uno(c.air, c.air, c.humidity, *p.WindMPS)
		if math.Abs(p.RateKgM2H-want) > 1e-6 {
			t.Errorf("at %s it dries at %g, want %g", c.at.Format("15:04"), p.RateKgM2H, want)
		}
		is(t, "low", p.LowKgM2H, p.RateKgM2H*0.6)
		is(t, "high", p.HighKgM2H, p.RateKgM2H*1.4)
		is(t, "surface", p.SurfaceC, c.air)
	}
}

func TestADayWithoutAFullReadingHasNoDrying(t *testing.T) {
	if v := view.DryingOf(site(t, read(air(clock(9, 0)))), noon, time.UTC); len(v.Points) != 0 || v.OverSince != nil {
		t.Errorf("the air alone was read, and it dries at %+v", v.Points)
	}
}

// A page of the log: the newest first, and what it leaves out.
func TestAPageOfTheLogSaysWhatItLeavesOut(t *testing.T) {
	var work []sim.Work
	for i := range 7 {
		work = append(work, wrote(clock(8, i), event.Noted{Text: string(rune('a' + i))}))
	}
	s := site(t, append(work, mixed(batchOf("south", 1), clock(9, 0)))...)
	for _, c := range []struct {
		page, size, is, of int
		want               string
	}{{1, 3, 1, 3, "g f e"}, {2, 3, 2, 3, "d c b"}, {3, 3, 3, 3, "a"}, {9, 3, 3, 3, "a"}, {0, 3, 1, 3, "g f e"}, {
		1,
		100, 1, 1, "g f e d c b a",
	}} {
		v := drawing.LogLeafOf(s, noon, time.UTC, view.LogQuery{Kind: "note"}, c.page, c.size)
		var got []string
		for _, e := range v.Entries {
			got = append(got, e.Text)
		}
		same(t, "page", strings.Join(got, " "), c.want)
		same(t, "number", v.Page, c.is)
		same(t, "of", v.Pages, c.of)
		same(t, "found", v.Found, 7)
		same(t, "left out", v.LeftOut, s.Len()-7)
		list(t, "crews", v.Crews, "north", "office", "south")
		if !slices.Contains(v.Kinds, "batch") || !slices.IsSorted(v.Kinds) {
			t.Errorf("kinds %v", v.Kinds)
		}
	}
}

func TestAnEventsPageHasWhatCorrectsItAndItsFlags(t *testing.T) {
	d := newDesk(t, batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 85, 22) }),
		placed(batch(1), coatA1, clock(8, 5), clock(8, 9), 1))
	d.write("n1", "north", clock(9, 0),
		event.Amended{Target: d.of("n1/2"), Body: event.Placement{Batch: batch(1), Coat: coatA2, From: clock(8, 5)}})
	s := d.site()
	names := func(v drawing.EventLeaf) string {
		var all []string
		for _, e := range v.Chain {
			all = append(all, e.Name)
		}
		return strings.Join(all, " ")
	}
	v, ok := drawing.EventLeafOf(s, noon, time.UTC, "n1/2")
	if !ok || names(v) != "n1/2 n1/3" || len(v.Zones) != 1 || v.Zones[0] != "A2" {
		t.Errorf("known %t: chain %q, zones %v", ok, names(v), v.Zones)
	}
	v, _ = drawing.EventLeafOf(s, noon, time.UTC, "n1/3")
	same(t, "chain of the amendment", names(v), "n1/2 n1/3")
	v, _ = drawing.EventLeafOf(s, noon, time.UTC, "n1/1")
	if len(v.Chain) != 0 || !slices.ContainsFunc(v.Flags, func(f daily.Flag) bool { return f.Code == "water-limit" }) {
		t.Errorf("chain %q, flags %+v", names(v), v.Flags)
	}
	for _, name := range []string{"n1/99", "n1", ""} {
		if _, ok := drawing.EventLeafOf(s, noon, time.UTC, name); ok {
			t.Errorf("there is no event %q", name)
		}
	}
}

func TestAJointsPageHasItsLimits(t *testing.T) {
	s := site(t, append(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1)...)...)
	j := joint(t, view.JointsOf(s, clock(9, 0), time.UTC).Joints, "edge", "A1", "A2", false)
	v, ok := drawing.JointLeafOf(s, clock(9, 0), time.UTC, j.ID)
	if !ok || v.Joint.ID != j.ID {
		t.Fatalf("known %t, %+v", ok, v.Joint)
	}
	is(t, "closing", v.Limit.Closing, 0.8)
	is(t, "cold", v.Limit.Cold, 1)
	if _, ok := drawing.JointLeafOf(s, clock(9, 0), time.UTC, "xxxxx"); ok {
		t.Error("there is no such joint")
	}
}

// The whole record: each of its parts is the view of that name.
func TestTheWholeRecordIsEachView(t *testing.T) {
	s := site(t, all(whole(batch(1), coatA1, clock(8, 0)), []sim.Work{received(clock(7, 0), 1000, "")})...)
	v := drawing.RecordOf(s, noon, time.UTC)
	same(t, "site", v.Site+", "+v.Place, "Tarn vault, Underhay")
	if len(v.Lines) != 2 || len(v.Zones) != 2 || len(v.Maps) != 1 {
		t.Errorf("%d lines, %d zones, %d maps", len(v.Lines), len(v.Zones), len(v.Maps))
	}
	is(t, "placed", v.Lines[0].PlacedM3, batchM3)
	maybeIs(t, "cement", cement(t, v.Stock).OnHandKg, 958)
	same(t, "entries", len(v.Log.Entries), s.Len())
	same(t, "left out", v.LeftOut, 0)
	if l := drawing.ZoneListOf(s, noon); len(l.Lines) != 2 || l.Lines[0].Zone != "A1" {
		t.Errorf("the list of zones %+v", l)
	}
}

// The fan goes down from what is left now to none.
func TestTheFanGoesDownToNone(t *testing.T) {
	bodies := week(plan())
	for i, b := range bodies {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = as(unit.Area(60))
			bodies[i] = z
		}
	}
	v := drawing.OverviewOf(planned(t, bodies, everyHalfHour(4, clock(8, 0))...), noon, time.UTC, nil, false)
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
	if v := overview(t, noon); v.Fan != nil { // no pace, no fan
		t.Errorf("without a pace %+v", v.Fan)
	}
}
