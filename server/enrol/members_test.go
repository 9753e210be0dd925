package enrol

import (
	"crypto/ed25519"
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

const root event.Device = "site"

// log writes events by any device, as a register and a fold learn them.
type log struct {
	t    *testing.T
	seq  map[event.Device]uint64
	r    *Register
	full *fold.Site
}

func newMemberLog(t *testing.T) *log {
	return &log{
		t: t, seq: map[event.Device]uint64{}, full: fold.New("x", root),
		r: &Register{is: Config{Root: root}, members: newMembers(root)},
	}
}

func (l *log) write(by event.Device, b event.Body) {
	l.t.Helper()
	l.seq[by]++
	at := time.Date(2026, 7, 18, 7, 0, int(l.seq[by]), 0, time.UTC)
	e, err := event.Write(event.Event{
		Name: event.Name{Device: by, Seq: l.seq[by]}, HappenedAt: at, LoggedAt: at, Body: b,
	})
	if err != nil {
		l.t.Fatal(err)
	}
	l.r.Learn(e)
	l.full.Add(e)
}

func (l *log) enrol(by, d event.Device, role event.Role, crew event.Crew) {
	l.t.Helper()
	l.write(by, event.DeviceEnrolled{Device: d, PublicKey: memberKey(d), Role: role, Crew: crew})
}

func memberKey(d event.Device) ed25519.PublicKey {
	seed := make([]byte, ed25519.SeedSize)
	copy(seed, d)
	return ed25519.NewKeyFromSeed(seed).Public().(ed25519.PublicKey)
}

// in are the devices that may sign in, and says so where the whole fold has it otherwise.
func (l *log) in() []event.Device {
	l.t.Helper()
	var in, fold []event.Device
	for _, m := range l.r.Members() {
		if !m.Revoked {
			in = append(in, m.Device)
		}
		if by, ok := l.r.Rights(m.Key); !ok || by.Device != m.Device {
			l.t.Errorf("the key of %s is that of %q, %v", m.Device, by.Device, ok)
		}
	}
	for _, d := range l.full.Devices() {
		if !d.Revoked {
			fold = append(fold, d.Name)
		}
	}
	if !slices.Equal(in, fold) {
		l.t.Errorf("at the door %v are in, in the fold %v", in, fold)
	}
	return in
}

func (l *log) wants(when string, want ...event.Device) {
	l.t.Helper()
	if got := l.in(); !slices.Equal(got, want) {
		l.t.Errorf("%s: %v may sign in, want %v", when, got, want)
	}
}

func TestWhomAnExcludedDeviceEnrolledIsNotLetInAndItsNameIsNeverGivenAgain(t *testing.T) {
	l := newMemberLog(t)
	l.enrol(root, "s1", event.SiteRole, "")
	l.enrol("s1", "n1", event.CrewRole, "north")
	l.enrol("s1", "n2", event.CrewRole, "north")
	l.wants("all count", "n1", "n2", "s1")
	l.write(root, event.DeviceRevoked{Device: "s1", LastSeq: 2})
	l.enrol("s1", "n3", event.CrewRole, "north")
	l.wants("what it wrote after it was revoked", "n1", "n2")
	l.write(root, event.DeviceExcluded{Device: "s1", FromSeq: 2})
	l.wants("excluded from its second event on", "n1")
	if m, ok := l.r.Rights(memberKey("n2")); ok {
		t.Errorf("the key of n2 signs in as %s", m.Device)
	}
	if name := l.r.members.nameFor(event.CrewRole, "north", "", nil); name != "n4" {
		t.Errorf("the next device of crew north is %s; n2 and n3 were names before", name)
	}
	l.write(root, event.DeviceExcluded{Device: "s1"})
	l.wants("taken back", "n1", "n2")
}

func TestARevocationThatIsExcludedLetsItsDeviceInAgain(t *testing.T) {
	l := newMemberLog(t)
	l.enrol(root, "s1", event.SiteRole, "")
	l.enrol(root, "n1", event.CrewRole, "north")
	l.write("n1", event.Noted{Text: "at the gate"})
	l.write("s1", event.DeviceRevoked{Device: "n1", LastSeq: 1})
	l.write(root, event.DeviceRevoked{Device: "s1", LastSeq: 1})
	l.wants("revoked by s1")
	l.write("s1", event.DeviceExcluded{Device: "s1", FromSeq: 0}) // no word of its own about itself
	l.write(root, event.DeviceExcluded{Device: "s1", FromSeq: 1})
	l.wants("what s1 wrote is excluded", "n1")
	l.write(root, event.DeviceExcluded{Device: "s1"})
	l.wants("taken back")
	if m, ok := l.r.Member("n1"); !ok || m.LastSeq != 1 {
		t.Errorf("n1 is %+v, %v; its events up to 1 stand", m, ok)
	}
}

func TestACrewThatAnExcludedForemanPlannedKeepsNoNameFromACrew(t *testing.T) {
	l := newMemberLog(t)
	l.enrol(root, "f1", event.Foreman, "")
	l.enrol(root, "n1", event.CrewRole, "north")
	l.write("n1", event.CrewPlanned{Crew: "nort"}) // which is not its to plan
	l.write("f1", event.CrewPlanned{Crew: "south"})
	l.write("f1", event.CrewPlanned{Crew: "wes7"})
	l.write("f1", event.CrewPlanned{Crew: "south"})
	l.write(root, event.DeviceRevoked{Device: "f1", LastSeq: 3})
	crews := func(when string, want ...event.Crew) {
		t.Helper()
		if got := l.r.members.crewsKnown(); !slices.Equal(got, want) {
			t.Errorf("%s, the crews are %q, want %q", when, got, want)
		}
	}
	crews("planned", "north", "south", "wes7")
	l.write(root, event.DeviceExcluded{Device: "f1", FromSeq: 2})
	crews("excluded from the second on", "north", "south")
	l.write(root, event.DeviceExcluded{Device: "f1", FromSeq: 1})
	crews("all excluded", "north")
	l.write(root, event.DeviceExcluded{Device: "f1"})
	crews("taken back", "north", "south", "wes7")
}
