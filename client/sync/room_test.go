package sync

import (
	"testing"
	"time"
)

func TestADeviceWithoutRoomSendsItsOwnAndFetchesNothingUntilThereIsRoom(t *testing.T) {
	w := testWorld(t)
	w.write(w.device("n3"), 2)
	w.contacts("n3")
	d := w.device("n2")
	w.write(d, 3)
	only := Contact{
		Journal: d.record, Line: &slowLine{world: w, trips: []time.Duration{0}}, Ring: d.ring,
		Clock: Clock{Now: func() time.Time { return w.now }}, Pause: pause, SendOnly: true,
	}
	out, err := only.Once(t.Context())
	if err != nil || out.Pulled != 0 || out.Pushed != 3 || out.Unconfirmed != 0 {
		t.Fatalf("without room: %+v, %v", out, err)
	}
	only.SendOnly = false
	if out, err = only.Once(t.Context()); err != nil || out.Pulled == 0 || out.Pushed != 0 {
		t.Errorf("with room: %+v, %v", out, err)
	}
}
