package journal

import (
	"fmt"
	"testing"

	"hod/internal/event"
)

func BenchmarkAppend(b *testing.B) {
	j := create(b, "n2")
	for b.Loop() {
		if _, err := j.Append(b.Context(), noon,
			note("a note of a length that people write, with the zone and why")); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkCommand is what one command costs: open, append, close.
func BenchmarkCommand(b *testing.B) {
	dir := create(b, "n2").dir
	for b.Loop() {
		j, err := Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := j.Append(b.Context(), noon,
			note("a note of a length that people write, with the zone and why")); err != nil {
			b.Fatal(err)
		}
		if err := j.Close(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOpen(b *testing.B) {
	dir := create(b, "n2").dir
	for b.Loop() {
		j, err := Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		if err := j.Close(); err != nil {
			b.Fatal(err)
		}
	}
}

func thousands(b *testing.B, n int) *Journal {
	b.Helper()
	j := create(b, "n2")
	var drafts []event.Event
	for i := range 1000 * n {
		drafts = append(drafts, note(fmt.Sprint("a note of a length that people write, with the zone and why ", i)))
	}
	if _, err := j.Append(b.Context(), noon, drafts...); err != nil {
		b.Fatal(err)
	}
	return j
}

func BenchmarkEvents(b *testing.B) {
	j := thousands(b, 100)
	b.ReportAllocs()
	for b.Loop() {
		events, err := j.Events(b.Context())
		if err != nil || len(events) != 100_000 {
			b.Fatal(len(events), err)
		}
	}
}

func BenchmarkKeep(b *testing.B) {
	segs := all(b, thousands(b, 10), "n2")
	for b.Loop() {
		reader := inMemory(b, "n3")
		if _, err := reader.Keep(b.Context(), segs...); err != nil {
			b.Fatal(err)
		}
		_ = reader.Close()
	}
}
