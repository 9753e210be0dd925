package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/curing"
	"hod/internal/unit"
)

// calcStrength is a mix's own strength curve, from its breaks.
type calcStrength struct{ breaks, form, at string }

type strengthDoc struct {
	Form         string             `json:"form"`
	Parameters   map[string]float64 `json:"parameters"`
	Errors       map[string]float64 `json:"standard_errors"`
	RMS          float64            `json:"rms_mpa"`
	Residual     float64            `json:"residual_mpa"`
	At           *float64           `json:"at_days,omitempty"`
	Strength     *float64           `json:"strength_mpa,omitempty"`
	Low          *float64           `json:"low_mpa,omitempty"` // of the mean, 95 %
	High         *float64           `json:"high_mpa,omitempty"`
	LowBreak     *float64           `json:"low_break_mpa,omitempty"` // of one further break, 95 %
	HighBreak    *float64           `json:"high_break_mpa,omitempty"`
	Extrapolated bool               `json:"extrapolated"`
	Breaks       int                `json:"breaks"`
	calcSheet
}

func newCalcStrength(env *Env) *cobra.Command {
	var q calcStrength
	c := env.command("strength", "A mix's own strength curve, fitted to its breaks", `hod calc strength --breaks cubes.csv --form hyperbolic --at 14d`)
	c.Long = "The file has the columns days,mpa (or psi). Ages may be equivalent ages; the curve is then over equivalent age."
	f := c.Flags()
	f.StringVar(&q.breaks, "breaks", "", "CSV file with the columns days,mpa")
	f.StringVar(&q.form, "form", "hyperbolic", "hyperbolic, logarithmic or exponential")
	f.StringVar(&q.at, "at", "", "the age asked for: 14d, 36h; a bare number is days")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcStrength) run(_ context.Context, env *Env, s *calcSheet) error {
	if q.breaks == "" {
		return s.missing("breaks")
	}
	form, err := curing.ParseForm(strings.ToLower(q.form))
	if err != nil {
		return usage("--form: %v", err)
	}
	rows, found, err := env.readColumns("breaks", q.breaks, []string{"days"}, []string{"mpa", "psi"})
	if err != nil {
		return err
	}
	one := unit.Megapascal
	if strings.EqualFold(found[1], "psi") {
		one = unit.PSI
	}
	points := make([]curing.Point, len(rows))
	for i, r := range rows {
		points[i] = curing.Point{Maturity: r[0], Strength: unit.Pressure(r[1]) * one}
	}
	s.noted("breaks", fmt.Sprintf("%s: %s", q.breaks, count(len(rows), "break", "breaks")))
	s.noted("form", form.String())
	curve, err := curing.Fit(form, points)
	if err != nil {
		return ofFlag("breaks", err)
	}
	doc := strengthDoc{
		Form: form.String(), Parameters: map[string]float64{}, Errors: map[string]float64{},
		RMS: float64(curve.RMS / unit.Megapascal), Residual: float64(curve.Residual / unit.Megapascal), Breaks: curve.Breaks,
	}
	for _, p := range curve.Parameters {
		in, shown := inDays(p.Unit)
		doc.Parameters[p.Name+in], doc.Errors[p.Name+in] = p.Value, p.StdErr
		s.figure(p.Name, "%s%s ± %s", decimal(p.Value, 5), shown, decimal(p.StdErr, 2))
	}
	s.figure("rms of the residuals", "%s", bothUnits(curve.RMS, unit.System.Pressure))
	s.by(formulaOf(form), strengthSource(form))
	for _, n := range curve.Notes {
		s.warn("%s", n)
	}
	if q.at != "" {
		if err := q.strengthAt(s, curve, &doc); err != nil {
			return err
		}
	}
	s.caution(curing.Caution, curing.Scope)
	doc.calcSheet = *s
	return s.print(env, "strength", doc)
}

func (q calcStrength) strengthAt(s *calcSheet, curve curing.Curve, doc *strengthDoc) error {
	days, err := strconv.ParseFloat(q.at, 64)
	if err != nil {
		d, err := unit.ParseDuration(q.at)
		if err != nil {
			return ofFlag("at", err)
		}
		days = d.Hours() / 24
	}
	if !(days > 0 && days <= 36500) {
		return usage("--at: %q cannot be; give an age above 0 and at most 36500 days, such as 14d", safe(q.at))
	}
	s.understood("at", q.at, days, "d", decimal(days, 5)+" days")
	e, err := curve.At(days)
	if err != nil {
		return ofFlag("at", err)
	}
	mpa := func(p unit.Pressure) *float64 { v := float64(p / unit.Megapascal); return &v }
	doc.At, doc.Strength, doc.Low, doc.High = &days, mpa(e.Strength), mpa(e.Low), mpa(e.High)
	doc.LowBreak, doc.HighBreak, doc.Extrapolated = mpa(e.LowBreak), mpa(e.HighBreak), e.Extrapolated
	s.figure("strength", "%s at %s days", bothUnits(e.Strength, unit.System.Pressure), decimal(days, 5))
	s.figure("its mean, 95 %", "%s to %s", bothUnits(e.Low, unit.System.Pressure), bothUnits(e.High, unit.System.Pressure))
	s.figure("one more break, 95 %", "%s to %s", bothUnits(e.LowBreak, unit.System.Pressure), bothUnits(e.HighBreak, unit.System.Pressure))
	if e.Extrapolated {
		s.warn("no break covers %s days (they lie between %s and %s): the curve is carried on beyond them", decimal(days, 5), decimal(curve.From, 5), decimal(curve.To, 5))
	}
	return nil
}

// inDays turns the unit of a parameter, in terms of the maturity m, into the days that the file has: for a field's name,
// and for a person.
func inDays(in string) (field, shown string) {
	switch in {
	case "MPa":
		return "_mpa", " MPa"
	case "m":
		return "_days", " days"
	case "1/m":
		return "_per_day", " a day"
	}
	return "", ""
}

func formulaOf(f curing.Form) string {
	switch f {
	case curing.Logarithmic:
		return "S = a + b log10 t"
	case curing.Exponential:
		return "S = Su exp(−(τ/t)^α)"
	}
	return "S = Su k (t − t0)/(1 + k (t − t0))"
}

func strengthSource(f curing.Form) string {
	switch f {
	case curing.Logarithmic:
		return "Plowman; least squares"
	case curing.Exponential:
		return "Freiesleben Hansen and Pedersen; least squares"
	}
	return "ASTM C1074 appendix, Carino (from memory); least squares"
}
