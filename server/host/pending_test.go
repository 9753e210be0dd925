package host

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/server/enrol"
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
		return r.unknown.Len()
	}
	r.until("the stranger's segment waits", func() bool { return waiting() == 1 })
	s.makeAnew()
	r.until("the host has noticed", func() bool {
		r.writing.Lock()
		defer r.writing.Unlock()
		return !r.unknown.Any(inStream)
	})
	m, err := r.Enrol(t.Context(), applicant(t, r.Host, n.key, enrol.Invitation{
		Role: event.CrewRole, Crew: "north",
		For: time.Hour, Uses: 1,
	}))
	if err != nil || m.Device != n.name {
		t.Fatalf("%+v, %v", m, err)
	}
	r.reaches("n1", 2)
	r.until("the stream has it again", func() bool { return s.holds("n1") == 2 })
}
