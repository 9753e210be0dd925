package enrol

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/server/fault"
	"hod/server/store"
)

// invitesDir is the folder of invitations in the data folder.
const invitesDir = "invites"

// Limits of an invitation.
const (
	MaxUses = 200
	MaxTTL  = 90 * 24 * time.Hour

	// keepExpired is how long an expired one can still say that it expired.
	keepExpired = 30 * 24 * time.Hour
)

// Invitation says who may join with a code, and how often.
type Invitation struct {
	Role event.Role
	Crew event.Crew // fixes the crew; empty: the device says it
	For  time.Duration
	Uses int
	// Device is one that was let in before and comes in again as who it was, on the word of who made the code; else
	// empty.
	Device event.Device
}

func (i Invitation) check() error {
	switch i.Role {
	case event.CrewRole, event.Foreman, event.Inspector, event.Probe:
	default:
		return fault.New(fault.Invalid, nil, "a device joins as crew, foreman, inspector or probe, not as %s", i.Role)
	}
	if i.For < time.Minute || i.For > MaxTTL {
		return fault.New(fault.Invalid, nil, "an invitation is good for a minute up to 90 days, not for %s", i.For)
	}
	if i.Uses < 1 || i.Uses > MaxUses {
		return fault.New(fault.Invalid, nil, "an invitation lets in 1 to %d devices, not %d", MaxUses, i.Uses)
	}
	if i.Device != "" {
		if err := event.CheckDevice(i.Device); err != nil {
			return fault.OfEvent(err)
		}
		if i.Uses != 1 {
			return fault.New(fault.Invalid, nil, "an invitation for the device %s lets in that one only, not %d",
				i.Device, i.Uses)
		}
	}
	if i.Crew != "" {
		// The crew's name must do for an event; a device of any name shows whether it does.
		_, err := event.Write(enrolment(event.Name{Device: store.RootDevice, Seq: 1}, time.Now(), event.DeviceEnrolled{
			Device: "x1", PublicKey: make([]byte, 32), Role: i.Role, Crew: i.Crew,
		}))
		return fault.OfEvent(err)
	}
	return nil
}

func enrolment(name event.Name, at time.Time, b event.DeviceEnrolled) event.Event {
	return event.Event{Name: name, HappenedAt: at, LoggedAt: at, Body: b}
}

// invitation is a file in the folder of invitations. The secret itself is nowhere on the disk.
type invitation struct {
	path string

	Secret  string     `json:"secret_sha256"`
	Role    string     `json:"role"`
	Crew    event.Crew `json:"crew,omitempty"`
	Expires time.Time  `json:"expires"`
	Uses    int        `json:"uses"`
	Taken   []taken    `json:"taken,omitempty"`
	// Device is the only one that the invitation is for.
	Device event.Device `json:"device,omitempty"`
}

// taken is one use: which name was promised to which key.
type taken struct {
	Device event.Device `json:"device"`
	Key    string       `json:"key"` // public, hexadecimal
	At     time.Time    `json:"at"`
}

// Invite writes an invitation into the data folder and gives its secret, which is kept nowhere. The server may run on
// the folder meanwhile: it reads invitations when they are used.
func Invite(dir string, i Invitation, now time.Time) (auth.Secret, error) {
	if err := i.check(); err != nil {
		return auth.Secret{}, err
	}
	var secret auth.Secret
	_, _ = rand.Read(secret[:]) // never fails
	sum := digest(secret.String())
	path := filepath.Join(dir, invitesDir)
	if err := store.MakeFolder(path); err != nil {
		return auth.Secret{}, fault.OfFile(path, err)
	}
	one := invitation{
		path: filepath.Join(path, hex.EncodeToString(sum[:8])+".json"), Secret: hex.EncodeToString(sum[:]),
		Role: i.Role.String(), Crew: i.Crew, Expires: now.Add(i.For).UTC().Truncate(time.Second), Uses: i.Uses,
		Device: i.Device,
	}
	return secret, one.save()
}

// Invite is the function Invite on this register's folder, by its clock.
func (r *Register) Invite(i Invitation) (auth.Secret, error) {
	return Invite(r.is.Dir, i, r.is.Now())
}

// digest of a secret as a person may have typed it: case, hyphens and spaces do not count, and I, L and O are 1, 1 and
// 0.
func digest(secret string) [sha256.Size]byte {
	letters := strings.NewReplacer("-", "", " ", "", "I", "1", "L", "1", "O", "0").Replace(strings.ToUpper(secret))
	return sha256.Sum256([]byte("hod invitation 1\x00" + letters))
}

func (i *invitation) save() error {
	text, err := json.MarshalIndent(i, "", "  ")
	if err != nil {
		return fmt.Errorf("encode an invitation: %w", err)
	}
	return store.ReplaceFile(i.path, append(text, '\n'))
}

// invitations in the folder. Those long expired are removed; one that cannot be read is nobody's.
func (r *Register) invitations() ([]*invitation, error) {
	dir := filepath.Join(r.is.Dir, invitesDir)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fault.OfFile(dir, err)
	}
	var all []*invitation
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".json") {
			continue
		}
		path := filepath.Join(dir, e.Name())
		text, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		one := &invitation{path: path}
		if err != nil || json.Unmarshal(text, one) != nil {
			r.is.Odd.Error().Str("file", e.Name()).Msg("an invitation cannot be read; nobody can join with it")
			continue
		}
		if r.is.Now().After(one.Expires.Add(keepExpired)) {
			_ = os.Remove(path) // the next look tries again
			continue
		}
		all = append(all, one)
	}
	return all, nil
}

// find the invitation of a secret. It looks at all of them and compares in constant time.
func find(all []*invitation, secret string) *invitation {
	sum := digest(secret)
	var found *invitation
	for _, i := range all {
		want, err := hex.DecodeString(i.Secret)
		if err == nil && subtle.ConstantTimeCompare(sum[:], want) == 1 {
			found = i
		}
	}
	return found
}

// promised are the names that invitations gave, whether or not an enrolment followed.
func promised(all []*invitation, but string) []event.Device {
	var names []event.Device
	for _, i := range all {
		for _, t := range i.Taken {
			if t.Key != but {
				names = append(names, t.Device)
			}
		}
	}
	return names
}
