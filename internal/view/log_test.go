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
)

// desk writes events one after the other, so that a later one can name an earlier.
type desk struct {
	t testing.TB
	d *simtest.Devices
}

func newDesk(t testing.TB, work ...sim.Work) *desk {
	t.Helper()
	events, err := simtest.Written(plan(), work, noon.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	return &desk{t, simtest.Continue(events)}
}

// write an event of a device; its hash names it.
func (d *desk) write(on event.Device, crew event.Crew, at time.Time, body event.Body) event.Hash {
	d.t.Helper()
	if err := d.d.Write(on, crew, at, true, body); err != nil {
		d.t.Fatal(err)
	}
	return d.last().Hash()
}

func (d *desk) last() event.Event { return d.d.Events[len(d.d.Events)-1] }

// of is the hash of an event written before.
func (d *desk) of(name string) event.Hash {
	d.t.Helper()
	for _, e := range d.d.Events {
		if e.Name.String() == name {
			return e.Hash()
		}
	}
	d.t.Fatalf("no event %s", name)
	return event.Hash{}
}

func (d *desk) site() *fold.Site {
	s := fold.New("tarn", simtest.Root)
	for _, e := range d.d.Events {
		s.Add(e)
	}
	return s
}

// entry of a log by its name.
func entry(t testing.TB, l view.Log, name string) view.Entry {
	t.Helper()
	i := slices.IndexFunc(l.Entries, func(e view.Entry) bool { return e.Name == name })
	if i < 0 {
		t.Fatalf("no entry %s", name)
	}
	return l.Entries[i]
}

func logOf(s *fold.Site) view.Log { return view.LogOf(s, noon, time.UTC, view.LogQuery{}) }

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
		{event.ZonePlanned{Zone: "B1", Area: as(unit.Area(12.5))}, "zone B1, 12.5 m² (135 ft²)", []string{"B1"}, none},
		{
			event.EdgePlanned{A: "A1", B: "B1", Length: as(unit.Length(2.4))},
			"edge A1-B1, 2.4 m (7 ft 10 1/2 in)",
			[]string{"A1", "B1"},
			none,
		},
		{
			event.CoatPlanned{Coat: coatA2, Thickness: as(unit.Length(0.012)), Mix: "face"},
			"coat A2 outer 1, 12 mm (0.472 in) of face",
			[]string{"A2"},
			none,
		},
		{event.CrewPlanned{Crew: "south", Name: "South"}, "crew south, South", none, none},
		{
			event.MaterialPlanned{Material: "sand", Bulk: ref(unit.Density(1500))},
			"sand, loose 1500 kg/m³ (93.6 lb/ft³)",
			none, none,
		},
		{
			event.MaterialPlanned{Material: "cement", Bag: ref(unit.Mass(25))},
			"cement, a bag of 25 kg (55.1 lb)", none,
			none,
		},
		{
			mixed(batch(4), noon).Body, "batch north/2031-05-12/4 of face, 143 kg, w/cm 0.381", none,
			[]string{batch(4).String()},
		},
		{
			event.BatchTested{
				Batch: batch(1), Temperature: ref(unit.Celsius(24)), Flow: ref(unit.Share(1.1)),
				Air: ref(unit.Share(0.055)),
			},
			"batch north/2031-05-12/1 tested: 24 °C (75.2 °F), flow 110%, air 5.5%", none,
			[]string{batch(1).String()},
		},
		{
			event.Placement{
				Batch: batch(1), Coat: coatA1, From: clock(11, 0), To: clock(11, 10),
				Along: []event.Zone{"A2"}, Complete: ref(unit.Share(0.4)),
				Part: event.Part{Share: ref(unit.Share(0.5))},
			},
			"50% of batch north/2031-05-12/1 in A1 outer 1, from 11:00 to 11:10, along A2, which is then 40% complete",
			[]string{"A1"},
			[]string{batch(1).String()},
		},
		{
			event.BatchDiscarded{Batch: batch(1), Why: "stiff"},
			"the rest of batch north/2031-05-12/1 discarded: stiff",
			none,
			[]string{batch(1).String()},
		},
		{
			event.JointTreated{Coat: coatA1, OtherZone: "A2", Method: "wetted"},
			"joint of A1 outer 1 along A2 treated: wetted",
			[]string{"A1", "A2"},
			none,
		},
		{
			event.JointTreated{Coat: coatA1, Method: "wetted"},
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
			event.ProgressStated{Coat: coatA1, Complete: as(unit.Share(0.75))},
			"A1 outer 1 is 75% complete",
			[]string{"A1"},
			none,
		},
		{event.MethodChanged{What: "sprayed"}, "placed differently from now on: sprayed", none, none},
		{read(full(noon, 20, 0.5, 3)).Body, "crew: 20 °C, 50% humidity, wind 10.8 km/h", none, none},
		{
			event.WeatherObserved{Station: "mast", Samples: []event.Weather{air(clock(8, 0)), air(clock(10, 0))}},
			"mast: 2 readings from 12 May 08:00 to 12 May 10:00", none, none,
		},
		{
			event.WeatherForecast{Source: "office", IssuedAt: noon, Samples: []event.Weather{air(clock(13, 0))}},
			"forecast by office: 31 °C", none, none,
		},
		{
			event.CureReadings{Probe: "p1", Coat: coatA1, Samples: []event.Reading{{At: noon, Temperature: 24}}},
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
				Mix: "face", Batch: new(batch(1)), Shape: event.Cube, Size: ref(unit.Length(0.05)),
				Age: 2 * time.Hour, Loads: []unit.Force{1e5},
			},
			"1 specimen of face broken at 2 h", none,
			[]string{batch(1).String()},
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
			event.BatchBegun{Batch: batch(5), Mix: "face", Ready: clock(12, 15)},
			"batch north/2031-05-12/5 begun of face, ready at 12:15", none,
			[]string{batch(5).String()},
		},
		{
			event.FrontEnded{Coat: coatA1, OtherZone: "A2", Treatment: "cut square"},
			"front of A1 outer 1 along A2 ended on purpose: cut square",
			[]string{"A1", "A2"},
			none,
		},
		{
			event.ProposalTaken{Crew: "north", Coat: coatA1, Nth: 2, Until: clock(12, 30), Trials: 200, Cold: 14},
			"crew north takes its next batch to A1 outer 1, holds until 12:30",
			[]string{"A1"},
			none,
		},
		{
			event.DayOrdered{
				Day: "2031-05-13", Start: clock(6, 0), Crews: []event.Crew{"north"},
				Bays: []event.DayBay{{Zones: []event.Zone{"A1", "A2"}}}, Batches: 6, Trials: 100,
			},
			"order of 2031-05-13: from 06:00, crews north, 6 batches: A1 A2",
			[]string{"A1", "A2"},
			none,
		},
		{
			event.CoatFinished{Coat: coatA1, Why: "thick enough"},
			"A1 outer 1 is finished: thick enough",
			[]string{"A1"},
			none,
		},
	} {
		work := []sim.Work{mixed(batch(1), clock(10, 0))}
		if _, ends := c.body.(event.FrontEnded); ends { // by who placed there
			work = append(work, placed(batch(1), coatA1, clock(10, 5), clock(10, 20), 1))
		}
		d := newDesk(t, work...)
		on, crew := event.Device("n1"), event.Crew("north")
		switch by, _ := event.WritersOf(c.body); by {
		case event.Server:
			on, crew = simtest.Root, ""
		case event.Foremen:
			on, crew = "f1", "office"
		}
		d.write(on, crew, noon, c.body)
		name := d.last().Name.String()
		e := entry(t, logOf(d.site()), name)
		same(t, e.Kind, e.Text, c.words)
		same(t, e.Kind+" kind", e.Kind, event.KindOf(c.body))
		list(t, e.Kind+" zones", e.Zones, c.zones...)
		list(t, e.Kind+" batches", e.Batches, c.batches...)
		// a plan beside another of one thing is in conflict, of which other tests tell
		if event.SortOf(c.body) != event.Planning {
			same(t, e.Kind+" state", e.State, "holds")
		}
		if !e.At.Equal(noon) || !e.LoggedAt.Equal(noon) || e.Hash != d.last().Hash().String() {
			t.Errorf("%s: at %s, logged %s, hash %s", name, e.At, e.LoggedAt, e.Hash)
		}
	}
}

func TestTheSiteMayReadUSUnits(t *testing.T) {
	d := newDesk(t)
	d.write("f1", "office", noon, event.SitePlanned{
		Name: "Tarn vault", Units: event.US,
		Replaces: []event.Hash{d.of("f1/1")},
	})
	d.write("n9", "north", noon, event.Noted{Text: "nobody enrolled this one"})
	d.write("f1", "office", noon, event.ZonePlanned{Zone: "B1", Area: as(unit.Area(12.5))})
	e := entry(t, logOf(d.site()), d.last().Name.String())
	same(t, "words", e.Text, "zone B1, 135 ft² (12.5 m²)")
}

// What is amended, taken back and brought back, and by which events.
func TestACorrectionIsInTheLogOnBothSides(t *testing.T) {
	d := newDesk(t, wrote(clock(8, 0), event.Noted{Text: "rian", Zone: "A1"}))
	first := d.of("n1/1")
	fix := d.write("n1", "north", clock(9, 0), event.Amended{
		Target: first, Body: event.Noted{Text: "rain", Zone: "A2"},
		Why: "spelling",
	})
	l := logOf(d.site())
	e := entry(t, l, "n1/1")
	same(t, "state", e.State, "amended")
	same(t, "as it is read now", e.Text, "rain")
	same(t, "reason", e.Reason, "by n1/2")
	list(t, "corrected by", e.CorrectedBy, "n1/2")
	list(t, "zones as read now", e.Zones, "A2")
	e = entry(t, l, "n1/2")
	same(t, "the amendment", e.Text, "n1/1 amended to: rain (spelling)")
	same(t, "of", e.Corrects, "n1/1")
	list(t, "zones of the amendment", e.Zones, "A2")

	void := d.write("n1", "north", clock(9, 30), event.Voided{Target: fix, Why: "twice"})
	l = logOf(d.site())
	e = entry(t, l, "n1/1")
	same(t, "state", e.State, "taken back")
	same(t, "as it was written", e.Text, "rian")
	list(t, "corrected by", e.CorrectedBy, "n1/2", "n1/3")
	e = entry(t, l, "n1/2")
	same(t, "state of the amendment", e.State, "amended")
	list(t, "what came after it", e.CorrectedBy, "n1/3")
	same(t, "the void", entry(t, l, "n1/3").Text, "n1/1 taken back (twice)")

	d.write("n1", "north", clock(10, 0), event.Amended{
		Target: void, Body: event.Noted{Text: "hail"},
		HappenedAt: clock(7, 30),
	})
	l = logOf(d.site())
	e = entry(t, l, "n1/1")
	same(t, "brought back", e.State+" "+e.Text, "amended hail")
	if !e.At.Equal(clock(7, 30)) {
		t.Errorf("it happened at %s, want 07:30", e.At)
	}
	same(t, "the words", entry(t, l, "n1/4").Text, "n1/1 amended to: hail, at 12 May 07:30")
}

func TestARevisionThatCorrectsSaysWhatWasWrong(t *testing.T) {
	d := newDesk(t)
	m := plan()[2].(event.MixPlanned)
	m.Revision, m.Corrects, m.InitialSet, m.Replaces = 2, 1, 4*time.Hour, []event.Hash{d.of("f1/3")}
	d.write("f1", "office", noon, m)
	same(t, "words", entry(t, logOf(d.site()), "f1/9").Text,
		"mix face, revision 2, 3 constituents, corrects 1: initial set 4 h, was 2 h 30 min")
}

func TestASettlementSaysWhatHolds(t *testing.T) {
	d := newDesk(t, wrote(clock(8, 0), event.Noted{Text: "rian"}))
	first := d.of("n1/1")
	one := d.write("n1", "north", clock(9, 0), event.Amended{Target: first, Body: event.Noted{Text: "rain"}})
	two := d.write("f1", "office", clock(9, 1), event.Amended{Target: first, Body: event.Noted{Text: "hail"}})
	l := logOf(d.site())
	same(t, "in conflict", entry(t, l, "n1/1").State, "conflict")
	same(t, "the later is shown", entry(t, l, "n1/1").Text, "hail")
	d.write("f1", "office", clock(9, 30), event.Settled{Holds: one, Over: []event.Hash{two}, Why: "it rained"})
	l = logOf(d.site())
	same(t, "words", entry(t, l, "f1/10").Text, "settled: n1/2 holds (it rained)")
	same(t, "state", entry(t, l, "n1/1").State, "amended")
	same(t, "what holds", entry(t, l, "n1/1").Text, "rain")
	same(t, "what does not", entry(t, l, "f1/9").State, "replaced")
}

func TestAnEventThatCannotStandIsSetAsideWithTheReason(t *testing.T) {
	d := newDesk(t)
	d.write("n1", "north", noon, event.Placement{Batch: batch(9), Coat: coatA1})
	e := entry(t, logOf(d.site()), d.last().Name.String())
	same(t, "state", e.State+" "+e.Code, "set aside not-enrolled") // the crew's device is enrolled with its first work
	d = newDesk(t, wrote(clock(8, 0), event.Noted{Text: "x"}))
	d.write("n1", "north", noon, event.Placement{Batch: batch(9), Coat: event.Coat{Zone: "C9", Number: 1}})
	e = entry(t, logOf(d.site()), d.last().Name.String())
	same(t, "state", e.State, "set aside")
	if e.Reason == "" || e.Code == "" || len(e.Zones) != 1 || e.Zones[0] != "C9" {
		t.Errorf("%+v", e)
	}
}

// What of the log is asked for.
func TestALogCanBeAskedForAPartOfIt(t *testing.T) {
	named := func(w sim.Work, person string) sim.Work { w.Person = person; return w }
	work := all(whole(batch(1), coatA1, clock(8, 0)),
		[]sim.Work{wrote(clock(9, 0), event.Noted{Text: "about A2", Zone: "A2"})},
		[]sim.Work{mixed(batchOf("south", 1), clock(10, 0))},
		[]sim.Work{named(wrote(clock(11, 0), event.Noted{Text: "x"}), "Ada Quarry")})
	d := newDesk(t, work...)
	d.write("n1", "north", clock(11, 30),
		event.Amended{Target: d.of("n1/3"), Body: event.Placement{Batch: batch(1), Coat: coatA1, From: clock(8, 6)}})
	d.write("n1", "north", clock(11, 40), event.Placement{Batch: batch(8), Coat: coatA1})
	s := d.site()
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
		{"since", view.LogQuery{Since: clock(11, 0)}, "n1/5 n1/6 n1/7"},
		{"what is set aside", view.LogQuery{SetAside: true}, "n1/7"},
		{"the newest two", view.LogQuery{Most: 2}, "n1/6 n1/7"},
		{"nothing of that name", view.LogQuery{Crew: "west"}, ""},
	} {
		var got []string
		for _, e := range view.LogOf(s, noon, time.UTC, c.q).Entries {
			got = append(got, e.Name)
		}
		same(t, c.name, strings.Join(got, " "), c.want)
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
	s := site(t, wrote(clock(10, 0), event.Noted{Text: "second"}), wrote(clock(9, 0), event.Noted{Text: "first"}),
		wrote(clock(10, 0), event.Noted{Text: "third"}))
	var got []string
	for _, e := range view.LogOf(s, noon, time.UTC, view.LogQuery{Kind: "note"}).Entries {
		got = append(got, e.Text)
	}
	list(t, "order", got, "first", "second", "third")
}
