package cli

import (
	"context"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/curing"
	"hod/internal/unit"
)

// calcMaturity is what a temperature history has done for a coat.
type calcMaturity struct {
	readings, datum, q, reference string
	sampled                       bool
}

type maturityDoc struct {
	NurseSaul  float64  `json:"nurse_saul_c_h"`
	Equivalent float64  `json:"equivalent_age_h"`
	EN1992     *float64 `json:"en1992_age_h"`
	Covered    float64  `json:"covered_h"`
	Outside    float64  `json:"en1992_outside_h"` // beyond 0 to 80 °C, where EN 1992's formula says nothing
	Readings   int      `json:"readings"`
	calcSheet
}

func newCalcMaturity(env *Env) *cobra.Command {
	var q calcMaturity
	c := env.command("maturity", "Maturity and equivalent age of a temperature history", `hod calc maturity --readings probe.csv --sampled`,
		`hod calc maturity --readings means.csv --datum 0C --q 5000K --reference 20C`)
	c.Long = "The file has the columns hours,temp_c (or temp_f). Each temperature is the mean of the interval from its hour to the\n" +
		"next, and the last row only closes the one before it; with --sampled they are readings at instants, and each interval\n" +
		"takes the mean of its two ends."
	f := c.Flags()
	f.StringVar(&q.readings, "readings", "", "CSV file with the columns hours,temp_c")
	f.BoolVar(&q.sampled, "sampled", false, "the rows are readings at instants, not interval means")
	f.StringVar(&q.datum, "datum", "0C", "datum temperature of Nurse and Saul")
	f.StringVar(&q.q, "q", "5000K", "activation energy over the gas constant")
	f.StringVar(&q.reference, "reference", "20C", "temperature of the equivalent age")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcMaturity) run(_ context.Context, env *Env, s *calcSheet) error {
	if q.readings == "" {
		return s.missing("readings")
	}
	rows, found, err := env.readColumns("readings", q.readings, []string{"hours"}, []string{"temp_c", "temp_f"})
	if err != nil {
		return err
	}
	start := time.Unix(0, 0).UTC()
	readings := make([]curing.Reading, len(rows))
	for i, r := range rows {
		if r[0] < 0 || r[0] > 1e6 {
			return usage("--readings: hour %s cannot be; hours run from 0 to 1000000", decimal(r[0], 6))
		}
		t := unit.Celsius(r[1])
		if strings.EqualFold(found[1], "temp_f") {
			t = unit.Fahrenheit(r[1])
		}
		if !(t >= curing.Coldest && t <= curing.Hottest) {
			return usage("--readings: hour %s: %s cannot be read; %g to %g °C is believed: is the probe sound and the unit right?",
				decimal(r[0], 6), unit.Metric.Temperature(t), float64(curing.Coldest), float64(curing.Hottest))
		}
		readings[i] = curing.Reading{At: start.Add(time.Duration(math.Round(r[0] * float64(time.Hour)))), Temp: t}
	}
	kind, read := "interval means, each from its hour to the next; the last row closes", curing.Means
	if q.sampled {
		kind, read = "readings at instants; each interval takes the mean of its two ends", curing.Sampled
	}
	s.noted("readings", q.readings+": "+count(len(rows), "row", "rows"))
	s.noted("read as", kind)
	datum, err := asked(s, "datum", q.datum, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	energy, err := asked(s, "q", q.q, unit.ParseTemperatureDifference, "K", func(_ unit.System, k unit.Kelvins) string { return decimal(float64(k), 6) + " K" })
	if err != nil {
		return err
	}
	reference, err := asked(s, "reference", q.reference, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	history, err := read(readings, curing.Gaps{})
	if err != nil {
		return ofFlag("readings", err)
	}
	return q.found(env, s, history, datum, energy, reference, len(rows))
}

func (q calcMaturity) found(env *Env, s *calcSheet, h curing.History, datum unit.Celsius, energy unit.Kelvins, reference unit.Celsius, rows int) error {
	saul, err := h.NurseSaul(datum)
	if err != nil {
		return impossible(err)
	}
	age, err := h.EquivalentAgeQ(reference, energy)
	if err != nil {
		return impossible(err)
	}
	en, err := h.EN1992Age()
	if err != nil {
		return impossible(err)
	}
	doc := maturityDoc{NurseSaul: float64(saul), Equivalent: age.Hours(), Covered: h.Measured().Hours(), Outside: en.Outside.Hours(), Readings: rows}
	enAge := en.Age.Hours()
	doc.EN1992 = &enAge
	s.figure("time covered", "%s h (%s d)", decimal(doc.Covered, 6), decimal(doc.Covered/24, 5))
	s.figure("Nurse-Saul maturity", "%s °C·h (%s °F·h, %s °C·d)", decimal(doc.NurseSaul, 7), decimal(doc.NurseSaul*1.8, 7), decimal(saul.Days(), 6))
	s.figure("equivalent age", "%s h (%s d) at %s", decimal(doc.Equivalent, 6), decimal(doc.Equivalent/24, 5), bothUnits(reference, unit.System.Temperature))
	s.figure("age by EN 1992-1-1", "%s h (%s d) at 20 °C", decimal(enAge, 6), decimal(enAge/24, 5))
	s.by("M = Σ max(0, T − datum) Δt", "Nurse-Saul, ASTM C1074 (from memory)")
	s.by("te = Σ exp(−Q (1/T − 1/Tref)) Δt, T in K with 273.15", "Freiesleben Hansen and Pedersen, ASTM C1074 (from memory); Q = 5000 K is what it suggests")
	s.by("tT = Σ exp(13.65 − 4000/(273 + T)) Δt, 0 to 80 °C", "EN 1992-1-1:2004 eq. B.10 (form from memory); 0.998 at 20 °C by its own rounding")
	if note := en.Note(); note != "" {
		s.warn("%s", note)
	}
	if below := belowDatum(h, datum); below > 0 {
		s.warn("%s below the datum adds nothing to Nurse and Saul's maturity", unit.Duration(below))
	}
	s.caution(curing.Scope, curing.Caution)
	doc.calcSheet = *s
	return s.print(env, "maturity", doc)
}

func belowDatum(h curing.History, datum unit.Celsius) (d time.Duration) {
	for _, span := range h.Spans {
		if span.Mean < datum {
			d += span.To.Sub(span.From)
		}
	}
	return d
}
