package event_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/event/eventtest"
)

// found gathers all values of a type in a body, by where they stand in it.
func found[V any](body event.Body) map[string]V {
	all := map[string]V{}
	var walk func(path string, v reflect.Value)
	walk = func(path string, v reflect.Value) {
		if !v.IsValid() {
			return
		}
		if is, ok := v.Interface().(V); ok {
			all[path] = is
			return
		}
		switch v.Kind() {
		case reflect.Pointer, reflect.Interface:
			walk(path, v.Elem())
		case reflect.Struct:
			if v.Type() == reflect.TypeFor[time.Time]() {
				return
			}
			for i := range v.NumField() {
				walk(path+"."+v.Type().Field(i).Name, v.Field(i))
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(path, v.Index(i))
			}
		}
	}
	walk(event.KindOf(body), reflect.ValueOf(body))
	return all
}

// eachKind draws bodies of every kind but the corrections, which are about what they correct.
func eachKind(t *testing.T, check func(t *rapid.T, body event.Body)) {
	for _, k := range eventtest.Kinds() {
		t.Run(k.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				if body := k.Draw(t); event.SortOf(body) != event.Correcting {
					check(t, body)
				}
			})
		})
	}
}

func TestAnEventIsAboutEachZoneThatItNames(t *testing.T) {
	// named beside what the event is about
	beside := []string{"placement.Along", "crew.Zones", "proposal.Along", "proposal.Following.Zone"}
	eachKind(t, func(t *rapid.T, body event.Body) {
		about := event.ZonesOf(body)
		for where, z := range found[event.Zone](body) {
			if z != "" && !slices.Contains(beside, where) && !slices.Contains(about, z) {
				t.Fatalf("%s is %s, and the event is about %v", where, z, about)
			}
		}
		if slices.Contains(about, "") {
			t.Fatalf("about a zone without a name: %q", about)
		}
	})
}

func TestAnEventIsOfEachBatchThatItNames(t *testing.T) {
	eachKind(t, func(t *rapid.T, body event.Body) {
		of := event.BatchesOf(body)
		for where, b := range found[event.Batch](body) {
			if !slices.Contains(of, b) {
				t.Fatalf("%s is %s, and the event is of %v", where, b, of)
			}
		}
	})
}

func TestAnAmendmentIsAboutWhatItSays(t *testing.T) {
	eachKind(t, func(t *rapid.T, body event.Body) {
		a := event.Amended{Target: event.Hash{1}, Body: body}
		if z := event.ZonesOf(a); !slices.Equal(z, event.ZonesOf(body)) {
			t.Fatalf("zones %v, want those of the body, %v", z, event.ZonesOf(body))
		}
		if b := event.BatchesOf(a); !slices.Equal(b, event.BatchesOf(body)) {
			t.Fatalf("batches %v, want those of the body, %v", b, event.BatchesOf(body))
		}
		by, ask := event.WritersOf(a)
		wantBy, wantAsk := event.WritersOf(body)
		if by != wantBy || ask != wantAsk {
			t.Fatalf("written by %d (%q), want as the body, %d (%q)", by, ask, wantBy, wantAsk)
		}
		if crew, owned := event.OwnerOf(body); owned {
			if of, is := event.OwnerOf(a); !is || of != crew {
				t.Fatalf("owned by %q, want %q", of, crew)
			}
		}
	})
}

// What a clock made is off by as much as the clock is; a time that is not said stays so, and the body given stays as it
// was.
func TestEachTimeInAnEventIsShifted(t *testing.T) {
	for _, k := range eventtest.Kinds() {
		t.Run(k.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				body := k.Draw(t)
				before := fmt.Sprintf("%#v", found[time.Time](body))
				shifted := event.Shifted(body, func(at time.Time) time.Time { return at.Add(time.Hour) })
				if is := fmt.Sprintf("%#v", found[time.Time](body)); is != before {
					t.Fatalf("the body given was changed:\n%s\nwas\n%s", is, before)
				}
				now := found[time.Time](shifted)
				for where, was := range found[time.Time](body) {
					want := was
					if !was.IsZero() {
						want = was.Add(time.Hour)
					}
					if !now[where].Equal(want) {
						t.Fatalf("%s is %s, want %s", where, now[where], want)
					}
				}
			})
		})
	}
}

func TestReadingsAreOfTheTimeUntilAnInstant(t *testing.T) {
	at := func(h int) time.Time { return noon.Add(time.Duration(h) * time.Hour) }
	later := func(than time.Time) func(time.Time) bool { return func(t time.Time) bool { return t.After(than) } }
	weather := event.WeatherObserved{Samples: []event.Weather{{At: at(0)}, {At: at(1)}, {At: at(2)}}}
	cure := event.CureReadings{Samples: []event.Reading{{At: at(0)}, {At: at(1)}, {At: at(2)}}}
	forecast := event.WeatherForecast{IssuedAt: at(1), Samples: []event.Weather{{At: at(5)}}}
	for _, c := range []struct {
		name string
		body event.Body
		upTo int
		want int // times left in the body; -1: nothing is left
	}{
		{"weather as far as its second reading", weather, 1, 2},
		{"weather before its first reading", weather, -1, -1},
		{"weather after its last", weather, 9, 3},
		{"readings of a probe as far as the first", cure, 0, 1},
		{"readings of a probe before the first", cure, -1, -1},
		{"a forecast that was issued, with the hours to come", forecast, 1, 2},
		{"a forecast before it was issued", forecast, 0, -1},
		{"a note has no time of its own", event.Noted{Text: "x"}, -99, 0},
		{"mixing is of when it happened, and no reading", event.BatchMixed{MixedFrom: at(0), MixedTo: at(1)}, -99, 2},
	} {
		body, some := event.Until(c.body, later(at(c.upTo)))
		if some != (c.want >= 0) {
			t.Errorf("%s: something is left: %t", c.name, some)
			continue
		}
		n := 0
		var walk func(v reflect.Value)
		walk = func(v reflect.Value) {
			switch {
			case v.Type() == reflect.TypeFor[time.Time]():
				if !v.Interface().(time.Time).IsZero() {
					n++
				}
			case v.Kind() == reflect.Struct:
				for i := range v.NumField() {
					walk(v.Field(i))
				}
			case v.Kind() == reflect.Slice:
				for i := range v.Len() {
					walk(v.Index(i))
				}
			}
		}
		if walk(reflect.ValueOf(body)); some && n != c.want {
			t.Errorf("%s: %d times are left, want %d", c.name, n, c.want)
		}
	}
	if !event.Dated(weather) || !event.Dated(cure) || !event.Dated(forecast) || event.Dated(event.Noted{}) ||
		event.Dated(nil) {
		t.Error("weather, readings and forecasts say themselves of which time they are, and nothing else does")
	}
}

// Who may write each kind; a new kind gets its row.
func TestWhoMayWriteEachKind(t *testing.T) {
	want := map[string]event.Writers{
		"site": event.Foremen, "zone": event.Foremen, "edge": event.Foremen, "coat": event.Foremen,
		"mix": event.Foremen, "crew": event.Foremen,
		"coat finished": event.Foremen, "settlement": event.Foremen, "order": event.Foremen,
		"enrolment": event.Server, "revocation": event.Server, "exclusion": event.Server,
		"weather": event.Probes, "cure": event.Probes,
	}
	for _, k := range eventtest.Kinds() {
		rapid.Check(t, func(t *rapid.T) {
			body := k.Draw(t)
			if a, amends := body.(event.Amended); amends {
				body = a.Body
			}
			by, known := want[event.KindOf(body)]
			if !known {
				by = event.Crews
			}
			if got, _ := event.WritersOf(body); got != by {
				t.Fatalf("a %s may be written by %d, want %d", event.KindOf(body), got, by)
			}
		})
	}
	if by, _ := event.WritersOf(nil); by != event.Server {
		t.Errorf("a body that is not known may be written by %d, want the server alone", by)
	}
}

func TestPlansOfOneThingHaveOneName(t *testing.T) {
	coat := event.Coat{Zone: "A3", Face: event.Outer, Number: 1}
	for want, b := range map[string]event.Body{
		"site": event.SitePlanned{Name: "x"}, "zone A3": event.ZonePlanned{
			Zone: "A3",
		}, "coat A3 outer 1": event.CoatPlanned{Coat: coat},
		"mix M1": event.MixPlanned{Mix: "M1", Revision: 2}, "crew north": event.CrewPlanned{Crew: "north"},
		"material sand": event.MaterialPlanned{Material: "sand"}, "edge A3 B3": event.EdgePlanned{A: "B3", B: "A3"},
		"": event.Placement{Coat: coat},
	} {
		if got := event.ThingOf(b); got != want {
			t.Errorf("a %s is of %q, want %q", event.KindOf(b), got, want)
		}
	}
	if a, b := event.ThingOf(event.EdgePlanned{A: "A3", B: "B3"}),
		event.ThingOf(event.EdgePlanned{A: "B3", B: "A3"}); a != b {
		t.Errorf("one edge has two names, %q and %q", a, b)
	}
}

func TestCorrectionsNameWhatTheyCorrect(t *testing.T) {
	h := event.Hash{7}
	for _, c := range []struct {
		body event.Body
		want bool
	}{
		{event.Amended{Target: h, Body: event.Noted{Text: "x"}}, true},
		{event.Voided{Target: h}, true},
		{event.Settled{Holds: h, Over: []event.Hash{{8}}}, false}, // of several
		{event.Noted{Text: "x"}, false},
		{nil, false},
	} {
		got, is := event.TargetOf(c.body)
		if is != c.want || is && got != h {
			t.Errorf("a %s corrects %s, %t; want %t", event.KindOf(c.body), got, is, c.want)
		}
	}
	for _, d := range []event.Body{event.DeviceEnrolled{Device: "n2"}, event.DeviceRevoked{Device: "n2"}} {
		if of, is := event.MemberOf(d); !is || of != "n2" || event.SortOf(d) != event.Membership {
			t.Errorf("a %s is of %q, %t", event.KindOf(d), of, is)
		}
	}
	if _, is := event.MemberOf(event.Noted{Text: "x"}); is {
		t.Error("a note is of who may write")
	}
}
