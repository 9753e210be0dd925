package main

import (
	"strings"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/remote"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
)

// A copy of a phone's folder is in a thief's hands. The owner replaces the key: what both wrote before stands, the
// copy's connection ends, and nothing that it writes afterwards counts.
func TestAKeyIsReplacedByItsOwnerWithNothingLostAndACopyOfTheOldOneOpensNothing(t *testing.T) {
	w := started(t, here(t.TempDir()))
	d := joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	owner := tabletOf(t, d)
	owner.online("note", "before")
	thief := tabletOf(t, d)
	thief.online("sync")
	copied, err := journal.Open(thief.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	open, err := remote.Open(t.Context(), copied)
	if err != nil {
		t.Fatal(err)
	}
	defer open.Close()
	if said, code := typed(t, owner.dir, "rekey"); code != 0 ||
		!strings.Contains(said, "This device is n2 from now on") {
		t.Fatalf("exit %d, %s", code, said)
	}
	<-open.Gone() // or the test never ends
	owner.online("note", "after")
	thief.hod("note", "stolen")
	if said, code := typed(t, thief.dir, "sync"); code != 6 || !strings.Contains(said, "revoked") {
		t.Errorf("the old key: exit %d, %s", code, said)
	}
	if said, code := typed(t, thief.dir, "rekey"); code == 0 {
		t.Errorf("the old key makes itself a new one: %s", said)
	}
	sameBoard(t, owner.dir, w)
	var stand []string
	w.host.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			if b, ok := r.Now.(event.Noted); ok && r.State != fold.SetAside {
				stand = append(stand, b.Text)
			}
		}
	})
	if got := strings.Join(stand, ","); got != "before,after" {
		t.Errorf("the notes that stand are %q", got)
	}
}
