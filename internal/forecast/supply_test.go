package forecast

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// days of batches: two a day, of the mixes given, one after the other.
func order(weight float64, mixes ...int) Draw {
	d := Draw{Weight: weight}
	for i, m := range mixes {
		d.Batches = append(d.Batches, DrawBatch{At: WallDay(10+i/2) + Wall(480+240*(i%2)), Mix: m})
	}
	return d
}

// 41 batches need 80 kg of sand each and the rest none; 3,300 kg are there. A mean batch would say that it lasts 62
// batches and does for them all; it is 20 kg short of the first 42, at the 42nd.
func TestTheStockIsDrawnByTheBatchesInTheirOrder(t *testing.T) {
	var mixes []int
	for range 42 {
		mixes = append(mixes, 0)
	}
	for range 23 {
		mixes = append(mixes, 1)
	}
	draws := []Draw{order(1, mixes...)}
	s := SupplyOf(draws, []float64{80, 0}, 3300, WallDay(0), WallDay(1000))
	if n := QuantileOf(s.Makes, 0.5); n != 41 {
		t.Errorf("it makes %v batches, not 41", n)
	}
	at, out := s.Out.Quantile(0.5)
	if want := WallDay(10+41/2) + 480 + 240; !out || at != want {
		t.Errorf("it runs out at %v (%v), not at %v", at, out, want)
	}
	if s.Mean != 80 || s.Ends != 1 || s.Enough != 0 {
		t.Errorf("a batch takes %v kg, it ends with chance %v and suffices with %v", s.Mean, s.Ends, s.Enough)
	}
	if more := SupplyOf(draws, []float64{80, 0}, 3360, WallDay(0), WallDay(1000)); more.Ends != 0 || more.Enough != 1 {
		t.Errorf("with all that is needed it ends with chance %v", more.Ends)
	}
}

// Tomorrow's coats take none of the sand: what there is suffices for tomorrow, though not for the day after.
func TestWhatSufficesForADayIsAboutItsBatches(t *testing.T) {
	draws := []Draw{order(0.5, 1, 1, 0, 0), order(0.5, 1, 0, 1, 0)}
	day := func(n int, hand float64) Supply {
		return SupplyOf(draws, []float64{80, 0}, hand, WallDay(10+n), WallDay(11+n))
	}
	if s := day(0, 0); s.Enough != 0.5 || QuantileOf(s.Need, 0.9) != 80 || QuantileOf(s.Need, 0.5) != 0 {
		t.Errorf("with nothing there: %+v", s)
	}
	if s := day(1, 100); s.Enough != 0 || QuantileOf(s.Short, 0.9) != 60 {
		t.Errorf("what is drawn before that day is drawn from the same stock: %+v", s)
	}
}

func TestMoreStockNeverMakesFewerBatchesNorEndsSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var draws []Draw
		n := rapid.IntRange(1, 6).Draw(t, "draws")
		for range n {
			draws = append(draws, order(1/float64(n), rapid.SliceOfN(rapid.IntRange(0, 2), 0, 12).Draw(t, "mixes")...))
		}
		takes := []float64{rapid.Float64Range(0, 100).Draw(t, "a"), rapid.Float64Range(0, 100).Draw(t, "b"), 0}
		hand := rapid.Float64Range(0, 1000).Draw(t, "hand")
		from, until := WallDay(0), WallDay(100)
		less, more := SupplyOf(draws, takes, hand, from, until), SupplyOf(draws, takes, hand+50, from, until)
		if less.Enough > more.Enough+1e-9 || less.Ends < more.Ends-1e-9 {
			t.Fatalf("50 kg more: enough %v, then %v; ends %v, then %v", less.Enough, more.Enough, less.Ends, more.Ends)
		}
		for _, p := range []float64{0.1, 0.5, 0.9} {
			if QuantileOf(less.Makes, p) > QuantileOf(more.Makes, p) {
				t.Fatalf("50 kg more make fewer batches")
			}
			a, _ := less.Out.Quantile(p)
			b, later := more.Out.Quantile(p)
			if later && a > b {
				t.Fatalf("50 kg more end at %v, not %v", b, a)
			}
		}
		if math.Abs(less.Enough+less.Ends-1) > 1e-9 { // asked about all of it, it does or it ends
			t.Fatalf("enough %v, ends %v", less.Enough, less.Ends)
		}
	})
}

// Two batches a day of 80 kg each; asked about the second day, the first day's two come before it.
func TestWhatTheDaysBeforeTakeIsNotLeftForTheDay(t *testing.T) {
	s := SupplyOf([]Draw{order(1, 0, 0, 0, 0, 0, 0)}, []float64{80}, 300, WallDay(11), WallDay(12))
	before, need, short := QuantileOf(s.Before, 0.5), QuantileOf(s.Need, 0.5), QuantileOf(s.Short, 0.5)
	if before != 160 || need != 160 || short != 20 {
		t.Errorf("%v kg are taken before, %v on the day, and %v lack", before, need, short)
	}
}
