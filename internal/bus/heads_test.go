package bus

import (
	"reflect"
	"testing"
	"time"

	"hod/internal/chain"
)

// Any bytes as a server's answer end in heads or in an error; heads that were read are answered and read again alike.
func FuzzReadHeads(f *testing.F) {
	heads := []chain.Head{
		{Device: "n1", Seq: 7, Chain: chain.Root("dune", "n1")},
		{Device: "f1", Seq: 1, Chain: chain.Root("dune", "f1")},
	}
	m, err := answer(Heads{Heads: heads, BackedUp: heads[:1], Now: time.Unix(1_800_000_000, 0)})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(m.Data)
	f.Add([]byte{})
	f.Add([]byte("\x0a\x02\x0a\x00"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		h, err := readHeads(raw)
		if err != nil {
			return
		}
		for _, one := range append(h.Heads, h.BackedUp...) {
			if one.Device == "" {
				t.Errorf("a head of no device in %q", raw)
			}
		}
		m, err := answer(h)
		if err != nil {
			t.Fatalf("%q is read as %+v, which cannot be answered: %v", raw, h, err)
		}
		if again, err := readHeads(m.Data); err != nil || !reflect.DeepEqual(again, h) {
			t.Fatalf("%q is read as %+v, and that as %+v: %v", raw, h, again, err)
		}
	})
}
