package chain_test

import (
	"testing"

	"hod/internal/chain"
	"hod/internal/event"
)

const (
	streamed chain.Marks = 1 << iota
	archived
)

// run of a device: segments of one note each.
func run(t testing.TB, d event.Device, n int) (segs []chain.Segment) {
	before := start("vault", d)
	for i := range n {
		s := sign(t, seed(2), before, note(t, d, uint64(i)+1))
		segs, before = append(segs, s), s.After
	}
	return segs
}

// One that comes by the stream again counts as lying there.
func TestWhatWaitsLiesInTheStreamOnceItCameByIt(t *testing.T) {
	p, third := chain.NewPending(1<<20, 1<<20), run(t, "n1", 3)[2]
	p.Put(chain.Marked{Segment: third, Marks: streamed | archived})
	p.Unmark(streamed)
	if p.Any(streamed) || !p.Any(archived) {
		t.Error("the stream was made anew, and only that is forgotten")
	}
	p.Put(chain.Marked{Segment: third, Marks: streamed})
	if out := p.Release("n1", 2); len(out) != 1 || out[0].Marks != streamed|archived || p.Any(streamed) ||
		p.Len() != 0 {
		t.Errorf("released %+v, and %d are left", out, p.Len())
	}
}

func TestWhatWaitsIsBoundedAndHeldOnce(t *testing.T) {
	n, m := run(t, "n1", 6), run(t, "n2", 6)
	one := func(of []chain.Segment, i int) chain.Marked { return chain.Marked{Segment: of[i-1]} }
	size := len(one(n, 3).Bytes())
	r := chain.NewPending(4*size+size/2, 3*size+size/2)
	for range 100 {
		if !r.Put(one(n, 3)) {
			t.Fatal("the same segment, offered again and again, filled the room")
		}
	}
	if r.Len() != 1 {
		t.Errorf("%d segments are held for one", r.Len())
	}
	if !r.Put(one(n, 5)) || !r.Put(one(n, 4)) {
		t.Error("there was room for three of one device")
	}
	if r.Put(one(n, 6)) {
		t.Error("a device took more than its part of the room")
	}
	if !r.Put(one(m, 3)) || r.Put(one(m, 4)) {
		t.Error("the room is for four in all")
	}
	var first []uint64
	for _, o := range r.Release("n1", 3) { // the record reaches 3: 3 and 4 may go on, 5 not yet
		first = append(first, o.First())
	}
	if len(first) != 2 || first[0] != 3 || first[1] != 4 || r.Len() != 2 {
		t.Errorf("released %v, and %d segments are left", first, r.Len())
	}
	if got := r.Release("n9", 100); len(got) > 0 {
		t.Errorf("released %d of a device that had none", len(got))
	}
}
