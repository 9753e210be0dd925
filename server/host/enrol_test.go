package host

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"hod/internal/event"
	"hod/server/enrol"
	"hod/server/fault"
)

func TestNamesOfDevices(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	for _, c := range []struct {
		role event.Role
		crew event.Crew
		want event.Device
	}{
		{event.CrewRole, "north", "n1"},
		{event.CrewRole, "North", "n2"},
		{event.CrewRole, "night", "n3"},
		{event.Foreman, "", "f1"},
		{event.CrewRole, "finish", "f2"},
		{event.Inspector, "", "i1"},
		{event.Probe, "", "p1"},
		{event.Foreman, "north", "f3"},
		{event.CrewRole, "7", "c1"},
		{event.CrewRole, "Ñandú", "ñ1"},
	} {
		m, err := r.Enrol(t.Context(),
			applicant(t, r.Host, newKey(t), enrol.Invitation{Role: c.role, Crew: c.crew, For: time.Hour, Uses: 1}))
		if err != nil || m.Device != c.want || m.Role != c.role || m.Crew != c.crew {
			t.Errorf("%s of crew %q is %+v (%v), want %s", c.role, c.crew, m, err, c.want)
		}
	}
}

func TestWhoMayNotJoinIsToldWhy(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	key := newKey(t)
	once := applicant(t, r.Host, key, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	if _, err := r.Enrol(t.Context(), once); err != nil {
		t.Fatal(err)
	}
	other := newKey(t)
	open := func(i enrol.Invitation) enrol.Applicant { return applicant(t, r.Host, other, i) }
	unproved := open(enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	unproved.Proof = slices.Clone(unproved.Proof)
	unproved.Proof[3] ^= 1
	expired := open(enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Minute, Uses: 1})
	wrongCrew := open(enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	wrongCrew.Crew = "south"
	badCrew := open(enrol.Invitation{Role: event.CrewRole, Crew: "", For: time.Hour, Uses: 1})
	badCrew.Crew = "no/such"
	twice := apply(once.Secret, other)
	known := applicant(t, r.Host, key, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	for _, c := range []struct {
		name string
		a    enrol.Applicant
		late time.Duration
		kind fault.Kind
		says string
	}{
		{"no proof", unproved, 0, fault.Denied, "did not prove"},
		{"a code that was never given out", apply("0000-0000-0000-0000", other), 0, fault.Denied, "no invitation"},
		{"a code used up by another", twice, 0, fault.Denied, "used already"},
		{"a code that expired", expired, 2 * time.Minute, fault.Denied, "good until 2026-07-18 07:01 UTC"},
		{"another crew than the code's", wrongCrew, 0, fault.Invalid, "for crew north"},
		{
			"no crew where the code says none",
			open(enrol.Invitation{Role: event.CrewRole, Crew: "", For: time.Hour, Uses: 1}), 0, fault.Invalid,
			"--crew north",
		},
		{"a crew that cannot be", badCrew, 0, fault.Invalid, "no/such"},
		{"a device that is in already", known, 0, fault.Conflict, "as n1"},
	} {
		now := morning.Add(c.late)
		r.now = func() time.Time { return now }
		_, err := r.Enrol(t.Context(), c.a)
		if kindOf(err) != c.kind || !strings.Contains(fmt.Sprint(err), c.says) {
			t.Errorf("%s: got %v (kind %d), want kind %d and %q", c.name, err, kindOf(err), c.kind, c.says)
		}
	}
	if got := len(r.Members()); got != 1 {
		t.Errorf("%d devices are in, want 1", got)
	}
	// Who was refused for what can be mended has not used the code up.
	wrongCrew.Crew = ""
	if _, err := r.Enrol(t.Context(), wrongCrew); err != nil {
		t.Errorf("the code is spent by a refusal: %v", err)
	}
}

// The identity is its own signature's R for any message; the standard library's check lets it through.
func TestAKeyThatAnybodyCanSignForDoesNotJoin(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	a := applicant(t, r.Host, newKey(t), enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	a.Key, a.Proof = make([]byte, 32), make([]byte, 64)
	a.Key[0], a.Proof[0] = 1, 1
	if !ed25519.Verify(a.Key, []byte(a.Secret), a.Proof) {
		t.Log("this Go refuses the proof by itself")
	}
	if m, err := r.Enrol(t.Context(), a); err == nil || m.Device != "" {
		t.Errorf("enrolled as %+v", m)
	}
	if len(r.Members()) != 0 {
		t.Errorf("members: %+v", r.Members())
	}
}

func TestASecretMayBeTypedInAnyCase(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	key := newKey(t)
	secret, err := r.Invite(enrol.Invitation{Role: event.Foreman, Crew: "", For: time.Hour, Uses: 1})
	if err != nil {
		t.Fatal(err)
	}
	typed := strings.ToLower(strings.ReplaceAll(secret.String(), "-", " "))
	typed = strings.ReplaceAll(strings.ReplaceAll(typed, "0", "o"), "1", "l")
	if m, err := r.Enrol(t.Context(), apply(typed, key)); err != nil || m.Device != "f1" {
		t.Errorf("typed as %q: %v, %v", typed, m, err)
	}
}

func TestALostAnswerMayBeAskedForAgain(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	a := applicant(t, r.Host, newKey(t), enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	first, err := r.Enrol(t.Context(), a)
	if err != nil {
		t.Fatal(err)
	}
	r.stop()
	again := start(t, dir, s)
	second, err := again.Enrol(t.Context(), a)
	if err != nil || second.Device != first.Device || len(again.Members()) != 1 {
		t.Errorf("asked again: %+v, %v; want %s", second, err, first.Device)
	}
}

// The server died between taking the invitation and writing the enrolment: the same device gets in when it asks again,
// under the name that it was promised, and nobody else does.
func TestACrashBetweenTheInvitationAndTheEnrolment(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	a := applicant(t, r.Host, newKey(t), enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	r.writing.Lock()
	r.broken = fault.New(fault.Disk, nil, "the power went")
	r.writing.Unlock()
	if _, err := r.Enrol(t.Context(), a); kindOf(err) != fault.Disk {
		t.Fatalf("got %v", err)
	}
	r.writing.Lock()
	r.broken = nil
	r.writing.Unlock()
	r.stop()

	again := start(t, dir, s)
	if _, err := again.Enrol(t.Context(), apply(a.Secret, newKey(t))); kindOf(err) != fault.Denied {
		t.Errorf("another device with the same code: %v", err)
	}
	other, err := again.Enrol(t.Context(),
		applicant(t, again.Host, newKey(t), enrol.Invitation{
			Role: event.CrewRole, Crew: "north", For: time.Hour,
			Uses: 1,
		}))
	if err != nil || other.Device != "n2" {
		t.Errorf("the next device is %v (%v); n1 is promised, so it should be n2", other.Device, err)
	}
	if m, err := again.Enrol(t.Context(), a); err != nil || m.Device != "n1" {
		t.Errorf("asked again: %v, %v; want n1", m, err)
	}
}

// Forty devices race for invitations that let in seven: exactly seven get in, each with a name of its own.
func TestAnInvitationLetsInAsManyAsItSays(t *testing.T) {
	dir := t.TempDir()
	r := start(t, dir, newStream())
	r.until("the stream is read", r.isWhole)
	var secrets []string
	for _, uses := range []int{1, 1, 5} {
		secret, err := enrol.Invite(dir, enrol.Invitation{
			Role: event.CrewRole, Crew: "north", For: time.Hour,
			Uses: uses,
		}, morning)
		if err != nil {
			t.Fatal(err)
		}
		secrets = append(secrets, secret.String())
	}
	var mu sync.Mutex
	var in []event.Device
	var wait sync.WaitGroup
	for i := range 40 {
		key := newKey(t)
		wait.Go(func() {
			m, err := r.Enrol(context.Background(), apply(secrets[i%3], key))
			mu.Lock()
			defer mu.Unlock()
			switch kindOf(err) {
			case fault.Denied:
			case -1:
				if err != nil {
					t.Errorf("enrol: %v", err)
				}
				in = append(in, m.Device)
			default:
				t.Errorf("enrol: %v", err)
			}
		})
	}
	wait.Wait()
	slices.Sort(in)
	if want := []event.Device{"n1", "n2", "n3", "n4", "n5", "n6", "n7"}; !slices.Equal(in, want) {
		t.Errorf("let in %v, want %v", in, want)
	}
}

func TestNothingOnTheDiskGivesASecretAway(t *testing.T) {
	dir := t.TempDir()
	r := start(t, dir, newStream())
	a := applicant(t, r.Host, newKey(t), enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	if _, err := r.Enrol(t.Context(), a); err != nil {
		t.Fatal(err)
	}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		if info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s may be read by others: %v", path, info.Mode())
		}
		data, err := os.ReadFile(path)
		if strings.Contains(string(data), a.Secret) ||
			strings.Contains(string(data), strings.ReplaceAll(a.Secret, "-", "")) {
			t.Errorf("%s holds the secret", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(r.log.String(), a.Secret) {
		t.Error("the log holds the secret")
	}
}

func TestInvitationsThatCannotBe(t *testing.T) {
	dir := t.TempDir()
	for _, i := range []enrol.Invitation{
		{Role: event.SiteRole, Crew: "", For: time.Hour, Uses: 1},
		{Role: event.NoRole, Crew: "", For: time.Hour, Uses: 1},
		{Role: event.CrewRole, Crew: "a/b", For: time.Hour, Uses: 1},
		{Role: event.CrewRole, Crew: "north", For: 0, Uses: 1},
		{Role: event.CrewRole, Crew: "north", For: 100 * 24 * time.Hour, Uses: 1},
		{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 0},
		{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 100000},
	} {
		if _, err := enrol.Invite(dir, i, morning); kindOf(err) != fault.Invalid {
			t.Errorf("%+v: got %v, want an error of kind Invalid", i, err)
		}
	}
	if exists(filepath.Join(dir, invitesDir)) {
		t.Error("an invitation that cannot be left something on the disk")
	}
}

func TestARevokedDeviceKeepsWhatItWroteAndHasNoRights(t *testing.T) {
	s := newStream()
	r := start(t, t.TempDir(), s)
	n := join(t, r, "north").notes(t, 3)
	n.send(t, s, 1, 2)
	r.reaches("n1", 2)
	if err := r.Revoke("n1", "lost behind the shell"); err != nil {
		t.Fatal(err)
	}
	if m, ok := r.Rights(publicKey(n.key)); !ok || !m.Revoked {
		t.Errorf("after the revocation: %+v, %v", m, ok)
	}
	n.send(t, s, 3, 3)
	r.reaches("n1", 3) // kept as evidence; the fold sets it aside
	for what, err := range map[string]error{"again": r.Revoke("n1", "x"), "nobody": r.Revoke("z9", "x")} {
		if err == nil {
			t.Errorf("revoke %s: no error", what)
		}
	}
}
