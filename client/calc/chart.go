package calc

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/renewal"
	"hod/internal/unit"
)

// calcChart says whether measured values differ by more than batches of one mix do among themselves, and whether they
// drift.
type calcChart struct{ values, column, against, at, confidence string }

type chartDoc struct {
	Column     string    `json:"column"`
	N          int       `json:"n"`
	Mean       float64   `json:"mean"`
	SD         float64   `json:"sd"`
	Centre     float64   `json:"centre"`
	MeanRange  float64   `json:"mean_range"` // from one value to the next
	Sigma      float64   `json:"sigma"`
	Low        float64   `json:"low"`
	High       float64   `json:"high"`
	Outside    []beyond  `json:"outside"`
	Confidence []float64 `json:"confidence"` // low and high of the mean
	Prediction []float64 `json:"prediction"` // low and high of one more value
	Lag1       *float64  `json:"autocorrelation,omitempty"`
	Line       *lineDoc  `json:"line,omitempty"` // drift; needs three values
	sheet.Sheet
}

// beyond is a value outside the limits.
type beyond struct {
	Row   int     `json:"row"` // of the file, its first row of values being 1
	Value float64 `json:"value"`
}

type lineDoc struct {
	Intercept   float64   `json:"intercept"`
	Slope       float64   `json:"slope"`
	InterceptSE float64   `json:"intercept_se"`
	SlopeSE     float64   `json:"slope_se"`
	ResidualSD  float64   `json:"residual_sd"`
	R2          float64   `json:"r2"`
	At          float64   `json:"at"`
	Expected    float64   `json:"expected"`
	Prediction  []float64 `json:"prediction"` // low and high of one more value there
}

func newCalcChart(env *terminal.Streams) *cobra.Command {
	var q calcChart
	c := env.NewCommand("chart FILE", "Whether measured values stay within their own limits, or drift",
		"hod calc chart weighed.csv --column unit_weight_lb_ft3",
		"hod calc chart weighed.csv --column kg_m3 --against hours --at 8")
	c.Args = terminal.ExactArgs(1, "a CSV file with a column of values")
	c.Long = "The values stand in the order in which they were made: unit weights, yields, temperatures. The limits are those of\n" +
		"an individuals chart. A line through the values says whether they drift: by their order, or against another column."
	f := c.Flags()
	f.StringVar(&q.column, "column", "", "which column has the values; the first if not said")
	f.StringVar(&q.against, "against", "", "column for the line, as hours; the order of the rows if not said")
	f.StringVar(&q.at, "at", "", "where the line is read, in that column's unit; the next row if not said")
	f.StringVar(&q.confidence, "confidence", "95%", "of the ranges")
	c.RunE = func(c *cobra.Command, args []string) error {
		q.values = args[0]
		return q.run(c.Context(), env, sheet.New(c))
	}
	return c
}

func (q calcChart) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	x, y, column, err := q.read(env)
	if err != nil {
		return err
	}
	s.Noted("values", fmt.Sprintf("%s, column %s: %s", q.values, column, terminal.Plural(len(y), "value", "values")))
	confidence, err := sheet.Asked(s, "confidence", q.confidence, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return err
	}
	sample, err := renewal.Describe(y)
	if err != nil {
		return terminal.Usagef("%s: %v", terminal.Safe(q.values), err)
	}
	limits, err := renewal.IndividualsChart(y)
	if err != nil {
		return terminal.Usagef("%s: %v", terminal.Safe(q.values), err)
	}
	show := shownAs(column)
	doc := chartDoc{
		Column: column, N: sample.N, Mean: sample.Mean, SD: sample.SD, Centre: limits.Centre,
		MeanRange: limits.MeanRange,
		Sigma:     limits.Sigma, Low: limits.Low, High: limits.High,
	}
	s.Figuref("mean", "%s, standard deviation %s in the column's unit", show(sample.Mean), sheet.Decimal(sample.SD, 4))
	s.Figuref("limits", "%s to %s", show(limits.Low), show(limits.High))
	s.Figuref("sigma", "%s from a mean range of %s, in the column's unit", sheet.Decimal(limits.Sigma, 4),
		sheet.Decimal(limits.MeanRange, 4))
	s.By("limits = mean ± 3 × (mean range from one value to the next) / 1.128",
		"individuals chart; 1.128 is d2 of pairs")
	for i, v := range y {
		if v < limits.Low || v > limits.High {
			doc.Outside = append(doc.Outside, beyond{i + 1, v})
			s.Between("row "+strconv.Itoa(i+1), show(v)+", of limits "+show(limits.Low)+" to "+show(limits.High), true,
				"individuals chart")
		}
	}
	if len(doc.Outside) == 0 {
		s.Between("every value", "within the limits", false, "individuals chart")
	}
	if err := q.spread(s, sample, y, float64(confidence), show, &doc); err != nil {
		return err
	}
	if len(y) < 3 {
		if q.against != "" || q.at != "" {
			return terminal.Usagef("%s has %d values; a line needs at least three", terminal.Safe(q.values), len(y))
		}
		s.Warnf("two values have no line: a drift needs three")
	} else if err := q.line(s, x, y, float64(confidence), show, &doc); err != nil {
		return err
	}
	if len(y) < 8 {
		s.Warnf("%d values are few: the limits themselves are not sure", len(y))
	}
	doc.Sheet = *s
	return s.Print(env, "chart", doc)
}

// read gives the values, what the line is drawn against, and the column's name.
func (q calcChart) read(env *terminal.Streams) (x, y []float64, column string, err error) {
	column = q.column
	if column == "" {
		t, err := env.ReadTable(q.values)
		if err != nil {
			return nil, nil, "", err
		}
		column = t.Header[0]
		if q.against != "" && strings.EqualFold(column, q.against) && len(t.Header) > 1 {
			column = t.Header[1]
		}
		if q.values == "-" { // it can be read once
			return nil, nil, "", terminal.Usagef("say which column has the values with --column; the file has %s",
				sheet.QuoteAll(t.Header))
		}
	}
	names := [][]string{{column}}
	if q.against != "" {
		names = append(names, []string{q.against})
	}
	rows, found, err := sheet.ReadColumns(env, "column", q.values, names...)
	if err != nil {
		return nil, nil, "", err
	}
	for i, r := range rows {
		y = append(y, r[0])
		if q.against != "" {
			x = append(x, r[1])
		} else {
			x = append(x, float64(i+1))
		}
	}
	return x, y, found[0], nil
}

// shownAs shows a value in both systems where its column says in which unit it stands.
func shownAs(column string) func(float64) string {
	name := strings.ToLower(strings.TrimSpace(column))
	ends := func(units ...string) bool {
		for _, u := range units {
			if name == u || strings.HasSuffix(name, "_"+u) {
				return true
			}
		}
		return false
	}
	switch {
	case ends("kg_m3"):
		return func(v float64) string { return sheet.Both(unit.Density(v), unit.System.Density) }
	case ends("lb_ft3"):
		return func(v float64) string {
			return sheet.Both(unit.Density(v)*unit.PoundPerCubicFoot, unit.System.Density)
		}
	case ends("litres", "liters", "l"):
		return func(v float64) string { return sheet.Both(unit.Volume(v)*unit.Litre, unit.System.Volume) }
	case ends("m3"):
		return func(v float64) string { return sheet.Both(unit.Volume(v), unit.System.Volume) }
	case ends("ft3"):
		return func(v float64) string { return sheet.Both(unit.Volume(v)*unit.CubicFoot, unit.System.Volume) }
	case ends("mpa"):
		return func(v float64) string { return sheet.Both(unit.Pressure(v)*unit.Megapascal, unit.System.Pressure) }
	case ends("psi"):
		return func(v float64) string { return sheet.Both(unit.Pressure(v)*unit.PSI, unit.System.Pressure) }
	case ends("c"):
		return func(v float64) string { return sheet.Both(unit.Celsius(v), unit.System.Temperature) }
	case ends("f"):
		return func(v float64) string { return sheet.Both(unit.Fahrenheit(v), unit.System.Temperature) }
	}
	return func(v float64) string { return sheet.Decimal(v, 6) }
}

// spread is what the values say of their mean, of one more, and of whether each is new.
func (q calcChart) spread(s *sheet.Sheet, sample renewal.Sample, y []float64, confidence float64,
	show func(float64) string, doc *chartDoc,
) error {
	mean, err := sample.Confidence(confidence)
	if err != nil {
		return sheet.FlagErr("confidence", err)
	}
	next, err := sample.Prediction(confidence)
	if err != nil {
		return sheet.FlagErr("confidence", err)
	}
	doc.Confidence, doc.Prediction = []float64{mean.Low, mean.High}, []float64{next.Low, next.High}
	s.Figuref("the mean lies in", "%s to %s", show(mean.Low), show(mean.High))
	s.Figuref("one more lies in", "%s to %s", show(next.Low), show(next.High))
	s.By("mean ± t s/√n; one more: mean ± t s √(1 + 1/n)", "Student with n − 1 degrees of freedom")
	lag, err := renewal.Autocorrelation(y)
	if err != nil { // all alike: nothing to correlate
		s.Warnf("%v", err)
		return nil
	}
	doc.Lag1 = &lag
	usual := 2 / math.Sqrt(float64(len(y)))
	s.Figuref("autocorrelation", "%s, of a value with the next", sheet.Decimal(lag, 3))
	s.Between("autocorrelation", "between ±"+sheet.Decimal(usual, 3)+", as of values that do not hang together",
		math.Abs(lag) > usual, "2/√n, common practice, no source")
	if math.Abs(lag) > usual {
		s.Warnf(
			"each value hangs together with the one before: the limits and ranges, which take them as independent, are not to be relied on")
	}
	return nil
}

// line is the drift, and what it says of one more value.
func (q calcChart) line(s *sheet.Sheet, x, y []float64, confidence float64, show func(float64) string,
	doc *chartDoc,
) error {
	l, err := renewal.FitLine(x, y)
	if err != nil {
		if q.against != "" {
			return sheet.FlagErr("against", err)
		}
		return terminal.Usagef("%s: %v", terminal.Safe(q.values), err)
	}
	at, per := float64(len(y)+1), "from row to row"
	if q.against != "" {
		at, per = x[len(x)-1], "for each 1 of "+terminal.Safe(q.against)
	}
	if q.at != "" {
		if at, err = s.AskedNumber("at", q.at); err != nil {
			return err
		}
	}
	next, err := l.Prediction(at, confidence)
	if err != nil {
		return sheet.FlagErr("at", err)
	}
	doc.Line = &lineDoc{
		Intercept: l.Intercept, Slope: l.Slope, InterceptSE: l.InterceptSE, SlopeSE: l.SlopeSE,
		ResidualSD: l.ResidualSD, R2: l.R2,
		At: at, Expected: l.At(at), Prediction: []float64{next.Low, next.High},
	}
	s.Figuref("drift", "%s ± %s %s, R² %s", sheet.Decimal(l.Slope, 4), sheet.Decimal(l.SlopeSE, 2), per,
		sheet.Decimal(l.R2, 4))
	s.Figuref("the line at "+sheet.Decimal(at, 4), "%s, one more in %s to %s", show(l.At(at)), show(next.Low),
		show(next.High))
	s.By("y = a + b x by least squares; range t √(s² (1 + 1/n + (x − x̄)²/Σ(x − x̄)²))",
		"Student with n − 2 degrees of freedom")
	t, err := renewal.StudentQuantile((1+confidence)/2, float64(l.N-2))
	if err != nil {
		return sheet.FlagErr("confidence", err)
	}
	drifts := math.Abs(l.Slope) > t*l.SlopeSE
	s.Against("drift", "none that "+unit.Metric.Share(unit.Share(confidence))+" confidence would call one", drifts,
		sheet.Broken, "Student's test of the slope")
	return nil
}
