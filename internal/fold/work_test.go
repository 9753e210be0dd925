package fold_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view/daily"
)

// aSeason is a site of so many events, folded to its first board.
func aSeason(t *testing.T, n int) (s *fold.Site, last map[event.Device]event.Event, now time.Time) {
	t.Helper()
	now = time.Date(2031, 5, 14, 15, 0, 0, 0, time.UTC)
	drafts, err := simtest.Season(n, now)
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.WriteSeason(drafts)
	if err != nil {
		t.Fatal(err)
	}
	s, last = foldtest.Folded(events...), map[event.Device]event.Event{}
	for _, e := range events {
		last[e.Device] = e
	}
	return s, last, now
}

// What an event concerned is counted, since time tells it only roughly: batches and zones that were brought up to date,
// zones whose joints and findings were worked out anew, and values that were held against what the trade knows.
func TestALateEventThawsWhatItConcernsAndNothingElse(t *testing.T) {
	sizes := []int{10_000, 100_000}
	if testing.Short() {
		sizes = sizes[:1]
	}
	for _, n := range sizes {
		s, last, now := aSeason(t, n)
		daily.BoardOf(s, now, time.UTC)
		s.Work()
		batches := s.Batches()
		old := batches[len(batches)/2]
		coat := old.Parts[0].Coat
		d := last["f1"]
		for _, late := range []struct {
			what                            string
			body                            event.Body
			at                              time.Time
			batches, zones, judged, doubted int // at most
		}{
			{"a note", event.Noted{Text: "a hose burst"}, now, 0, 0, 0, 0},
			{
				"a test of an old batch",
				event.BatchTested{Batch: old.ID, Temperature: foldtest.Ref(unit.Celsius(22))},
				old.Ready,
				1, len(old.Parts), len(old.Parts), 0,
			},
			{
				"a placement into an old coat",
				event.Placement{
					Batch: old.ID, Coat: coat,
					Part: event.Part{Share: foldtest.Ref(unit.Share(0.001))},
				},
				old.Ready, 1, 1 + len(old.Parts), 1 + len(old.Parts),
				1,
			},
			{"a reading of a probe", event.CureReadings{
				Probe: "p", Coat: coat,
				Samples: []event.Reading{{At: now, Temperature: 20}},
			}, now, 0, 1, 1, 1},
			{"a cover", event.SurfaceTended{Zone: coat.Zone, Face: coat.Face, Tending: event.Covered}, now, 0, 1, 1, 0},
			{"stock", event.StockReceived{Material: "cement", Amount: event.Amount{Mass: 42}}, now, 0, 0, 0, 0},
			{"a shift", event.ShiftStarted{People: 3}, now, 0, 0, 0, 0},
		} {
			d.Seq++
			e, err := event.Write(event.Event{
				Name: d.Name, Crew: "office", HappenedAt: late.at, LoggedAt: now,
				Typed: true, Body: late.body,
			})
			if err != nil {
				t.Fatal(err)
			}
			s.Add(e)
			daily.BoardOf(s, now, time.UTC)
			if r, _ := s.Record(e.Name); r.State != fold.Holds {
				t.Fatalf("%s: %s", late.what, r.Aside.Why)
			}
			if b, z, j, v := s.Work(); b > late.batches || z > late.zones || j > late.judged || v > late.doubted {
				t.Errorf(
					"of %d events, %s had %d batches and %d zones brought up to date, %d judged, %d values doubted; it concerns %d, %d, %d, %d",
					n, late.what, b, z, j, v, late.batches, late.zones, late.judged, late.doubted)
			}
		}
	}
}

func TestThePlanIsToldWithoutLookingAtTheWork(t *testing.T) {
	s, _, now := aSeason(t, 10_000)
	s.Plan()
	if b, z, j, _ := s.Work(); b+z+j > 0 {
		t.Errorf("the plan had %d batches and %d zones brought up to date and %d judged", b, z, j)
	}
	s.Batches()
	if b, z, j, _ := s.Work(); b == 0 || z+j > 0 {
		t.Errorf("the batches, %d, had %d zones brought up to date and %d judged", b, z, j)
	}
	s.Fronts()
	if b, z, j, _ := s.Work(); b > 0 || z == 0 || j > 0 {
		t.Errorf("the open joints had %d batches brought up to date again, and %d of %d zones judged", b, j, z)
	}
	daily.BoardOf(s, now, time.UTC)
	if _, z, j, _ := s.Work(); z > 0 || j == 0 {
		t.Errorf("the board had %d zones brought up to date again, and %d judged", z, j)
	}
}
