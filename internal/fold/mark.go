package fold

import (
	"bytes"
	"crypto/sha256"
	"maps"
	"slices"
)

// planMark stands for the plan and who may write, as far as they decide how a reading is read.
func (s *Plans) planMark() [sha256.Size]byte {
	h := sha256.New()
	put := func(r *Record) {
		own := r.Hash()
		h.Write(own[:])
		h.Write([]byte{byte(r.State), byte(len(r.Via))})
		for _, via := range r.Via {
			own := via.Hash()
			h.Write(own[:])
		}
	}
	putAll := func(name string, of []*Record) {
		h.Write([]byte(name + "\n"))
		for _, r := range slices.SortedFunc(slices.Values(of), func(a, b *Record) int {
			x, y := a.Hash(), b.Hash()
			return bytes.Compare(x[:], y[:])
		}) {
			put(r)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.slots)) {
		if plans := s.slots[name].plans; len(plans) > 0 {
			putAll(name, plans)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.members)) {
		putAll(string(name), s.members[name].enrolled)
		putAll(string(name), s.members[name].revoked)
	}
	return [sha256.Size]byte(h.Sum(nil))
}
