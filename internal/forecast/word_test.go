package forecast_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/renewal"
	"hod/internal/view"
)

var (
	jobs  = flag.Int("jobs", 0, "how many jobs of each scenario are forecast; 0: a few")
	first = flag.Uint64("first-job", 1_000_000, "seed of the first job")
	only  = flag.String("scenario", "", "only scenarios whose names hold this")
)

var usual = scenario{zones: 12, coats: 2, batches: 160, loss: 0.04, wasteLow: 0.04, wasteUp: 0.04, yields: true}

func with(name string, change func(s *scenario)) scenario {
	s := usual
	s.name = name
	change(&s)
	return s
}

func all(s *scenario) {
	s.wasteLow, s.wasteUp, s.thickLow, s.thickUp, s.coatSpread = 0.02, 0.06, 0, 0.10, 0.03
}

func scenarios() []scenario {
	return []scenario{
		with("only yields", func(*scenario) {}),
		with("waste 2-6 %", func(s *scenario) { s.wasteLow, s.wasteUp = 0.02, 0.06 }),
		with("zones ±15 %", func(s *scenario) { s.zoneSpread = 0.15 }),
		with("thick 0-12 %, loss 4 %", func(s *scenario) { s.thickUp = 0.12 }),
		with("thick 0-12 %, loss 8 %", func(s *scenario) { s.thickUp, s.loss, s.wasteLow, s.wasteUp = 0.12, 0.08, 0.08, 0.08 }),
		with("thin 0-10 %", func(s *scenario) { s.thickLow, s.thickUp = -0.10, 0 }),
		with("all together, coats shared", func(s *scenario) { all(s); s.shared = true }),
		with("all together, own zones", all),
		with("640 batches", func(s *scenario) { all(s); s.batches, s.zones = 640, 48 }),
		with("four coats", func(s *scenario) { all(s); s.batches, s.zones, s.coats, s.shared = 26, 4, 1, true }),
		with("one coat", func(s *scenario) { all(s); s.batches, s.zones, s.coats, s.crews = 10, 1, 1, 1 }),
		with("one coat, gauges", func(s *scenario) { all(s); s.batches, s.zones, s.coats, s.crews, s.gauges = 10, 1, 1, 1, 1 }),
		with("gauges in a third", func(s *scenario) { all(s); s.gauges = 1. / 3; s.shared = true }),
		with("mix revised", func(s *scenario) { all(s); s.revised, s.shared = true, true }),
		with("skewed (gamma)", func(s *scenario) { all(s); s.skewed = true }),
		with("crews ±4 % apart", func(s *scenario) { all(s); s.crewSpread = 0.04 }),
		with("nothing weighed", func(s *scenario) { all(s); s.unweighed = true }),
		with("uneven pace", func(s *scenario) { all(s); s.uneven = true }),
		with("640, Sundays off", func(s *scenario) { all(s); s.batches, s.zones, s.sundays = 640, 48, true }),
		with("two mixes left at once", func(s *scenario) { all(s); s.mixes = 2 }),
		with("inner and outer together", func(s *scenario) { all(s); s.coatSpread, s.zoneShare = 0.08, 1 }),
		with("hours forbidden", func(s *scenario) { all(s); s.rain = true }),
		with("sand runs out", func(s *scenario) { all(s); s.stock = 0.85 }),
		with("thinner from half on, untold", func(s *scenario) { all(s); s.changed = -0.05 }),
		with("thinner from half on, told", func(s *scenario) { all(s); s.changed, s.told = -0.05, true }),
	}
}

var stages = []float64{0.10, 0.20, 0.50, 0.80, 0.95}

// tally is how often intervals held.
type tally struct {
	jobs, c50, c80, c90, one float64
	width, off, left         float64
	nominal, student         float64 // errors of the baselines
}

// count scores a count, the step that crosses an end shared out at random (Czado, Gneiting and Held 2009, from memory).
func (t *tally) count(r *rand.Rand, cum func(n int) float64, low, mid, high int, truth int) {
	u := cum(truth-1) + r.Float64()*(cum(truth)-cum(truth-1))
	t.pit(u)
	t.width += float64(high - low)
	t.off += math.Abs(float64(mid - truth))
	t.left += float64(truth)
}

func (t *tally) pit(u float64) {
	t.jobs++
	in := func(p float64) float64 {
		if math.Abs(u-0.5) <= p/2 {
			return 1
		}
		return 0
	}
	t.c50, t.c80, t.c90 = t.c50+in(.5), t.c80+in(.8), t.c90+in(.9)
	if u <= 0.9 {
		t.one++
	}
}

func cumulative(of []view.Count) func(n int) float64 {
	return func(n int) float64 {
		p := 0.0
		for _, c := range of {
			if int(c.Batches) <= n {
				p = c.Cumulative
			}
		}
		return p
	}
}

func (t *tally) cell(hours bool) string {
	if t.jobs == 0 {
		return "-"
	}
	n := t.jobs / 100
	if hours {
		return fmt.Sprintf("%.0f/%.0f/%.0f·%.0f·%.0f h·%.1f", t.c50/n, t.c80/n, t.c90/n, t.one/n, t.width/t.jobs, t.off/t.jobs)
	}
	return fmt.Sprintf("%.0f/%.0f/%.0f·%.0f·%.0f·%.1f(%.1f,%.1f)", t.c50/n, t.c80/n, t.c90/n, t.one/n, 100*t.width/max(t.left, 1), 100*t.off/max(t.left, 1), 100*t.nominal/max(t.left, 1), 100*t.student/max(t.left, 1))
}

// scores of one scenario at one stage.
type scores struct{ batches, mix, finish, tomorrow, sand tally }

// stage cuts a job where so much of it is begun, and scores what is forecast then.
func (t *truth) stage(rec *recorder, share float64, r *rand.Rand, into *scores) {
	n := min(max(1, int(math.Round(share*float64(len(t.starts))))), len(t.starts)-1)
	a, b := t.starts[n-1].ready, t.starts[n].ready
	now := a.Add(time.Duration(r.Float64() * float64(min(b.Sub(a), 90*time.Minute)))).Truncate(time.Second)
	rec.until(now)
	left := 0
	byMix := map[string]int{}
	var lefts []start
	for _, s := range t.starts {
		if s.ready.After(now) {
			left++
			byMix[string(s.mix)]++
			lefts = append(lefts, s)
		}
	}
	if left == 0 {
		return
	}
	v := view.ForecastOf(rec.site, now, time.UTC)
	if *verbose {
		fmt.Printf("%s %.0f%% left %d forecast %+v finish %v..%v truth %v\n", t.name, 100*share, left, v.Batches, v.Finish.P05, v.Finish.P95, t.ended)
	}
	into.batches.count(r, cumulative(v.Chances), int(v.Batches.P05), int(v.Batches.P50), int(v.Batches.P95), left)
	nominal, student := t.baselines(rec)
	into.batches.nominal += math.Abs(nominal - float64(left))
	into.batches.student += math.Abs(student - float64(left))
	for _, m := range v.Mixes {
		if t.scenario.mixes < 2 || byMix[m.Mix] == 0 {
			continue
		}
		into.mix.count(r, cumulative(m.Distribution), int(m.P05), int(m.P50), int(m.P95), byMix[m.Mix])
	}
	t.scoreFinish(v, &into.finish)
	day := 0
	for _, s := range lefts {
		if s.at.Format(time.DateOnly) == v.Tomorrow.Date {
			day++
		}
	}
	if len(v.Tomorrow.Chances) > 0 {
		into.tomorrow.count(r, cumulative(v.Tomorrow.Chances), int(*v.Tomorrow.P05), int(*v.Tomorrow.P50), int(*v.Tomorrow.P95), day)
	}
}

func (t *truth) scoreFinish(v view.Forecast, into *tally) {
	f := v.Finish
	if f.P50 == nil || f.P95 == nil {
		return
	}
	in := func(low, high *time.Time) float64 {
		if !t.ended.Before(low.Add(-time.Minute)) && !t.ended.After(*high) {
			return 1
		}
		return 0
	}
	into.jobs++
	into.c50 += in(f.P25, f.P75)
	into.c80 += in(f.P10, f.P90)
	into.c90 += in(f.P05, f.P95)
	if !t.ended.After(*f.P90) {
		into.one++
	}
	into.width += f.P95.Sub(*f.P05).Hours()
	into.off += math.Abs(f.P50.Sub(t.ended).Hours())
}

// baselines that the forecast is held against: design volume over nominal yield, and the batches that finished coats used
// for each of their design's, times the design's left.
func (t *truth) baselines(rec *recorder) (nominal, ratio float64) {
	var ratios []float64
	used := map[event.Coat]float64{}
	last := map[event.Crew]event.Coat{}
	touched := map[event.Coat]map[event.Crew]bool{}
	for _, w := range t.work[:rec.at] {
		p, ok := w.body.(event.Placement)
		if !ok {
			continue
		}
		last[w.crew] = p.Coat
		if touched[p.Coat] == nil {
			touched[p.Coat] = map[event.Crew]bool{}
		}
		touched[p.Coat][w.crew] = true
	}
	for _, z := range rec.site.Plan().ZoneNames() {
		is, _ := rec.site.Zone(z)
		for _, c := range is.Coats {
			used[c.CoatPlanned.Coat] = c.Batches
		}
	}
	open := func(c event.Coat) bool {
		for crew := range touched[c] {
			if last[crew] == c {
				return true
			}
		}
		return len(touched[c]) == 0
	}
	p := rec.site.Plan()
	design := func(c *coatTruth) float64 { return c.design * (1 + t.loss) / float64(p.Mixes[c.mix].Figures.Yield) }
	for _, c := range t.coats {
		if !open(c.id) {
			ratios = append(ratios, used[c.id]/design(c))
		}
	}
	mean := 1.0
	if len(ratios) > 0 {
		d, err := renewal.Describe(ratios)
		if err == nil {
			mean = d.Mean
		}
	}
	for _, c := range t.coats {
		if open(c.id) {
			nominal += max(0, design(c)-used[c.id])
			ratio += max(0, mean*design(c)-used[c.id])
		}
	}
	return nominal, ratio
}

var verbose = flag.Bool("each", false, "print each job")

// TestKeepsItsWord forecasts invented jobs with known ends, through the real fold and view, and counts how often what was
// stated held.
func TestKeepsItsWord(t *testing.T) {
	n := *jobs
	if n == 0 {
		n = 6
	}
	t.Log("central 50/80/90 % · one-sided 90 % · width in % of what is left · error (of design/nominal, of finished coats' ratio)")
	for _, s := range scenarios() {
		var table strings.Builder
		if !strings.Contains(s.name, *only) {
			continue
		}
		cells := make([]scores, len(stages))
		for k := range n {
			job := s.invent(*first + uint64(k))
			rec := job.record()
			r := rand.New(rand.NewPCG(uint64(k), 99))
			for i, share := range stages {
				job.stage(rec, share, r, &cells[i])
			}
		}
		for _, row := range []struct {
			what  string
			of    func(c *scores) *tally
			hours bool
		}{
			{"batches", func(c *scores) *tally { return &c.batches }, false},
			{"each mix", func(c *scores) *tally { return &c.mix }, false},
			{"finish", func(c *scores) *tally { return &c.finish }, true},
			{"tomorrow", func(c *scores) *tally { return &c.tomorrow }, false},
		} {
			if row.what == "each mix" && s.mixes < 2 {
				continue
			}
			fmt.Fprintf(&table, "%-28s|%-8s", s.name, row.what)
			for i := range cells {
				fmt.Fprintf(&table, "|%-30s", row.of(&cells[i]).cell(row.hours))
			}
			table.WriteString("\n")
		}
		fmt.Print(table.String())
	}
}
