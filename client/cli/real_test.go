package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/terminal"
	"hod/internal/event"
)

// joined is one that has joined, with no network, at an instant.
func joined(t testing.TB, name string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), name)
	root := rootJournal(t)
	defer root.Close()
	if err := enrolledFolder(dir, root, scriptDevices[name]); err != nil {
		t.Fatal(err)
	}
	return dir
}

func at(dir string, now time.Time, args ...string) (code int, out, side string) {
	var stdout, stderr bytes.Buffer
	code = Run(context.Background(), &Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &stdout, Stderr: &stderr,
		Now: func() time.Time { return now }, Local: time.UTC, Random: zeros{},
		Getenv: func(key string) string { return map[string]string{"HOD_DIR": dir, "HOD_SYNC": "off"}[key] },
	})
	return code, stdout.String(), stderr.String()
}

// Two whole months of real hourly weather (US National Centers for Environmental Information by the open data set
// nycflights13, CC0), taken in one command each, every missing value counted.
func TestRealWeatherIsTakenWhole(t *testing.T) {
	for _, file := range []string{"weather-2013-07-lga.csv", "weather-2013-01-lga.csv"} {
		path := filepath.Join("..", "..", "..", "shared", "data", file)
		raw, err := os.ReadFile(path)
		if os.IsNotExist(err) {
			t.Skipf("the recorded weather is not here (%s): nothing to read", path)
		}
		if err != nil {
			t.Fatal(err)
		}
		// A second reading of the file, by other means: split at commas.
		lines := strings.Split(strings.TrimSpace(string(raw)), "\n")
		column := map[string]int{}
		for i, h := range strings.Split(strings.TrimSpace(lines[0]), ",") {
			column[h] = i
		}
		missing := map[string]int{}
		for _, line := range lines[1:] {
			cells := strings.Split(strings.TrimSpace(line), ",")
			for name, header := range map[string]string{
				"air": "temp", "humidity": "humid", "dew-point": "dewp", "wind": "wind_speed", "rain": "precip",
			} {
				if cells[column[header]] == "NA" {
					missing[name]++
				}
			}
		}
		dir := joined(t, "n2")
		code, out, side := at(dir, time.Date(2013, 8, 2, 12, 0, 0, 0, time.UTC), "weather", "--csv", path, "--json")
		if code != 0 {
			t.Fatalf("%s: code %d: %s", file, code, side)
		}
		var doc weatherKeptRead
		if err := json.Unmarshal([]byte(out), &doc); err != nil {
			t.Fatalf("%s: %v in %s", file, err, out)
		}
		if doc.Readings != len(lines)-1 || doc.Skipped != 0 {
			t.Errorf("%s: %d readings taken and %d skipped; the file has %d", file, doc.Readings, doc.Skipped,
				len(lines)-1)
		}
		for _, m := range doc.Missing {
			if m.Values != missing[m.Column] {
				t.Errorf("%s: %d values of %s are said to be missing; %d are", file, m.Values, m.Column,
					missing[m.Column])
			}
			delete(missing, m.Column)
		}
		for name, n := range missing {
			if n > 0 {
				t.Errorf("%s: %d values of %s are missing, and it is not said", file, n, name)
			}
		}
		checkFirstHour(t, dir, strings.Split(lines[1], ","), column)
	}
}

type weatherKeptRead struct {
	Readings, Skipped int
	Missing           []struct {
		Column string
		Values int
	}
}

// checkFirstHour compares the first reading in the record with the file's first row, converted by hand.
func checkFirstHour(t *testing.T, dir string, cells []string, column map[string]int) {
	t.Helper()
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	events, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		b, ok := e.Body.(event.WeatherObserved)
		if !ok {
			continue
		}
		if len(b.Samples) > 256 || len(e.Bytes()) > event.MaxBytes {
			t.Errorf("%s holds %d readings in %d bytes; 256 and %d at most", e.Name, len(b.Samples), len(e.Bytes()),
				event.MaxBytes)
		}
		if e.Seq > 1 {
			continue
		}
		first := b.Samples[0]
		f := func(name string) float64 {
			v, err := terminal.ParseNumber(cells[column[name]])
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		near := func(what string, got, want float64) {
			if d := got - want; d > 1e-9 || d < -1e-9 {
				t.Errorf("the first %s is %v, not %v", what, got, want)
			}
		}
		near("air, °C", float64(*first.Air), (f("temp")-32)/1.8)
		near("wind, m/s", float64(*first.Wind), f("wind_speed")*0.44704)
		near("humidity", float64(*first.Humidity), f("humid")/100)
		near("rain, mm", *first.RainMillimetres, f("precip")*25.4)
		if b.WindHeight.SI != 10 || first.At.Format(time.RFC3339) != cells[column["time_hour"]] {
			t.Errorf("the first is at %s with the wind at %v m; want %s and 10", first.At, b.WindHeight.SI,
				cells[column["time_hour"]])
		}
	}
}

// Many commands at once on one journal: each is kept, none twice, and the sequence has no gap.
func TestCommandsAtOnce(t *testing.T) {
	dir := joined(t, "n2")
	now := time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC)
	const each = 6
	var wait sync.WaitGroup
	for range each {
		wait.Go(func() {
			if code, _, side := at(dir, now, "note", "from many hands"); code != 0 {
				t.Errorf("code %d: %s", code, side)
			}
		})
	}
	wait.Wait()
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	head, err := j.Head(t.Context(), "n2")
	if err != nil || head.Seq != each {
		t.Errorf("the record ends at %d (%v); want %d, one a command", head.Seq, err, each)
	}
}

func TestAFolderThatCannotBeUsed(t *testing.T) {
	now := time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC)
	code, out, side := at(filepath.Join(t.TempDir(), "none"), now, "note", "x")
	if code != 5 || out != "" || !strings.Contains(side, "hod join CODE") {
		t.Errorf("no journal: code %d, printed %q, said %q; want 5 and how to join", code, out, side)
	}
	dir := joined(t, "n2")
	if err := os.WriteFile(filepath.Join(dir, "journal.db"),
		[]byte("not a journal, but long enough to look like a file of one"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"journal.db-wal", "journal.db-shm"} {
		_ = os.Remove(filepath.Join(dir, name))
	}
	if code, _, side := at(dir, now, "note", "x"); code != 5 || !strings.Contains(side, "damaged") {
		t.Errorf("a damaged journal: code %d, said %q; want 5 and that it is damaged", code, side)
	}
	if os.Getuid() == 0 {
		t.Log("root may write everywhere: that a read-only folder is refused is not checked in this run")
		return
	}
	dir = joined(t, "n2")
	if err := os.Chmod(dir, 0o500); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"journal.db", "journal.db-wal", "journal.db-shm"} {
		_ = os.Chmod(filepath.Join(dir, name), 0o400)
	}
	t.Cleanup(func() { _ = os.Chmod(dir, 0o700) })
	if code, out, side := at(dir, now, "note", "x"); code != 5 || out != "" ||
		!strings.Contains(side, "cannot be written") {
		t.Errorf("a folder that may not be written: code %d, printed %q, said %q; want 5 and why", code, out, side)
	}
}

// A server that is not there, and a code that is none: joining says so, and leaves the folder as good as new.
func TestJoiningWhereNobodyAnswers(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	now := time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC)
	code, out, side := at(dir, now, "join", "127.0.0.1:1/0000-0000-0000-0000-0000-0000-0000-0000-0000-0000-00")
	if code != 6 || out != "" || !strings.Contains(side, "no server answers at 127.0.0.1:1") {
		t.Errorf("nobody there: code %d, printed %q, said %q; want 6 and that no server answers", code, out, side)
	}
	if code, _, side := at(dir, now, "join", "127.0.0.1:1/0000"); code != 2 ||
		!strings.Contains(side, "4 letters and digits after the /, not 42") {
		t.Errorf("half a code: code %d, said %q; want 2 and how many letters are missing", code, side)
	}
	if code, _, side := at(joined(t, "n2"), now, "join",
		"127.0.0.1:1/0000-0000-0000-0000-0000-0000-0000-0000-0000-0000-00", "--crew", "south"); code != 3 ||
		!strings.Contains(side, "holds the record of device n2 of crew north on site vault") {
		t.Errorf("a device that has joined, for another crew: code %d, said %q; want 3 and which it is", code, side)
	}
	if _, err := os.Stat(filepath.Join(dir, "journal.db")); !os.IsNotExist(err) {
		t.Errorf("a journal was begun that nobody let in: %v", err)
	}
}
