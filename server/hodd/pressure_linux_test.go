package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"hod/client/cli"
	"hod/internal/event"
)

// A hodd that has hardly any memory, and then none: it is told to live in less than its caches take, and in each round
// the system gives it no more than a little above what it has, until it dies of that or is killed. What it told is
// there afterwards. In the long form only: -rounds 20.
func TestAServerThatRunsOutOfMemoryLosesNothingThatItTold(t *testing.T) {
	if *rounds == 0 {
		t.Skip("in the long form only, with -rounds")
	}
	t.Setenv("GOMEMLIMIT", "24MiB")
	random := rand.New(rand.NewPCG(1, 44))
	root, w := t.TempDir(), newWay(t)
	s, devices := crew(t, root, w, 2)
	for _, d := range devices[1:] {
		d.start()
	}
	died := 0
	for round := range *rounds {
		_, at := sumOf(devices)
		until(t, "the server says that it has more", func() bool {
			_, now := sumOf(devices)
			return now >= at+3
		})
		room := uint64(random.IntN(3 << 20))
		if err := unix.Prlimit(s.cmd.Process.Pid, unix.RLIMIT_AS, &unix.Rlimit{
			Cur: memoryOf(t, s) + room,
			Max: unix.RLIM_INFINITY,
		},
			nil); err != nil {
			t.Skip("a process's memory cannot be limited here: ", err)
		}
		for end := time.Now().Add(3 * time.Second); len(s.ended) == 0 && time.Now().Before(end); {
			devices[0].anyway("board", "--server") // it may be refused, or not be answered
		}
		if len(s.ended) > 0 {
			died++
			said, wants := s.errors.String(), false
			for _, why := range []string{"out of memory", "cannot allocate", "OS thread", "pthread_create failed"} {
				wants = wants || strings.Contains(said, why)
			}
			if !wants {
				t.Errorf("round %d: it did not end for want of memory:\n%.2000s", round, said)
			}
		} else {
			s.killed()
		}
		heard := map[event.Device]uint64{}
		for _, d := range devices {
			heard[d.name] = d.ledger().at
		}
		s = serving(t, s.dir, w)
		until(t, "the server answers for the heads", func() bool { return headsOf(t, devices[0]) != nil })
		got := headsOf(t, devices[0])
		for _, d := range devices {
			if got[d.name] < heard[d.name] {
				t.Errorf("round %d: it had said that it has %d events of %s, and has %d", round, heard[d.name], d.name,
					got[d.name])
			}
		}
	}
	for _, d := range devices {
		d.kill()
	}
	settle(t, devices...)
	settle(t, devices...)
	s.killed()
	sum := account(t, s.dir, devices...)
	t.Logf("%d rounds, in %d of which hodd died of it: %d events acknowledged, %d lost, %d doubled", *rounds, died,
		sum.told,
		sum.lost, sum.doubled)
	if died == 0 {
		t.Error("it never ran out of memory; the test does not hit")
	}
}

// anyway runs a command that may fail.
func (d *device) anyway(args ...string) {
	_ = cli.Run(d.t.Context(), &cli.Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: io.Discard, Stderr: io.Discard, Now: time.Now,
		Local:  time.UTC,
		Getenv: func(key string) string { return map[string]string{"HOD_DIR": d.dir}[key] },
	})
}

// memoryOf a process is the address space that it has.
func memoryOf(t *testing.T, s *served) uint64 {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", s.cmd.Process.Pid))
	if err != nil {
		t.Fatal(err)
	}
	var pages uint64
	if _, err := fmt.Sscan(string(text), &pages); err != nil {
		t.Fatal(err)
	}
	return pages * uint64(os.Getpagesize())
}
