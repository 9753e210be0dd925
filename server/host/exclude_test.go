package host

import (
	"fmt"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/fault"
)

func TestWhatARevokedDeviceWroteIsExcludedAndComesBackByAnOrder(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	w := join(t, r, "north").notes(t, 4)
	w.send(t, s, 1, 4)
	r.reaches(w.name, 4)
	refused := func(name string, d event.Device, from uint64, kind fault.Kind, says string) {
		t.Helper()
		if _, err := r.Exclude(d, from, ""); kindOf(err) != kind || !strings.Contains(fmt.Sprint(err), says) {
			t.Errorf("%s: %v (kind %d), want kind %d and %q", name, err, kindOf(err), kind, says)
		}
	}
	refused("one that may write", w.name, 2, fault.Conflict, "revoke it first")
	refused("nobody", "x9", 2, fault.NotFound, "no device x9")
	refused("the site's own device", r.folder.Root, 1, fault.NotFound, "no device")
	if err := r.Revoke(w.name, "lost"); err != nil {
		t.Fatal(err)
	}
	refused("what it never wrote", w.name, 5, fault.Invalid, "wrote 4 events")
	refused("nothing to take back", w.name, 0, fault.Conflict, "counts already")
	notes := func(r *running) (n int) {
		r.View(func(s *fold.Site) {
			for _, e := range s.Records() {
				if e.Device == w.name {
					n++
				}
			}
		})
		return n
	}
	if n, err := r.Exclude(w.name, 3, "a flood"); err != nil || n != 2 || notes(r) != 2 {
		t.Errorf("excluded %d, %v; %d of its events count", n, err, notes(r))
	}
	refused("the same again", w.name, 3, fault.Conflict, "already")
	r.stop()
	r = start(t, dir, s)
	if notes(r) != 2 || r.head(w.name).Seq != 4 {
		t.Errorf("started anew, %d of its events count, and it holds %d", notes(r), r.head(w.name).Seq)
	}
	<-r.Whole()
	if _, err := r.Exclude(w.name, 0, ""); err != nil || notes(r) != 4 {
		t.Errorf("taken back: %v, %d of its events count", err, notes(r))
	}
}
