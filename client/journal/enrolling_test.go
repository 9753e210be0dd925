package journal

import (
	"reflect"
	"testing"

	"hod/internal/event"
)

func enrolling(name event.Device, role event.Role) event.Event {
	return event.Event{Body: event.DeviceEnrolled{Device: name, PublicKey: publicOf(name), Role: role, Crew: "north"}}
}

func TestTheRingOfKeysIsThatOfTheWholeRecord(t *testing.T) {
	j := inMemory(t, "n3")
	for device, drafts := range map[event.Device][]event.Event{
		"site": {
			note("before"), enrolling("site2", event.SiteRole), note("\u00a2\u00a3"),
			enrolling("n1", event.CrewRole),
		},
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
	for device, admitted := range map[event.Device]bool{"n2": true, "stranger": false} {
		w := inMemory(t, device)
		appendNotes(t, w, "one")
		if err := ring.Admit(all(t, w, device)[0]); (err == nil) != admitted {
			t.Errorf("a segment of %s: admitted is to be %t: %v", device, admitted, err)
		}
	}
}
