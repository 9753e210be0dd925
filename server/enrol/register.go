// Package enrol is who takes part in a site: invitations, which devices the log enrols and which it revokes, and the
// names that they are given.
//
// An invitation lets in as many keys as it says, and no name is given twice, whatever happens at once and wherever a
// crash falls; a server that was restored or lost its log gives other names than before. Who may write what is for the
// fold to say: here it is only who may connect and ask. It knows neither stream nor archive; Log is all that it sees of
// them.
//
// Start at Register; joining is in enrol.go, names in names.go.
package enrol

import (
	"crypto/ed25519"
	"path/filepath"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
	"hod/server/store"
)

// Log is where a register writes, and what it has to know of the log. *host.Host is one.
type Log interface {
	// Append writes an event of the server's own to the log. It is flushed when Append returns; the Error is of kind
	// Offline until the stream was read to its end.
	Append(event.Body) (event.Event, error)
	// Heads says how far the log of each device reaches.
	Heads() []chain.Head
	// Whole returns a channel that is closed once the stream was read to its end.
	Whole() <-chan struct{}
}

// Config of a register.
type Config struct {
	Dir  string // data folder
	Site string
	Root event.Device
	// RootKey is the public key of the site's own device: what it signed once, it gave.
	RootKey ed25519.PublicKey
	Log     Log
	Now     func() time.Time
	Says    zerolog.Logger
	Odd     zerolog.Logger // for what strangers can cause
}

// Register is who takes part, by what the log says so far. Safe for several goroutines.
type Register struct {
	is Config

	joining sync.Mutex // one enrolment at a time, and one hand on the invitations

	mu      sync.Mutex
	members *members
	tag     string // of the names that it gives
	tagged  bool   // it was drawn since the register was opened
}

// Open reads from the data folder which names were given. The caller must pass every event of the log to Learn, in
// order.
func Open(c Config) (*Register, error) {
	tag, drawn, err := openTag(c.Dir)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(c.Dir, invitesDir)
	if err := store.MakeFolder(path); err != nil {
		return nil, fault.OfFile(path, err)
	}
	return &Register{is: c, tag: tag, tagged: drawn, members: newMembers(c.Root)}, nil
}

// Learn updates the register with further events of the log, in order.
func (r *Register) Learn(events ...event.Event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, e := range events {
		r.members.learn(e)
	}
}

// Forget discards everything that Learn was told, before the log is replayed from its beginning.
func (r *Register) Forget() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.members = newMembers(r.is.Root)
}

func (r *Register) isWhole() bool {
	select {
	case <-r.is.Log.Whole():
		return true
	default:
		return false
	}
}
