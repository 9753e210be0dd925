package journal

import (
	"testing"
	"time"

	"hod/internal/event"
)

// tried is an event as a command tries it on its fold before it is recorded.
func tried(t *testing.T, seq uint64, at time.Time, offset *time.Duration) event.Event {
	t.Helper()
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "n2", Seq: seq}, Crew: "north", HappenedAt: at, LoggedAt: at, Offset: offset,
		Body: event.Noted{Text: "as it was tried"},
	})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestAnEventThatWasTriedIsRecordedAsItIsAndNotEncodedAgain(t *testing.T) {
	j := inMemory(t, "n2")
	at := noon.Add(123_456 * time.Microsecond) // an event holds its times to the millisecond
	e := tried(t, 1, at, nil)
	written, err := j.Append(t.Context(), at, e)
	if err != nil {
		t.Fatal(err)
	}
	if &written[0].Bytes()[0] != &e.Bytes()[0] {
		t.Error("it was encoded a second time")
	}
	same(t, "its hash", written[0].Hash(), e.Hash())
	same(t, "what is held", words(t, j), []string{"n2/1 as it was tried"})
}

func TestWhatWasTriedForAnotherPlaceOrTimeIsWrittenForThisOne(t *testing.T) {
	measured := 40 * time.Second
	for _, c := range []struct {
		name    string
		before  func(t *testing.T, j *Journal)
		now     time.Time
		wantSeq uint64
		offset  time.Duration
	}{
		{
			"another terminal took its seq", func(t *testing.T, j *Journal) { appendNotes(t, j, "in between") }, noon,
			2,
			0,
		},
		{"it was tried a second ago", func(*testing.T, *Journal) {}, noon.Add(time.Second), 1, 0},
		{"the clock was measured meanwhile", func(t *testing.T, j *Journal) {
			if err := j.SetContact(t.Context(), Contact{At: noon, Offset: measured}); err != nil {
				t.Fatal(err)
			}
		}, noon, 1, measured},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := inMemory(t, "n2")
			e := tried(t, 1, noon, nil)
			c.before(t, j)
			written, err := j.Append(t.Context(), c.now, e)
			if err != nil {
				t.Fatal(err)
			}
			got := written[0]
			same(t, "its seq", got.Seq, c.wantSeq)
			same(t, "when it was logged", got.LoggedAt, c.now)
			if got.Hash() == e.Hash() {
				t.Error("it has the bytes that were tried")
			}
			if got.Offset == nil != (c.offset == 0) || got.Offset != nil && *got.Offset != c.offset {
				t.Errorf("the clock's offset in it is %v, not %v", got.Offset, c.offset)
			}
			read, err := event.Read(got.Bytes())
			if err != nil {
				t.Fatal(err)
			}
			same(t, "the name in its bytes", read.Name, got.Name)
		})
	}
}
