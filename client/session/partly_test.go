package session

import (
	"path/filepath"
	"testing"
	"time"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/sim/simtest"
	"hod/internal/view"
)

// What a command reads is counted, since time tells it only roughly.
func TestACommandReadsWhatItConcernsAndNotTheRecord(t *testing.T) {
	if program() == "" {
		t.Skip("this program does not say what it was built from, so nothing is kept")
	}
	drafts, err := simtest.Season(9_000, shelfNow)
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.WriteSeason(drafts)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "d0")
	seasonIn(t, dir, "d0", events)
	var batch event.Batch
	others, of := 0, map[event.Batch]int{} // others: that say what is planned and who takes part, and what is on hand
	for _, e := range events {
		switch b := e.Body.(type) {
		case event.BatchMixed:
			batch, of[b.Batch] = b.Batch, of[b.Batch]+1
		case event.BatchTested:
			of[b.Batch]++
		case event.Placement:
			of[b.Batch]++
		case event.Plan, event.DeviceEnrolled, event.StockReceived, event.MethodChanged:
			others++
		}
	}
	open := func() *Session {
		t.Helper()
		s, err := Open(t.Context(), &Env{
			Streams: &terminal.Streams{Getenv: func(string) string { return "" }},
			Now:     func() time.Time { return shelfNow }, Local: time.UTC, Dir: dir,
		})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(s.Close)
		return s
	}
	_ = open() // shelves what it read
	for _, k := range []struct {
		what string
		ask  func(*Session)
		most int
	}{
		{"nothing is asked", func(*Session) {}, 0},
		{"how many of one's own are set aside", func(s *Session) { s.Fold.AsideOf("d0") }, 0},
		{"a note is kept", func(s *Session) {
			if _, err := s.Keep(t.Context(), Draft{Body: event.Noted{Text: "wind"}}); err != nil {
				t.Fatal(err)
			}
			s.Fold.FindingsAbout(s.written[0].Name)
		}, 0},
		{"a batch", func(s *Session) { s.Fold.Batch(batch) }, of[batch]},
		{"which edges of one's own turn cold", func(s *Session) {
			view.EdgesOf(s.Fold, s.Now, time.UTC, "c0")
		}, len(events) * 2 / 5},
	} {
		s := open()
		if added := s.Fold.Added(); added > others+20 {
			t.Errorf("%s: %d events were read at once, where %d are of kinds that every command needs", k.what, added,
				others)
		}
		k.ask(s)
		if got := s.Fold.Cost.Fetched; got > k.most {
			t.Errorf("%s: %d events were fetched, %d at most are concerned", k.what, got, k.most)
		}
		if !s.Fold.Defers() {
			t.Errorf("%s: all of the record was fetched", k.what)
		}
	}
}
