package enrol

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/auth"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

var opened = time.Date(2031, 5, 12, 7, 0, 0, 0, time.UTC)

func key(name string) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(name))
	return ed25519.NewKeyFromSeed(seed[:])
}

func public(name string) ed25519.PublicKey { return key(name).Public().(ed25519.PublicKey) }

// site is a server's log without stream or disk, with its register.
type site struct {
	t      *testing.T
	r      *Register
	now    time.Time
	events []event.Event
	wrote  map[event.Device]uint64 // of other devices, as far as the log reaches
	whole  chan struct{}
	fails  error // of the next Append
}

func newSite(t *testing.T) *site {
	t.Helper()
	s := &site{t: t, now: opened, wrote: map[event.Device]uint64{}, whole: make(chan struct{})}
	close(s.whole)
	s.open(t.TempDir())
	return s
}

// open opens the register on a folder, and tells it what the log holds.
func (s *site) open(dir string) {
	s.t.Helper()
	r, err := Open(Config{
		Dir: dir, Site: "tarn", Root: "site", RootKey: public("root"), Log: s, Now: func() time.Time { return s.now },
		Says: zerolog.Nop(), Odd: zerolog.Nop(),
	})
	if err != nil {
		s.t.Fatal(err)
	}
	s.r = r
	r.Learn(s.events...)
}

// Append implements Log.
func (s *site) Append(b event.Body) (event.Event, error) {
	if err := s.fails; err != nil {
		s.fails = nil
		return event.Event{}, err
	}
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "site", Seq: uint64(len(s.events) + 1)}, HappenedAt: s.now, LoggedAt: s.now, Body: b,
	})
	if err == nil {
		s.events = append(s.events, e)
		s.r.Learn(e)
	}
	return e, err
}

// Heads implements Log.
func (s *site) Heads() []chain.Head {
	heads := []chain.Head{{Device: "site", Seq: uint64(len(s.events))}}
	for d, seq := range s.wrote {
		heads = append(heads, chain.Head{Device: d, Seq: seq})
	}
	return heads
}

// Whole implements Log.
func (s *site) Whole() <-chan struct{} { return s.whole }

func (s *site) invite(i Invitation) string {
	s.t.Helper()
	if i.For == 0 {
		i.For = time.Hour
	}
	if i.Uses == 0 {
		i.Uses = 1
	}
	secret, err := s.r.Invite(i)
	if err != nil {
		s.t.Fatal(err)
	}
	return secret.String()
}

// join is what a device with a key of that name says with a secret.
func join(name, secret string) Applicant {
	return Applicant{Secret: secret, Key: public(name), Proof: ed25519.Sign(key(name), []byte(secret))}
}

// refused fails where an error is not of the kind, or does not say what it should.
func refused(t *testing.T, what string, err error, kind fault.Kind, says string) {
	t.Helper()
	var e *fault.Error
	if !errors.As(err, &e) || e.Kind != kind || !strings.Contains(e.Msg, says) {
		t.Errorf("%s: %v; want kind %v and %q", what, err, kind, says)
	}
}

func (s *site) must(a Applicant) Member {
	s.t.Helper()
	m, err := s.r.Enrol(s.t.Context(), a)
	if err != nil {
		s.t.Fatal(err)
	}
	return m
}

func TestAnInvitationAdmitsAsManyKeysAsItStatesEachOnce(t *testing.T) {
	s := newSite(t)
	secret := s.invite(Invitation{Role: event.CrewRole, Crew: "north", Uses: 2})
	first := s.must(join("a", secret))
	if first.Device != "n1" || first.Crew != "north" || first.Role != event.CrewRole {
		t.Errorf("the first is %+v", first)
	}
	if again := s.must(join("a", secret)); again.Device != "n1" || len(s.events) != 1 {
		t.Errorf("the same key again is %s, with %d enrolments", again.Device, len(s.events))
	}
	if second := s.must(join("b", strings.ToLower(secret))); second.Device != "n2" {
		t.Errorf("the second is %s", second.Device)
	}
	_, err := s.r.Enrol(t.Context(), join("c", secret))
	refused(t, "a third", err, fault.Denied, "the code let in all of its 2 devices already")
	if n := len(s.r.Members()); n != 2 {
		t.Errorf("%d devices are enrolled", n)
	}
}

func TestWhoIsNotAdmittedIsToldWhy(t *testing.T) {
	s := newSite(t)
	crew := s.invite(Invitation{Role: event.CrewRole, Crew: "north"})
	open := s.invite(Invitation{Role: event.CrewRole, Uses: 9})
	enrolled := s.must(join("a", open).in("south"))
	for _, c := range []struct {
		name string
		a    Applicant
		kind fault.Kind
		says string
	}{
		{
			"without a proof",
			Applicant{Secret: crew, Key: public("b"), Proof: make([]byte, 64)},
			fault.Denied,
			"did not prove that it holds its key",
		},
		{"a key of no length", Applicant{Secret: crew}, fault.Denied, "did not prove"},
		{"another secret", join("b", "0000-0000"), fault.Denied, "no invitation has this code"},
		{"another site", join("b", crew).of("fell", "", ""), fault.Conflict, "this device is one of the site"},
		{"another crew", join("b", crew).in("south"), fault.Invalid, "the code is for crew north, not for"},
		{"no crew", join("b", open), fault.Invalid, "say which one, as in --crew north"},
		{"enrolled already", join("a", crew), fault.Conflict, "enrolled already, as " + string(enrolled.Device)},
		{"a crew like another", join("b", open).in("sоuth"), fault.Invalid, "looks like the crew south"},
		{
			"a name of another", join("b", open).in("south").of("tarn", "s1", "crew"), fault.Conflict,
			"is another device's by now",
		},
		{
			"a name that nobody gave", join("b", open).in("south").of("tarn", "s7", "crew"), fault.Denied,
			"nothing shows that this site gave the name s7",
		},
		{
			"a name of no kind", join("b", open).in("south").of("tarn", "boss", "crew"), fault.Invalid,
			"is no name that this server gives",
		},
		{
			"another role", join("b", open).in("south").of("tarn", "f1", "foreman"), fault.Invalid,
			"the code is for a device of the role crew",
		},
	} {
		_, err := s.r.Enrol(t.Context(), c.a)
		refused(t, c.name, err, c.kind, c.says)
	}
	if len(s.events) != 1 {
		t.Errorf("%d enrolments; want the one", len(s.events))
	}
	s.now = opened.Add(2 * time.Hour)
	_, err := s.r.Enrol(t.Context(), join("c", crew))
	refused(t, "an expired code", err, fault.Denied, "the code was good until 2031-05-12 08:00 UTC")
	s.now = opened.Add(time.Hour + keepExpired + time.Minute)
	_, err = s.r.Enrol(t.Context(), join("c", crew))
	refused(t, "one long expired", err, fault.Denied, "no invitation has this code")
}

// in says the crew, of says who the device was before.
func (a Applicant) in(crew event.Crew) Applicant { a.Crew = crew; return a }

func (a Applicant) of(site string, d event.Device, role string) Applicant {
	a.Site, a.Device, a.Role = site, d, role
	return a
}

func TestACrashBetweenTheUseAndTheEnrolmentAdmitsNobodyMore(t *testing.T) {
	s := newSite(t)
	secret := s.invite(Invitation{Role: event.CrewRole, Crew: "north"})
	s.fails = fault.New(fault.Disk, nil, "the disk is full")
	_, err := s.r.Enrol(t.Context(), join("a", secret))
	refused(t, "a disk that fails", err, fault.Disk, "full")
	s.open(s.r.is.Dir)
	_, err = s.r.Enrol(t.Context(), join("b", secret))
	refused(t, "another key", err, fault.Denied, "the code was used already")
	if m := s.must(join("a", secret)); m.Device != "n1" {
		t.Errorf("the key that used it is %s", m.Device)
	}
}

func TestNobodyIsAdmittedBeforeTheStreamWasRead(t *testing.T) {
	s := newSite(t)
	secret := s.invite(Invitation{Role: event.Inspector})
	s.whole = make(chan struct{})
	ctx, stop := context.WithCancel(t.Context())
	stop()
	_, err := s.r.Enrol(ctx, join("a", secret))
	refused(t, "joining", err, fault.Offline, "has not read its log to the end yet")
	refused(t, "revoking", s.r.Revoke("n1", ""), fault.NotFound, "no device")
	close(s.whole)
	if m := s.must(join("a", secret)); m.Device != "i1" || m.Role != event.Inspector || m.Crew != "" {
		t.Errorf("%+v", m)
	}
}

// A server that lost its log admits a device under its own name on the word of the invitation, of the file that gave
// the name, or of the segment that the root signed.
func TestADeviceThatTheLogLacksComesInUnderItsOwnName(t *testing.T) {
	lose := func(s *site) { s.events = nil; s.open(s.r.is.Dir) }
	t.Run("the file of its invitation is there", func(t *testing.T) {
		s := newSite(t)
		s.must(join("a", s.invite(Invitation{Role: event.CrewRole, Crew: "north"})))
		lose(s)
		code := s.invite(Invitation{Role: event.CrewRole, Crew: "north"})
		if m := s.must(join("a", code).of("tarn", "n1", "crew")); m.Device != "n1" {
			t.Errorf("it is %s", m.Device)
		}
	})
	t.Run("an invitation is for it", func(t *testing.T) {
		s := newSite(t)
		code := s.invite(Invitation{Role: event.CrewRole, Crew: "north", Device: "n4"})
		_, err := s.r.Enrol(t.Context(), join("b", code))
		refused(t, "another", err, fault.Denied, "the code is for the device n4")
		if m := s.must(join("a", code).of("tarn", "n4", "crew")); m.Device != "n4" {
			t.Errorf("it is %s", m.Device)
		}
	})
	t.Run("it brings what the root signed", func(t *testing.T) {
		s := newSite(t)
		s.must(join("a", s.invite(Invitation{Role: event.CrewRole, Crew: "north"})))
		seg, err := chain.Sign(key("root"), "tarn", chain.Head{Device: "site", Chain: chain.Root("tarn", "site")},
			s.events)
		if err != nil {
			t.Fatal(err)
		}
		s.events = nil
		s.open(t.TempDir())
		for who, ok := range map[string]bool{"b": false, "a": true} {
			a := join(who, s.invite(Invitation{Role: event.CrewRole, Crew: "north"})).of("tarn", "n1", "crew")
			a.Enrolment = seg.Bytes()
			if m, err := s.r.Enrol(t.Context(), a); (err == nil) != ok || ok && m.Device != "n1" {
				t.Errorf("the key of %s: %s, %v", who, m.Device, err)
			}
		}
	})
}

func TestARevokedDeviceEndsAndItsNameIsNotGivenAgain(t *testing.T) {
	s := newSite(t)
	code := s.invite(Invitation{Role: event.CrewRole, Crew: "north", Uses: 3})
	s.must(join("a", code))
	s.wrote["n1"] = 7
	if err := s.r.Revoke("n1", "lost at the river"); err != nil {
		t.Fatal(err)
	}
	m, ok := s.r.Rights(public("a"))
	if !ok || !m.Revoked || m.LastSeq != 7 {
		t.Errorf("it is %+v, %t", m, ok)
	}
	refused(t, "twice", s.r.Revoke("n1", ""), fault.Conflict, "revoked already")
	_, err := s.r.Enrol(t.Context(), join("a", code))
	refused(t, "its key again", err, fault.Denied, "this device was revoked")
	if next := s.must(join("b", code)); next.Device != "n2" {
		t.Errorf("the next is %s", next.Device)
	}
}

func TestWhatARevokedDeviceWroteIsExcludedFromAnEventOn(t *testing.T) {
	s := newSite(t)
	s.must(join("a", s.invite(Invitation{Role: event.CrewRole, Crew: "north"})))
	s.wrote["n1"] = 7
	exclude := func(d event.Device, from uint64) (uint64, error) { return s.r.Exclude(d, from, "forged") }
	_, err := exclude("n1", 3)
	refused(t, "while it may write", err, fault.Conflict, "revoke it first")
	_, err = exclude("n9", 3)
	refused(t, "nobody's", err, fault.NotFound, "no device")
	if err := s.r.Revoke("n1", ""); err != nil {
		t.Fatal(err)
	}
	_, err = exclude("n1", 8)
	refused(t, "from beyond its end", err, fault.Invalid, "wrote 7 events")
	_, err = exclude("n1", 0)
	refused(t, "nothing is excluded", err, fault.Conflict, "counts already")
	if n, err := exclude("n1", 3); n != 5 || err != nil {
		t.Errorf("from its third of seven on: %d, %v; want 5", n, err)
	}
	_, err = exclude("n1", 3)
	refused(t, "twice", err, fault.Conflict, "from its event 3 on already")
	if m, _ := s.r.Member("n1"); m.ExcludedFrom != 3 {
		t.Errorf("it is excluded from %d on", m.ExcludedFrom)
	}
	if n, err := exclude("n1", 0); n != 0 || err != nil {
		t.Errorf("all counts again: %d, %v", n, err)
	}
}

func TestANewKeyGetsANameOfItsOwnAndTheOldOneEnds(t *testing.T) {
	s := newSite(t)
	s.must(join("a", s.invite(Invitation{Role: event.CrewRole, Crew: "north"})))
	s.wrote["n1"] = 4
	replace := func(by, to string) (Member, uint64, error) {
		said := auth.NewKey("tarn", "n1", public(to))
		return s.r.ReplaceKey(t.Context(), Replacement{
			Device: "n1", Key: public(to), Proof: ed25519.Sign(key(to), said), OldProof: ed25519.Sign(key(by), said),
		})
	}
	_, _, err := replace("b", "c")
	refused(t, "by who is not it", err, fault.Denied, "is not signed by the key that it is enrolled with")
	_, _, err = replace("a", "a")
	refused(t, "the key that it has", err, fault.Conflict, "the new key is that of device n1; make another")
	// A crash between the two events: the second try finishes it.
	m, last, err := replace("a", "c")
	if err != nil || m.Device != "n2" || m.Crew != "north" || last != 4 {
		t.Fatalf("%+v, %d, %v", m, last, err)
	}
	again, last, err := replace("a", "c")
	if err != nil || again.Device != "n2" || last != 4 || len(s.events) != 3 {
		t.Errorf("asked again it is %s, %d, %v, with %d events", again.Device, last, err, len(s.events))
	}
	_, _, err = replace("a", "d")
	refused(t, "a second key", err, fault.Denied, "was revoked; its key cannot be replaced")
	if old, _ := s.r.Member("n1"); !old.Revoked {
		t.Error("the old name may still write")
	}
}

func TestInvitationsThatCannotBeAreRefused(t *testing.T) {
	good := Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}
	for _, c := range []struct {
		name string
		turn func(*Invitation)
		says string
	}{
		{
			"as the site itself", func(i *Invitation) { i.Role = event.SiteRole },
			"a device joins as crew, foreman, inspector or probe",
		},
		{"for a second", func(i *Invitation) { i.For = time.Second }, "a minute up to 90 days"},
		{"for a year", func(i *Invitation) { i.For = 365 * 24 * time.Hour }, "a minute up to 90 days"},
		{"for nobody", func(i *Invitation) { i.Uses = 0 }, "lets in 1 to 200 devices, not 0"},
		{"for everybody", func(i *Invitation) { i.Uses = MaxUses + 1 }, "not 201"},
		{"for a name that none is", func(i *Invitation) { i.Device = "no name" }, "name"},
		{"twice for one device", func(i *Invitation) { i.Device, i.Uses = "n4", 2 }, "lets in that one only, not 2"},
		{"of a crew that is none", func(i *Invitation) { i.Crew = "north/south" }, "crew"},
	} {
		i := good
		c.turn(&i)
		dir := t.TempDir()
		_, err := Invite(dir, i, opened)
		refused(t, c.name, err, fault.Invalid, c.says)
		if files, _ := os.ReadDir(filepath.Join(dir, invitesDir)); len(files) > 0 {
			t.Errorf("%s: it was written all the same", c.name)
		}
	}
}

func TestASecretIsReadAsPeopleTypeItAndIsOnNoDisk(t *testing.T) {
	if digest("1O0L-IAB") != digest("1001 1ab") {
		t.Error("letters that look like digits are other ones")
	}
	if digest("1001") == digest("1002") {
		t.Error("two secrets are one")
	}
	s := newSite(t)
	secret := s.invite(Invitation{Role: event.Foreman})
	files, err := filepath.Glob(filepath.Join(s.r.is.Dir, invitesDir, "*"))
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	text, err := os.ReadFile(files[0])
	if err != nil || strings.Contains(strings.ReplaceAll(string(text), "-", ""), strings.ReplaceAll(secret, "-", "")) {
		t.Errorf("the secret lies on the disk: %v", err)
	}
	if err := os.WriteFile(files[0], text[:len(text)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = s.r.Enrol(t.Context(), join("a", secret))
	refused(t, "a torn file", err, fault.Denied, "no invitation has this code")
}

func TestNamesGoOnAndARestoredServerGivesOthers(t *testing.T) {
	for _, c := range []struct {
		role  event.Role
		crew  event.Crew
		tag   string
		given []event.Device
		want  event.Device
	}{
		{event.CrewRole, "north", "", nil, "n1"},
		{event.CrewRole, "North face", "", []event.Device{"n1", "n7", "s9"}, "n8"},
		{event.CrewRole, "7th", "", nil, "c1"}, // 7 and 1 would be read as 71
		{event.CrewRole, "Über", "", nil, "ü1"},
		{event.Foreman, "", "", []event.Device{"n3"}, "f1"},
		{event.Inspector, "north", "xk", []event.Device{"i4"}, "ixk1"},
		{event.Probe, "", "", []event.Device{"p9999999"}, "p1"}, // a number that nameFor never makes
	} {
		m := newMembers("site")
		if got := m.nameFor(c.role, c.crew, c.tag, c.given); got != c.want {
			t.Errorf("%v of crew %q after %v: %s; want %s", c.role, c.crew, c.given, got, c.want)
		}
	}
	for name, ok := range map[event.Device]bool{
		"n1": true, "nxk12": true, "nx1": false, "n": false, "s1": false, "n1234567": false, "nae1": false,
	} {
		if given(name, "n") != ok {
			t.Errorf("%s: given is %t", name, !ok)
		}
	}
}

func TestTheLettersOfNamesAreDrawnOnceAndKept(t *testing.T) {
	s := newSite(t)
	if err := s.r.NewTag(); err != nil {
		t.Fatal(err)
	}
	drawn := s.r.tag
	if err := s.r.NewTag(); err != nil || s.r.tag != drawn || len(drawn) != tagSize {
		t.Errorf("drawn twice: %q, then %q, %v", drawn, s.r.tag, err)
	}
	s.open(s.r.is.Dir)
	if s.r.tag != drawn {
		t.Errorf("after a start it is %q; want %q", s.r.tag, drawn)
	}
	m := s.must(join("a", s.invite(Invitation{Role: event.CrewRole, Crew: "north"})))
	if m.Device != event.Device(fmt.Sprintf("n%s1", drawn)) {
		t.Errorf("the first device is %s", m.Device)
	}
	path := filepath.Join(s.r.is.Dir, tagFile)
	if err := os.WriteFile(path, []byte("aeiou"), 0o600); err != nil {
		t.Fatal(err)
	}
	s.open(s.r.is.Dir)
	if len(s.r.tag) != tagSize || strings.Trim(s.r.tag, tagLetters) != "" {
		t.Errorf("of a damaged file it is %q", s.r.tag)
	}
}
