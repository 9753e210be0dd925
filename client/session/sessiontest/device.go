package sessiontest

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"hod/client/journal"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/plan"
	"hod/testdata/plan"
)

// Noon is when the devices' commands run: 13:00 by the clock of the example's site, 12:00 UTC.
var Noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

const (
	site = "vault"
	root = event.Device("host")
)

// enrolled are the devices of the example's site: n1 is the foreman's, n2 crew north's, s1 crew south's, i1 an
// inspector's.
var enrolled = []event.DeviceEnrolled{
	{Device: "n1", Role: event.Foreman},
	{Device: "n2", Role: event.CrewRole, Crew: "north"},
	{Device: "s1", Role: event.CrewRole, Crew: "south"},
	{Device: "i1", Role: event.Inspector},
}

// Key is the private key of a device; the same in every run.
func Key(d event.Device) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(d))
	return ed25519.NewKeyFromSeed(seed[:])
}

func public(d event.Device) ed25519.PublicKey { return Key(d).Public().(ed25519.PublicKey) }

// Device is a device of the example's site with its journal in a folder, as a command finds it.
type Device struct {
	Env *session.Env // Stdin, StdinTerminal, JSON, Now and the like may be set before a line is run
	Dir string
	t   testing.TB

	name      event.Device
	seen      int // how many of its own events were there after the last line
	out, side bytes.Buffer
}

// Ran is what became of one line.
type Ran struct {
	Wrote []event.Event // the events that it added to the journal
	Out   string        // what it printed
	Side  string        // hints and notes
	Err   error
}

// NewDevice makes a device that holds the enrolments and the plan of the example's site, and no day's work.
func NewDevice(t testing.TB, name event.Device) *Device {
	t.Helper()
	d := &Device{t: t, Dir: filepath.Join(scratch(t), string(name)), name: name}
	own := journal.Device{
		Site: site, Name: name, Key: Key(name), Root: root, RootKey: public(root),
		Bus: "127.0.0.1:1", Server: "127.0.0.1:1", CA: []byte("none"),
	}
	var enrolments []event.Body
	for _, e := range enrolled {
		if e.Device == name {
			own.Crew, own.Role = e.Crew, e.Role
		}
		e.PublicKey = public(e.Device)
		enrolments = append(enrolments, e)
	}
	j, err := journal.Create(d.Dir, own)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	read, err := plan.Read("vault.yaml", example.Vault, nil)
	if err != nil {
		t.Fatal(err)
	}
	d.Bring(root, Noon.AddDate(0, 0, -7), enrolments...)
	d.Bring("n1", Noon.AddDate(0, 0, -6), read.Events()...)
	d.Env = &session.Env{
		Streams: &terminal.Streams{
			Stdin: strings.NewReader(""), Stdout: &d.out, Stderr: &d.side,
			Getenv: func(key string) string { return map[string]string{"HOD_SYNC": "off"}[key] },
		},
		Now: func() time.Time { return Noon }, Local: time.UTC, Dir: d.Dir,
		Random: strings.NewReader(strings.Repeat("chance", 100)),
	}
	d.seen = len(d.own())
	return d
}

// scratch is a folder that is gone after the test: in memory where the system has such a place, since what is flushed
// and when is shown by the journal's own tests.
func scratch(t testing.TB) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "hod-test-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// Bring adds to the journal what another device wrote at that time, as a contact with the server would.
func (d *Device) Bring(from event.Device, at time.Time, bodies ...event.Body) {
	d.t.Helper()
	j := d.journal()
	defer j.Close()
	head, err := j.Head(d.t.Context(), from)
	if err != nil {
		d.t.Fatal(err)
	}
	var events []event.Event
	for i, b := range bodies {
		crew := event.Crew("")
		for _, e := range enrolled {
			if e.Device == from {
				crew = e.Crew
			}
		}
		e, err := event.Write(event.Event{
			Name: event.Name{Device: from, Seq: head.Seq + 1 + uint64(i)}, Crew: crew, HappenedAt: at, LoggedAt: at,
			Body: b,
		})
		if err != nil {
			d.t.Fatal(err)
		}
		events = append(events, e)
	}
	for len(events) > 0 {
		n := chain.Fit(events)
		s, err := chain.Sign(Key(from), site, head, events[:n])
		if err != nil {
			d.t.Fatal(err)
		}
		if _, err := j.Keep(d.t.Context(), s); err != nil {
			d.t.Fatal(err)
		}
		head, events = s.After, events[n:]
	}
}

func (d *Device) journal() *journal.Journal {
	d.t.Helper()
	j, err := journal.Open(d.Dir)
	if err != nil {
		d.t.Fatal(err)
	}
	return j
}

// Journal opens the device's journal until the test ends, to look at it beside the commands.
func (d *Device) Journal() *journal.Journal {
	d.t.Helper()
	j := d.journal()
	d.t.Cleanup(func() { _ = j.Close() })
	return j
}

// own are the events that this device has written.
func (d *Device) own() []event.Event {
	d.t.Helper()
	j := d.journal()
	defer j.Close()
	all, err := j.Events(d.t.Context())
	if err != nil {
		d.t.Fatal(err)
	}
	var own []event.Event
	for _, e := range all {
		if e.Device == d.name {
			own = append(own, e)
		}
	}
	return own
}

// Run runs one line of a command, without hod before it: "place 7 A1 'the rest'". Words are parted by blanks, quotes
// hold them together.
func (d *Device) Run(command func(*session.Env) *cobra.Command, line string) Ran {
	d.t.Helper()
	d.out.Reset()
	d.side.Reset()
	top := &cobra.Command{Use: "hod", SilenceErrors: true, SilenceUsage: true}
	top.SetFlagErrorFunc(terminal.FlagError)
	top.AddCommand(command(d.Env))
	d.Env.Args = Words(line)
	top.SetArgs(d.Env.Args)
	err := top.ExecuteContext(d.t.Context())
	own := d.own()
	before := d.seen
	d.seen = len(own)
	return Ran{Wrote: own[before:], Out: d.out.String(), Side: d.side.String(), Err: err}
}

// Must is Run of a line that is to succeed.
func (d *Device) Must(command func(*session.Env) *cobra.Command, line string) Ran {
	d.t.Helper()
	ran := d.Run(command, line)
	if ran.Err != nil {
		d.t.Fatalf("hod %s: %v", line, ran.Err)
	}
	return ran
}

// Words parts a line as a shell does that knows only single quotes.
func Words(line string) []string {
	var words []string
	for i, piece := range strings.Split(line, "'") {
		if i%2 == 1 {
			words = append(words, piece)
			continue
		}
		words = append(words, strings.Fields(piece)...)
	}
	return words
}

// Bodies are what events say.
func Bodies(events []event.Event) []event.Body {
	var all []event.Body
	for _, e := range events {
		all = append(all, e.Body)
	}
	return all
}
