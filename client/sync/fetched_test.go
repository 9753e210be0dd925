package sync

import (
	"testing"
	"time"
)

// How old a copy of the record is goes by the last contact that brought all of it: one that broke off makes it no
// newer.
func TestAContactThatBreaksOffMakesTheCopyNoNewer(t *testing.T) {
	w := testWorld(t)
	d := w.device("n2")
	fetched := func() time.Time { return must(d.record.Contact(t.Context())).Fetched }
	if got := fetched(); !got.IsZero() {
		t.Fatalf("before the first contact it was fetched at %s", got)
	}
	w.contacts("n2")
	first := fetched()
	if first.IsZero() {
		t.Fatal("a whole contact left no time")
	}
	w.write(w.device("n3"), 2)
	w.contacts("n3")
	broke := false
	for left := 1; left < 200; left++ { // cut after so many steps
		w.now = w.now.Add(time.Minute)
		err := w.contact(d, fuse{left: left})
		c := must(d.record.Contact(t.Context()))
		if err == nil {
			if !c.Fetched.Equal(c.At.Add(c.Offset).Truncate(time.Millisecond)) {
				t.Errorf("a whole contact at %s says that it was fetched at %s", c.At, c.Fetched)
			}
			break
		}
		broke = true
		if !c.Fetched.Equal(first) {
			t.Fatalf("cut after %d steps, the copy claims to be of %s, not of %s", left, c.Fetched, first)
		}
	}
	if !broke {
		t.Fatal("no contact broke off")
	}
	w.heal()
}
