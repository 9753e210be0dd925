package next

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The short form, which every run has, measures two shells; more draws measure all.
const shortForm = 3

var (
	jobs  = flag.Int("jobs", shortForm, "draws of each shell when advice is measured against practice")
	large = flag.Int("large", 100, "per cent of them for shells of 200 cells and more")
	drawn = flag.Int("draws-from", 1_000_000,
		"number of the first draw; what is reported has 1000000, what it is tuned on others")
	trials = flag.Int("trials", 48, "trials of each decision")
)

func TestFactorsAreThoseOfALognormal(t *testing.T) {
	for _, x := range []int64{-2_000_000, -700_000, -1, 0, 1, 125_000, 500_000, 1_000_000, 2_500_000} {
		got, want := float64(exp(x))/million, math.Exp(float64(x)/million)
		if math.Abs(got-want) > 2e-5*max(1, want) {
			t.Errorf("exp(%v) = %v, not %v", float64(x)/million, got, want)
		}
	}
	n, sum, squares := 20_000, 0.0, 0.0
	for i := range n {
		l := math.Log(float64(factor(draw(i, 3, drawBatch), 250)) / million)
		sum, squares = sum+l, squares+l*l
	}
	if mean, sd := sum/float64(n), math.Sqrt(squares/float64(n)); math.Abs(mean) > 0.006 || math.Abs(sd-0.25) > 0.006 {
		t.Errorf("the logarithm has mean %v and standard deviation %v", mean, sd)
	}
	for i, z := range normals { // no rounding that another processor could do otherwise
		if v := 1000 * math.Sqrt2 * math.Erfinv(float64(2*i+1)/1000-1); math.Abs(math.Abs(v-float64(z))-0.5) < 1e-9 {
			t.Errorf("quantile %d lies between two whole numbers", i)
		}
	}
}

// without leaves cells out of a job.
func without(j *Job, gone func(int) bool) *Job {
	at, kept := map[int]int{}, &Job{Lead: j.Lead, Joint: j.Joint, Crews: j.Crews, Curves: j.Curves}
	for i, c := range j.Cells {
		if !gone(i) {
			at[i] = len(kept.Cells)
			kept.Cells = append(kept.Cells, c)
		}
	}
	for _, e := range j.Edges {
		a, okA := at[e.A]
		b, okB := at[e.B]
		if okA && okB {
			e.A, e.B = a, b
			kept.Edges = append(kept.Edges, e)
		}
	}
	return kept
}

func mean(all []Cost) float64 {
	sum := 0.0
	for _, c := range all {
		sum += c.Metres()
	}
	return sum / float64(len(all))
}

func TestAskingTwiceChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop = false
		q := Question{Job: j, Horizon: 2000, Trials: 24, Spreads: UsualSpreads}
		a, ok := Advise(q)
		b, again := Advise(q)
		if ok != again || fmt.Sprint(a.Choice.Cell, a.Cold, a.Mean, a.Slack) != fmt.Sprint(b.Choice.Cell, b.Cold,
			b.Mean, b.Slack) {
			t.Fatalf("%+v, then %+v", a, b)
		}
		if !ok {
			return
		}
		q.Last, q.Oldest = a.Following(), a.Oldest
		if c, ok := Advise(q); !ok || c.Cell != a.Cell {
			t.Fatalf("advised %d, and asked again with that advice %d", a.Cell, c.Cell)
		}
	})
}

func TestAnEdgeThatIsLostChangesNoAdviceWhenItIsLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop = false
		q := Question{Job: j, Horizon: 2000, Trials: 24, Spreads: UsualSpreads}
		before, ok := Advise(q)
		if !ok || len(before.Lost) == 0 {
			t.Skip("nothing is lost")
		}
		for _, e := range before.Lost {
			j.Edges[e].Length *= 10
		}
		if after, _ := Advise(q); after.Cell != before.Cell {
			t.Fatalf("advised %d, and with longer lost edges %d", before.Cell, after.Cell)
		}
	})
}

func TestAdviceSaysWhatItMeetsAndWhatIsLost(t *testing.T) {
	// Two edges wait; the old one can no longer be met.
	j := &Job{
		Cells: []Cell{
			{Name: "old", Placed: true, From: 0, To: 20},
			{Name: "young", Placed: true, From: 60, To: 80},
			{Name: "X", Minutes: 20},
			{Name: "Y", Minutes: 20},
		},
		Edges: []Edge{{A: 0, B: 2, Length: 300}, {A: 1, B: 3, Length: 300}},
		Crews: []Crew{{Name: "north", Free: 80, Pace: 100}}, Lead: 10,
	}
	for i := range j.Cells {
		j.Cells[i].Set = 60 * msPerMinute
	}
	a, ok := Advise(Question{Job: j, Horizon: 300, Spreads: Spreads{}})
	if !ok || j.Cells[a.Cell].Name != "Y" || !slices.Equal(a.Meets, []int{1}) || a.Slack != 10 ||
		!slices.Equal(a.Lost, []int{0}) {
		t.Errorf("%+v", a)
	}
	if a.Trials != UsualTrials || a.Cold.Happened != 0 || a.Instead == nil ||
		a.Instead.Cold.Happened != a.Instead.Cold.Of || a.Either {
		t.Errorf("%+v instead %+v", a, a.Instead)
	}
}
