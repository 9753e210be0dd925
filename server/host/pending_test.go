package host

import (
	"testing"
	"time"

	"hod/internal/event"
)

// What waits for an enrolment while the stream loses it is given back to the stream once it is taken in: other devices
// have no other way to it.
func TestWhatWaitedWhileTheStreamLostItIsGivenBack(t *testing.T) {
	s := newStream()
	r := start(t, t.TempDir(), s)
	n := (&writer{key: newKey(t), site: "dune", name: "n1"}).notes(t, 2)
	n.send(t, s, 1, 2)
	waiting := func() int {
		r.writing.Lock()
		defer r.writing.Unlock()
		return r.unknown.count()
	}
	r.until("the stranger's segment waits", func() bool { return waiting() == 1 })
	s.makeAnew()
	r.until("the host has noticed", func() bool {
		r.writing.Lock()
		defer r.writing.Unlock()
		return r.unknown.streamed == 0
	})
	m, err := r.Enrol(t.Context(), applicant(t, r.Host, n.key, Invitation{event.CrewRole, "north", time.Hour, 1}))
	if err != nil || m.Device != n.name {
		t.Fatalf("%+v, %v", m, err)
	}
	r.reaches("n1", 2)
	r.until("the stream has it again", func() bool { return s.holds("n1") == 2 })
}

// One that comes by the stream again counts as lying there.
func TestWhatWaitsLiesInTheStreamOnceItCameByIt(t *testing.T) {
	n := (&writer{key: newKey(t), site: "dune", name: "n1"}).notes(t, 3)
	r := newPending(1<<20, 1<<20)
	r.put(offered{Segment: n.segment(t, 3, 3), streamed: true})
	r.forgetStream()
	if r.streamed != 0 {
		t.Errorf("%d of a stream that was made anew", r.streamed)
	}
	r.put(offered{Segment: n.segment(t, 3, 3), streamed: true})
	if out := r.release("n1", 2); len(out) != 1 || !out[0].streamed || r.streamed != 0 {
		t.Errorf("released %+v, and %d are left", out, r.streamed)
	}
}

func TestWhatWaitsIsBoundedAndHeldOnce(t *testing.T) {
	n := (&writer{key: newKey(t), site: "dune", name: "n1"}).notes(t, 6)
	m := (&writer{key: newKey(t), site: "dune", name: "n2"}).notes(t, 6)
	one := func(w *writer, i int) offered { return offered{Segment: w.segment(t, i, i), streamed: true} }
	size := len(one(n, 3).Bytes())
	r := newPending(4*size+size/2, 3*size+size/2)
	for range 100 {
		if !r.put(one(n, 3)) {
			t.Fatal("the same segment, offered again and again, filled the room")
		}
	}
	if r.size != size || r.streamed != 1 {
		t.Errorf("%d bytes and %d segments are held for one of %d", r.size, r.streamed, size)
	}
	if !r.put(one(n, 5)) || !r.put(one(n, 4)) {
		t.Error("there was room for three of one device")
	}
	if r.put(one(n, 6)) {
		t.Error("a device took more than its part of the room")
	}
	if !r.put(one(m, 3)) || r.put(one(m, 4)) {
		t.Error("the room is for four in all")
	}
	var first []uint64
	for _, o := range r.release("n1", 3) { // the record reaches 3: 3 and 4 may go on, 5 not yet
		first = append(first, o.First())
	}
	if len(first) != 2 || first[0] != 3 || first[1] != 4 || r.size != 2*size || r.streamed != 2 {
		t.Errorf("released %v, %d bytes and %d segments are left", first, r.size, r.streamed)
	}
	if got := r.release("n9", 100); len(got) > 0 {
		t.Errorf("released %d of a device that had none", len(got))
	}
}
