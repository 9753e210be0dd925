package store

import (
	"bytes"
	"testing"

	portable "hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
)

// Any bytes behind an archive's beginning end in whole segments and in damage that is told; nothing is read twice, and
// what is read and what is damaged is no more than there is.
func FuzzScan(f *testing.F) {
	key := make([]byte, 64)
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "n1", Seq: 1}, HappenedAt: morning, LoggedAt: morning,
		Body: event.Noted{Text: "first"},
	})
	if err != nil {
		f.Fatal(err)
	}
	s, err := chain.Sign(key, "dune", chain.Head{Device: "n1", Chain: chain.Root("dune", "n1")}, []event.Event{e})
	if err != nil {
		f.Fatal(err)
	}
	one := portable.AppendEntry(nil, s.Bytes())
	head := portable.Header{Site: "dune", Whole: true, Root: "host", RootKey: make([]byte, 32)}.Bytes()
	f.Add(one)
	f.Add(append(bytes.Clone(one), one...))
	f.Add(append(bytes.Repeat([]byte{0}, 300), one...))
	f.Add(one[:len(one)-3])
	f.Fuzz(func(t *testing.T, data []byte) {
		data = append(bytes.Clone(head), data...)
		whole, hurt := 0, 0
		if _, err := scan(data, func(raw []byte) error { whole += len(raw); return nil },
			func(_, size int) { hurt += size }); err != nil {
			t.Fatalf("scan: %v", err)
		}
		if whole+hurt > len(data) {
			t.Fatalf("%d bytes of segments and %d of damage in %d bytes", whole, hurt, len(data))
		}
		if len(data) > len(head) && whole == 0 && hurt == 0 {
			if closing, _ := scan(data, func([]byte) error { return nil }, func(int, int) {}); closing == nil {
				t.Fatalf("%d bytes hold nothing and no damage is told", len(data))
			}
		}
	})
}
