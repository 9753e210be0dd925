package forecast

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"hod/internal/renewal"
)

// drawn is how far a chance by 1,024 draws may be from the exact one.
const drawn = 0.02

// believing is a belief of a site factor that is normal, with one spread, of coats of one mix.
func believing(j *Job, mean, sd, tau float64) *belief {
	b := &belief{job: j, yields: Yields{Scatter: 0.055, Mean: []float64{0}, SD: []float64{0}}, n: shared + 1}
	for i := range j.Coats {
		b.coats = append(b.coats, b.see(&j.Coats[i]))
	}
	n := node{spread: tau, weight: 1, mean: make([]float64, b.n), root: make([]float64, b.n*b.n)}
	n.mean[waste], n.root[waste*b.n+waste] = mean, sd
	b.nodes = []node{n}
	return b
}

// workAt makes a work whose crews and coats are given, and whose time nobody asks for.
func workAt(j *Job, n *needs, may []uint64, scatter float64) *work {
	p := &pace{crews: make([]rhythm, len(j.Crews)), scatter: 0.3}
	k := 2 + 2*len(j.Crews)
	p.nodes = []node{{weight: 1, mean: make([]float64, k), root: make([]float64, k*k)}}
	return newWork(j, n, p, lists{may: may}, Yields{Scatter: scatter, Mean: make([]float64, len(j.Mixes)), SD: make([]float64, len(j.Mixes))})
}

// chanceBelow is the weighted share of draws whose value is at most x.
func chanceBelow(n *needs, value func(i int) float64, x float64) float64 {
	sum := 0.0
	for i, w := range n.weight {
		if value(i) <= x {
			sum += w
		}
	}
	return sum
}

func checkDrawn(t *testing.T, check func(id string, run func(t *testing.T, c checkCase, in caseIn, want map[string]float64))) {
	censored := func(in caseIn, b float64) (*Job, *needs) {
		j := &Job{Mixes: []Mix{{Yield: 1}}, Coats: []Coat{{Name: "a", Zone: "a", Design: b, State: Open, Weighed: in.U * b}}}
		n := believing(j, in.M, in.SD, in.Tau).draw(1024)
		return j, &n
	}
	check("censored coat, site factor", func(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
		near(t, "prob_not_finished", above((ln(in.U)-in.M)/math.Sqrt(in.SD*in.SD+in.Tau*in.Tau)), want["prob_not_finished"], 1e-10)
		_, n := censored(in, 1)
		site := func(i int) float64 { return n.parts[i].site }
		mean, sd := n.deviation(site)
		near(t, "mean", mean, want["mean"], drawn*want["sd"]*3)
		near(t, "sd", sd, want["sd"], 3*drawn*want["sd"])
		near(t, "chance of q05", chanceBelow(n, site, want["q05"]), 0.05, drawn)
		near(t, "chance of q95", chanceBelow(n, site, want["q95"]), 0.95, drawn)
	})
	check("censored coat, what it still takes", func(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
		var b float64
		if err := json.Unmarshal(in.B, &b); err != nil {
			t.Fatal(err)
		}
		_, n := censored(in, b)
		left := func(i int) float64 { return n.left[i] }
		mean, _ := n.deviation(left)
		near(t, "mean", mean, want["mean"], 0.05*want["mean"])
		for name, p := range map[string]float64{"q05": .05, "q50": .5, "q95": .95} {
			near(t, "chance of "+name, chanceBelow(n, left, want[name]), p, drawn)
		}
	})
	counts := func(t *testing.T, d renewal.Distribution, want map[string]float64) {
		t.Helper()
		for name, p := range want {
			k, err := strconv.Atoi(name)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "P(N ≤ "+name+")", d.At(k), p, drawn)
		}
	}
	check("batches for two coats not begun", func(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
		var b []float64
		if err := json.Unmarshal(in.B, &b); err != nil {
			t.Fatal(err)
		}
		j := &Job{Mixes: []Mix{{Yield: 1}}, Crews: []Crew{{Name: "north"}}}
		for i, v := range b {
			j.Coats = append(j.Coats, Coat{Name: string(rune('a' + i)), Zone: string(rune('a' + i)), Design: v})
		}
		n := believing(j, in.M, in.SD, in.Tau).draw(1024)
		w := workAt(j, &n, []uint64{1, 1}, in.S)
		w.play()
		counts(t, counted(w.total, n.weight), want)
	})
	check("two crews round up each", func(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
		j := &Job{Mixes: []Mix{{Yield: 1}}, Crews: []Crew{{Name: "north"}, {Name: "south"}}, Coats: []Coat{{Name: "a", Design: in.V[0]}, {Name: "b", Design: in.V[1]}}}
		n := needs{n: 1024, coats: []int{0, 1}}
		for range n.n {
			n.left, n.weight, n.parts = append(n.left, in.V...), append(n.weight, 1.0/1024), append(n.parts, parts{})
		}
		w := workAt(j, &n, []uint64{1, 2}, in.S)
		w.play()
		counts(t, counted(w.total, n.weight), want)
	})
	check("calendar without noise", func(t *testing.T, c checkCase, in caseIn, _ map[string]float64) {
		var want struct {
			Finish  string
			Minutes float64
		}
		if err := json.Unmarshal(c.Expect, &want); err != nil {
			t.Fatal(err)
		}
		var raw map[string]float64
		if err := json.Unmarshal(c.Input, &raw); err != nil {
			t.Fatal(err)
		}
		const monday = 4 // 5 January 1970
		j := &Job{Mixes: []Mix{{Yield: 1}}, Crews: []Crew{{Name: "north"}}, Coats: []Coat{{Name: "a", Design: 1}}}
		j.Now = WallDay(monday+in.NowDay) + Wall(in.NextStart-in.G)
		for d := range 30 {
			day := Workday{Day: monday + in.NowDay + d, From: 420, To: 1020, Chance: 1}
			if (in.NowDay+d)%7 == in.Rest {
				day.To = 0
			}
			j.Calendar.Days = append(j.Calendar.Days, day)
		}
		n := needs{n: 1, weight: []float64{1}, coats: []int{0}, left: []float64{float64(in.N) - 0.5}, parts: make([]parts, 1)}
		w := workAt(j, &n, []uint64{1}, 0)
		p := w.pace
		p.scatter = 0
		p.nodes[0].mean[0] = ln(in.G)
		p.crews[0] = rhythm{count: 1000, first: raw["S"] - 420, last: 1020 - raw["E"], cycle: in.C, lunch: in.L, noon: 735, lunching: 1, latest: j.Now, today: true, typical: in.G}
		w.gap = bell(func(float64) float64 { return 1 })
		w.play()
		minutes := float64(w.finish[0] - WallDay(monday))
		near(t, "minutes", minutes, want.Minutes, 1e-6)
		if got := w.finish[0]; got.Day()-monday != 7 || !strings.HasPrefix(want.Finish, "day 7") {
			t.Errorf("finished on day %d, want %s", got.Day()-monday, want.Finish)
		}
	})
}
