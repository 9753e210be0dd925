package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/client/cli"
	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
	"hod/server/host"
)

// tablet is a device as a crew has it: a folder, and the commands.
type tablet struct {
	t    *testing.T
	dir  string
	name event.Device
}

func tabletOf(t *testing.T, d journal.Device) *tablet {
	t.Helper()
	dir := filepath.Join(t.TempDir(), string(d.Name))
	j, err := journal.Create(dir, d)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return &tablet{t, dir, d.Name}
}

// hod runs a command without a network; with one, it is online.
func (d *tablet) hod(args ...string) string { d.t.Helper(); return d.run("off", args) }

func (d *tablet) online(args ...string) string { d.t.Helper(); return d.run("", args) }

func (d *tablet) run(sync string, args []string) string {
	d.t.Helper()
	var out, side bytes.Buffer
	code := cli.Run(d.t.Context(), &cli.Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &side, Now: time.Now, Local: time.UTC,
		Getenv: func(key string) string { return map[string]string{"HOD_DIR": d.dir, "HOD_SYNC": sync}[key] },
	})
	if code != 0 {
		d.t.Fatalf("hod %s on %s: code %d\n%s%s", strings.Join(args, " "), d.name, code, out.String(), side.String())
	}
	return out.String()
}

func (d *tablet) status() (s struct {
	Kept     uint64 `json:"kept_here"`
	AtServer uint64 `json:"at_the_server"`
	BackedUp uint64 `json:"backed_up"`
},
) {
	d.t.Helper()
	if err := json.Unmarshal([]byte(d.hod("status", "--json")), &s); err != nil {
		d.t.Fatal(err)
	}
	return s
}

// work is a morning with a plan, weather and a batch: figures enough to differ in the last digit.
func (d *tablet) work() {
	d.t.Helper()
	for _, line := range [][]string{
		{
			"mix", "add", "face", "cement=94lb,gravity=3.15", "sand=188lb,gravity=2.62,absorption=1%", "water=4.2gal",
			"--limit", "0.45", "--set", "3h@23C", "--air", "4%",
		},
		{"zone", "add", "A1", "--area", "72ft2", "--coat", "outer 1 12mm face"},
		{"zone", "add", "A2", "--area", "70ft2", "--coat", "outer 1 12mm face", "--edge", "A1=2.4m"},
		{"weather", "--air", "27C", "--humidity", "62%", "--wind", "5mph", "--wind-height", "2m"},
		{"batch", "face", "--crew", "north", "--moisture", "4%", "sand=195lb", "water=3gal", "--temp", "29C"},
		{"place", "north/1", "A1", "--thickness", "12mm,1/2\""},
	} {
		d.hod(line...)
	}
}

// boards are the board and the day of a server, at one instant.
func boards(t *testing.T, h *host.Host, now time.Time) string {
	t.Helper()
	var text string
	h.View(func(s *fold.Site) { text = boardsOf(t, s, now) })
	return text
}

// A backup of a server that runs, restored into a new folder, gives the same board to the last digit, and its devices
// go on with it; what lies in the backup is called backed up.
func TestARestoredBackupGivesTheSameBoard(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	d := tabletOf(t, joined(t, w, firstForeman))
	d.online("sync") // brings its own enrolment: from then on it may plan
	d.work()
	d.online("sync")
	stick := filepath.Join(t.TempDir(), "stick")
	if err := run(t.Context(), []string{"backup", stick, "--data", dir}); err != nil {
		t.Fatal(err)
	}
	d.online("note", "written after the backup")
	d.online("sync")
	if s := d.status(); s.AtServer != s.Kept || s.BackedUp != s.Kept-1 || s.BackedUp == 0 {
		t.Errorf("status: %+v; want all at the server, and all but the last backed up", s)
	}
	if err := run(t.Context(), []string{"backup", stick, "--data", dir}); err != nil {
		t.Fatal(err)
	}
	d.online("sync")
	if s := d.status(); s.BackedUp != s.Kept {
		t.Errorf("status after the second backup: %+v; want all backed up", s)
	}
	now := time.Now()
	want := boards(t, w.host, now)
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}

	restored := restoredFrom(t, stick)
	for _, where := range []string{stick, restored, dir} {
		if err := run(t.Context(), []string{"verify", "--data", where}); err != nil {
			t.Errorf("verify %s: %v", where, err)
		}
	}
	again := started(t, here(restored))
	if got := boards(t, again.host, now); got != want || !strings.Contains(got, "A1") {
		t.Errorf("the restored board is\n%s\nwant\n%s", got, want)
	}
	if !bytes.Equal(again.authority.PEM(), w.authority.PEM()) {
		t.Error("the restored server has another authority: every device would have to join anew")
	}
}

// A fault in the record ends verification with the folder's exit code.
func TestVerifySaysByItsExitCodeWhatItFound(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	recordOf(joined(t, w, firstForeman))
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}
	if err := run(t.Context(), []string{"verify", "--data", dir}); code(err) != exitDone {
		t.Fatalf("a sound record: %v", err)
	}
	file := filepath.Join(dir, "archive", "000001.hodlog")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	data[3] ^= 1
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := run(t.Context(), []string{"verify", "--data", dir}); code(err) != exitFolder ||
		!strings.Contains(said(err), "faults found: 1") {
		t.Errorf("a byte changed: code %d, %v", code(err), err)
	}
	if err := run(t.Context(), []string{"backup", "--data", dir}); code(err) != exitUsage {
		t.Errorf("a backup to nowhere: code %d, %v", code(err), err)
	}
}

// A device that never has a network hands its events over on a stick; another imports them, and its sync brings them to
// the server under the name of who wrote them.
func TestEventsCarriedByStickReachTheServer(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	crew := enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 2}
	a, b := tabletOf(t, joined(t, w, crew)), tabletOf(t, joined(t, w, crew))
	a.hod("note", "behind the shell")
	a.hod("note", "still behind the shell")
	stick := filepath.Join(t.TempDir(), "a.hodlog")
	a.hod("export", stick, "--unsent")
	if slices.ContainsFunc(w.host.Heads(), func(h chain.Head) bool { return h.Device == a.name }) {
		t.Fatal("the server has it already: the test shows nothing")
	}

	b.online("sync") // brings whom the site enrolled
	out := b.online("import", stick, "--json")
	var doc struct{ New, Repeated, Waiting, Refused int }
	if err := json.Unmarshal([]byte(out), &doc); err != nil || doc.New != 2 || doc.Waiting+doc.Refused > 0 {
		t.Fatalf("import: %s (%v)", out, err)
	}
	b.online("sync")
	until(t, "the server has both", func() bool {
		return slices.ContainsFunc(w.host.Heads(), func(h chain.Head) bool { return h.Device == a.name && h.Seq == 2 })
	})
	if out := b.hod("import", stick); !strings.HasPrefix(out, "0 new, 2 repeated, 0 waiting, 0 refused") {
		t.Errorf("imported again: %s", out)
	}

	a.online("sync") // its own contact at last: nothing is doubled
	if s := a.status(); s.Kept != 2 || s.AtServer != 2 {
		t.Errorf("status of who wrote them: %+v", s)
	}
	notes := 0
	w.host.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			if r.Device == a.name {
				notes++
			}
		}
	})
	if notes != 2 {
		t.Errorf("the server shows %d events of %s, want 2", notes, a.name)
	}
}
