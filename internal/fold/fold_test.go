package fold_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/sim/simtest"
	"hod/internal/view/daily"
)

func TestSmallJobStands(t *testing.T) {
	s := foldtest.Folded(foldtest.SmallJob(t)...)
	for _, r := range s.Records() {
		if r.State == fold.SetAside {
			t.Errorf("%s, a %s, is set aside: %s", r.Name, event.KindOf(r.Body), r.Aside.Why)
		}
	}
	b := daily.BoardOf(s, foldtest.Midnight.Add(40*time.Hour), foldtest.Place)
	placed := 0.0
	for _, z := range b.Zones {
		placed += z.PlacedM3
	}
	if placed <= 0 || len(s.Batches()) < 10 {
		t.Fatalf("%d batches, %.3f m³ placed", len(s.Batches()), placed)
	}
	mixed := 0.0
	for _, c := range s.Batches() {
		mixed += float64(c.Volume(1-c.Left, s.Yield("face").Ratio))
	}
	if d := placed - mixed; d > 1e-9 || d < -1e-9 {
		t.Errorf("%.6f m³ placed of %.6f m³ that left the mixer: material was made or lost", placed, mixed)
	}
}

func TestOrderAndRepetitionChangeNothing(t *testing.T) {
	events := foldtest.Troubled(t, foldtest.SmallJob(t))
	now := foldtest.Midnight.Add(40 * time.Hour)
	want := foldtest.Everything(t, foldtest.Folded(events...), now)
	rapid.Check(t, func(rt *rapid.T) {
		seed := rapid.Uint64().Draw(rt, "seed")
		r := rand.New(rand.NewPCG(seed, 1))
		shuffled := append([]event.Event{}, events...)
		shuffled = append(shuffled, events[:len(events)/3]...)
		r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		s := fold.New("tarn", simtest.Root)
		looks := rapid.IntRange(0, 4).Draw(rt, "looks")
		for i, e := range shuffled {
			s.Add(e)
			if looks > 0 && i%(len(shuffled)/(looks+1)+1) == 0 {
				_ = foldtest.Everything(t, s, now) // a look half way through must leave nothing behind
			}
		}
		if got := foldtest.Everything(t, s, now); got != want {
			rt.Fatalf("order, repetition or a look changed the site:\n%s", cmp.Diff(want, got))
		}
	})
}
