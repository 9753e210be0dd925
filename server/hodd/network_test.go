package main

import (
	"maps"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"
)

// badLuck gives each connection a fate of its own, by random: none lasts.
func badLuck(random *rand.Rand) func() fate {
	var mu sync.Mutex
	return func() fate {
		mu.Lock()
		defer mu.Unlock()
		after := 1 + random.IntN(1<<(6+random.IntN(12)))
		slow := min(after, 20_000) // it would last for minutes
		late := time.Duration(1+random.IntN(25)) * time.Millisecond
		switch random.IntN(6) {
		case 0:
			return fate{name: "refused"}
		case 1:
			return fate{name: "cut", after: after}
		case 2:
			return fate{name: "fallen silent", after: after, mute: true}
		case 3:
			return fate{name: "slow", after: slow, delay: late}
		case 4:
			return fate{name: "in crumbs", after: slow, small: true}
		default:
			return fate{name: "slow, then silent", after: slow, delay: late, mute: true}
		}
	}
}

// Connections between devices and hodd are refused, cut in the middle, fall silent, are slow and come in crumbs: all
// that was written arrives once the network is good again, once.
func TestBadNetwork(t *testing.T) {
	t.Parallel()
	n := 6 * roundsOr(6, 2)
	root, w := t.TempDir(), newWay(t)
	s, devices := crew(t, root, w, 2)
	w.bus.hinder(badLuck(rand.New(rand.NewPCG(1, 45))))
	for _, d := range devices[1:] {
		d.start()
	}
	for some := 6; some <= n; some += 6 {
		until(t, "more connections met their fates", func() bool {
			w.bus.mu.Lock()
			defer w.bus.mu.Unlock()
			met := 0
			for name, n := range w.bus.met {
				if name != "passed" {
					met += n
				}
			}
			return met >= some
		})
	}
	_, at := sumOf(devices)
	for _, d := range devices {
		d.kill()
	}
	w.bus.hinder(nil)
	w.bus.cut()
	settle(t, devices...)
	settle(t, devices...)
	s.killed()
	sum := account(t, s.dir, devices...)
	met := w.bus.met
	for _, name := range slices.Sorted(maps.Keys(met)) {
		t.Logf("%4d connections %s", met[name], name)
	}
	t.Logf("%d events acknowledged, %d of them at the server while the network was bad, %d lost, %d doubled", sum.told,
		at, sum.lost, sum.doubled)
	if sum.told == 0 || at == 0 {
		t.Error("the test does not hit: nothing was written, or nothing got through")
	}
}
