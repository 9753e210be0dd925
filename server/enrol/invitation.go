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

	// keepExpired is how long the file of an expired invitation is kept, so that whoever uses it is told that it
	// expired rather than that there is none.
	keepExpired = 30 * 24 * time.Hour
)

// Invitation states who may join with a code, how often and until when.
type Invitation struct {
	Role event.Role
	Crew event.Crew // fixes the crew; empty: the device says it
	For  time.Duration
	Uses int
	// Device is the name of a device that was enrolled before and is enrolled again under that name, on the authority
	// of whoever made the invitation; empty for a new device.
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

// invitation is the content of one file in the folder of invitations. The file is named by a digest of the secret; the
// secret itself is never stored.
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

// taken is one use of an invitation: the name that was promised, and the key that it was promised to.
type taken struct {
	Device event.Device `json:"device"`
	Key    string       `json:"key"` // public, hexadecimal
	At     time.Time    `json:"at"`
}

// Invite writes an invitation to the data folder and returns its secret, which is stored nowhere. A server may run on
// the folder at the same time: it reads invitations when they are used. The Error is of kind Invalid where the
// invitation states what cannot be enrolled.
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

// Invite calls the function Invite with this register's data folder and clock.
func (r *Register) Invite(i Invitation) (auth.Secret, error) {
	return Invite(r.is.Dir, i, r.is.Now())
}

// digest returns the digest of a secret as a person may have typed it: case, hyphens and spaces are ignored, and the
// letters I, L and O are read as the digits 1, 1 and 0.
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

// invitations returns those in the folder. It removes those that expired more than keepExpired ago, and skips a file
// that cannot be read, which admits nobody.
func (r *Register) invitations() ([]*invitation, error) {
	dir := filepath.Join(r.is.Dir, invitesDir)
	entries, err := store.ReadDir(dir)
	if err != nil {
		return nil, fault.OfFile(dir, err)
	}
	var all []*invitation
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".json") {
			continue
		}
		path := filepath.Join(dir, e.Name())
		text, err := store.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		one := &invitation{path: path}
		if err != nil || json.Unmarshal(text, one) != nil {
			r.is.Odd.Error().Str("file", e.Name()).Msg("an invitation cannot be read; nobody can join with it")
			continue
		}
		if r.is.Now().After(one.Expires.Add(keepExpired)) {
			_ = store.Remove(path) // the next look tries again
			continue
		}
		all = append(all, one)
	}
	return all, nil
}

// find returns the invitation for a secret. It compares with every file, in constant time, so that the time it takes
// tells nothing of the secrets that there are.
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

// promised returns the names that invitations have given to keys, whether or not the enrolment was written.
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
