package main

import (
	"crypto/ed25519"
	"testing"
	"time"

	"hod/internal/bus"
	"hod/internal/event"
	"hod/server/admin"
	"hod/server/enrol"
)

func TestAnExclusionEndsTheConnectionsOfWhomTheDeviceLetIn(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	crew := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	another := func(d event.Device) *record {
		t.Helper()
		_, key, err := ed25519.GenerateKey(nil)
		if err != nil {
			t.Fatal(err)
		}
		like := crew.Device
		like.Name, like.Key = d, key
		return recordOf(like)
	}
	second, friend := another("s9"), another("x9")
	_, err := w.host.Append(event.DeviceEnrolled{
		Device: "s9", PublicKey: second.Key.Public().(ed25519.PublicKey), Role: event.SiteRole,
	})
	if err != nil {
		t.Fatal(err)
	}
	crew.publish(t, second.segment(t, event.DeviceEnrolled{
		Device: "x9", PublicKey: friend.Key.Public().(ed25519.PublicKey), Role: event.Foreman,
	}))
	until(t, "x9 is enrolled", func() bool { _, in := w.host.Member("x9"); return in })
	line, err := bus.Dial(t.Context(), friend.access())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	operator, err := admin.Dial(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer operator.Close()
	if err := operator.Revoke(t.Context(), "s9", "lost"); err != nil {
		t.Fatal(err)
	}
	if _, err := operator.Exclude(t.Context(), "s9", 1, "it let strangers in"); err != nil {
		t.Fatal(err)
	}
	until(t, "the connection of x9 ends", func() bool {
		select {
		case <-line.Done():
			return true
		default:
			return false
		}
	})
	if _, err := bus.Dial(t.Context(), friend.access()); err == nil {
		t.Error("one that a device let in which does not count connects again")
	}
	if _, err := operator.Exclude(t.Context(), "s9", 0, ""); err != nil {
		t.Fatal(err)
	}
	again, err := bus.Dial(t.Context(), friend.access())
	if err != nil {
		t.Fatalf("after the exclusion was taken back: %v", err)
	}
	again.Close()
}
