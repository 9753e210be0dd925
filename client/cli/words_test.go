package cli

import (
	"context"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"hod/client/parse/parsetest"
	"hod/client/session"
	"hod/client/session/sessiontest"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// amendable is an event of each kind that amend changes.
func amendable(s *session.Session) []event.Body {
	b := s.Fold.Batches()[0]
	coat := b.Parts[0].Coat
	temp := []event.Reading{{At: s.Now.Add(-time.Hour), Temperature: 25}}
	return []event.Body{
		b.Body,
		event.BatchTested{Batch: b.ID},
		event.Placement{Batch: b.ID, Coat: coat},
		event.BatchDiscarded{Batch: b.ID, Why: "set"},
		event.JointTreated{Coat: coat, Method: "scratched"},
		event.SurfaceTended{Zone: coat.Zone, Tending: event.Covered},
		event.CoatFinished{Coat: coat},
		event.ProgressStated{Coat: coat},
		event.MethodChanged{What: "thinner"},
		event.CureReadings{Coat: coat, Samples: temp},
		event.WeatherObserved{Station: "mast"},
		event.StockReceived{Material: "cement"},
		event.StockCounted{Material: "cement"},
		event.StockSpoiled{Material: "cement"},
		event.SpecimensBroken{Mix: b.Body.Mix, Shape: event.Cube},
		event.Noted{Text: "first"},
		event.FlagAnswered{},
		event.ShiftStarted{},
		event.ShiftEnded{},
	}
}

// FuzzWords gives the words of a line that a crew types to all that read words: which batch, zone, coat, part, amount,
// time. None panics; numbers are finite; what is refused is refused for a reason that a person can act on.
func FuzzWords(f *testing.F) {
	s := sessiontest.Vault(f)
	bodies := amendable(s)
	for _, line := range parsetest.Lines {
		f.Add(line, uint16(0))
	}
	for i, b := range bodies {
		for j := range settersOf(b) {
			f.Add("A1", uint16(i<<8|j))
			f.Add("7.5mm", uint16(i<<8|j))
		}
	}
	f.Fuzz(func(t *testing.T, line string, which uint16) {
		fine := func(what string, x float64, err error) {
			t.Helper()
			if err != nil {
				reasoned(t, what+" "+line, err)
			} else if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%s %q is %v", what, line, x)
			}
		}
		said := func(what string, err error) { t.Helper(); fine(what, 0, err) }
		words := strings.Fields(line)
		shield(words)
		var err error
		if len(words) > 0 {
			zone, err := s.FindZone(words[0])
			said("zone", err)
			if err == nil {
				_, err = s.FindCoat(zone, session.CoatFlags{Face: words[len(words)-1]})
				said("coat", err)
			}
			_, err = s.ResolveBatch(words[0], "")
			said("batch", err)
		}
		_, err = s.OnDay(line)
		said("day", err)
		_, err = s.FindMix(line)
		said("mix", err)
		_, err = s.FindCrew(line)
		said("crew", err)
		_, err = s.FindBatch(line, "")
		said("batch", err)
		_, err = s.FindEvent(line)
		said("event", err)
		if b, err := event.ParseBatch(line, "north", "2026-07-18"); err == nil {
			if again, err := event.ParseBatch(b.String(), "", ""); err != nil || again != b {
				t.Fatalf("%q is read as %s, and that as %s: %v", line, b, again, err)
			}
		}
		if n, err := event.ParseName(line); err == nil {
			if again, err := event.ParseName(n.String()); err != nil || again != n {
				t.Fatalf("%q is read as %s, and that as %s: %v", line, n, again, err)
			}
		}

		body := bodies[int(which>>8)%len(bodies)]
		setters := settersOf(body)
		key := setters[int(which&0xff)%len(setters)].key
		changed, err := setField(s, body, key, line, "")
		said(key, err)
		if err != nil {
			return
		}
		e, err := event.Write(event.Event{
			Name: event.Name{Device: "n2", Seq: 9}, HappenedAt: s.Now, LoggedAt: s.Now,
			Body: changed,
		})
		if err != nil {
			said(key, err)
			return
		}
		if again, err := event.Read(e.Bytes()); err != nil || !reflect.DeepEqual(again.Body, e.Body) {
			t.Fatalf("%s=%q is kept as %+v and read as %+v: %v", key, line, e.Body, again.Body, err)
		}
	})
}

// reasoned is an error that is the person's to mend, in words.
func reasoned(t *testing.T, what string, err error) {
	t.Helper()
	e := session.Classify(context.Background(), err)
	var quantity *unit.Error
	if e.Kind == terminal.Internal && !errors.As(err, &quantity) || e.Msg == "" {
		t.Fatalf("%.200q is refused as a fault of the program: %v", what, err)
	}
}
