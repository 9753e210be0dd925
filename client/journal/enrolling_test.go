package journal

import (
	"crypto/ed25519"
	"reflect"
	"testing"

	"hod/internal/chain"
	"hod/internal/event"
)

func enrolling(name event.Device, role event.Role) event.Event {
	return event.Event{Body: event.DeviceEnrolled{Device: name, PublicKey: publicOf(name), Role: role, Crew: "north"}}
}

func TestTheRingOfKeysIsThatOfTheWholeRecord(t *testing.T) {
	j := inMemory(t, "n3")
	for device, drafts := range map[event.Device][]event.Event{
		"site":  {note("before"), enrolling("site2", event.SiteRole), note("\u00a2\u00a3"), enrolling("n1", event.CrewRole)},
		"site2": {note("of the second server"), enrolling("n2", event.CrewRole)},
		"n1":    {note("a crew"), enrolling("stranger", event.CrewRole)},
	} {
		writer := inMemory(t, device)
		if _, err := writer.Append(t.Context(), noon, drafts...); err != nil {
			t.Fatal(err)
		}
		if _, err := j.Keep(t.Context(), all(t, writer, device)...); err != nil {
			t.Fatal(err)
		}
	}
	ring, err := j.KeyRing(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	events, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if want := j.Device().KeyRing(events); !reflect.DeepEqual(ring, want) {
		t.Errorf("the ring that reads enrolments alone differs from the whole record's:\n%v\n%v", ring, want)
	}
	for device, want := range map[event.Device]chain.Verdict{"n2": chain.Accepted, "stranger": chain.NotEnrolled} {
		s := all(t, func() *Journal { w := inMemory(t, device); appendNotes(t, w, "one"); return w }(), device)[0]
		if got := ring.Admit(s); got != want {
			t.Errorf("a segment of %s is %s, not %s", device, got, want)
		}
	}
	_ = ed25519.PublicKeySize
}
