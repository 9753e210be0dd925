package sync

import "testing"

// Each call to the server fails once, in a contact that has something to do both ways; the next contact brings all.
func TestEachCallOfAContactFailsOnceAndNothingIsLost(t *testing.T) {
	tried := 0
	for _, after := range []bool{false, true} { // the call fails, or its answer is lost
		for k := 0; ; k++ {
			w := newWorld(t)
			w.write(w.device("n2"), 3)
			w.write(w.device("n3"), 2)
			w.contacts("n3")
			w.loseServer() // which then has to be told again what others wrote
			w.write(w.device("n2"), 200)
			failed := w.contact(w.device("n2"), fuse{left: k, after: after}) != nil
			w.contacts("n2", "n3", "n2")
			w.heal()
			w.close()
			if tried++; !failed {
				break
			}
			if k > 500 {
				t.Fatal("a contact never comes to an end")
			}
		}
	}
	if tried < 8 {
		t.Errorf("only %d calls failed", tried)
	}
}
