package forecast

import (
	"encoding/json"
	"fmt"
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
	return newWork(j, n, p, lists{may: may}, Yields{
		Scatter: scatter, Mean: make([]float64, len(j.Mixes)),
		SD: make([]float64, len(j.Mixes)),
	})
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

// censoredCoat is one coat under way, of a design of b batches, that has taken u times that.
func censoredCoat(in caseIn, b float64) *needs {
	k := Coat{Name: "a", Zone: "a", Design: b, State: Open, Weighed: in.U * b}
	if in.Covered > 0 {
		k.Covered = &Covered{Share: in.Covered, Taken: 1}
	}
	j := &Job{Mixes: []Mix{{Yield: 1}}, Coats: []Coat{k}}
	n := believing(j, in.M, in.SD, in.Tau).draw(1024)
	return &n
}

// wantDrawn holds a mean, a standard deviation and quantiles against those of draws.
func wantDrawn(t *testing.T, n *needs, value func(i int) float64, want map[string]float64) {
	t.Helper()
	mean, sd := n.deviation(value)
	for name, x := range want {
		if p, is := strings.CutPrefix(name, "q"); is {
			share, err := strconv.ParseFloat(p, 64)
			if err != nil {
				t.Fatalf("%s is no quantile", name)
			}
			near(t, "chance of "+name, chanceBelow(n, value, x), share/100, drawn)
		}
	}
	if x, asked := want["mean"]; asked {
		near(t, "mean", mean, x, 3*drawn*sd)
	}
	if x, asked := want["sd"]; asked {
		near(t, "sd", sd, x, 3*drawn*x)
	}
}

func caseCensoredSite(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
	if x, asked := want["prob_not_finished"]; asked {
		near(t, "prob_not_finished", above((ln(in.U)-in.M)/math.Sqrt(in.SD*in.SD+in.Tau*in.Tau)), x, 1e-10)
	}
	n := censoredCoat(in, 1)
	wantDrawn(t, n, func(i int) float64 { return n.parts[i].site }, want)
}

func caseCensored(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
	var b float64
	if err := json.Unmarshal(in.B, &b); err != nil {
		t.Fatal(err)
	}
	n := censoredCoat(in, b)
	wantDrawn(t, n, func(i int) float64 { return n.left[i] }, want)
}

func wantCounts(t *testing.T, d renewal.Distribution, want map[string]float64) {
	t.Helper()
	for name, p := range want {
		k, err := strconv.Atoi(name)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "P(N ≤ "+name+")", d.At(k), p, drawn)
	}
}

func caseBatches(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
	var b []float64
	if err := json.Unmarshal(in.B, &b); err != nil {
		t.Fatal(err)
	}
	j := &Job{Mixes: []Mix{{Yield: 1}}, Crews: []Crew{{Name: "north"}}}
	var may []uint64
	for i, v := range b {
		j.Coats, may = append(j.Coats, Coat{Name: caseName(i), Zone: caseName(i), Design: v}), append(may, 1)
	}
	belief := believing(j, in.M, in.SD, in.Tau)
	belief.settled = true // no revision comes in the cases
	n := belief.draw(1024)
	w := workAt(j, &n, may, in.S)
	w.play()
	wantCounts(t, counted(w.total, n.weight), want)
}

// caseCrews gives what each crew needs beside what is mixed for it already.
func caseCrews(t *testing.T, _ checkCase, in caseIn, want map[string]float64) {
	j := &Job{Mixes: []Mix{{Yield: 1}}}
	n := needs{n: 1024}
	var may []uint64
	var left []float64
	for k, v := range in.V {
		crew := Crew{Name: caseName(k)}
		if k < len(in.Transit) && in.Transit[k] > 0 {
			crew.Transit = []Transit{{Batches: in.Transit[k], Squares: in.Transit[k]}}
			v += in.Transit[k]
		}
		j.Crews, j.Coats = append(j.Crews, crew), append(j.Coats, Coat{Name: caseName(k), Design: v})
		n.coats, may, left = append(n.coats, k), append(may, 1<<k), append(left, v)
	}
	for range n.n {
		n.left, n.weight, n.parts = append(n.left, left...), append(n.weight, 1.0/1024), append(n.parts, parts{})
	}
	w := workAt(j, &n, may, in.S)
	w.play()
	wantCounts(t, counted(w.total, n.weight), want)
}

func caseCalendar(t *testing.T, c checkCase, in caseIn, _ map[string]float64) {
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
	for d := range 400 {
		day := Workday{Day: monday + in.NowDay + d, From: 420, To: 1020, Chance: 1}
		if in.Rest != nil && (in.NowDay+d)%7 == *in.Rest {
			day.To = 0
		}
		j.Calendar.Days = append(j.Calendar.Days, day)
	}
	n := needs{
		n: 1, weight: []float64{1}, coats: []int{0}, left: []float64{float64(in.N) - 0.5},
		parts: make([]parts, 1),
	}
	w := workAt(j, &n, []uint64{1}, 0)
	p := w.pace
	p.scatter = 0
	p.nodes[0].mean[0] = ln(in.G)
	p.crews[0] = rhythm{
		count: 1000, first: raw["S"] - 420, last: 1020 - raw["E"], cycle: in.C, lunch: in.L, noon: 735,
		lunching: 1, latest: j.Now, today: true, typical: in.G,
	}
	w.gap = bell(func(float64) float64 { return 1 })
	w.play()
	near(t, "minutes", float64(w.finish[0]-WallDay(monday)), want.Minutes, 1e-6)
	if day := fmt.Sprintf("day %d ", w.finish[0].Day()-monday); !strings.HasPrefix(want.Finish, day) {
		t.Errorf("finished on %s, want %s", day, want.Finish)
	}
}
