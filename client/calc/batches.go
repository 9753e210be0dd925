package calc

import (
	"bytes"
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/renewal"
	"hod/internal/unit"
)

// calcBatches is how many batches a volume takes.
type calcBatches struct {
	volume, mean, sd, yields       string
	good, goodShare, goodOf, worth string
	confidence, design             string
}

type batchesDoc struct {
	Mean         float64    `json:"mean"`
	SD           float64    `json:"sd"`
	P50          int        `json:"p50"`
	P90          int        `json:"p90"`
	Distribution cumulative `json:"distribution"` // count → probability that so many suffice
	YieldMean    *float64   `json:"yield_mean_m3,omitempty"`
	YieldSD      *float64   `json:"yield_sd_m3,omitempty"`
	StudentP50   *int       `json:"student_p50,omitempty"` // where the yields are few: their mean is uncertain too
	StudentP90   *int       `json:"student_p90,omitempty"`
	// the mean for a large volume, whatever the shape of the yields
	ByRenewal  *float64    `json:"mean_by_renewal,omitempty"`
	YieldRange []float64   `json:"yield_confidence_m3,omitempty"` // low and high of the mean yield
	NextRange  []float64   `json:"yield_prediction_m3,omitempty"` // low and high of one more batch
	GoodShare  *float64    `json:"good_share,omitempty"`
	MixP50     *int        `json:"mix_p50,omitempty"` // to mix, where some turn out not good
	MixP90     *int        `json:"mix_p90,omitempty"`
	MixMean    *float64    `json:"mix_mean,omitempty"`
	Mix        *cumulative `json:"mix_distribution,omitempty"`
	sheet.Sheet
}

// cumulative is a distribution as a JSON object whose keys are counts, in order.
type cumulative struct{ renewal.Distribution }

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

func newCalcBatches(env *terminal.Streams) *cobra.Command {
	var q calcBatches
	c := env.NewCommand("batches", "How many batches a volume takes, as a distribution",
		`hod calc batches --volume 125ft3 --mean 2.77ft3 --sd 0.08ft3`,
		`hod calc batches --volume 3.5m3 --yields weighed.csv`, `hod calc batches --good 20 --good-share 95%`,
		`hod calc batches --volume 3.5m3 --yields weighed.csv --good-of 38/40`)
	c.Long = "The file of yields has one column: litres, m3 or ft3. Each batch to come is then one of those weighed, with the same\n" +
		"chance; what the mean itself may be off by is added as the second pair of figures. --good-share, or --good-of from the\n" +
		"record, gives the batches to mix where some are discarded; given together, the share counts as --worth batches of record."
	f := c.Flags()
	f.StringVar(&q.volume, "volume", "", "the mortar needed, loss counted")
	f.StringVar(&q.mean, "mean", "", "mean yield of a batch")
	f.StringVar(&q.sd, "sd", "", "its standard deviation from batch to batch")
	f.StringVar(&q.yields, "yields", "", "CSV file of yields that were weighed")
	f.StringVar(&q.design, "design-yield", "", "yield by the mix design, as a start where few were weighed or none")
	f.StringVar(&q.good, "good", "", "how many good batches are needed, in place of --volume")
	f.StringVar(&q.goodShare, "good-share", "", "share of the batches mixed that turn out good: 95%")
	f.StringVar(&q.goodOf, "good-of", "", "good batches among those mixed so far: 38/40")
	f.StringVar(&q.worth, "worth", "", "how many batches of record --good-share counts as, beside --good-of")
	f.StringVar(&q.confidence, "confidence", "95%", "of the ranges of the yield, with --yields")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcBatches) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if err := s.OneOf(sheet.FlagText{Flag: "volume", Text: q.volume},
		sheet.FlagText{Flag: "good", Text: q.good}); err != nil {
		return err
	}
	if err := s.OneOf(sheet.FlagText{Flag: "yields", Text: q.yields},
		sheet.FlagText{Flag: "mean", Text: q.mean}); err != nil {
		return err
	}
	if err := s.OneOf(sheet.FlagText{Flag: "yields", Text: q.yields},
		sheet.FlagText{Flag: "sd", Text: q.sd}); err != nil {
		return err
	}
	if err := s.OneOf(sheet.FlagText{Flag: "design-yield", Text: q.design},
		sheet.FlagText{Flag: "mean", Text: q.mean}); err != nil {
		return err
	}
	var doc batchesDoc
	var d renewal.Distribution
	var err error
	if q.good != "" {
		d, err = q.forGood(s, &doc)
	} else {
		d, err = q.forVolume(env, s, &doc)
	}
	if err != nil {
		return err
	}
	doc.Mean, doc.SD, doc.P50, doc.P90, doc.Distribution = d.Mean(), d.SD(), d.P50(), d.P90(), cumulative{d}
	s.Figures = append([]sheet.Figure{
		{Name: "batches, 50 %", Text: strconv.Itoa(doc.P50)},
		{Name: "batches, 90 %", Text: strconv.Itoa(doc.P90)},
		{Name: "mean", Text: sheet.Decimal(doc.Mean, 5) + " ± " + sheet.Decimal(doc.SD, 3)},
	}, s.Figures...)
	if q.good == "" && (q.goodShare != "" || q.goodOf != "") {
		if err := q.mixed(s, d, &doc); err != nil {
			return err
		}
	}
	shown := 0
	for n, p := range doc.Distribution.telling() {
		if p < 0.001 { // of interest to a script at most
			continue
		}
		if shown++; shown > 20 {
			s.Figuref("…", "the rest is in --json")
			break
		}
		if p >= 0.9995 {
			s.Figuref(strconv.Itoa(n), "suffice, to more than 99.9 %%")
			break
		}
		s.Figuref(strconv.Itoa(n), "suffice with %s %%", sheet.Decimal(p*100, 3))
	}
	doc.Sheet = *s
	return s.Print(env, "batches", doc)
}

func (q calcBatches) forVolume(env *terminal.Streams, s *sheet.Sheet, doc *batchesDoc) (renewal.Distribution, error) {
	volume, err := sheet.Asked(s, "volume", q.volume, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return renewal.Distribution{}, err
	}
	if volume <= 0 {
		return renewal.Distribution{}, terminal.Usagef("--volume: %q is nothing to place; give one above 0",
			terminal.Safe(q.volume))
	}
	var d renewal.Distribution
	switch {
	case q.yields == "" && q.mean == "" && q.design != "":
		d, err = q.designed(s, volume, doc)
	case q.yields != "":
		d, err = q.weighed(env, s, volume, doc)
	default:
		d, err = q.normal(s, volume, doc)
	}
	if err != nil {
		return d, err
	}
	mean, err := renewal.MeanBatches(unit.Volume(*doc.YieldMean), unit.Volume(*doc.YieldSD), volume)
	if err != nil {
		return d, terminal.AsUsage(err)
	}
	doc.ByRenewal = &mean
	s.Figuref("mean, large volume", "%s", sheet.Decimal(mean, 5))
	s.By("mean of many batches = V/µ + (σ² + µ²)/(2 µ²)",
		"renewal theory, first two terms; whatever the shape of the yields")
	return d, nil
}

// forGood is how many to mix until so many are good.
func (q calcBatches) forGood(s *sheet.Sheet, doc *batchesDoc) (renewal.Distribution, error) {
	var d renewal.Distribution
	if q.mean != "" || q.sd != "" || q.yields != "" || q.design != "" {
		return d,
			terminal.Usagef(
				"--good counts batches, and --mean, --sd, --yields and --design-yield measure a --volume by them; give one or the other")
	}
	good, err := strconv.Atoi(strings.TrimSpace(q.good))
	if err != nil || good < 1 {
		return d, terminal.Usagef("--good: %q is not how many batches; give a whole number above 0",
			terminal.Safe(q.good))
	}
	s.Understood("good", q.good, float64(good), "batches", terminal.Plural(good, "good batch", "good batches"))
	share, err := q.share(s)
	if err != nil {
		return d, err
	}
	doc.GoodShare = &share
	if d, err = renewal.BatchesForGood(good, unit.Share(share)); err != nil {
		return d, sheet.FlagErr("good-share", err)
	}
	s.By("P(N ≤ n) = P(at least that many of n are good)",
		"negative binomial; each batch is good or not whatever became of the others")
	return d, nil
}

// mixed is how many to mix for the good ones that a volume takes.
func (q calcBatches) mixed(s *sheet.Sheet, d renewal.Distribution, doc *batchesDoc) error {
	share, err := q.share(s)
	if err != nil {
		return err
	}
	m, err := d.Mixed(unit.Share(share))
	if err != nil {
		return sheet.FlagErr("good-share", err)
	}
	p50, p90, mean := m.P50(), m.P90(), m.Mean()
	doc.GoodShare, doc.MixP50, doc.MixP90, doc.MixMean, doc.Mix = &share, &p50, &p90, &mean, &cumulative{m}
	s.Figuref("to mix", "%d (50 %%), %d (90 %%), where %s of them turn out good", p50, p90,
		unit.Metric.Share(unit.Share(share)))
	s.By("P(N ≤ n) = Σ P(need = g) P(at least g of n are good)", "negative binomial over the batches needed")
	return nil
}

// share of the batches mixed that turn out good: as said, as the record has it, or both together.
func (q calcBatches) share(s *sheet.Sheet) (float64, error) {
	said, err := sheet.AskedIfGiven(s, "good-share", q.goodShare, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return 0, err
	}
	if q.worth != "" && (q.goodOf == "" || q.goodShare == "") {
		return 0, terminal.Usagef("--worth weighs --good-share against --good-of; give both")
	}
	if q.goodOf == "" {
		if said == nil {
			return 0, s.Missing("good-share", "good-of")
		}
		return float64(*said), nil
	}
	over, under, _ := strings.Cut(q.goodOf, "/")
	good, errGood := strconv.Atoi(strings.TrimSpace(over))
	mixed, errMixed := strconv.Atoi(strings.TrimSpace(under))
	if errGood != nil || errMixed != nil {
		return 0, terminal.Usagef("--good-of: %q is not good batches among those mixed; it looks like 38/40",
			terminal.Safe(q.goodOf))
	}
	s.Noted("good-of", q.goodOf)
	prior, weight := unit.Share(0), 0.0
	if said != nil {
		if q.worth == "" {
			return 0,
				terminal.Usagef(
					"--good-share and --good-of are weighed against each other by --worth: how many batches of record the share counts as")
		}
		if weight, err = s.AskedNumber("worth", q.worth); err != nil {
			return 0, err
		}
		prior = *said
	}
	share, err := renewal.GoodShare(prior, weight, good, mixed)
	if err != nil {
		return 0, sheet.FlagErr("good-of", err)
	}
	if share < 0.01 && said == nil {
		return 0,
			terminal.Usagef(
				"--good-of: %q: with so few good batches no number of them can be told; at least one in a hundred is good", terminal.Safe(q.goodOf))
	}
	s.Figuref("share that is good", "%s", unit.Metric.Share(share))
	s.By("share = (said × worth + good) / (worth + mixed)",
		"mean of a beta posterior; without --good-share the plain ratio")
	return float64(share), nil
}

func (q calcBatches) normal(s *sheet.Sheet, volume unit.Volume, doc *batchesDoc) (renewal.Distribution, error) {
	if q.mean == "" {
		return renewal.Distribution{}, s.Missing("mean", "yields", "design-yield")
	}
	mean, err := sheet.Asked(s, "mean", q.mean, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return renewal.Distribution{}, err
	}
	sd, err := sheet.Asked(s, "sd", q.sd, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return renewal.Distribution{}, err
	}
	yieldMean, yieldSD := float64(mean), float64(sd)
	doc.YieldMean, doc.YieldSD = &yieldMean, &yieldSD
	d, err := renewal.BatchesNormal(mean, sd, volume)
	s.By("P(N ≤ n) = Φ((n mean − volume)/(sd √n))", "sum of n normal yields, exact")
	return d, terminal.AsUsage(err)
}

func (q calcBatches) weighed(env *terminal.Streams, s *sheet.Sheet, volume unit.Volume,
	doc *batchesDoc,
) (renewal.Distribution, error) {
	var d renewal.Distribution
	rows, found, err := sheet.ReadColumns(env, "yields", q.yields,
		[]string{"litres", "liters", "l", "m3", "ft3", "yield_litres", "yield_l", "yield_m3", "yield_ft3"})
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
	s.Noted("yields", q.yields+": "+terminal.Plural(len(rows), "batch", "batches"))
	sample, err := renewal.Describe(plain)
	if err != nil {
		return d, sheet.FlagErr("yields", err)
	}
	doc.YieldMean, doc.YieldSD = &sample.Mean, &sample.SD
	if d, err = renewal.BatchesEmpirical(yields, volume); err != nil {
		return d, sheet.FlagErr("yields", err)
	}
	s.Figuref("mean yield", "%s ± %s", sheet.Both(unit.Volume(sample.Mean), unit.System.Volume),
		unit.Metric.Volume(unit.Volume(sample.SD)))
	s.By("renewal sum of the yields weighed, convolved batch by batch", "renewal theory; no shape assumed")
	if len(yields) < 2 && q.design == "" {
		s.Warnf("one yield says nothing of how batches differ: the counts are surer than they should be")
		return d, nil
	}
	known, err := q.learned(s, yields)
	if err != nil {
		return d, sheet.FlagErr("yields", err)
	}
	if err := q.ranges(s, known, doc); err != nil {
		return d, err
	}
	student, err := renewal.Batches(known, volume)
	if err != nil {
		return d, sheet.FlagErr("yields", err)
	}
	p50, p90 := student.P50(), student.P90()
	doc.StudentP50, doc.StudentP90 = &p50, &p90
	s.Figuref("with the mean uncertain", "%d (50 %%), %d (90 %%)", p50, p90)
	s.By("Student about n mean with squared scale n + n²/weight",
		"conjugate normal posterior of the yields weighed"+q.start())
	if len(yields) < 8 {
		s.Warnf("%d yields are few: go by the second pair of figures", len(yields))
	}
	return d, nil
}

// start says what the yields are learned upon.
func (q calcBatches) start() string {
	if q.design == "" {
		return ", no prior"
	}
	return "; the design counts as two batches 5 % apart (a choice of this program)"
}

// learned is what is known of the yield: from those weighed, upon the design where that is said.
func (q calcBatches) learned(s *sheet.Sheet, yields []unit.Volume) (renewal.Posterior, error) {
	design, err := sheet.AskedIfGiven(s, "design-yield", q.design, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return renewal.Posterior{}, err
	}
	prior := renewal.Prior{}
	if design != nil {
		prior = renewal.DesignPrior(*design)
	}
	known, err := renewal.Learn(prior, yields)
	return known, terminal.AsUsage(err)
}

// designed is the count where nothing was weighed yet.
func (q calcBatches) designed(s *sheet.Sheet, volume unit.Volume, doc *batchesDoc) (renewal.Distribution, error) {
	if q.sd != "" {
		return renewal.Distribution{}, terminal.Usagef("--sd goes with --mean")
	}
	known, err := q.learned(s, nil)
	if err != nil {
		return renewal.Distribution{}, sheet.FlagErr("design-yield", err)
	}
	mean, scale := float64(known.Mean), float64(known.Scale)
	doc.YieldMean, doc.YieldSD = &mean, &scale
	if err := q.ranges(s, known, doc); err != nil {
		return renewal.Distribution{}, err
	}
	s.By("Student about n mean with squared scale n + n²/weight", "nothing weighed"+q.start())
	s.Warnf("nothing was weighed: the count rests on the design alone")
	d, err := renewal.Batches(known, volume)
	return d, terminal.AsUsage(err)
}

// ranges are those of the mean yield and of one more batch.
func (q calcBatches) ranges(s *sheet.Sheet, known renewal.Posterior, doc *batchesDoc) error {
	confidence, err := sheet.Asked(s, "confidence", q.confidence, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return err
	}
	low, high, err := known.LongRun(float64(confidence))
	if err != nil {
		return sheet.FlagErr("confidence", err)
	}
	nextLow, nextHigh, err := known.Next(float64(confidence))
	if err != nil {
		return sheet.FlagErr("confidence", err)
	}
	doc.YieldRange, doc.NextRange = []float64{float64(low), float64(high)},
		[]float64{float64(nextLow), float64(nextHigh)}
	volume := func(v unit.Volume) string { return sheet.Both(v, unit.System.Volume) }
	s.Figuref("mean yield lies in", "%s to %s", volume(low), volume(high))
	s.Figuref("one more batch in", "%s to %s", volume(nextLow), volume(nextHigh))
	s.By("mean ± t s/√w; one more: mean ± t s √(1 + 1/w), w the batches that the mean rests on",
		"Student; without a design n weighed batches give w = n and n − 1 degrees of freedom")
	return nil
}
