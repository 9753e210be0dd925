package cli

import (
	"bytes"
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	forecasts "hod/internal/forecast"
	"hod/internal/unit"
)

// calcBatches is how many batches a volume takes.
type calcBatches struct{ volume, mean, sd, yields string }

type batchesDoc struct {
	Mean         float64    `json:"mean"`
	SD           float64    `json:"sd"`
	P50          int        `json:"p50"`
	P90          int        `json:"p90"`
	Distribution cumulative `json:"distribution"` // count → probability that so many suffice
	YieldMean    float64    `json:"yield_mean_m3"`
	YieldSD      float64    `json:"yield_sd_m3"`
	StudentP50   *int       `json:"student_p50,omitempty"` // where the yields are few: their mean is uncertain too
	StudentP90   *int       `json:"student_p90,omitempty"`
	calcSheet
}

// cumulative is a distribution as a JSON object whose keys are counts, in order.
type cumulative struct{ forecasts.Distribution }

// MarshalJSON writes {"44":0.02,"45":0.51}; what is less likely than one in a million at either end is left out.
func (c cumulative) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for n, p := range c.telling() {
		if b.Len() > 1 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `"%d":%s`, n, strconv.FormatFloat(p, 'g', -1, 64))
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// telling goes through the counts that matter, up to the first that is as good as certain.
func (c cumulative) telling() func(func(int, float64) bool) {
	return func(yield func(int, float64) bool) {
		for n, p := range c.All() {
			if p < 1e-6 && n != c.Last() {
				continue
			}
			if !yield(n, p) || p > 1-1e-6 {
				return
			}
		}
	}
}

func newCalcBatches(env *Env) *cobra.Command {
	var q calcBatches
	c := env.command("batches", "How many batches a volume takes, as a distribution", `hod calc batches --volume 125ft3 --mean 2.77ft3 --sd 0.08ft3`,
		`hod calc batches --volume 3.5m3 --yields weighed.csv`)
	c.Long = "The file of yields has one column: litres, m3 or ft3. Each batch to come is then one of those weighed, with the same\n" +
		"chance; what the mean itself may be off by is added as the second pair of figures."
	f := c.Flags()
	f.StringVar(&q.volume, "volume", "", "the mortar needed, loss counted")
	f.StringVar(&q.mean, "mean", "", "mean yield of a batch")
	f.StringVar(&q.sd, "sd", "", "its standard deviation from batch to batch")
	f.StringVar(&q.yields, "yields", "", "CSV file of yields that were weighed")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcBatches) run(_ context.Context, env *Env, s *calcSheet) error {
	volume, err := asked(s, "volume", q.volume, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return err
	}
	if volume <= 0 {
		return usage("--volume: %q is nothing to place; give one above 0", safe(q.volume))
	}
	if err := s.together("yields", q.yields, "mean", q.mean); err != nil {
		return err
	}
	if err := s.together("yields", q.yields, "sd", q.sd); err != nil {
		return err
	}
	var doc batchesDoc
	var d forecasts.Distribution
	if q.yields != "" {
		d, err = q.weighed(env, s, volume, &doc)
	} else {
		d, err = q.normal(s, volume, &doc)
	}
	if err != nil {
		return err
	}
	doc.Mean, doc.SD, doc.P50, doc.P90, doc.Distribution = d.Mean(), d.SD(), d.P50(), d.P90(), cumulative{d}
	s.figures = append([]calcFigure{
		{"batches, 50 %", strconv.Itoa(doc.P50)},
		{"batches, 90 %", strconv.Itoa(doc.P90)},
		{"mean", decimal(doc.Mean, 5) + " ± " + decimal(doc.SD, 3)},
	}, s.figures...)
	shown := 0
	for n, p := range doc.Distribution.telling() {
		if shown++; shown > 20 {
			s.figure("…", "the rest is in --json")
			break
		}
		s.figure(strconv.Itoa(n), "suffice with %s %%", decimal(p*100, 4))
	}
	doc.calcSheet = *s
	return s.print(env, "batches", doc)
}

func (q calcBatches) normal(s *calcSheet, volume unit.Volume, doc *batchesDoc) (forecasts.Distribution, error) {
	if q.mean == "" {
		return forecasts.Distribution{}, s.missing("mean", "yields")
	}
	mean, err := asked(s, "mean", q.mean, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return forecasts.Distribution{}, err
	}
	sd, err := asked(s, "sd", q.sd, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return forecasts.Distribution{}, err
	}
	doc.YieldMean, doc.YieldSD = float64(mean), float64(sd)
	d, err := forecasts.BatchesNormal(mean, sd, volume)
	s.by("P(N ≤ n) = Φ((n mean − volume)/(sd √n))", "sum of n normal yields, exact")
	return d, impossible(err)
}

func (q calcBatches) weighed(env *Env, s *calcSheet, volume unit.Volume, doc *batchesDoc) (forecasts.Distribution, error) {
	var d forecasts.Distribution
	rows, found, err := env.readColumns("yields", q.yields, []string{"litres", "liters", "l", "m3", "ft3", "yield_litres", "yield_l", "yield_m3", "yield_ft3"})
	if err != nil {
		return d, err
	}
	one := unit.Litre
	switch name := strings.ToLower(found[0]); {
	case strings.HasSuffix(name, "m3"):
		one = 1
	case strings.HasSuffix(name, "ft3"):
		one = unit.CubicFoot
	}
	yields, plain := make([]unit.Volume, len(rows)), make([]float64, len(rows))
	for i, r := range rows {
		yields[i], plain[i] = unit.Volume(r[0])*one, r[0]*float64(one)
	}
	s.noted("yields", q.yields+": "+count(len(rows), "batch", "batches"))
	sample, err := forecasts.Describe(plain)
	if err != nil {
		return d, ofFlag("yields", err)
	}
	doc.YieldMean, doc.YieldSD = sample.Mean, sample.SD
	if d, err = forecasts.BatchesEmpirical(yields, volume); err != nil {
		return d, ofFlag("yields", err)
	}
	s.figure("mean yield", "%s ± %s", bothUnits(unit.Volume(sample.Mean), unit.System.Volume), unit.Metric.Volume(unit.Volume(sample.SD)))
	s.by("renewal sum of the yields weighed, convolved batch by batch", "renewal theory; no shape assumed")
	if len(yields) < 2 {
		s.warn("one yield says nothing of how batches differ: the counts are surer than they should be")
		return d, nil
	}
	known, err := forecasts.Learn(forecasts.Prior{}, yields)
	if err != nil {
		return d, ofFlag("yields", err)
	}
	student, err := forecasts.Batches(known, volume)
	if err != nil {
		return d, ofFlag("yields", err)
	}
	p50, p90 := student.P50(), student.P90()
	doc.StudentP50, doc.StudentP90 = &p50, &p90
	s.figure("with the mean uncertain", "%d (50 %%), %d (90 %%)", p50, p90)
	s.by("Student about n mean with squared scale n + n²/weight", "conjugate normal posterior of the yields weighed, no prior")
	if len(yields) < 8 {
		s.warn("%d yields are few: go by the second pair of figures", len(yields))
	}
	return d, nil
}
