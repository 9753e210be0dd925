package joint_test

import (
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
)

// A1 was placed in the morning, A2 met it after it had set; that both went on together later does not make that joint
// live.
func TestAnEdgesJointIsThatOfThePairThatMetFirst(t *testing.T) {
	d := foldtest.NewDesk(t)
	first := foldtest.Put(1, "A1", 0, 5)
	first.Along = []event.Zone{"A2"}
	met := foldtest.Put(2, "A2", 600, 605)
	met.Along = []event.Zone{"A1"}
	again := foldtest.Put(3, "A1", 700, 703)
	again.Along = []event.Zone{"A2"}
	soon := foldtest.Put(4, "A2", 705, 710)
	soon.Along = []event.Zone{"A1"}
	for i, p := range []event.Placement{first, met, again, soon} {
		at := int(p.From.Sub(foldtest.Clock(0)).Minutes())
		d.By("n1", at, foldtest.Mixed(i+1, at))
		d.By("n1", at, p)
	}
	for _, k := range d.Site().Contacts() {
		if k.Kind != fold.AlongEdge {
			continue
		}
		if !k.Known || !k.At.Equal(foldtest.Clock(600)) || !k.From.From.Equal(foldtest.Clock(0)) ||
			!k.To.From.Equal(foldtest.Clock(600)) {
			t.Errorf("met at %s, by what was placed at %s and %s", k.At, k.From.From, k.To.From)
		}
		if !k.IsCold() || k.High < k.Low {
			t.Errorf("consumed %.2f to %.2f", k.Low, k.High)
		}
		return
	}
	t.Fatal("there is no joint along the edge")
}
