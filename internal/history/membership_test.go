package history_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// One that enrols others and is spoken of often has what it wrote read anew with each word about it.
func TestWhoIsEnrolledIsTheSameHoweverOftenItsEnrollerWasSpokenOf(t *testing.T) {
	at := time.Date(2026, 7, 18, 7, 0, 0, 0, time.UTC)
	var all []event.Event
	write := func(by event.Device, seq uint64, b event.Body) {
		t.Helper()
		name := event.Name{Device: by, Seq: seq}
		e, err := event.Write(event.Event{Name: name, HappenedAt: at, LoggedAt: at, Body: b})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, e)
	}
	enrolled := func(d event.Device, role event.Role) event.Body {
		return event.DeviceEnrolled{Device: d, PublicKey: make([]byte, 32), Role: role, Crew: "north"}
	}
	write("site", 1, enrolled("s1", event.SiteRole))
	write("s1", 1, enrolled("n1", event.CrewRole))
	write("s1", 2, enrolled("n2", event.CrewRole))
	write("s1", 3, enrolled("n3", event.CrewRole))
	write("site", 2, event.DeviceRevoked{Device: "s1", LastSeq: 2})
	write("site", 3, event.DeviceExcluded{Device: "s1", FromSeq: 2})
	write("site", 4, event.DeviceExcluded{Device: "s1"})
	write("site", 5, event.DeviceRevoked{Device: "s1", LastSeq: 3})
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 1)) //nolint:gosec // an order to try, not a secret
		rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		s := fold.New("x", "site")
		for _, e := range all {
			s.Add(e)
		}
		var in []event.Device
		for _, d := range s.Devices() {
			is, ok := s.MembershipOf(d.Name)
			if !ok || is.Role != d.Role || is.Revoked != d.Revoked {
				t.Fatalf("order %d: %+v is %+v, %v by its membership", seed, d, is, ok)
			}
			in = append(in, d.Name)
		}
		if want := []event.Device{"n1", "n2", "s1"}; !slices.Equal(in, want) {
			t.Fatalf("order %d: %v are enrolled, want %v", seed, in, want)
		}
	}
}
