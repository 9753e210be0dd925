package host

import (
	"slices"
	"strings"
	"testing"

	"hod/internal/bus"
	"hod/internal/event"
)

func TestAFullReadingOfTheStreamNamesWhatIsHurt(t *testing.T) {
	for _, c := range []struct {
		name          string
		hurt          func(t *testing.T, r *running, s *memoryStream, n *writer)
		faults, notes string // a part of each; empty for none
	}{
		{"nothing", func(*testing.T, *running, *memoryStream, *writer) {}, "", ""},
		{"a message that cannot be read", func(_ *testing.T, _ *running, s *memoryStream, _ *writer) {
			s.stored = slices.Delete(s.stored, 2, 3)
		}, "message 3 of the stream cannot be read | the stream lacks events of n1", ""},
		{"the last ones", func(_ *testing.T, _ *running, s *memoryStream, _ *writer) {
			s.stored = s.stored[:len(s.stored)-2]
		}, "messages 4 to 5 of the stream cannot be read | the stream lacks events of n1", ""},
		{"a byte of an event", func(_ *testing.T, _ *running, s *memoryStream, _ *writer) {
			s.stored[2].Data = flipped(s.stored[2].Data, len(s.stored[2].Data)/2)
		}, "message 3 of the stream, brought by n1, ", ""},
		{"a byte of a signature", func(_ *testing.T, _ *running, s *memoryStream, _ *writer) {
			s.stored[1].Data = flipped(s.stored[1].Data, len(s.stored[1].Data)-1)
		}, "message 2 of the stream, brought by n1, ", ""},
		{"what is no segment", func(t *testing.T, _ *running, s *memoryStream, _ *writer) {
			junk(t, s, "n1", 1)
		}, "", "message 6 of the stream, brought by n1, is no segment"},
		{
			"what is no segment, many times", func(t *testing.T, _ *running, s *memoryStream, _ *writer) {
				junk(t, s, "n1", 200)
				junk(t, s, "n2", 1)
				junk(t, s, "n1", 1)
			}, "",
			"messages 6 to 205, 207 of the stream, brought by n1: 201, of which each is no segment | message 206 of the stream, brought by n2, is no segment",
		},
		{"a byte of an event, beside what is no segment", func(t *testing.T, _ *running, s *memoryStream, _ *writer) {
			junk(t, s, "n2", 200)
			s.stored[2].Data = flipped(s.stored[2].Data, len(s.stored[2].Data)/2)
		}, "message 3 of the stream, brought by n1, is | the stream lacks events of n1", ""},
		{"it was cut short", func(_ *testing.T, _ *running, s *memoryStream, _ *writer) {
			s.stored, s.last = s.stored[:3], 3
		}, "the stream ends at message 3; the server once read message 5 | the stream lacks events of n1", ""},
		{"a hole that was filled again", func(t *testing.T, _ *running, s *memoryStream, n *writer) {
			s.stored = slices.Delete(s.stored, 2, 3)
			n.send(t, s, 2, 2)
		}, "", "message 3 of the stream cannot be read; all that the record holds lies in the stream again"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newStream()
			r := start(t, t.TempDir(), s)
			n := join(t, r, "north").notes(t, 4)
			r.until("the enrolment is on the stream",
				func() bool { s.mu.Lock(); defer s.mu.Unlock(); return s.last == 1 })
			for i := range 4 {
				n.send(t, s, i+1, i+1)
			}
			r.reaches(n.name, 4)
			r.until("all was read", func() bool {
				r.writing.Lock()
				defer r.writing.Unlock()
				return r.checkpoint.Top.Seq == 5
			})
			r.stop() // what hurts it now is not mended
			c.hurt(t, r, s, n)
			got, err := r.CheckStream(t.Context(), s)
			if err != nil {
				t.Fatal(err)
			}
			match(t, "faults", got.Faults, c.faults)
			match(t, "notes", got.Notes, c.notes)
		})
	}
}

func match(t *testing.T, what string, got []string, want string) {
	t.Helper()
	var parts []string
	if want != "" {
		parts = strings.Split(want, " | ")
	}
	for _, p := range parts {
		if !slices.ContainsFunc(got, func(s string) bool { return strings.Contains(s, p) }) {
			t.Errorf("%s are %q, want %q among them", what, got, p)
		}
	}
	if len(parts) == 0 && len(got) > 0 {
		t.Errorf("%s are %q, want none", what, got)
	}
}

// junk is put on the stream by who may, so many times.
func junk(t *testing.T, s *memoryStream, carrier event.Device, times int) {
	t.Helper()
	for range times {
		if err := s.Publish(t.Context(), carrier, []byte("not a segment")); err != nil {
			t.Fatal(err)
		}
	}
}

func flipped(data []byte, at int) []byte {
	data = slices.Clone(data)
	data[at] ^= 1
	return data
}

var _ Stream = (*bus.Host)(nil)
