package forecast

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// caseIn is the input of a check case, in the words of the file.
type caseIn struct {
	LogYields json.RawMessage `json:"log_yield_over_design"`
	Loss      float64         `json:"loss"`
	S         float64         `json:"s"`
	Tau       float64         `json:"tau"`
	TauGrid   []float64       `json:"tau_grid"`
	JobDesign float64         `json:"job_design_m3"`
	Coats     []caseCoat      `json:"coats"`
	M, SD, U  float64
	B         json.RawMessage `json:"b"`
	V         []float64
	G, CV, E  float64
	N         int     `json:"n"`
	Start     float64 `json:"S"`
	L, C      float64
	NowDay    int     `json:"now_day"`
	NextStart float64 `json:"next_start"`
	Rest      int     `json:"rest"`
}

type caseCoat struct {
	Design     float64   `json:"design_m3"`
	Unweighed  []float64 `json:"unweighed_design_m3"`
	Batches    float64   `json:"unweighed_batches"`
	Squares    float64   `json:"sum_squared_shares"`
	Weighed    float64   `json:"weighed_m3"`
	Finished   *bool     `json:"finished"`
	Gauges     int       `json:"gauges"`
	GaugeRatio float64   `json:"gauge_ratio"`
}

type checkCase struct {
	ID        string          `json:"id"`
	Input     json.RawMessage `json:"input"`
	Expect    json.RawMessage `json:"expect"`
	Tolerance float64         `json:"tolerance"`
}

func readCases(t *testing.T, path string) map[string]checkCase {
	t.Helper()
	raw, err := os.ReadFile(path)
	if os.IsNotExist(err) {
		t.Skipf("the check cases %s are not beside this tree; skipped", path)
	}
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Cases []checkCase `json:"cases"`
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	all := map[string]checkCase{}
	for _, c := range file.Cases {
		all[c.ID] = c
	}
	return all
}

func (c checkCase) in(t *testing.T) (in caseIn) {
	t.Helper()
	if err := json.Unmarshal(c.Input, &in); err != nil {
		t.Fatalf("%s: %v", c.ID, err)
	}
	return in
}

func (c checkCase) want(t *testing.T) map[string]float64 {
	t.Helper()
	var all map[string]any
	if err := json.Unmarshal(c.Expect, &all); err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{}
	for k, v := range all {
		if x, ok := v.(float64); ok {
			want[k] = x
		}
	}
	return want
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

// jobOf a case: its mixes have a yield of 0.07 m³, which no figure of the cases hangs on.
func (in caseIn) job(t *testing.T) Job {
	t.Helper()
	mixes := 1
	if len(in.Coats) > 0 {
		mixes = len(in.Coats[0].Unweighed)
	}
	j := Job{Loss: in.Loss, Mixes: make([]Mix, mixes)}
	for m := range j.Mixes {
		j.Mixes[m].Yield = 0.07
	}
	if in.LogYields != nil {
		var one []float64
		var many [][]float64
		if json.Unmarshal(in.LogYields, &one) == nil {
			j.Mixes[0].Logs = one
		} else if err := json.Unmarshal(in.LogYields, &many); err == nil {
			for m := range many {
				j.Mixes[m].Logs = many[m]
			}
		}
	}
	for i, c := range in.Coats {
		k := Coat{Name: string(rune('a' + i)), Zone: string(rune('a' + i)), Design: c.Design, State: Finished, Begun: Wall(i + 1), Ended: Wall(i + 1), Weighed: c.Weighed, Gauges: c.Gauges, Gauge: c.GaugeRatio}
		if c.Finished != nil && !*c.Finished {
			k.State = Open
		}
		for m, u := range c.Unweighed {
			if u > 0 {
				k.Taken = append(k.Taken, Taken{Mix: m, Design: u, Shares: c.Batches, Squares: c.Squares})
			}
		}
		j.Coats = append(j.Coats, k)
	}
	if in.JobDesign > 0 {
		rest := in.JobDesign
		for _, c := range in.Coats {
			rest -= c.Design
		}
		j.Coats = append(j.Coats, Coat{Name: "rest", Zone: "rest", Design: rest})
	}
	return j
}

// believeAt is what the room believes of a job with the batches' scatter and the other unknowns given.
func believeAt(j Job, s float64) *belief {
	b := &belief{job: &j, yields: YieldsOf(j.Mixes), changes: j.Changed}
	if s > 0 { // the case gives the scatter; the yields are learned with it
		b.yields = yieldsAt(j.Mixes, s)
	}
	b.n = shared + len(b.changes) + len(j.Mixes)
	for i := range j.Coats {
		b.coats = append(b.coats, b.see(&j.Coats[i]))
	}
	b.learn()
	return b
}

// site is the distribution of ω + t − ρ of the mix that is left, over the nodes that pick chooses.
func (b *belief) site(mix int, pick func(n node) bool) (weights, means, sds []float64) {
	for _, n := range b.nodes {
		if !pick(n) {
			continue
		}
		f := make([]float64, b.n)
		f[waste], f[thick], f[b.mix(mix)] = 1, 1, -1
		for i := range b.changes {
			f[shared+i] = 1
		}
		mean, variance := 0.0, 0.0
		for j := range b.n {
			mean += f[j] * n.mean[j]
			with := 0.0
			for i := range b.n {
				with += f[i] * n.root[i*b.n+j]
			}
			variance += with * with
		}
		weights, means, sds = append(weights, n.weight), append(means, mean), append(sds, math.Sqrt(variance))
	}
	return weights, means, sds
}

func mixture(weights, means, sds []float64) (mean, sd float64, quantile func(p float64) float64) {
	sum, square := 0.0, 0.0
	for i, w := range weights {
		sum += w
		mean += w * means[i]
		square += w * (sds[i]*sds[i] + means[i]*means[i])
	}
	mean /= sum
	sd = math.Sqrt(square/sum - mean*mean)
	return mean, sd, func(p float64) float64 {
		low, high := mean-10*sd, mean+10*sd
		for range 200 {
			x, at := (low+high)/2, 0.0
			for i, w := range weights {
				at += w / sum * (1 - above((x-means[i])/sds[i]))
			}
			if at < p {
				low = x
			} else {
				high = x
			}
		}
		return low
	}
}

func wantSite(t *testing.T, b *belief, mix int, want map[string]float64, tolerance float64, pick func(n node) bool) {
	t.Helper()
	w, m, s := b.site(mix, pick)
	mean, sd, q := mixture(w, m, s)
	near(t, "mean_log", mean, want["mean_log"], tolerance)
	near(t, "sd_log", sd, want["sd_log"], tolerance)
	near(t, "factor_q05", exp(q(.05)), want["factor_q05"], 10*tolerance)
	near(t, "factor_q50", exp(q(.5)), want["factor_q50"], 10*tolerance)
	near(t, "factor_q95", exp(q(.95)), want["factor_q95"], 10*tolerance)
	for _, n := range b.nodes {
		if !pick(n) || len(w) > 1 {
			continue
		}
		for name, at := range map[string]int{"omega": waste, "t": thick, "g": bias, "rho": b.mix(0), "rho1": b.mix(0), "rho2": b.mix(len(b.job.Mixes) - 1)} {
			if x, asked := want[name]; asked {
				near(t, name, n.mean[at], x, tolerance)
			}
		}
	}
}

func TestCheckCases(t *testing.T) {
	all := readCases(t, filepath.Join("..", "..", "..", "shared", "cases", "forecast.json"))
	check := func(id string, run func(t *testing.T, c checkCase, in caseIn, want map[string]float64)) {
		c, ok := all[id]
		if !ok {
			t.Errorf("no case %q in the file", id)
			return
		}
		delete(all, id)
		t.Run(id, func(t *testing.T) { run(t, c, c.in(t), c.want(t)) })
	}
	fixed := func(tau, drift float64) func(n node) bool {
		return func(n node) bool { return n.spread == tau && n.drift == drift && n.alike == 0 }
	}
	atTau := func(t *testing.T, tau float64) {
		old := spreads
		spreads = []float64{tau}
		t.Cleanup(func() { spreads = old })
	}
	check("scatter", func(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
		near(t, "s", YieldsOf(in.job(t).Mixes).Scatter, want["s"], c.Tolerance)
	})
	for _, id := range []string{"site factor, spread known", "weighed and unweighed batches together", "gauges", "mix revised"} {
		check(id, func(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
			atTau(t, in.Tau)
			b := believeAt(in.job(t), in.S)
			wantSite(t, b, len(b.job.Mixes)-1, want, c.Tolerance, fixed(in.Tau, 0))
		})
	}
	check("site factor, spread learned", func(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
		b := believeAt(in.job(t), in.S)
		still := func(n node) bool { return n.drift == 0 && n.alike == 0 }
		wantSite(t, b, 0, want, c.Tolerance, still)
		var weights struct {
			Nodes []float64 `json:"node_weights"`
		}
		if err := json.Unmarshal(c.Expect, &weights); err != nil {
			t.Fatal(err)
		}
		w, _, _ := b.site(0, still)
		sum := 0.0
		for _, x := range w {
			sum += x
		}
		for i, x := range weights.Nodes {
			near(t, "weight of a node", w[i]/sum, x, c.Tolerance)
		}
	})
	check("drift, and a new way of placing told", func(t *testing.T, c checkCase, in caseIn, _ map[string]float64) {
		atTau(t, in.Tau)
		var want struct{ Drift, Told map[string]float64 }
		if err := json.Unmarshal(c.Expect, &want); err != nil {
			t.Fatal(err)
		}
		wantSite(t, believeAt(in.job(t), in.S), 0, want.Drift, c.Tolerance, fixed(in.Tau, driftSD))
		told := in.job(t)
		told.Changed = []Wall{2.5}
		wantSite(t, believeAt(told, in.S), 0, want.Told, c.Tolerance, fixed(in.Tau, 0))
	})
	check("next start", func(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
		mean := ln(in.G) - in.CV*in.CV/2 // of the logarithm
		near(t, "p_exceeds", above((ln(in.E)-mean)/in.CV), want["p_exceeds"], c.Tolerance)
		for name, p := range map[string]float64{"q10": .1, "q50": .5, "q90": .9} {
			near(t, name, nextGap(mean, in.CV, in.E, p), want[name], c.Tolerance*10)
		}
	})
	checkDrawn(t, check)
	for id := range all {
		t.Errorf("case %q is not looked at", id)
	}
}
