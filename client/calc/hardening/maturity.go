package hardening

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/curing"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// calcMaturity is what a temperature history has done for a coat.
type calcMaturity struct {
	readings, datum, q, reference string
	gap, bridge, from, until      string
	sampled                       bool
}

type maturityDoc struct {
	NurseSaul  float64  `json:"nurse_saul_c_h"`
	Equivalent float64  `json:"equivalent_age_h"`
	EN1992     *float64 `json:"en1992_age_h"`
	Covered    float64  `json:"covered_h"`
	Outside    float64  `json:"en1992_outside_h"` // beyond 0 to 80 °C, where EN 1992's formula says nothing
	Readings   int      `json:"readings"`
	SaulAge    *float64 `json:"saul_age_h"` // null where the reference lies at or below the datum
	Variable   float64  `json:"variable_energy_age_h"`
	Bridged    float64  `json:"bridged_h"`
	Gaps       []gapDoc `json:"gaps"`
	sheet.Sheet
}

type gapDoc struct {
	From float64 `json:"from_h"`
	To   float64 `json:"to_h"`
}

// NewMaturity makes hod calc maturity.
func NewMaturity(env *terminal.Streams) *cobra.Command {
	var q calcMaturity
	c := env.NewCommand("maturity", "Maturity and equivalent age of a temperature history",
		`hod calc maturity --readings probe.csv --sampled`,
		`hod calc maturity --readings means.csv --datum 0C --q 5000K --reference 20C`,
		`hod calc maturity --readings probe.csv --sampled --gap 2h --bridge straight --from 5h --until 3d`)
	c.Long = "The file has the columns hours,temp_c (or temp_f). Each temperature is the mean of the interval from its hour to the\n" +
		"next, and the last row only closes the one before it; with --sampled they are readings at instants, and each interval\n" +
		"takes the mean of its two ends."
	f := c.Flags()
	f.StringVar(&q.readings, "readings", "", "CSV file with the columns hours,temp_c")
	f.BoolVar(&q.sampled, "sampled", false, "the rows are readings at instants, not interval means")
	f.StringVar(&q.datum, "datum", sheet.Decimal(float64(curing.DatumC1074), 4)+"C",
		"datum temperature of Nurse and Saul; the older default is "+sheet.Decimal(float64(curing.DatumOld), 4)+"C")
	f.StringVar(&q.q, "q", sheet.Decimal(float64(setting.SuggestedQ), 6)+"K", "activation energy over the gas constant")
	f.StringVar(&q.reference, "reference", "20C", "temperature of the equivalent age")
	f.StringVar(&q.gap, "gap", "", "a longer pause between two rows is a gap: 2h; if not said, no pause is")
	f.StringVar(&q.bridge, "bridge", "none", "what a gap is taken to have been: none (adds nothing), held, straight")
	f.StringVar(&q.from, "from", "", "count from this hour on: the probe ran before the coat was placed")
	f.StringVar(&q.until, "until", "", "count up to this hour")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcMaturity) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if q.readings == "" {
		return s.Missing("readings")
	}
	history, err := history(env, s, q.readings, q.sampled, q.gap, q.bridge)
	if err != nil {
		return err
	}
	rows := len(history.Spans) + 1
	datum, err := sheet.Asked(s, "datum", q.datum, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	energy, err := sheet.Asked(s, "q", q.q, unit.ParseTemperatureDifference, "K",
		func(_ unit.System, k unit.Kelvins) string { return sheet.Decimal(float64(k), 6) + " K" })
	if err != nil {
		return err
	}
	reference, err := sheet.Asked(s, "reference", q.reference, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	for _, cut := range []struct {
		flag, text string
		clip       func(curing.History, time.Time) curing.History
	}{{"from", q.from, curing.History.From}, {"until", q.until, curing.History.Until}} {
		if cut.text == "" {
			continue
		}
		at, err := s.Length(cut.flag, cut.text, time.Hour, "h")
		if err != nil {
			return err
		}
		if history = cut.clip(history, hourOf(at.Hours())); len(history.Spans) == 0 {
			return terminal.Usagef("--%s: nothing is left of the readings %s %s", cut.flag,
				map[string]string{"from": "from", "until": "up to"}[cut.flag], terminal.Safe(cut.text))
		}
	}
	return q.found(env, s, history, datum, energy, reference, rows)
}

// history reads a file of temperatures, hours,temp_c or temp_f, as readings at instants or as interval means.
func history(env *terminal.Streams, s *sheet.Sheet, path string, sampled bool, gap, bridge string) (curing.History,
	error,
) {
	rows, found, err := sheet.ReadColumns(env, "readings", path, []string{"hours"}, []string{"temp_c", "temp_f"})
	if err != nil {
		return curing.History{}, err
	}
	readings := make([]curing.Reading, len(rows))
	for i, r := range rows {
		if r[0] < 0 || r[0] > 1e6 {
			return curing.History{}, terminal.Usagef("--readings: hour %s cannot be; hours run from 0 to 1000000",
				sheet.Decimal(r[0], 6))
		}
		t, said := unit.Celsius(r[1]), unit.Metric.Temperature(unit.Celsius(r[1]))
		if strings.EqualFold(found[1], "temp_f") {
			t = unit.Fahrenheit(r[1])
			said = unit.Both(unit.US, unit.Computed(t), unit.System.Temperature)
		}
		if !(t >= curing.Coldest && t <= curing.Hottest) {
			return curing.History{},
				terminal.Usagef(
					"--readings: hour %s: %s cannot be read; %g to %g °C is believed: is the probe sound and the unit right?",
					sheet.Decimal(r[0], 6), said, float64(curing.Coldest), float64(curing.Hottest))
		}
		readings[i] = curing.Reading{At: hourOf(r[0]), Temp: t}
	}
	kind, read := "interval means, each from its hour to the next; the last row closes", curing.Means
	if sampled {
		kind, read = "readings at instants; each interval takes the mean of its two ends", curing.Sampled
	}
	s.Noted("readings", path+": "+terminal.Plural(len(rows), "row", "rows"))
	s.Noted("read as", kind)
	if !slices.IsSortedFunc(readings, func(a, b curing.Reading) int { return a.At.Compare(b.At) }) {
		s.Warnf("the rows are not in the order of their hours: they are taken in that order; is every hour right?")
	}
	gaps, err := gaps(s, gap, bridge)
	if err != nil {
		return curing.History{}, err
	}
	history, err := read(readings, gaps)
	return history, sheet.FlagErr("readings", err)
}

// gaps are which pauses count as gaps, and what a gap is taken to have been.
func gaps(s *sheet.Sheet, gap, bridge string) (curing.Gaps, error) {
	var g curing.Gaps
	switch bridge {
	case "", "none":
	case "held":
		g.Bridge = curing.Held
	case "straight":
		g.Bridge = curing.Straight
	default:
		return g, terminal.Usagef("--bridge: %q is not a way to bridge a gap: none, held or straight",
			terminal.Safe(bridge))
	}
	if gap == "" {
		if g.Bridge != curing.Unbridged {
			return g, terminal.Usagef("--bridge %s needs --gap, the pause from which there is one, such as 2h", bridge)
		}
		return g, nil
	}
	var err error
	if g.Longest, err = s.Length("gap", gap, time.Hour, "h"); err != nil {
		return g, err
	}
	if g.Longest <= 0 {
		return g, terminal.Usagef("--gap: a pause of %s cannot be; give one above 0, such as 2h", terminal.Safe(gap))
	}
	s.Noted("gaps", g.Bridge.String())
	return g, nil
}

func (q calcMaturity) found(env *terminal.Streams, s *sheet.Sheet, h curing.History, datum unit.Celsius,
	energy unit.Kelvins, reference unit.Celsius, rows int,
) error {
	saul, err := h.NurseSaul(datum)
	if err != nil {
		return terminal.AsUsage(err)
	}
	age, err := h.EquivalentAgeQ(reference, energy)
	if err != nil {
		if energyOK := setting.EnergyOf(energy).Check(); energyOK != nil {
			return sheet.FlagErr("q", energyOK)
		}
		return terminal.AsUsage(err)
	}
	en, err := h.EN1992Age()
	if err != nil {
		return terminal.AsUsage(err)
	}
	enAge := en.Age.Hours()
	doc := maturityDoc{
		NurseSaul: float64(saul), Equivalent: age.Hours(), Covered: h.Measured().Hours(),
		Outside: en.Outside.Hours(), Readings: rows, EN1992: &enAge,
	}
	variable, err := h.VariableEnergyAge()
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc.Variable, doc.Bridged = variable.Hours(), h.Bridged().Hours()
	for _, g := range h.Gaps {
		doc.Gaps = append(doc.Gaps, gapDoc{g.From.Sub(hourOf(0)).Hours(), g.To.Sub(hourOf(0)).Hours()})
		s.Warnf("no reading from hour %s to %s: %s", sheet.Decimal(g.From.Sub(hourOf(0)).Hours(), 6),
			sheet.Decimal(g.To.Sub(hourOf(0)).Hours(), 6), g.Bridge)
	}
	doc.figures(s, reference)
	if byRatio, err := h.SaulAge(reference, datum); err != nil {
		s.Warnf("no age by Nurse and Saul: %v", err)
	} else {
		v := byRatio.Hours()
		doc.SaulAge = &v
		s.Figuref("age by Nurse and Saul", "%s h (%s d) at %s", sheet.Decimal(v, 6), sheet.Decimal(v/24, 5),
			sheet.Both(reference, unit.System.Temperature))
	}
	maturityFormulas(s)
	if note := en.Note(); note != "" {
		s.Warnf("%s", note)
	}
	if below := belowDatum(h, datum); below > 0 {
		s.Warnf("%s below the datum adds nothing to Nurse and Saul's maturity", unit.Duration(below))
	}
	s.Caution(curing.Scope, curing.Caution)
	doc.Sheet = *s
	return s.Print(env, "maturity", doc)
}

// figures puts on the sheet what the history comes to at the reference temperature.
func (doc *maturityDoc) figures(s *sheet.Sheet, reference unit.Celsius) {
	s.Figuref("time covered", "%s h (%s d)", sheet.Decimal(doc.Covered, 6), sheet.Decimal(doc.Covered/24, 5))
	if doc.Bridged > 0 {
		s.Figuref("bridged", "%s h: not measured", sheet.Decimal(doc.Bridged, 6))
	}
	s.Figuref("Nurse-Saul maturity", "%s °C·h (%s °F·h, %s °C·d)", sheet.Decimal(doc.NurseSaul, 7),
		sheet.Decimal(doc.NurseSaul*1.8, 7), sheet.Decimal(doc.NurseSaul/24, 6))
	s.Figuref("equivalent age", "%s h (%s d) at %s", sheet.Decimal(doc.Equivalent, 6),
		sheet.Decimal(doc.Equivalent/24, 5), sheet.Both(reference, unit.System.Temperature))
	s.Figuref("age by EN 1992-1-1", "%s h (%s d) at 20 °C (68 °F)", sheet.Decimal(*doc.EN1992, 6),
		sheet.Decimal(*doc.EN1992/24, 5))
	s.Figuref("age by variable energy", "%s h (%s d) at 20 °C (68 °F)", sheet.Decimal(doc.Variable, 6),
		sheet.Decimal(doc.Variable/24, 5))
}

func maturityFormulas(s *sheet.Sheet) {
	s.By("M = Σ max(0, T − datum) Δt", "Nurse-Saul, ASTM C1074 (from memory)")
	s.By("te = Σ exp(−Q (1/T − 1/Tref)) Δt, T in K with 273.15",
		"Freiesleben Hansen and Pedersen, ASTM C1074 (from memory); Q = 5000 K is what it suggests")
	s.By("tT = Σ exp(13.65 − 4000/(273 + T)) Δt, 0 to 80 °C",
		"EN 1992-1-1:2004 eq. B.10 (form from memory); 0.998 at 20 °C by its own rounding")
	s.By("te with Ea 33.5 kJ/mol from 20 °C on, 1.47 more for each degree below",
		"Freiesleben Hansen and Pedersen (from memory)")
	s.By("age = Σ max(0, T − datum)/(Tref − datum) Δt", "Nurse-Saul as an age, ASTM C1074 (from memory)")
}

func belowDatum(h curing.History, datum unit.Celsius) (d time.Duration) {
	for _, span := range h.Spans {
		if span.Mean < datum {
			d += span.To.Sub(span.From)
		}
	}
	return d
}
