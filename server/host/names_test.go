package host

import (
	"crypto/ed25519"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/enrol"
	"hod/server/fault"
	"hod/server/store"
)

var south = enrol.Invitation{Role: event.CrewRole, Crew: "south", For: time.Hour, Uses: 1}

// A server that was restored from a backup, made anew from its root key, or put back by a plain copy of its folder as
// devices show it, gives no name that it may have given meanwhile.
func TestNamesAfterTheRecordWasPutBack(t *testing.T) {
	dir := t.TempDir()
	r := start(t, dir, newStream())
	join := func(r *running) event.Device {
		t.Helper()
		m, err := r.Enrol(t.Context(), applicant(t, r.Host, newKey(t), south))
		if err != nil {
			t.Fatal(err)
		}
		return m.Device
	}
	if got := join(r); got != "s1" {
		t.Fatalf("the first of its crew is %s", got)
	}
	backup := filepath.Join(t.TempDir(), "backup")
	if _, err := store.MakeBackup(dir, backup, morning); err != nil {
		t.Fatal(err)
	}
	r.stop()
	copied := filepath.Join(t.TempDir(), "copied")
	if err := os.CopyFS(copied, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	r = start(t, dir, newStream())
	if got := join(r); got != "s2" {
		t.Fatalf("the second is %s: a start is no restoration", got)
	}
	r.until("what it wrote is in the stream", r.given)
	lost := slices.Clone(r.stream.stored)
	r.stop()

	apart := func(how string, r *running, number string) {
		t.Helper()
		got := string(join(r))
		if len(got) != 2+tagSize || !strings.HasPrefix(got, "s") || !strings.HasSuffix(got, number) {
			t.Errorf("%s: it is %s, want an s, %d letters more, and %s", how, got, tagSize, number)
		}
	}
	restored := start(t, backup, newStream())
	apart("a backup", restored, "1")
	restored.stop()
	restored = start(t, backup, newStream())
	apart("the same, started again", restored, "2")
	restored.stop()

	bare := t.TempDir()
	key, err := os.ReadFile(filepath.Join(dir, keyFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(bare, keyFile), key, 0o600); err != nil {
		t.Fatal(err)
	}
	apart("nothing but the key", start(t, bare, newStream()), "1")

	// A plain copy does not show; what devices bring does, once it went on another way.
	plain := start(t, copied, newStream())
	if got := join(plain); got != "s2" {
		t.Fatalf("a plain copy gives %s", got)
	}
	for _, m := range lost {
		if err := plain.stream.Publish(t.Context(), m.Carrier, m.Data); err != nil {
			t.Fatal(err)
		}
	}
	plain.until("what it lost stands again",
		func() bool { return strings.Contains(plain.log.String(), "stands again on top") })
	apart("a plain copy that learned of it", plain, "1")
}

// A device that the server forgot comes in again as who it was; nobody gets another's name, and a refusal uses up no
// code.
func TestADeviceThatTheServerForgotComesInAgain(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	key := newKey(t)
	given := event.DeviceEnrolled{
		Device: "s7", PublicKey: publicKey(key), Role: event.CrewRole, Crew: "south",
		Label: "phone",
	}
	first := applicant(t, r.Host, key, south)
	first.Device, first.Site, first.Role, first.Crew, first.Enrolment = "s7", "dune", "crew", "south",
		gave(t, r, r.folder.Key, given)
	m, err := r.Enrol(t.Context(), first)
	if err != nil || m.Device != "s7" || !m.Key.Equal(publicKey(key)) {
		t.Fatalf("let in as %+v, %v; want as s7", m, err)
	}
	again := applicant(t, r.Host, key, south)
	again.Device, again.Site, again.Role = "s7", "dune", "crew"
	if m, err := r.Enrol(t.Context(), again); err != nil || m.Device != "s7" {
		t.Errorf("one that is known: %+v, %v; want that it is told who it is", m, err)
	}
	if _, err := r.Enrol(t.Context(), apply(again.Secret, newKey(t))); err != nil {
		t.Errorf("it used the code up: %v", err)
	}
	for _, c := range []struct {
		name   string
		device event.Device
		site   string
		role   string
		kind   fault.Kind
		says   string
	}{
		{"one of another site", "s9", "reef", "crew", fault.Conflict, "site reef"},
		{"another's name", "s7", "dune", "crew", fault.Conflict, "another device's"},
		{"the server's own name", "site", "dune", "crew", fault.Conflict, "another device's"},
		{"another role", "s99", "dune", "foreman", fault.Invalid, "of the role foreman"},
		{"a name of another kind", "f1", "dune", "crew", fault.Invalid, "no name that this server gives"},
		{
			"a number that nobody has", "s9223372036854775807", "dune", "crew", fault.Invalid,
			"no name that this server gives",
		},
		{"no number", "s", "dune", "crew", fault.Invalid, "no name that this server gives"},
		{"a number below nought", "s-1", "dune", "crew", fault.Invalid, "no name that this server gives"},
		{"what is no name", "s 1", "dune", "crew", fault.Invalid, "no name that this server gives"},
	} {
		a := applicant(t, r.Host, newKey(t), south)
		a.Device, a.Site, a.Role = c.device, c.site, c.role
		if _, err := r.Enrol(t.Context(), a); kindOf(err) != c.kind || !strings.Contains(fmt.Sprint(err), c.says) {
			t.Errorf("%s: got %v (kind %d), want kind %d and %q", c.name, err, kindOf(err), c.kind, c.says)
		}
		if _, err := r.Enrol(t.Context(), apply(a.Secret, newKey(t))); err != nil {
			t.Errorf("%s: the code is spent by a refusal: %v", c.name, err)
		}
	}
}

// gave is a segment of the site's own device that enrols, signed by a key that may be another's.
func gave(t *testing.T, r *running, key ed25519.PrivateKey, b event.DeviceEnrolled) []byte {
	t.Helper()
	e, err := event.Write(event.Event{
		Name: event.Name{Device: r.folder.Root, Seq: 9}, HappenedAt: morning,
		LoggedAt: morning, Body: b,
	})
	if err != nil {
		t.Fatal(err)
	}
	s, err := chain.Sign(key, "dune", chain.Head{Device: r.folder.Root, Seq: 8}, []event.Event{e})
	if err != nil {
		t.Fatal(err)
	}
	return s.Bytes()
}

// A thief with a code for a crew takes the name of a device that the server forgot, and with it what that device's
// person is asked for: not without the site's own word, for that very key, or the foreman's.
func TestAJoiningDeviceCannotChooseItsName(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	key, owner := newKey(t), newKey(t)
	of := func(change func(*event.DeviceEnrolled)) event.DeviceEnrolled {
		b := event.DeviceEnrolled{
			Device: "s7", PublicKey: publicKey(key), Role: event.CrewRole, Crew: "south",
			Label: "phone",
		}
		change(&b)
		return b
	}
	for name, enrolment := range map[string][]byte{
		"nothing":            nil,
		"what is no segment": []byte("s7"),
		"the enrolment of another key": gave(t, r, r.folder.Key,
			of(func(b *event.DeviceEnrolled) { b.PublicKey = publicKey(owner) })),
		"that of another name": gave(t, r, r.folder.Key, of(func(b *event.DeviceEnrolled) { b.Device = "s6" })),
		"that of another crew": gave(t, r, r.folder.Key,
			of(func(b *event.DeviceEnrolled) { b.Crew = "north" })),
		"one that it signed itself": gave(t, r, key, of(func(*event.DeviceEnrolled) {})),
	} {
		a := applicant(t, r.Host, key, south)
		a.Device, a.Site, a.Role, a.Enrolment = "s7", "dune", "crew", enrolment
		if m, err := r.Enrol(t.Context(), a); kindOf(err) != fault.Denied ||
			!strings.Contains(fmt.Sprint(err), "hodd invite --device s7") {
			t.Errorf("by %s it is let in as %q, %v", name, m.Device, err)
		}
	}
	// The foreman says so, for that device alone.
	theirs := south
	theirs.Device = "s7"
	secret, err := r.Invite(theirs)
	if err != nil {
		t.Fatal(err)
	}
	if m, err := r.Enrol(t.Context(), apply(secret.String(), newKey(t))); kindOf(err) != fault.Denied ||
		!strings.Contains(fmt.Sprint(err), "for the device s7") {
		t.Errorf("a code for s7 lets in another: %+v, %v", m, err)
	}
	a := apply(secret.String(), owner)
	a.Device, a.Site, a.Role, a.Crew = "s7", "dune", "crew", "south"
	if m, err := r.Enrol(t.Context(), a); err != nil || m.Device != "s7" {
		t.Errorf("the foreman says so: %+v, %v", m, err)
	}
}

// The record is gone, its folder of invitations is not: the name that one of them gave is still its device's.
func TestADeviceKeepsTheNameThatItsInvitationGave(t *testing.T) {
	dir := t.TempDir()
	r := start(t, dir, newStream())
	key := newKey(t)
	if m, err := r.Enrol(t.Context(), applicant(t, r.Host, key, south)); err != nil || m.Device != "s1" {
		t.Fatal(m, err)
	}
	r.stop()
	if err := os.RemoveAll(filepath.Join(dir, archiveDir)); err != nil {
		t.Fatal(err)
	}
	r = start(t, dir, newStream())
	other, err := r.Enrol(t.Context(), applicant(t, r.Host, newKey(t), south))
	if err != nil || len(other.Device) != 2+tagSize {
		t.Errorf("who joins a server without its record is %s, %v", other.Device, err)
	}
	a := applicant(t, r.Host, key, south)
	a.Device, a.Site, a.Role = "s1", "dune", "crew"
	if m, err := r.Enrol(t.Context(), a); err != nil || m.Device != "s1" {
		t.Errorf("it comes in again as %s: %v", m.Device, err)
	}
}

// A code for any crew, and a crew that reads as one that is there: the board would show two of the same name.
func TestACrewThatLooksLikeAnotherDoesNotJoin(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	anyCrew := enrol.Invitation{Role: event.CrewRole, For: time.Hour, Uses: 1}
	join := func(crew event.Crew) (enrol.Member, error) {
		a := applicant(t, r.Host, newKey(t), anyCrew)
		a.Crew = crew
		return r.Enrol(t.Context(), a)
	}
	for _, good := range []event.Crew{"north", "North", "north"} {
		if _, err := join(good); err != nil {
			t.Fatalf("crew %s: %v", good, err)
		}
	}
	for crew, says := range map[event.Crew]string{
		"n\u043erth": "letter 2 of n\u043erth is \u043e (U+043E, Cyrillic), and of north o (U+006F, Latin)",
		"s\u043euth": "written in Cyrillic and Latin at once",
	} {
		m, err := join(crew)
		if kindOf(err) != fault.Invalid || !strings.Contains(fmt.Sprint(err), says) {
			t.Errorf("crew %s joins as %+v, %v", crew, m, err)
		}
	}
}
