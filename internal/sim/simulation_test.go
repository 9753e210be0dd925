package sim_test

import (
	"flag"
	"fmt"
	"os"
	"reflect"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

var (
	seedsFlag = flag.Int("seeds", 0, "simulated sites; 0 means 1000, or 20 with -short")
	firstFlag = flag.Uint64("first", 1, "the first seed")
	traceFlag = flag.Bool("trace", false, "print what happened in each run")
)

// tally is what happened in one run or many.
type tally struct {
	seeds, deviceDays, events, contacts              int
	crashes, cuts, lostRequests, lostAcks, replays   int
	diskErrors, partitions, clockJumps               int
	restores, copies, forks, rereads                 int
	streamLosses, serverKills, powerCuts             int
	serverRestores, serverLost, revocations          int
	forgeries, illegal, corrections, plans, forgiven int
	rounds                                           int
}

func (t *tally) add(o tally) {
	a, b := reflect.ValueOf(t).Elem(), reflect.ValueOf(o)
	for i := range a.NumField() {
		f := a.Field(i)
		reflect.NewAt(f.Type(), f.Addr().UnsafePointer()).Elem().SetInt(f.Int() + b.Field(i).Int())
	}
}

func (t tally) String() string {
	return fmt.Sprintf("%d seeds, %d device-days, %d events, %d contacts: %d crashes, %d lines cut, %d lost requests, %d lost acknowledgements, "+
		"%d replays, %d disk errors, %d partitions, %d clock jumps, %d journals restored and %d copied, %d forks told, %d readings from the start, "+
		"%d stream losses, %d servers killed, %d power cuts, %d server backups restored, %d servers lost, %d revocations, "+
		"%d forgeries, %d writings without the right, %d corrections, %d changes of plan; %d events lost with the last disk that held them; "+
		"%.2f rounds to heal",
		t.seeds, t.deviceDays, t.events, t.contacts, t.crashes, t.cuts, t.lostRequests, t.lostAcks, t.replays, t.diskErrors, t.partitions,
		t.clockJumps, t.restores, t.copies, t.forks, t.rereads, t.streamLosses, t.serverKills, t.powerCuts, t.serverRestores, t.serverLost,
		t.revocations, t.forgeries, t.illegal, t.corrections, t.plans, t.forgiven, float64(t.rounds)/float64(max(t.seeds, 1)))
}

// scratch is where the servers' folders lie: in memory where the system has such a place, since what is flushed is
// counted by the simulation and not by the disk.
func scratch(t *testing.T) string {
	if dir, err := os.MkdirTemp("/dev/shm", "hod-sim-"); err == nil {
		t.Cleanup(func() { _ = os.RemoveAll(dir) })
		return dir
	}
	return t.TempDir()
}

func TestSimulation(t *testing.T) {
	n := *seedsFlag
	if n == 0 {
		n = 1000
		if testing.Short() {
			n = 20
		}
	}
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	dir := scratch(t)
	var next atomic.Uint64
	next.Store(*firstFlag)
	var mu sync.Mutex
	var sum tally
	var failed []uint64
	var workers sync.WaitGroup
	began := time.Now()
	for range min(runtime.GOMAXPROCS(0), n) {
		workers.Go(func() {
			for {
				seed := next.Add(1) - 1
				if seed >= *firstFlag+uint64(n) {
					return
				}
				_, log, one, err := run(seed, dir)
				mu.Lock()
				sum.add(one)
				if err != nil {
					failed = append(failed, seed)
					if len(failed) <= 3 {
						t.Errorf("seed %d: %v\nagain: go test ./internal/sim -run TestSimulation -seeds 1 -first %d -trace\nthe last of what happened:\n  %s",
							seed, err, seed, strings.Join(log[max(0, len(log)-12):], "\n  "))
					}
				}
				if *traceFlag {
					t.Logf("seed %d:\n%s", seed, strings.Join(log, "\n"))
				}
				stop := len(failed) >= 20
				mu.Unlock()
				if stop {
					return
				}
			}
		})
	}
	workers.Wait()
	took := time.Since(began)
	t.Logf("%v\n%d failures %v; %.1f seeds a second, in %v", sum, len(failed), failed, float64(sum.seeds)/took.Seconds(), took.Round(time.Second))
	if n >= 20 && len(failed) == 0 {
		v := reflect.ValueOf(sum)
		for i := range v.NumField() {
			if v.Field(i).Int() == 0 {
				t.Errorf("in %d seeds nothing was counted as %s: the simulation no longer does what it should", n, v.Type().Field(i).Name)
			}
		}
	}
}

func TestSameSeedSameRun(t *testing.T) {
	dir := scratch(t)
	for _, seed := range []uint64{1, 2, 3} {
		a, log, _, err := run(seed, dir)
		b, again, _, err2 := run(seed, dir)
		if a != b || fmt.Sprint(err) != fmt.Sprint(err2) {
			for i := range min(len(log), len(again)) {
				if log[i] != again[i] {
					t.Fatalf("seed %d: step %d is %q the first time, %q the second", seed, i, log[i], again[i])
				}
			}
			t.Fatalf("seed %d: %v the first time, %v the second", seed, err, err2)
		}
	}
}
