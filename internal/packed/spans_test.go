package packed

import (
	"crypto/sha256"
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
)

func TestSpansInNoOrderOfNamesAreRefused(t *testing.T) {
	at := time.Date(2026, 7, 20, 7, 0, 0, 0, time.UTC)
	b := NewPacking(sha256.Sum256([]byte("a plan")))
	for _, of := range []event.Name{{Device: "s9", Seq: 1}, {Device: "s9", Seq: 3}, {Device: "s2", Seq: 4}} {
		b.Add(event.Coat{Zone: "A1"}, "p1", of, at.Add(time.Duration(of.Seq)*time.Hour), at, unit.Celsius(20))
		b.Whole(of, "north", at)
	}
	p := b.Done(nil)
	if got := p.Spans(); len(got) != 3 {
		t.Fatalf("spans %v, not three", got)
	}
	if _, err := Read(p.Bytes()); err != nil {
		t.Fatalf("what was packed is not read: %v", err)
	}
	slices.Reverse(p.spans)
	if _, err := Read(p.Bytes()); err == nil {
		t.Error("spans in no order of names, which are searched, are taken")
	}
}
