package forecast_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/renewal"
	"hod/internal/view/ahead"
)

var (
	jobs  = flag.Int("jobs", 0, "how many jobs of each scenario are forecast; 0: a few")
	first = flag.Uint64("first-job", 1_000_000, "seed of the first job")
	stage = flag.Int("stage", 0, "only the stage at so many % of the job")
	only  = flag.String("scenario", "", "only scenarios whose names hold this, or one of several with | between them")
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
		with("zones ±15 %, coats alike", func(s *scenario) { s.zoneSpread, s.zonesAlike = 0.15, true }),
		with("thick 0-12 %, loss 4 %", func(s *scenario) { s.thickUp = 0.12 }),
		with("thick 0-12 %, loss 8 %",
			func(s *scenario) { s.thickUp, s.loss, s.wasteLow, s.wasteUp = 0.12, 0.08, 0.08, 0.08 }),
		with("thin 0-10 %", func(s *scenario) { s.thickLow, s.thickUp = -0.10, 0 }),
		with("all together, coats shared", func(s *scenario) { all(s); s.shared = true }),
		with("all together, own zones", all),
		with("all together, one crew", func(s *scenario) { all(s); s.crews = 1 }),
		with("640 batches", func(s *scenario) { all(s); s.batches, s.zones = 640, 48 }),
		with("four coats", func(s *scenario) { all(s); s.batches, s.zones, s.coats, s.shared = 26, 4, 1, true }),
		with("one coat", func(s *scenario) { all(s); s.batches, s.zones, s.coats, s.crews = 10, 1, 1, 1 }),
		with("one coat, gauges",
			func(s *scenario) { all(s); s.batches, s.zones, s.coats, s.crews, s.gauges = 10, 1, 1, 1, 1 }),
		with("gauges in a third", func(s *scenario) { all(s); s.gauges = 1. / 3; s.shared = true }),
		with("mix revised", func(s *scenario) { all(s); s.revised, s.shared = true, true }),
		with("skewed (gamma)", func(s *scenario) { all(s); s.skewed = true }),
		with("crews ±4 % apart", func(s *scenario) { all(s); s.crewSpread = 0.04 }),
		with("nothing weighed", func(s *scenario) { all(s); s.unweighed = true }),
		with("uneven pace", func(s *scenario) { all(s); s.uneven = true }),
		with("640, Sundays off", func(s *scenario) { all(s); s.batches, s.zones, s.sundays = 640, 48, true }),
		with("640, Sundays off, untold",
			func(s *scenario) { all(s); s.batches, s.zones, s.sundays, s.silent = 640, 48, true, true }),
		with("own zones, untold", func(s *scenario) { all(s); s.silent = true }),
		with("two mixes left at once", func(s *scenario) { all(s); s.mixes = 2 }),
		with("two mixes left at once, rests discarded", func(s *scenario) { all(s); s.mixes, s.discards = 2, true }),
		with("inner and outer together", func(s *scenario) { all(s); s.coatSpread, s.zoneShare = 0.08, 1 }),
		with("hours forbidden", func(s *scenario) { all(s); s.rain = true }),
		with("sand runs out", func(s *scenario) { all(s); s.stock = 0.85 }),
		with("other yields, three coats", func(s *scenario) {
			s.zones, s.coats, s.batches, s.loss, s.wasteLow, s.wasteUp = 7, 3, 110, 0.07, 0.04, 0.10
			s.thickLow, s.thickUp, s.coatSpread, s.zoneShare, s.skewed, s.scatter, s.mixOff = -0.04, 0.08, 0.045, 0.4,
				true, 0.08, 0.04
		}),
		with("thinner from 45 % on, untold", func(s *scenario) { all(s); s.changed = -0.05 }),
		with("thinner from 45 % on, told", func(s *scenario) { all(s); s.changed, s.told = -0.05, true }),
	}
}

var stages = []float64{0.10, 0.20, 0.50, 0.80, 0.95}

// tally is how often intervals held.
type tally struct {
	jobs, c50, c80, c90, one float64
	width, off, left         float64
	bias                     float64 // the middle less the truth, signed
	below, above             float64 // how often the truth lay below and above the central 90 %
	nominal, student         float64 // errors of the baselines
	ended                    float64 // jobs on which the material runs out, and is said to
}

// count scores a count, the step that crosses an end shared out at random (Czado, Gneiting and Held 2009, from memory).
func (t *tally) count(r *rand.Rand, cum func(n int) float64, low, mid, high int, truth int) {
	u := cum(truth-1) + r.Float64()*(cum(truth)-cum(truth-1))
	t.pit(u)
	t.width += float64(high - low)
	t.off += math.Abs(float64(mid - truth))
	t.bias += float64(mid - truth)
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
	if u < 0.05 {
		t.below++
	}
	if u > 0.95 {
		t.above++
	}
}

func cumulative(of []ahead.Count) func(n int) float64 {
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
		return fmt.Sprintf("%.0f/%.0f/%.0f·%.0f·%.0f h·%.1f", t.c50/n, t.c80/n, t.c90/n, t.one/n, t.width/t.jobs,
			t.off/t.jobs)
	}
	return fmt.Sprintf("%.0f/%.0f/%.0f·%.0f·%.0f·%.1f(%.1f,%.1f)", t.c50/n, t.c80/n, t.c90/n, t.one/n,
		100*t.width/max(t.left, 1), 100*t.off/max(t.left, 1), 100*t.nominal/max(t.left, 1),
		100*t.student/max(t.left, 1))
}

// scores of one scenario at one stage.
type scores struct{ batches, mix, bags, finish, tomorrow, out tally }

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
	v := ahead.ForecastOf(rec.site, now, time.UTC)
	if *verbose {
		f := func(t *time.Time) string { return t.Format("02 15:04") }
		fmt.Printf("%s %.0f%% now %s left %d forecast %+v finish %s..%s..%s truth %s\n", t.name, 100*share, f(&now),
			left, v.Batches, f(v.Finish.P05), f(v.Finish.P50), f(v.Finish.P95), f(&t.ended))
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
		for _, b := range m.Bags {
			into.bags.amounts(b, float64(byMix[m.Mix])*cement/cementBag)
		}
	}
	t.scoreFinish(v, &into.finish)
	t.scoreOut(v, now, &into.out)
	day := 0
	for _, s := range lefts {
		if s.at.Format(time.DateOnly) == v.Tomorrow.Date {
			day++
		}
	}
	if len(v.Tomorrow.Chances) > 0 {
		into.tomorrow.count(r, cumulative(v.Tomorrow.Chances), int(*v.Tomorrow.P05), int(*v.Tomorrow.P50),
			int(*v.Tomorrow.P95), day)
	}
}

// amounts scores bags of a mix. They come by whole batches, so a stated range is met by more than the chance that it
// states.
func (t *tally) amounts(b ahead.MixBags, truth float64) {
	in := func(low, high float64) float64 {
		if low-1e-6 <= truth && truth <= high+1e-6 {
			return 1
		}
		return 0
	}
	t.jobs++
	t.c50, t.c80, t.c90 = t.c50+in(b.P25, b.P75), t.c80+in(b.P10, b.P90), t.c90+in(b.P05, b.P95)
	t.one += in(0, b.P90)
	t.width, t.off, t.left = t.width+b.P95-b.P05, t.off+math.Abs(b.P50-truth), t.left+truth
}

// scoreOut scores when the sand is at its end. A job on which it does not run out has the end of all time for that
// instant, and so has a quantile that the view leaves out.
func (t *truth) scoreOut(v ahead.Forecast, now time.Time, into *tally) {
	if t.stock <= 0 || !t.sandAt.IsZero() && !t.sandAt.After(now) {
		return
	}
	never := now.AddDate(10, 0, 0)
	at := func(of *time.Time) time.Time {
		if of == nil {
			return never
		}
		return *of
	}
	truth := never
	if !t.sandAt.IsZero() {
		truth = t.sandAt
	}
	for _, m := range v.Materials {
		if m.Material != "sand" || v.Pace == nil {
			continue
		}
		in := func(low, high *time.Time) float64 {
			if truth.Before(at(low).Add(-time.Minute)) || truth.After(at(high)) {
				return 0
			}
			return 1
		}
		into.jobs++
		into.c80, into.c90 = into.c80+in(m.RunsOut10, m.RunsOut90), into.c90+in(m.RunsOut05, m.RunsOut95)
		into.one += in(&now, m.RunsOut90)
		if m.RunsOut05 != nil && m.RunsOut95 != nil && m.RunsOut50 != nil && !truth.Equal(never) {
			into.ended++
			into.width += m.RunsOut95.Sub(*m.RunsOut05).Hours()
			into.off += math.Abs(m.RunsOut50.Sub(truth).Hours())
		}
	}
}

// outCell says how often the instant at which the sand runs out lay in the central 80 and 90 %, and by the nine in ten.
func (t *tally) outCell() string {
	if t.jobs == 0 {
		return "-"
	}
	n := t.jobs / 100
	return fmt.Sprintf("-/%.0f/%.0f·%.0f·%.0f h·%.1f", t.c80/n, t.c90/n, t.one/n, t.width/max(t.ended, 1),
		t.off/max(t.ended, 1))
}

func (t *truth) scoreFinish(v ahead.Forecast, into *tally) {
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

// baselines that the forecast is held against: design volume over nominal yield, and the batches that finished coats
// used for each of their design's, times the design's left.
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

// reference is how wide the central 90 % of batches was, in % of what is left, where the model was first studied, on
// jobs drawn by another generator.
var reference = map[string][]float64{
	"only yields": {16, 8, 5, 6, 11}, "waste 2-6 %": {16, 8, 5, 6, 11}, "zones ±15 %": {19, 16, 14, 18, 36},
	"thick 0-12 %, loss 4 %": {15, 9, 5, 7, 13}, "thick 0-12 %, loss 8 %": {16, 9, 5, 7, 13},
	"thin 0-10 %":                {18, 10, 6, 7, 13},
	"all together, coats shared": {16, 10, 7, 8, 19}, "all together, own zones": {16, 10, 7, 8, 15},
	"640 batches": {15, 9, 6, 6, 14},
	"four coats":  {26, 29, 33, 37, 86}, "one coat": {32, 36, 58, 137, 450},
	"gauges in a third": {12, 9, 7, 8, 18}, "skewed (gamma)": {16, 10, 7, 9, 21},
	"crews ±4 % apart": {16, 11, 8, 10, 19},
	"nothing weighed":  {16, 10, 7, 8, 20},
}

// forCI are the scenarios of the short form, and from which stage on.
var forCI = []string{"zones ±15 %", "thin 0-10 %", "all together, coats shared", "all together, own zones"}

// TestKeepsItsWord forecasts invented jobs with known ends, through the real fold and view, and counts how often what
// was stated held. With -jobs it does so for every scenario and prints the table; without, for a few jobs of four.
func TestKeepsItsWord(t *testing.T) {
	n := *jobs
	if n == 0 {
		n = 24
		if testing.Short() {
			n = 8
		}
	}
	t.Log(
		"stages 10, 20, 50, 80, 95 %: central 50/80/90 % held · one-sided 90 % · width of the 90 % in % of what is left · " +
			"mean error in % (of design over nominal yield, of finished coats' ratio); finish: width and error in hours")
	var all scores
	var named []string
	for _, s := range scenarios() {
		if !wanted(s.name) || *jobs == 0 && !slices.Contains(forCI, s.name) {
			continue
		}
		cells := s.measure(n, &all)
		if *jobs > 0 {
			fmt.Print(s.rows(cells))
			named = append(named, s.misses(cells)...)
		}
		s.hold(t, cells, n)
	}
	for _, miss := range named {
		fmt.Println(miss)
	}
	if *only == "" {
		t.Logf("all scenarios and stages: batches %s, finish %s, tomorrow %s", all.batches.cell(false),
			all.finish.cell(true), all.tomorrow.cell(false))
		atLeast(t, "the central 90 % of batches, all jobs", all.batches.c90, all.batches.jobs, 0.865)
		atLeast(t, "the central 90 % of the finish, all jobs", all.finish.c90, all.finish.jobs, 0.85)
	}
}

// wanted tells whether a scenario was asked for.
func wanted(name string) bool {
	return slices.ContainsFunc(strings.Split(*only, "|"),
		func(part string) bool { return strings.Contains(name, part) })
}

// measure forecasts n jobs at each stage.
func (s scenario) measure(n int, all *scores) []scores {
	cells := make([]scores, len(stages))
	for k := range n {
		job := s.invent(*first + uint64(k))
		rec := job.record()
		r := rand.New(rand.NewPCG(uint64(k), 99))
		for i, share := range stages {
			if *jobs == 0 && i == 0 || *stage > 0 && math.Abs(100*share-float64(*stage)) > 0.5 {
				continue
			}
			job.stage(rec, share, r, &cells[i])
		}
	}
	for i := range cells {
		all.batches.add(cells[i].batches)
		all.finish.add(cells[i].finish)
		all.tomorrow.add(cells[i].tomorrow)
	}
	return cells
}

func (s scenario) rows(cells []scores) string {
	var table strings.Builder
	for _, row := range []struct {
		what string
		of   func(c *scores) string
	}{
		{"batches", func(c *scores) string { return c.batches.cell(false) }},
		{"each mix", func(c *scores) string { return c.mix.cell(false) }},
		{"bags", func(c *scores) string { return c.bags.cell(false) }},
		{"finish", func(c *scores) string { return c.finish.cell(true) }},
		{"tomorrow", func(c *scores) string { return c.tomorrow.cell(false) }},
		{"sand out", func(c *scores) string { return c.out.outCell() }},
	} {
		if s.mixes < 2 && (row.what == "each mix" || row.what == "bags") || s.stock <= 0 && row.what == "sand out" {
			continue
		}
		fmt.Fprintf(&table, "%-28s|%-8s", s.name, row.what)
		for i := range cells {
			fmt.Fprintf(&table, "|%-30s", row.of(&cells[i]))
		}
		table.WriteString("\n")
	}
	return table.String()
}

// misses are what the table shows to be outside of what is wanted, to the letter: no allowance is made for chance.
func (s scenario) misses(cells []scores) (all []string) {
	for i := range cells {
		c := &cells[i]
		b := &c.batches
		miss := func(form string, values ...any) {
			all = append(all, fmt.Sprintf("miss: %s at %.0f %%: ", s.name, 100*stages[i])+fmt.Sprintf(form, values...))
		}
		if b.jobs == 0 {
			continue
		}
		if held := 100 * b.c90 / b.jobs; held < 86 {
			miss("central 90 %% of batches held %.1f %%, wanted 86", held)
		} else if held > 97 && stages[i] >= 0.5 && s.zones*s.coats >= 10 {
			miss("central 90 %% of batches held %.1f %%, wanted 97 at most", held)
		}
		if held := 100 * c.finish.c90 / max(c.finish.jobs, 1); c.finish.jobs > 0 && held < 84 {
			miss("central 90 %% of the finish held %.1f %%, wanted 84", held)
		}
		// the reference is in whole per cent
		if ref, width := reference[s.name], 100*b.width/b.left; ref != nil && width > 1.1*ref[i]+0.5 {
			miss("central 90 %% of batches is %.1f %% wide, the reference %.0f", width, ref[i])
		}
		if off, best := b.off/b.left, min(b.nominal, b.student)/b.left; off > best {
			miss("mean error %.2f %%, of the better baseline %.2f", 100*off, 100*best)
		}
		for what, of := range map[string]*tally{
			"each mix": &c.mix, "bags of each mix": &c.bags, "the sand's end": &c.out,
		} {
			if held := 100 * of.c90 / max(of.jobs, 1); of.jobs > 0 && held < 86 {
				miss("central 90 %% of %s held %.1f %%, wanted 86", what, held)
			}
		}
	}
	return all
}

// hold is what is wanted of each scenario and stage, as far as so many jobs can tell: three standard errors are left
// for chance.
func (s scenario) hold(t *testing.T, cells []scores, n int) {
	t.Helper()
	for i := range cells {
		if cells[i].batches.jobs == 0 {
			continue
		}
		// before a change, and after one that nobody tells, nothing can help
		if s.changed != 0 && (!s.told || stages[i] < 0.45) {
			continue
		}
		at := fmt.Sprintf("%s at %.0f %%: ", s.name, 100*stages[i])
		atLeast(t, at+"the central 90 % of batches", cells[i].batches.c90, cells[i].batches.jobs, 0.86)
		atLeast(t, at+"the central 90 % of the finish", cells[i].finish.c90, cells[i].finish.jobs, 0.84)
		if ref := reference[s.name]; ref != nil {
			c := cells[i].batches
			limit := 1.1*ref[i] + 1 + 30/math.Sqrt(float64(n))*ref[i]/100
			if i == len(stages)-1 { // some eight batches are left, and whole batches are coarse steps
				limit *= 1.3
			}
			if width := 100 * c.width / c.left; width > limit {
				t.Errorf("%sthe central 90 %% of batches is %.1f %% of what is left wide, the reference %.0f %%", at,
					width, ref[i])
			}
		}
	}
}

func atLeast(t *testing.T, what string, held, of, want float64) {
	t.Helper()
	if of == 0 {
		return
	}
	if held/of < want-3*math.Sqrt(want*(1-want)/of) {
		t.Errorf("%s held %.1f %% of %.0f times, want %.0f %%", what, 100*held/of, of, 100*want)
	}
}

func (t *tally) add(o tally) {
	t.jobs, t.c50, t.c80, t.c90, t.one = t.jobs+o.jobs, t.c50+o.c50, t.c80+o.c80, t.c90+o.c90, t.one+o.one
	t.width, t.off, t.left, t.nominal, t.student = t.width+o.width, t.off+o.off, t.left+o.left, t.nominal+o.nominal,
		t.student+o.student
}
