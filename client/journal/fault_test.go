package journal

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"go.uber.org/goleak"

	"hod/internal/event"
)

// The test binary plays the other process: it appends to the journal in the first folder, as often as is said (0: until
// it is killed), and prints each event that it was told is kept.
const childEnv = "HOD_JOURNAL_TEST_APPEND"

func TestMain(m *testing.M) {
	if what := os.Getenv(childEnv); what != "" {
		if err := child(what); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	goleak.VerifyTestMain(m)
}

func child(what string) error {
	var name, dir string
	var times int
	if _, err := fmt.Sscanf(what, "%s %d %s", &name, &times, &dir); err != nil {
		return err
	}
	ctx := context.Background()
	for i := 0; times == 0 || i < times; i++ {
		j, err := Open(dir)
		if err != nil {
			return err
		}
		for n := range 1 + i%3 {
			written, err := j.Append(ctx, noon, note(fmt.Sprintf("%s-%d-%d-a", name, i, n)),
				note(fmt.Sprintf("%s-%d-%d-b", name, i, n)))
			if err != nil {
				return err
			}
			for _, s := range said(written) {
				fmt.Println(s)
			}
		}
		if err := j.Close(); err != nil {
			return err
		}
	}
	return nil
}

func process(t *testing.T, name, dir string, times int) *exec.Cmd {
	t.Helper()
	binary, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(binary)
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s %d %s", childEnv, name, times, dir))
	return cmd
}

func TestKilledWriterLosesNothingThatItWasToldIsKept(t *testing.T) {
	rounds := 30
	if testing.Short() {
		rounds = 5
	}
	j := create(t, "n2")
	dir := j.dir
	told := map[string]bool{}
	for round := range rounds {
		cmd := process(t, fmt.Sprint("round", round), dir, 0)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		for i := 0; i < 1+round*3%17 && lines.Scan(); i++ { // the round's number decides when it dies, not a clock
			told[lines.Text()] = true
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for lines.Scan() { // what it said before it died
			if strings.HasSuffix(lines.Text(), "-a") || strings.HasSuffix(lines.Text(), "-b") {
				told[lines.Text()] = true
			}
		}
		_ = cmd.Wait()
	}
	held := map[string]bool{}
	got := words(t, j)
	for _, s := range got {
		held[s] = true
	}
	for s := range told {
		if !held[s] {
			t.Errorf("%q was said to be kept and is gone", s)
		}
	}
	if len(told) < rounds {
		t.Errorf("%d events were said to be kept in %d rounds; the test needs more", len(told), rounds)
	}
	if len(got)%2 != 0 {
		t.Errorf("%d events are held: half a transaction was kept", len(got))
	}
	sound(t, j)
	t.Logf("%d kills, %d events said to be kept, %d held", rounds, len(told), len(got))
}

func TestEightProcessesAtOnce(t *testing.T) {
	j := create(t, "n2")
	const processes, times = 8, 12
	var wait sync.WaitGroup
	var told [processes][]string
	for p := range processes {
		cmd := process(t, fmt.Sprint("p", p), j.dir, times)
		var errs bytes.Buffer
		cmd.Stderr = &errs
		wait.Go(func() {
			out, err := cmd.Output()
			if err != nil {
				t.Errorf("process %d: %v: %s", p, err, errs.String())
			}
			told[p] = strings.Split(strings.TrimSpace(string(out)), "\n")
		})
	}
	wait.Wait()
	held := map[string]int{}
	for _, s := range words(t, j) {
		held[s]++
	}
	n := 0
	for p := range told {
		for _, s := range told[p] {
			n++
			if held[s] != 1 {
				t.Errorf("%q is held %d times, want once", s, held[s])
			}
		}
	}
	same(t, "events held", len(held), n)
	same(t, "events told", n, processes*times*2*2)
	sound(t, j)
}

func TestTwoOpenJournalsOfOneFolderInOneProcess(t *testing.T) {
	a := create(t, "n2")
	b, err := Open(a.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	var wait sync.WaitGroup
	for _, j := range []*Journal{a, b, a, b} {
		wait.Go(func() {
			for range 20 {
				if _, err := j.Append(t.Context(), noon, note("x")); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	same(t, "seq", headOf(t, a, "n2").Seq, 80)
	sound(t, b)
}

func TestFullDisk(t *testing.T) {
	t.Run("a small disk", func(t *testing.T) {
		dir := smallDisk(t, "size=400k")
		j, err := Create(filepath.Join(dir, "hod"), deviceNamed("n2"))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = j.Close() })
		fill(t, j)
	})
	t.Run("a file that may not grow", func(t *testing.T) {
		j := create(t, "n2")
		if _, err := j.conn.ExecContext(t.Context(), `pragma max_page_count = 40`); err != nil {
			t.Fatal(err)
		}
		fill(t, j)
	})
}

// fill appends until the disk is full, then looks whether all that was kept is there and nothing else.
func fill(t *testing.T, j *Journal) {
	t.Helper()
	var told []string
	for i := range 2000 {
		written, err := j.Append(t.Context(), noon, note(fmt.Sprint(i, strings.Repeat("x", 2000))),
			note(fmt.Sprint(i, strings.Repeat("y", 2000))))
		if err == nil {
			told = append(told, said(written)...)
			continue
		}
		if kindOf(err) != Full || !strings.Contains(err.Error(), "write it on paper") ||
			!strings.Contains(err.Error(), "free some space") {
			t.Fatalf("append %d: %v of kind %d, want kind Full and what to do", i, err, kindOf(err))
		}
		if len(told) == 0 {
			t.Fatal("the disk was full from the start; the test needs some room")
		}
		same(t, "held", words(t, j), told)
		sound(t, j)
		return
	}
	t.Fatal("the disk never filled")
}

func smallDisk(t *testing.T, options string) string {
	t.Helper()
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("only root on Linux can mount a small disk")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("a small disk cannot be mounted here: %v: %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", "-l", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	return dir
}

func TestReadOnlyFolder(t *testing.T) {
	check := func(t *testing.T, dir string) {
		t.Helper()
		j, err := Open(dir)
		if err == nil {
			_ = j.Close()
		}
		if kindOf(err) != ReadOnly || !strings.Contains(err.Error(), "write it on paper") {
			t.Errorf("open: %v of kind %d, want kind ReadOnly and what to do", err, kindOf(err))
		}
		if _, err := Create(filepath.Join(dir, "new"), deviceNamed("n3")); kindOf(err) != ReadOnly {
			t.Errorf("create: %v, want kind ReadOnly", err)
		}
	}
	t.Run("a read-only disk", func(t *testing.T) {
		dir := smallDisk(t, "size=4m")
		j, err := Create(filepath.Join(dir, "hod"), deviceNamed("n2"))
		if err != nil {
			t.Fatal(err)
		}
		appendNotes(t, j, "kept")
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
			t.Skipf("remount: %v: %s", err, out)
		}
		check(t, filepath.Join(dir, "hod"))
	})
	t.Run("no right to write", func(t *testing.T) {
		if os.Getuid() == 0 || runtime.GOOS == "windows" {
			t.Skip("root may write anywhere")
		}
		j := create(t, "n2")
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{dbFile, ""} {
			path := filepath.Join(j.dir, name)
			if err := os.Chmod(path, 0o500); err != nil {
				t.Fatal(err)
			}
			defer os.Chmod(path, 0o700)
		}
		check(t, j.dir)
	})
	t.Run("while it is open", func(t *testing.T) {
		j := create(t, "n2")
		appendNotes(t, j, "kept")
		if _, err := j.conn.ExecContext(t.Context(), `pragma query_only = 1`); err != nil {
			t.Fatal(err)
		}
		if _, err := j.Append(t.Context(), noon, note("x")); kindOf(err) != ReadOnly {
			t.Errorf("append: %v, want kind ReadOnly", err)
		}
	})
}

func TestLockedTooLong(t *testing.T) {
	j := create(t, "n2")
	other, err := Open(j.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := other.conn.ExecContext(t.Context(), `pragma busy_timeout = 1`); err != nil {
		t.Fatal(err)
	}
	if _, err := j.conn.ExecContext(t.Context(), `begin immediate`); err != nil {
		t.Fatal(err)
	}
	if _, err := other.Append(t.Context(), noon, note("x")); kindOf(err) != Locked ||
		!strings.Contains(err.Error(), "try again") {
		t.Errorf("append: %v of kind %d, want kind Locked and what to do", err, kindOf(err))
	}
	if _, err := other.Events(t.Context()); err != nil {
		t.Errorf("reading while another writes: %v", err)
	}
	if _, err := j.conn.ExecContext(t.Context(), `rollback`); err != nil {
		t.Fatal(err)
	}
	appendNotes(t, other, "y")
}

// A byte changed anywhere in the file is never a changed event: reading gives what was written, or says that it is
// damaged.
func TestDamageIsNeverSilent(t *testing.T) {
	j := create(t, "n2")
	reader := inMemory(t, "n3")
	for i := range 60 {
		appendNotes(t, reader, fmt.Sprint("theirs ", i, strings.Repeat("z", 100)))
		appendNotes(t, j, fmt.Sprint("ours ", i, strings.Repeat("z", 100)))
	}
	if _, err := j.Keep(t.Context(), all(t, reader, "n3")...); err != nil {
		t.Fatal(err)
	}
	want, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	whole := filepath.Join(t.TempDir(), "whole.db")
	backUp(t, j, whole)
	good, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	reported, unharmed := 0, 0
	for round := range 120 {
		bad := bytes.Clone(good)
		switch round % 3 {
		case 0:
			bad[random.IntN(len(bad))] ^= 1 << random.IntN(8)
		case 1:
			page := random.IntN(len(bad)/4096) * 4096
			clear(bad[page : page+4096])
		case 2:
			bad = bad[:random.IntN(len(bad))]
		}
		events, err := readDamaged(t, j, bad)
		var e *Error
		switch {
		case errors.As(err, &e):
			reported++
		case err != nil:
			t.Errorf("round %d: %v is not an *Error", round, err)
		case !sameEvents(events, want):
			t.Errorf("round %d: %d events came back, other than the %d written, without a word", round, len(events),
				len(want))
		default:
			unharmed++
		}
	}
	if reported < 40 {
		t.Errorf("only %d of 120 damages were reported; the test does not hit", reported)
	}
	t.Logf("%d reported, %d without effect on the events", reported, unharmed)
}

func readDamaged(t *testing.T, j *Journal, db []byte) ([]event.Event, error) {
	t.Helper()
	dir := t.TempDir()
	if err := writeKey(dir, j.device.Key); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, dbFile), db, 0o600); err != nil {
		t.Fatal(err)
	}
	damaged, err := Open(dir)
	if err != nil {
		return nil, err
	}
	defer damaged.Close()
	return damaged.Events(t.Context())
}

func sameEvents(a, b []event.Event) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].Hash() != b[i].Hash() {
			return false
		}
	}
	return true
}

func TestVerifyNamesTheDamage(t *testing.T) {
	for name, tc := range map[string]struct{ sql, want string }{
		"a changed byte": {`update event set raw = zeroblob(9) where seq = 2`, "n2/2"},
		"a missing event": {
			`insert into superseded select 1, device, seq, chain, raw from event where seq = 2; delete from event where seq = 2`, "from 2 to 2 are missing",
		},
		"a changed chain":   {`update event set chain = zeroblob(32) where seq = 3`, "n2/3"},
		"a cut-off segment": {`update segment set raw = substr(raw, 1, 40)`, "segment"},
		"a superseded event": {
			`insert into rewrite values (1, 0, 'n2', 0, 0); insert into superseded values (1, 'n2', 9, zeroblob(32), x'ff')`, "n2/9",
		},
	} {
		t.Run(name, func(t *testing.T) {
			j, other := create(t, "n2"), inMemory(t, "n3")
			appendNotes(t, j, "a", "b", "c")
			appendNotes(t, other, "d")
			if _, err := j.Keep(t.Context(), all(t, other, "n3")...); err != nil {
				t.Fatal(err)
			}
			sound(t, j)
			for _, trigger := range []string{"event_never_changes", "event_never_leaves"} {
				statement(t, j.dir, `drop trigger `+trigger)
			}
			statement(t, j.dir, tc.sql)
			v, err := j.Verify(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if len(v.Faults) == 0 || !strings.Contains(strings.Join(v.Faults, "\n"), tc.want) {
				t.Errorf("faults %q, want one with %q", v.Faults, tc.want)
			}
		})
	}
}
