package cli

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/rogpeppe/go-internal/testscript"
	"go.uber.org/goleak"

	"hod/client/journal"
	"hod/internal/event"
)

// What a test started has ended when all are done.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var update = flag.Bool("update", false, "write what the scripts compare with anew")

// The site of the scripts: n1 is the foreman's, n2 crew north's, s1 crew south's, i1 an inspector's. Each has a folder
// of its own; `carry n1 n2` brings what n1 holds to n2, as a contact with the server would.
//
// In a script, `hod …` runs the real tree of commands in this process, as the device that DEVICE names, at the instant
// that NOW says; `code 3` checks the exit code of the last one. Each command leaves a shelf behind, as on a large site,
// and what the scripts compare with was written without one: no answer is another for what a command did not read.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", UpdateScripts: *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("NOW", "2026-07-18T10:00:00Z")
			e.Setenv("DEVICE", "n2")
			e.Setenv("HOD_SYNC", "off") // no server here; contacts have tests of their own
			e.Values["code"] = new(int)
			root := rootJournal(t)
			defer root.Close()
			for name, d := range scriptDevices {
				if err := enrolledFolder(filepath.Join(e.WorkDir, name), root, d); err != nil {
					return err
				}
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"hod": runHod, "code": checkCode, "carry": carry, "exclude": exclude, "as": as, "mixed": mixed, "trial": trial, "meet": meet, "contact": contact, "sky": readSky, "twopages": twoPages, "work": work,
		},
	})
}

var scriptDevices = map[string]event.DeviceEnrolled{
	"n1": {Device: "n1", Role: event.Foreman, Label: "foreman's tablet"},
	"n2": {Device: "n2", Role: event.CrewRole, Crew: "north"},
	"s1": {Device: "s1", Role: event.CrewRole, Crew: "south"},
	"i1": {Device: "i1", Role: event.Inspector},
}

// keyOf is a key that every run makes alike.
func keyOf(name string) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte("script " + name))
	return ed25519.NewKeyFromSeed(seed[:])
}

func public(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }

func deviceOf(name string) journal.Device {
	d := scriptDevices[name]
	role := d.Role
	if name == "host" {
		role = event.SiteRole
	}
	return journal.Device{
		Site: "vault", Name: event.Device(name), Crew: d.Crew, Role: role, Key: keyOf(name),
		Bus: "127.0.0.1:1", Server: "127.0.0.1:1", CA: []byte("none"), Root: "host", RootKey: public(keyOf("host")),
	}
}

// rootJournal holds the site's own word on who may write.
func rootJournal(t testing.TB) *journal.Journal {
	t.Helper()
	j, err := scriptRoot()
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func scriptRoot() (*journal.Journal, error) {
	j, err := journal.InMemory(deviceOf("host"))
	if err != nil {
		return nil, err
	}
	at := time.Date(2026, 7, 1, 6, 0, 0, 0, time.UTC)
	for _, name := range []string{"n1", "n2", "s1", "i1"} {
		d := scriptDevices[name]
		d.PublicKey = public(keyOf(name))
		if _, err := j.Append(context.Background(), at, event.Event{Body: d}); err != nil {
			return nil, err
		}
	}
	return j, nil
}

func enrolledFolder(dir string, root *journal.Journal, d event.DeviceEnrolled) error {
	j, err := journal.Create(dir, deviceOf(string(d.Device)))
	if err != nil {
		return err
	}
	defer j.Close()
	return bring(root, j)
}

// bring gives one record what another holds.
func bring(from, to *journal.Journal) error {
	ctx := context.Background()
	heads, err := from.Heads(ctx)
	if err != nil {
		return err
	}
	for _, h := range heads {
		here, err := to.Head(ctx, h.Device)
		if err != nil {
			return err
		}
		segments, err := from.Offer(ctx, h.Device, here)
		if err != nil {
			return err
		}
		if _, err := to.Keep(ctx, segments...); err != nil {
			return err
		}
	}
	return nil
}

func runHod(ts *testscript.TestScript, neg bool, args []string) {
	now, err := time.Parse(time.RFC3339, ts.Getenv("NOW"))
	ts.Check(err)
	var out, side bytes.Buffer
	stdin := strings.NewReader("")
	if name := ts.Getenv("STDIN"); name != "" {
		stdin = strings.NewReader(ts.ReadFile(name))
	}
	env := &Env{
		Args: args, Stdin: stdin, Stdout: &out, Stderr: &side, Now: func() time.Time { return now }, Local: time.UTC,
		Random:        zeros{},
		StdinTerminal: ts.Getenv("TERMINAL") != "",
		Getenv: func(key string) string {
			if key == "HOD_DIR" && ts.Getenv(key) == "" && ts.Getenv("DEVICE") != "" {
				return ts.MkAbs(ts.Getenv("DEVICE"))
			}
			return ts.Getenv(key)
		},
	}
	for i, a := range env.Args { // files are named from the script's folder
		if i > 0 && (args[i-1] == "--csv" || args[i-1] == "--skip-bad" || args[i-1] == "--dir") &&
			!strings.HasPrefix(a, "-") {
			env.Args[i] = ts.MkAbs(a)
		}
	}
	device := env.device()
	if !*update {
		device.ShelfAfter = 1
	}
	code := env.run(context.Background(), device)
	*ts.Value("code").(*int) = code
	_, _ = ts.Stdout().Write(out.Bytes())
	_, _ = ts.Stderr().Write(side.Bytes())
	switch {
	case neg && code == 0:
		ts.Fatalf("hod %s succeeded; it was to fail\n%s", strings.Join(args, " "), out.String())
	case !neg && code != 0:
		ts.Fatalf("hod %s ended with code %d\n%s%s", strings.Join(args, " "), code, out.String(), side.String())
	}
}

func checkCode(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	if got := *ts.Value("code").(*int); got != want {
		ts.Fatalf("the exit code is %d, not %d", got, want)
	}
}

// carry A B… brings what A holds to each B.
func carry(ts *testscript.TestScript, _ bool, args []string) {
	from, err := journal.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer from.Close()
	for _, name := range args[1:] {
		to, err := journal.Open(ts.MkAbs(name))
		ts.Check(err)
		err = bring(from, to)
		to.Close()
		ts.Check(err)
	}
}

// exclude DEVICE FROM WHY TO… has the site's own device say that what a device wrote does not count, and brings that to
// the records of the others.
func exclude(ts *testscript.TestScript, _ bool, args []string) {
	from, err := strconv.ParseUint(args[1], 10, 64)
	ts.Check(err)
	root, err := scriptRoot()
	ts.Check(err)
	defer root.Close()
	at, err := time.Parse(time.RFC3339, ts.Getenv("NOW"))
	ts.Check(err)
	_, err = root.Append(context.Background(), at,
		event.Event{Body: event.DeviceExcluded{Device: event.Device(args[0]), FromSeq: from, Why: args[2]}})
	ts.Check(err)
	for _, name := range args[3:] {
		to, err := journal.Open(ts.MkAbs(name))
		ts.Check(err)
		err = bring(root, to)
		to.Close()
		ts.Check(err)
	}
}

// mixed IN OUT copies a file as the worst of loggers writes it: a byte-order mark, then line ends of all three kinds.
func mixed(ts *testscript.TestScript, _ bool, args []string) {
	var out strings.Builder
	out.WriteString("\ufeff")
	for i, line := range strings.Split(strings.TrimSuffix(ts.ReadFile(args[0]), "\n"), "\n") {
		out.WriteString(line + []string{"\r\n", "\n", "\r"}[i%3])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(out.String()), 0o666))
}

// as DEVICE [TIME] makes the commands that follow those of a device, at a time of 2026-07-18 in UTC or a full one.
func as(ts *testscript.TestScript, _ bool, args []string) {
	ts.Setenv("DEVICE", args[0])
	if len(args) > 1 {
		at := args[1]
		if len(at) == len("15:04") {
			at = "2026-07-18T" + at + ":00Z"
		}
		ts.Setenv("NOW", at)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }
