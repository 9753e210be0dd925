package view_test

import (
	"crypto/ed25519"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/viewtest"
)

// entry of a log by its name.
func entry(t testing.TB, l view.Log, name string) view.Entry {
	t.Helper()
	i := slices.IndexFunc(l.Entries, func(e view.Entry) bool { return e.Name == name })
	if i < 0 {
		t.Fatalf("no entry %s", name)
	}
	return l.Entries[i]
}

func logOf(s *fold.Site) view.Log { return view.LogOf(s, viewtest.Noon, time.UTC, view.LogQuery{}) }

// The words, zones and batches of each kind of event.
func TestEachKindOfEventHasItsLineInTheLog(t *testing.T) {
	key := ed25519.PublicKey(make([]byte, 32))
	none := []string{}
	for _, c := range []struct {
		body           event.Body
		words          string
		zones, batches []string
	}{
		{
			event.SitePlanned{Name: "Tarn vault", Place: "Underhay", Units: event.Metric},
			"site Tarn vault, Underhay",
			none, none,
		},
		{
			event.ZonePlanned{Zone: "B1", Area: viewtest.As(unit.Area(12.5))},
			"zone B1, 12.5 m² (135 ft²)",
			[]string{"B1"},
			none,
		},
		{
			event.EdgePlanned{A: "A1", B: "B1", Length: viewtest.As(unit.Length(2.4))},
			"edge A1-B1, 2.4 m (7 ft 10 1/2 in)",
			[]string{"A1", "B1"},
			none,
		},
		{
			event.CoatPlanned{Coat: viewtest.CoatA2, Thickness: viewtest.As(unit.Length(0.012)), Mix: "face"},
			"coat A2 outer 1, 12 mm (0.472 in) of face",
			[]string{"A2"},
			none,
		},
		{event.CrewPlanned{Crew: "south", Name: "South"}, "crew south, South", none, none},
		{
			event.MaterialPlanned{Material: "sand", Bulk: viewtest.Ref(unit.Density(1500))},
			"sand, loose 1500 kg/m³ (93.6 lb/ft³)",
			none, none,
		},
		{
			event.MaterialPlanned{Material: "cement", Bag: viewtest.Ref(unit.Mass(25))},
			"cement, a bag of 25 kg (55.1 lb)", none,
			none,
		},
		{
			viewtest.Mixed(viewtest.Batch(4), viewtest.Noon).Body,
			"batch north/2031-05-12/4 of face, 143 kg, w/cm 0.381", none,
			[]string{viewtest.Batch(4).String()},
		},
		{
			event.BatchTested{
				Batch: viewtest.Batch(1), Temperature: viewtest.Ref(unit.Celsius(24)),
				Flow: viewtest.Ref(unit.Share(1.1)),
				Air:  viewtest.Ref(unit.Share(0.055)),
			},
			"batch north/2031-05-12/1 tested: 24 °C (75.2 °F), flow 110%, air 5.5%", none,
			[]string{viewtest.Batch(1).String()},
		},
		{
			event.Placement{
				Batch: viewtest.Batch(1), Coat: viewtest.CoatA1, From: viewtest.Clock(11, 0),
				To:    viewtest.Clock(11, 10),
				Along: []event.Zone{"A2"}, Complete: viewtest.Ref(unit.Share(0.4)),
				Part: event.Part{Share: viewtest.Ref(unit.Share(0.5))},
			},
			"50% of batch north/2031-05-12/1 in A1 outer 1, from 11:00 to 11:10, along A2, which is then 40% complete",
			[]string{"A1"},
			[]string{viewtest.Batch(1).String()},
		},
		{
			event.BatchDiscarded{Batch: viewtest.Batch(1), Why: "stiff"},
			"the rest of batch north/2031-05-12/1 discarded: stiff",
			none,
			[]string{viewtest.Batch(1).String()},
		},
		{
			event.JointTreated{Coat: viewtest.CoatA1, OtherZone: "A2", Method: "wetted"},
			"joint of A1 outer 1 along A2 treated: wetted",
			[]string{"A1", "A2"},
			none,
		},
		{
			event.JointTreated{Coat: viewtest.CoatA1, Method: "wetted"},
			"joint of A1 outer 1 treated: wetted",
			[]string{"A1"},
			none,
		},
		{
			event.SurfaceTended{Zone: "A1", Tending: event.Covered, With: "burlap"},
			"A1 covered burlap",
			[]string{"A1"},
			none,
		},
		{
			event.ProgressStated{Coat: viewtest.CoatA1, Complete: viewtest.As(unit.Share(0.75))},
			"A1 outer 1 is 75% complete",
			[]string{"A1"},
			none,
		},
		{event.MethodChanged{What: "sprayed"}, "placed differently from now on: sprayed", none, none},
		{
			viewtest.Read(viewtest.Full(viewtest.Noon, 20, 0.5, 3)).Body, "crew: 20 °C, 50% humidity, wind 10.8 km/h",
			none, none,
		},
		{
			event.WeatherObserved{Station: "mast", Samples: []event.Weather{
				viewtest.Air(viewtest.Clock(8, 0)),
				viewtest.Air(viewtest.Clock(10, 0)),
			}},
			"mast: 2 readings from 12 May 08:00 to 12 May 10:00", none, none,
		},
		{
			event.WeatherForecast{
				Source: "office", IssuedAt: viewtest.Noon,
				Samples: []event.Weather{viewtest.Air(viewtest.Clock(13, 0))},
			},
			"forecast by office: 31 °C", none, none,
		},
		{
			event.CureReadings{
				Probe: "p1", Coat: viewtest.CoatA1,
				Samples: []event.Reading{{At: viewtest.Noon, Temperature: 24}},
			},
			"A1 outer 1 at 24 °C by p1",
			[]string{"A1"},
			none,
		},
		{
			event.StockReceived{Material: "cement", Amount: event.Amount{Mass: 1000}, Lot: "L7"},
			"1000 kg (2205 lb) of cement received, lot L7", none, none,
		},
		{
			event.StockCounted{Material: "cement", Amount: event.Amount{Mass: 400}},
			"400 kg (882 lb) of cement counted",
			none, none,
		},
		{
			event.StockSpoiled{Material: "cement", Amount: event.Amount{Mass: 25}, Why: "wet"},
			"25 kg (55.1 lb) of cement spoiled: wet", none, none,
		},
		{
			event.SpecimensBroken{
				Mix: "face", Batch: new(viewtest.Batch(1)), Shape: event.Cube, Size: viewtest.Ref(unit.Length(0.05)),
				Age: 2 * time.Hour, Loads: []unit.Force{1e5},
			},
			"1 specimen of face broken at 2 h", none,
			[]string{viewtest.Batch(1).String()},
		},
		{event.Noted{Text: "mixer down", Zone: "A1"}, "mixer down", []string{"A1"}, none},
		{event.Noted{Text: "windy"}, "windy", none, none},
		{event.FlagAnswered{Flag: "abc", Answer: "seen"}, "flag abc answered: seen", none, none},
		{event.ShiftStarted{People: 4}, "shift started, 4 people", none, none},
		{event.ShiftEnded{Left: "A2"}, "shift ended A2", none, none},
		{
			event.DeviceEnrolled{Device: "s1", PublicKey: key, Role: event.CrewRole, Crew: "south", Label: "tablet"},
			"device s1 enrolled as crew of crew south: tablet", none, none,
		},
		{
			event.DeviceRevoked{Device: "n1", LastSeq: 99, Why: "lost"},
			"device n1 revoked after its event 99: lost",
			none, none,
		},
		{
			event.BatchBegun{Batch: viewtest.Batch(5), Mix: "face", Ready: viewtest.Clock(12, 15)},
			"batch north/2031-05-12/5 begun of face, ready at 12:15", none,
			[]string{viewtest.Batch(5).String()},
		},
		{
			event.FrontEnded{Coat: viewtest.CoatA1, OtherZone: "A2", Treatment: "cut square"},
			"front of A1 outer 1 along A2 ended on purpose: cut square",
			[]string{"A1", "A2"},
			none,
		},
		{
			event.ProposalTaken{
				Crew: "north", Coat: viewtest.CoatA1, Nth: 2, Until: viewtest.Clock(12, 30),
				Trials: 200, Cold: 14,
			},
			"crew north takes its next batch to A1 outer 1, holds until 12:30",
			[]string{"A1"},
			none,
		},
		{
			event.DayOrdered{
				Day: "2031-05-13", Start: viewtest.Clock(6, 0), Crews: []event.Crew{"north"},
				Bays: []event.DayBay{{Zones: []event.Zone{"A1", "A2"}}}, Batches: 6, Trials: 100,
			},
			"order of 2031-05-13: from 06:00, crews north, 6 batches: A1 A2",
			[]string{"A1", "A2"},
			none,
		},
		{
			event.CoatFinished{Coat: viewtest.CoatA1, Why: "thick enough"},
			"A1 outer 1 is finished: thick enough",
			[]string{"A1"},
			none,
		},
	} {
		work := []sim.Work{viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(10, 0))}
		if _, ends := c.body.(event.FrontEnded); ends { // by who placed there
			work = append(work, viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(10, 5),
				viewtest.Clock(10, 20), 1))
		}
		d := viewtest.NewDesk(t, work...)
		on, crew := event.Device("n1"), event.Crew("north")
		switch by, _ := event.WritersOf(c.body); by {
		case event.Server:
			on, crew = simtest.Root, ""
		case event.Foremen:
			on, crew = "f1", "office"
		}
		d.Write(on, crew, viewtest.Noon, c.body)
		name := d.Last().Name.String()
		e := entry(t, logOf(d.Site()), name)
		viewtest.Same(t, e.Kind, e.Text, c.words)
		viewtest.Same(t, e.Kind+" kind", e.Kind, event.KindOf(c.body))
		viewtest.List(t, e.Kind+" zones", e.Zones, c.zones...)
		viewtest.List(t, e.Kind+" batches", e.Batches, c.batches...)
		// a plan beside another of one thing is in conflict, of which other tests tell
		if event.SortOf(c.body) != event.Planning {
			viewtest.Same(t, e.Kind+" state", e.State, "holds")
		}
		if !e.At.Equal(viewtest.Noon) || !e.LoggedAt.Equal(viewtest.Noon) || e.Hash != d.Last().Hash().String() {
			t.Errorf("%s: at %s, logged %s, hash %s", name, e.At, e.LoggedAt, e.Hash)
		}
	}
}

func TestTheSiteMayReadUSUnits(t *testing.T) {
	d := viewtest.NewDesk(t)
	d.Write("f1", "office", viewtest.Noon, event.SitePlanned{
		Name: "Tarn vault", Units: event.US,
		Replaces: []event.Hash{d.Of("f1/1")},
	})
	d.Write("n9", "north", viewtest.Noon, event.Noted{Text: "nobody enrolled this one"})
	d.Write("f1", "office", viewtest.Noon, event.ZonePlanned{Zone: "B1", Area: viewtest.As(unit.Area(12.5))})
	e := entry(t, logOf(d.Site()), d.Last().Name.String())
	viewtest.Same(t, "words", e.Text, "zone B1, 135 ft² (12.5 m²)")
}

// What is amended, taken back and brought back, and by which events.
func TestACorrectionIsInTheLogOnBothSides(t *testing.T) {
	d := viewtest.NewDesk(t, viewtest.Wrote(viewtest.Clock(8, 0), event.Noted{Text: "rian", Zone: "A1"}))
	first := d.Of("n1/1")
	fix := d.Write("n1", "north", viewtest.Clock(9, 0), event.Amended{
		Target: first, Body: event.Noted{Text: "rain", Zone: "A2"},
		Why: "spelling",
	})
	l := logOf(d.Site())
	e := entry(t, l, "n1/1")
	viewtest.Same(t, "state", e.State, "amended")
	viewtest.Same(t, "as it is read now", e.Text, "rain")
	viewtest.Same(t, "reason", e.Reason, "by n1/2")
	viewtest.List(t, "corrected by", e.CorrectedBy, "n1/2")
	viewtest.List(t, "zones as read now", e.Zones, "A2")
	e = entry(t, l, "n1/2")
	viewtest.Same(t, "the amendment", e.Text, "n1/1 amended to: rain (spelling)")
	viewtest.Same(t, "of", e.Corrects, "n1/1")
	viewtest.List(t, "zones of the amendment", e.Zones, "A2")

	void := d.Write("n1", "north", viewtest.Clock(9, 30), event.Voided{Target: fix, Why: "twice"})
	l = logOf(d.Site())
	e = entry(t, l, "n1/1")
	viewtest.Same(t, "state", e.State, "taken back")
	viewtest.Same(t, "as it was written", e.Text, "rian")
	viewtest.List(t, "corrected by", e.CorrectedBy, "n1/2", "n1/3")
	e = entry(t, l, "n1/2")
	viewtest.Same(t, "state of the amendment", e.State, "amended")
	viewtest.List(t, "what came after it", e.CorrectedBy, "n1/3")
	viewtest.Same(t, "the void", entry(t, l, "n1/3").Text, "n1/1 taken back (twice)")

	d.Write("n1", "north", viewtest.Clock(10, 0), event.Amended{
		Target: void, Body: event.Noted{Text: "hail"},
		HappenedAt: viewtest.Clock(7, 30),
	})
	l = logOf(d.Site())
	e = entry(t, l, "n1/1")
	viewtest.Same(t, "brought back", e.State+" "+e.Text, "amended hail")
	if !e.At.Equal(viewtest.Clock(7, 30)) {
		t.Errorf("it happened at %s, want 07:30", e.At)
	}
	viewtest.Same(t, "the words", entry(t, l, "n1/4").Text, "n1/1 amended to: hail, at 12 May 07:30")
}

func TestARevisionThatCorrectsSaysWhatWasWrong(t *testing.T) {
	d := viewtest.NewDesk(t)
	m := viewtest.Plan()[2].(event.MixPlanned)
	m.Revision, m.Corrects, m.InitialSet, m.Replaces = 2, 1, 4*time.Hour, []event.Hash{d.Of("f1/3")}
	d.Write("f1", "office", viewtest.Noon, m)
	viewtest.Same(t, "words", entry(t, logOf(d.Site()), "f1/9").Text,
		"mix face, revision 2, 3 constituents, corrects 1: initial set 4 h, was 2 h 30 min")
}

func TestASettlementSaysWhatHolds(t *testing.T) {
	d := viewtest.NewDesk(t, viewtest.Wrote(viewtest.Clock(8, 0), event.Noted{Text: "rian"}))
	first := d.Of("n1/1")
	one := d.Write("n1", "north", viewtest.Clock(9, 0), event.Amended{Target: first, Body: event.Noted{Text: "rain"}})
	two := d.Write("f1", "office", viewtest.Clock(9, 1), event.Amended{Target: first, Body: event.Noted{Text: "hail"}})
	l := logOf(d.Site())
	viewtest.Same(t, "in conflict", entry(t, l, "n1/1").State, "conflict")
	viewtest.Same(t, "the later is shown", entry(t, l, "n1/1").Text, "hail")
	d.Write("f1", "office", viewtest.Clock(9, 30), event.Settled{Holds: one, Over: []event.Hash{two}, Why: "it rained"})
	l = logOf(d.Site())
	viewtest.Same(t, "words", entry(t, l, "f1/10").Text, "settled: n1/2 holds (it rained)")
	viewtest.Same(t, "state", entry(t, l, "n1/1").State, "amended")
	viewtest.Same(t, "what holds", entry(t, l, "n1/1").Text, "rain")
	viewtest.Same(t, "what does not", entry(t, l, "f1/9").State, "replaced")
}

func TestAnEventThatCannotStandIsSetAsideWithTheReason(t *testing.T) {
	d := viewtest.NewDesk(t)
	d.Write("n1", "north", viewtest.Noon, event.Placement{Batch: viewtest.Batch(9), Coat: viewtest.CoatA1})
	e := entry(t, logOf(d.Site()), d.Last().Name.String())
	// the crew's device is enrolled with its first work
	viewtest.Same(t, "state", e.State+" "+e.Code, "set aside not-enrolled")
	d = viewtest.NewDesk(t, viewtest.Wrote(viewtest.Clock(8, 0), event.Noted{Text: "x"}))
	d.Write("n1", "north", viewtest.Noon, event.Placement{
		Batch: viewtest.Batch(9),
		Coat:  event.Coat{Zone: "C9", Number: 1},
	})
	e = entry(t, logOf(d.Site()), d.Last().Name.String())
	viewtest.Same(t, "state", e.State, "set aside")
	if e.Reason == "" || e.Code == "" || len(e.Zones) != 1 || e.Zones[0] != "C9" {
		t.Errorf("%+v", e)
	}
}

// What of the log is asked for.
func TestALogCanBeAskedForAPartOfIt(t *testing.T) {
	named := func(w sim.Work, person string) sim.Work { w.Person = person; return w }
	work := viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		[]sim.Work{viewtest.Wrote(viewtest.Clock(9, 0), event.Noted{Text: "about A2", Zone: "A2"})},
		[]sim.Work{viewtest.Mixed(viewtest.BatchOf("south", 1), viewtest.Clock(10, 0))},
		[]sim.Work{named(viewtest.Wrote(viewtest.Clock(11, 0), event.Noted{Text: "x"}), "Ada Quarry")})
	d := viewtest.NewDesk(t, work...)
	d.Write("n1", "north", viewtest.Clock(11, 30),
		event.Amended{Target: d.Of("n1/3"), Body: event.Placement{
			Batch: viewtest.Batch(1), Coat: viewtest.CoatA1,
			From: viewtest.Clock(8, 6),
		}})
	d.Write("n1", "north", viewtest.Clock(11, 40), event.Placement{Batch: viewtest.Batch(8), Coat: viewtest.CoatA1})
	s := d.Site()
	for _, c := range []struct {
		name string
		q    view.LogQuery
		want string
	}{
		{"a zone", view.LogQuery{Zone: "A2"}, "f1/6 f1/7 f1/8 n1/4"},
		{"a crew", view.LogQuery{Crew: "south"}, "s2/1"},
		{"a kind", view.LogQuery{Kind: "note"}, "n1/4 n1/5"},
		{
			"a batch, with what corrects an event of it",
			view.LogQuery{Batch: "north/2031-05-12/1"},
			"n1/1 n1/2 n1/3 n1/6",
		},
		{"the other crew's batch of that number", view.LogQuery{Batch: "south/2031-05-12/1"}, "s2/1"},
		{"an event with all that corrects it", view.LogQuery{Events: []string{"n1/3"}}, "n1/3 n1/6"},
		{"since", view.LogQuery{Since: viewtest.Clock(11, 0)}, "n1/5 n1/6 n1/7"},
		{"what is set aside", view.LogQuery{SetAside: true}, "n1/7"},
		{"the newest two", view.LogQuery{Most: 2}, "n1/6 n1/7"},
		{"nothing of that name", view.LogQuery{Crew: "west"}, ""},
	} {
		var got []string
		for _, e := range view.LogOf(s, viewtest.Noon, time.UTC, c.q).Entries {
			got = append(got, e.Name)
		}
		viewtest.Same(t, c.name, strings.Join(got, " "), c.want)
	}
}

func TestAPersonIsCalledByTheWholeNameOrAWordOfIt(t *testing.T) {
	for _, c := range []struct {
		person, name string
		want         bool
	}{
		{"Ada Quarry", "ada", true},
		{"Ada Quarry", "Quarry", true},
		{"Ada Quarry", "ada quarry", true},
		{"Ada Quarry", "quarr", false},
		{"Ada Quarry", "", false},
		{"", "ada", false},
	} {
		if got := view.Called(c.person, c.name); got != c.want {
			t.Errorf("%q is called %q: %t, want %t", c.person, c.name, got, c.want)
		}
	}
}

// The log is by when things happened, not by when they came.
func TestTheLogIsInTheOrderInWhichThingsHappened(t *testing.T) {
	s := viewtest.Site(t, viewtest.Wrote(viewtest.Clock(10, 0), event.Noted{Text: "second"}),
		viewtest.Wrote(viewtest.Clock(9, 0), event.Noted{Text: "first"}),
		viewtest.Wrote(viewtest.Clock(10, 0), event.Noted{Text: "third"}))
	var got []string
	for _, e := range view.LogOf(s, viewtest.Noon, time.UTC, view.LogQuery{Kind: "note"}).Entries {
		got = append(got, e.Text)
	}
	viewtest.List(t, "order", got, "first", "second", "third")
}
