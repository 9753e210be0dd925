package sessiontest

import (
	"crypto/ed25519"
	"crypto/sha256"
	"io"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plan"
	"hod/internal/unit"
	"hod/testdata/plan"
)

// Vault is an open record without a journal: what crew north's device knows of the example's site on a day of
// work.
func Vault(t testing.TB) *session.Session {
	t.Helper()
	now := time.Date(2026, 7, 18, 14, 5, 0, 0, time.UTC)
	s := &session.Session{
		Env: &session.Env{Streams: &terminal.Streams{
			Stderr: io.Discard, Stdout: io.Discard,
			Getenv: func(string) string { return "" },
		}, Now: func() time.Time { return now }, Local: time.UTC},
		Device: journal.Device{Site: "vault", Name: "n2", Crew: "north", Role: event.CrewRole, Root: "host"}, Now: now,
		Fold: fold.New("vault", "host"),
	}
	seq := map[event.Device]uint64{}
	add := func(d event.Device, at time.Time, body event.Body) {
		t.Helper()
		seq[d]++
		e, err := event.Write(event.Event{
			Name: event.Name{Device: d, Seq: seq[d]}, HappenedAt: at, LoggedAt: at,
			Body: body,
		})
		if err != nil {
			t.Fatal(err)
		}
		s.Fold.Add(e)
	}
	for _, d := range []event.DeviceEnrolled{{Device: "n1", Role: event.Foreman}, {
		Device: "n2", Role: event.CrewRole,
		Crew: "north",
	}} {
		seed := sha256.Sum256([]byte(d.Device))
		d.PublicKey = ed25519.NewKeyFromSeed(seed[:]).Public().(ed25519.PublicKey)
		add("host", now.AddDate(0, 0, -7), d)
	}
	read, err := plan.Read("vault.yaml", example.Vault, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range read.Events() {
		add("n1", now.AddDate(0, 0, -6), b)
	}
	mix, coat := read.Mixes[0], read.Coats[0].Coat
	batch := event.Batch{Crew: "north", Day: "2026-07-18", Number: 7}
	mixed := event.BatchMixed{
		Batch: batch, Mix: mix.Mix, Revision: mix.Revision, MixedFrom: now.Add(-3 * time.Hour),
		MixedTo: now.Add(-170 * time.Minute),
	}
	for _, c := range mix.Constituents {
		mixed.Charges = append(mixed.Charges, event.Charge{Constituent: c.Name, Amount: c.Amount})
	}
	add("n2", now.Add(-170*time.Minute), mixed)
	half := unit.As[unit.Share]{SI: 0.5, Entered: "1/2"}
	add("n2", now.Add(-160*time.Minute), event.Placement{Batch: batch, Coat: coat, Part: event.Part{Share: &half}})
	s.Refresh()
	if _, ok := s.Fold.Batch(batch); !ok {
		t.Fatal("the batch is not in the record")
	}
	return s
}
