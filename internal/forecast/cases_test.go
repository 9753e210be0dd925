package forecast

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
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
	Rest      *int    `json:"rest"`
	Transit   []float64
	Covered   float64
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
	for _, c := range in.Coats {
		mixes = max(mixes, len(c.Unweighed))
	}
	var logs [][]float64
	if in.LogYields != nil {
		var one []float64
		if json.Unmarshal(in.LogYields, &one) == nil {
			logs = [][]float64{one}
		} else if err := json.Unmarshal(in.LogYields, &logs); err != nil {
			t.Fatalf("log_yield_over_design: %v", err)
		}
	}
	j := Job{Loss: in.Loss, Mixes: make([]Mix, max(mixes, len(logs)))}
	for m := range j.Mixes {
		j.Mixes[m].Yield = 0.07
	}
	for m := range logs {
		j.Mixes[m].Logs = logs[m]
	}
	for i, c := range in.Coats {
		k := Coat{
			Name: caseName(i), Zone: caseName(i), Design: c.Design, State: Finished, Begun: Wall(i + 1),
			Ended: Wall(i + 1), Weighed: c.Weighed, Gauges: c.Gauges, Gauge: c.GaugeRatio,
		}
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

// caseName of a coat or crew, of which a case says none.
func caseName(i int) string { return fmt.Sprintf("c%03d", i) }

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
	for name, x := range want {
		if p, is := strings.CutPrefix(name, "factor_q"); is {
			share, err := strconv.ParseFloat(p, 64)
			if err != nil {
				t.Fatalf("%s is no quantile", name)
			}
			near(t, name, exp(q(share/100)), x, 10*tolerance)
		}
	}
	for _, n := range b.nodes {
		if !pick(n) || len(w) > 1 {
			continue
		}
		at := map[string]int{"omega": waste, "t": thick, "g": bias, "rho": b.mix(0)}
		for m := range b.job.Mixes {
			at[fmt.Sprintf("rho%d", m+1)] = b.mix(m)
		}
		for name, at := range at {
			if x, asked := want[name]; asked {
				near(t, name, n.mean[at], x, tolerance)
			}
		}
	}
}

// shape is one kind of case, known by what it is given and what is expected of it: a file may hold any number of each.
type shape struct {
	name  string
	given []string // keys of the input, all of them
	may   []string // further keys of the input
	want  []string // keys of what is expected, one of them at least; none: any
	run   func(t *testing.T, c checkCase, in caseIn, want map[string]float64)
}

var siteKeys = []string{"loss", "s", "tau", "tau_grid", "log_yield_over_design", "job_design_m3", "prior"}

// shapes of the cases of the study, the more particular first.
var shapes = []shape{
	{"scatter", []string{"log_yield_over_design"}, nil, []string{"s"}, caseScatter},
	{
		"drift and told changes",
		[]string{"coats", "tau", "job_design_m3"},
		siteKeys,
		[]string{"drift", "told"},
		caseChanges,
	},
	{"site factor", []string{"coats"}, siteKeys, []string{"mean_log"}, caseSite},
	{"what a censored coat takes", []string{"m", "sd", "tau", "u", "b"}, []string{"covered"}, nil, caseCensored},
	{"site factor of a censored coat", []string{"m", "sd", "tau", "u"}, []string{"covered"}, nil, caseCensoredSite},
	{"batches of coats", []string{"m", "sd", "tau", "s", "b"}, nil, nil, caseBatches},
	{"crews round up", []string{"V", "s"}, []string{"transit"}, nil, caseCrews},
	{"next start", []string{"g", "cv"}, []string{"e"}, nil, caseNextStart},
	{"calendar", []string{"n", "g", "S", "E"}, []string{"L", "c", "now_day", "next_start", "rest"}, nil, caseCalendar},
}

func keysOf(t *testing.T, raw json.RawMessage) map[string]json.RawMessage {
	t.Helper()
	var keys map[string]json.RawMessage
	if err := json.Unmarshal(raw, &keys); err != nil {
		t.Fatal(err)
	}
	return keys
}

// shapeOf a case; false where none has all of its keys and no other.
func shapeOf(t *testing.T, c checkCase) (shape, bool) {
	t.Helper()
	in, want := keysOf(t, c.Input), keysOf(t, c.Expect)
	for _, s := range shapes {
		fits := len(s.want) == 0
		for _, k := range s.want {
			_, has := want[k]
			fits = fits || has
		}
		for _, k := range s.given {
			_, has := in[k]
			fits = fits && has
		}
		for k := range in {
			fits = fits && (slices.Contains(s.given, k) || slices.Contains(s.may, k))
		}
		if fits {
			return s, true
		}
	}
	return shape{}, false
}

func TestCheckCases(t *testing.T) {
	all := readCases(t, filepath.Join("..", "..", "..", "shared", "cases", "forecast.json"))
	if len(all) == 0 {
		t.Error("the file has no case")
	}
	for id, c := range all {
		t.Run(id, func(t *testing.T) {
			s, ok := shapeOf(t, c)
			if !ok {
				t.Fatalf("no kind of case is given %v", slices.Sorted(maps.Keys(keysOf(t, c.Input))))
			}
			s.run(t, c, c.in(t), c.want(t))
		})
	}
}

// spread is the only one from coat to coat that is tried, where a case gives one.
func (in caseIn) spread(t *testing.T) {
	if old := spreads; in.Tau > 0 {
		spreads = []float64{in.Tau}
		t.Cleanup(func() { spreads = old })
	} else if len(in.TauGrid) > 0 && !slices.Equal(in.TauGrid, spreads) {
		spreads = in.TauGrid
		t.Cleanup(func() { spreads = old })
	}
}

// still are the nodes of the study's model that do not drift: coats independent of one another.
func still(n node) bool { return n.drift == 0 && n.alike == 0 }

func caseScatter(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
	near(t, "s", YieldsOf(in.job(t).Mixes).Scatter, want["s"], c.Tolerance)
}

func caseSite(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
	in.spread(t)
	b := believeAt(in.job(t), in.S)
	mix := 0 // what is left is of the latest mix that the case has
	for _, k := range in.Coats {
		mix = max(mix, len(k.Unweighed)-1)
	}
	wantSite(t, b, mix, want, c.Tolerance, still)
	var weights struct {
		Nodes []float64 `json:"node_weights"`
	}
	if err := json.Unmarshal(c.Expect, &weights); err != nil {
		t.Fatal(err)
	}
	w, _, _ := b.site(mix, still)
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	for i, x := range weights.Nodes {
		near(t, "weight of a node", w[i]/sum, x, c.Tolerance)
	}
}

func caseChanges(t *testing.T, c checkCase, in caseIn, _ map[string]float64) {
	in.spread(t)
	var want struct{ Drift, Told map[string]float64 }
	if err := json.Unmarshal(c.Expect, &want); err != nil {
		t.Fatal(err)
	}
	if want.Drift != nil {
		wantSite(t, believeAt(in.job(t), in.S), 0, want.Drift, c.Tolerance, func(n node) bool { return n.drift > 0 })
	}
	if want.Told != nil { // before the last coat
		told := in.job(t)
		told.Changed = []Wall{Wall(len(in.Coats)) - 0.5}
		wantSite(t, believeAt(told, in.S), 0, want.Told, c.Tolerance, still)
	}
}

func caseNextStart(t *testing.T, c checkCase, in caseIn, want map[string]float64) {
	mean := ln(in.G) - in.CV*in.CV/2 // of the logarithm
	for name, x := range want {
		if name == "p_exceeds" {
			near(t, name, above((ln(in.E)-mean)/in.CV), x, c.Tolerance)
			continue
		}
		p, err := strconv.ParseFloat(strings.TrimPrefix(name, "q"), 64)
		if err != nil {
			t.Fatalf("%s is no quantile", name)
		}
		near(t, name, nextGap(mean, in.CV, in.E, p/100), x, c.Tolerance*10)
	}
}
