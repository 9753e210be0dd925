package planned

import (
	"bytes"
	"crypto/sha256"
	"maps"
	"slices"

	"hod/internal/history"
)

// PlanMark stands for the plan and who may write, as far as they decide how a reading is read.
func (s *Plans) PlanMark() [sha256.Size]byte {
	h := sha256.New()
	put := func(r *history.Record) {
		own := r.Hash()
		h.Write(own[:])
		h.Write([]byte{byte(r.State), byte(len(r.Via))})
		for _, via := range r.Via {
			own := via.Hash()
			h.Write(own[:])
		}
	}
	putAll := func(name string, of []*history.Record) {
		h.Write([]byte(name + "\n"))
		for _, r := range slices.SortedFunc(slices.Values(of), func(a, b *history.Record) int {
			x, y := a.Hash(), b.Hash()
			return bytes.Compare(x[:], y[:])
		}) {
			put(r)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.Slots)) {
		if plans := s.Slots[name].Plans; len(plans) > 0 {
			putAll(name, plans)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.Members)) {
		putAll(string(name), s.Members[name].Enrolled)
		putAll(string(name), s.Members[name].Revoked)
	}
	return [sha256.Size]byte(h.Sum(nil))
}
