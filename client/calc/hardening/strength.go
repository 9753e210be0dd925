package hardening

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// maxBreaks is how many breaks a curve is drawn through. The fit goes over all of them many times, and a job breaks
// some hundreds.
const maxBreaks = 2000

// calcStrength is a mix's own strength curve, from its breaks or by its parameters; or a code's general curve.
type calcStrength struct {
	breaks, form, at, reaches    string
	parameters                   []string
	fallback, at28, cement, cure string
}

// borrowedDoc is a strength by a code's curve: not the mix's own.
type borrowedDoc struct {
	Curve          string   `json:"curve"`
	NotOwn         bool     `json:"not_this_mix"` // always true
	At             float64  `json:"at_days"`
	Share          float64  `json:"share_of_28_day"`
	Strength       *float64 `json:"strength_mpa,omitempty"`
	Characteristic *float64 `json:"characteristic_mpa,omitempty"`
	sheet.Sheet
}

// givenDoc is a strength by a curve whose parameters were given.
type givenDoc struct {
	Form       string             `json:"form"`
	Parameters map[string]float64 `json:"parameters"`
	At         float64            `json:"at_days"`
	Strength   float64            `json:"strength_mpa"`
	sheet.Sheet
}

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
	ReachedAt    *float64           `json:"reached_at_days,omitempty"` // the level asked for
	StandsFrost  *float64           `json:"stands_frost_at_days,omitempty"`
	sheet.Sheet
}

// NewStrength makes hod calc strength.
func NewStrength(env *terminal.Streams) *cobra.Command {
	var q calcStrength
	c := env.NewCommand("strength", "A mix's own strength curve, fitted to its breaks",
		`hod calc strength --breaks cubes.csv --form hyperbolic --at 14d`,
		`hod calc strength --breaks cubes.csv --reaches 3.5MPa`,
		`hod calc strength --fallback en1992 --cement N --strength-28 38MPa --at 7d`,
		`hod calc strength --parameter ultimate=50MPa --parameter rate=0.2 --parameter start=0.3 --at 14d`)
	c.Long = "The file has the columns days,mpa (or psi). Ages may be equivalent ages; the curve is then over equivalent age. --fallback\n" +
		"is for a mix without breaks: a code's general curve, never the mix's own. --parameter takes a fitted curve as it is:\n" +
		"ultimate, rate (a day) and start (days) of the hyperbolic form; a and b of the logarithmic; ultimate, tau (days) and\n" +
		"alpha of the exponential."
	f := c.Flags()
	f.StringVar(&q.breaks, "breaks", "", "CSV file with the columns days,mpa")
	f.StringVar(&q.form, "form", "hyperbolic", "hyperbolic, logarithmic or exponential")
	f.StringVar(&q.at, "at", "", "the age asked for: 14d, 36h; a bare number is days")
	f.StringVar(&q.reaches, "reaches", "", "also when the curve comes to this strength")
	f.StringArrayVar(&q.parameters, "parameter", nil,
		"a parameter of the form, NAME=VALUE; repeat it, in place of --breaks")
	f.StringVar(&q.fallback, "fallback", "", "en1992 or aci209: a code's curve in place of --breaks")
	f.StringVar(&q.at28, "strength-28", "", "mean strength at 28 days, for --fallback")
	f.StringVar(&q.cement, "cement", "", "for en1992 R, N or S (N if not said); for aci209 I or III (I if not said)")
	f.StringVar(&q.cure, "cure", "", "for aci209 moist or steam; moist if not said")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcStrength) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if err := q.oneCurve(); err != nil {
		return err
	}
	switch {
	case q.fallback != "":
		return q.borrowed(env, s)
	case len(q.parameters) > 0:
		return q.given(env, s)
	case q.breaks == "":
		return s.Missing("breaks", "fallback")
	}
	return q.fitted(env, s)
}

// oneCurve refuses flags that ask for two curves, or that belong to another than the one asked for.
func (q calcStrength) oneCurve() error {
	switch {
	case q.breaks != "" && q.fallback != "", q.breaks != "" && len(q.parameters) > 0, q.fallback != "" &&
		len(q.parameters) > 0:
		return terminal.Usagef("--breaks, --parameter and --fallback are three curves; give one of them")
	case q.fallback == "" && q.at28+q.cement+q.cure != "":
		return terminal.Usagef("--strength-28, --cement and --cure belong to --fallback; give that too")
	case q.reaches != "" && q.breaks == "":
		return terminal.Usagef("--reaches goes by the mix's own breaks; give --breaks")
	}
	return nil
}

// fitted draws a curve through the mix's own breaks.
func (q calcStrength) fitted(env *terminal.Streams, s *sheet.Sheet) error {
	form, err := curing.ParseForm(strings.ToLower(q.form))
	if err != nil {
		return terminal.Usagef("--form: %v", err)
	}
	points, err := q.points(env)
	if err != nil {
		return err
	}
	s.Noted("breaks", fmt.Sprintf("%s: %s", q.breaks, terminal.Plural(len(points), "break", "breaks")))
	s.Noted("form", form.String())
	curve, err := curing.Fit(form, points)
	if err != nil {
		return sheet.FlagErr("breaks", err)
	}
	doc := strengthDoc{
		Form: form.String(), Parameters: map[string]float64{}, Errors: map[string]float64{},
		RMS: float64(curve.RMS / unit.Megapascal), Residual: float64(curve.Residual / unit.Megapascal),
		Breaks: curve.Breaks,
	}
	for _, p := range curve.Parameters {
		in, shown := inDays(p.Unit)
		doc.Parameters[p.Name+in], doc.Errors[p.Name+in] = p.Value, p.StdErr
		s.Figuref(p.Name, "%s%s ± %s", sheet.Decimal(p.Value, 5), shown, sheet.Decimal(p.StdErr, 2))
	}
	s.Figuref("rms of the residuals", "%s", sheet.Both(curve.RMS, unit.System.Pressure))
	s.By(formulaOf(form), strengthSource(form))
	if days, ok := curve.Reaches(curing.FrostStrength); ok {
		doc.StandsFrost = &days
		s.Figuref("may stand one freezing", "from %s days, at %s, by the middle of the band", sheet.Decimal(days, 3),
			unit.Both(unit.US, unit.Computed(curing.FrostStrength), unit.System.Pressure))
		s.By("no freezing before 500 psi (3.5 MPa)",
			"PCA Design and Control of Concrete Mixtures, chapter 14, after Powers")
	}
	for _, n := range curve.Notes {
		s.Warnf("%s", n)
	}
	if q.at != "" {
		if err := q.strengthAt(s, curve, &doc); err != nil {
			return err
		}
	}
	if q.reaches != "" {
		if err := q.reached(s, curve, &doc); err != nil {
			return err
		}
	}
	s.Caution(curing.Caution, curing.Scope)
	doc.Sheet = *s
	return s.Print(env, "strength", doc)
}

// points are the breaks of the file, by age in days.
func (q calcStrength) points(env *terminal.Streams) ([]curing.Point, error) {
	rows, found, err := sheet.ReadColumns(env, "breaks", q.breaks, []string{"days"}, []string{"mpa", "psi"})
	if err != nil {
		return nil, err
	}
	if len(rows) > maxBreaks {
		return nil,
			terminal.Usagef(
				"--breaks: %s has %d breaks; a curve is drawn through %d at most: give those of one mix, or the mean of each age", terminal.Safe(q.breaks), len(rows), maxBreaks)
	}
	one := unit.Megapascal
	if strings.EqualFold(found[1], "psi") {
		one = unit.PSI
	}
	points := make([]curing.Point, len(rows))
	for i, r := range rows {
		points[i] = curing.Point{Maturity: r[0], Strength: unit.Pressure(r[1]) * one}
	}
	return points, nil
}

// reached is when the curve comes to a strength.
func (q calcStrength) reached(s *sheet.Sheet, curve curing.Curve, doc *strengthDoc) error {
	level, err := sheet.Asked(s, "reaches", q.reaches, unit.ParsePressure, "Pa", unit.System.Pressure)
	if err != nil {
		return err
	}
	if level <= 0 {
		return terminal.Usagef("--reaches: %s cannot be; give a strength above 0", terminal.Safe(q.reaches))
	}
	days, ok := curve.Reaches(level)
	if !ok {
		s.Warnf("the curve never comes to %s", sheet.Both(level, unit.System.Pressure))
		return nil
	}
	doc.ReachedAt = &days
	s.Figuref("comes to it", "%s at %s days, by the middle of the band", sheet.Both(level, unit.System.Pressure),
		sheet.Decimal(days, 4))
	if days < curve.From || days > curve.To {
		s.Warnf("no break covers %s days (they lie between %s and %s): the curve is carried on beyond them",
			sheet.Decimal(days, 4), sheet.Decimal(curve.From, 5), sheet.Decimal(curve.To, 5))
	}
	return nil
}

// borrowed is a strength by a code's general curve.
func (q calcStrength) borrowed(env *terminal.Streams, s *sheet.Sheet) error {
	days, err := q.age(s)
	if err != nil {
		return err
	}
	grown, err := q.growth(time.Duration(days * 24 * float64(time.Hour)))
	if err != nil {
		return err
	}
	s.Noted("fallback", grown.Curve)
	doc := borrowedDoc{Curve: grown.Curve, NotOwn: true, At: days, Share: grown.Share}
	s.Figuref("NOT THIS MIX'S OWN", "%s %% of the 28-day strength at %s days", sheet.Decimal(100*grown.Share, 4),
		sheet.Decimal(days, 5))
	s.By(fallbackFormula(q.fallback), grown.Curve)
	if q.at28 != "" {
		at28, err := sheet.Asked(s, "strength-28", q.at28, unit.ParsePressure, "Pa", unit.System.Pressure)
		if err != nil {
			return err
		}
		is, err := grown.Of(at28)
		if err != nil {
			return sheet.FlagErr("strength-28", err)
		}
		mpa := float64(is.Strength / unit.Megapascal)
		doc.Strength = &mpa
		s.Figuref("strength by that curve", "%s", sheet.Both(is.Strength, unit.System.Pressure))
		if strings.EqualFold(q.fallback, "en1992") && days >= 3 && days <= 28 {
			if c, err := curing.EN1992Characteristic(is.Strength); err == nil {
				v := float64(c / unit.Megapascal)
				doc.Characteristic = &v
				s.Figuref("characteristic", "%s: the mean less 8 MPa, EN 1992-1-1 3.1.2, from 3 to 28 days",
					sheet.Both(c, unit.System.Pressure))
			}
		}
	}
	s.Warnf("%s", curing.NotOwn)
	s.Warnf("for a cure at 20 °C (68 °F); elsewhere give the equivalent age, `hod calc maturity`")
	s.Caution(curing.Caution)
	doc.Sheet = *s
	return s.Print(env, "strength", doc)
}

func (q calcStrength) growth(age time.Duration) (curing.Growth, error) {
	switch strings.ToLower(q.fallback) {
	case "en1992":
		if q.cure != "" {
			return curing.Growth{}, terminal.Usagef("--cure is for aci209; EN 1992-1-1 has one curve a class of cement")
		}
		class := strings.ToUpper(cmp.Or(q.cement, "N"))
		if len(class) != 1 {
			return curing.Growth{}, terminal.Usagef("--cement: %q is no class of EN 1992-1-1; R, N or S",
				terminal.Safe(q.cement))
		}
		g, err := curing.EN1992Growth(curing.CementClass(class[0]), age)
		return g, sheet.FlagErr("cement", err)
	case "aci209":
		kind := strings.ToLower(cmp.Or(q.cure, "moist")) + " " + strings.ToUpper(cmp.Or(q.cement, "I"))
		cure, ok := map[string]curing.ACI209Cure{
			"moist I": curing.MoistTypeI, "moist III": curing.MoistTypeIII, "steam I": curing.SteamTypeI,
			"steam III": curing.SteamTypeIII,
		}[kind]
		if !ok {
			return curing.Growth{},
				terminal.Usagef("%q is no cure and cement of ACI 209R; --cure moist or steam, --cement I or III",
					terminal.Safe(kind))
		}
		g, err := curing.ACI209Growth(cure, age)
		return g, sheet.FlagErr("at", err)
	}
	return curing.Growth{}, terminal.Usagef("--fallback: %q is no code that has a curve here; en1992 or aci209",
		terminal.Safe(q.fallback))
}

func fallbackFormula(code string) string {
	if strings.EqualFold(code, "en1992") {
		return "f(t)/f(28) = exp(s (1 − √(28/t))), s 0.20, 0.25, 0.38 for R, N, S"
	}
	return "f(t)/f(28) = t/(a + b t), a and b 4.0, 0.85 moist I; 2.3, 0.92 moist III; 1.0, 0.95 steam I; 0.70, 0.98 steam III (from memory)"
}

// given is a strength by a curve whose parameters somebody has.
func (q calcStrength) given(env *terminal.Streams, s *sheet.Sheet) error {
	form, err := curing.ParseForm(strings.ToLower(q.form))
	if err != nil {
		return terminal.Usagef("--form: %v", err)
	}
	s.Noted("form", form.String())
	names := map[curing.Form][]string{
		curing.Hyperbolic: {"ultimate", "rate", "start"}, curing.Logarithmic: {"a", "b"},
		curing.Exponential: {"ultimate", "tau", "alpha"},
	}[form]
	value := map[string]float64{}
	for _, text := range q.parameters {
		name, said, ok := strings.Cut(text, "=")
		if name = strings.TrimSpace(name); !ok || !slices.Contains(names, name) {
			return terminal.Usagef("--parameter: %q is none of the %v form's; it has %s, such as %s=…",
				terminal.Safe(text), form, strings.Join(names, ", "), names[0])
		}
		if _, twice := value[name]; twice {
			return terminal.Usagef("--parameter: %s is given twice", name)
		}
		if value[name], err = parameter(s, name, said); err != nil {
			return err
		}
	}
	for _, name := range names {
		if _, ok := value[name]; !ok {
			return terminal.Usagef("the %v form also needs --parameter %s=…", form, name)
		}
	}
	days, err := q.age(s)
	if err != nil {
		return err
	}
	const mpa = unit.Megapascal
	var strength unit.Pressure
	switch form {
	case curing.Hyperbolic:
		strength = curing.HyperbolicStrength(unit.Pressure(value["ultimate"])*mpa, value["rate"], value["start"], days)
	case curing.Logarithmic:
		strength = curing.LogarithmicStrength(unit.Pressure(value["a"])*mpa, unit.Pressure(value["b"])*mpa, days)
	case curing.Exponential:
		strength = curing.ExponentialStrength(unit.Pressure(value["ultimate"])*mpa, value["tau"], value["alpha"], days)
	}
	s.Figuref("strength", "%s at %s days", sheet.Both(strength, unit.System.Pressure), sheet.Decimal(days, 5))
	s.By(formulaOf(form), strings.TrimSuffix(strengthSource(form), "; least squares")+"; parameters as given")
	s.Warnf("parameters without their breaks say nothing of how sure the curve is")
	s.Caution(curing.Caution, curing.Scope)
	return s.Print(env, "strength", givenDoc{
		Form: form.String(), Parameters: value, At: days,
		Strength: float64(strength / mpa), Sheet: *s,
	})
}

// parameter is one of a curve's: a strength in MPa, or a number in days. Only a, the logarithmic form's strength at one
// day, may lie below 0.
func parameter(s *sheet.Sheet, name, said string) (float64, error) {
	said = strings.TrimSpace(said)
	flag := "parameter " + name
	if name == "ultimate" || name == "a" || name == "b" {
		sign, plain := 1.0, said
		if name == "a" && (strings.HasPrefix(said, "-") || strings.HasPrefix(said, "−")) {
			sign, plain = -1, strings.TrimPrefix(strings.TrimPrefix(said, "-"), "−")
		}
		p, err := unit.ParsePressure(plain)
		if err != nil {
			return 0, sheet.FlagErr("parameter", err)
		}
		v := sign * float64(p/unit.Megapascal)
		if name != "a" && v <= 0 || v > 1000 || v < -1000 {
			return 0,
				terminal.Usagef(
					"--parameter: %s=%s cannot be; give a strength above 0 and at most 1000 MPa (145000 psi)", name,
					terminal.Safe(said))
		}
		s.Understood(flag, said, v, "MPa", sheet.Both(p*unit.Pressure(sign), unit.System.Pressure))
		return v, nil
	}
	plain := strings.TrimSuffix(said, "d")
	if name == "rate" {
		plain = strings.TrimSuffix(said, "/d")
	} else if name == "alpha" {
		plain = said
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(plain), 64)
	if err != nil || name != "start" && v <= 0 || !(v > -36500 && v < 36500) {
		return 0,
			terminal.Usagef(
				"--parameter: %s=%s cannot be; give a number in days, such as rate=0.2 (a day), start=0.3, tau=1.2, alpha=0.8", name, terminal.Safe(said))
	}
	in := map[string]string{"rate": "1/d", "start": "d", "tau": "d"}[name]
	s.Understood(flag, said, v, in, sheet.Decimal(v, 5)+map[string]string{
		"rate": " a day", "start": " days",
		"tau": " days",
	}[name])
	return v, nil
}

// age is --at in days.
func (q calcStrength) age(s *sheet.Sheet) (float64, error) {
	if q.at == "" {
		return 0, s.Missing("at")
	}
	days, err := strconv.ParseFloat(q.at, 64)
	if err != nil {
		d, err := unit.ParseDuration(q.at)
		if err != nil {
			return 0, sheet.FlagErr("at", err)
		}
		days = d.Hours() / 24
	}
	if !(days > 0 && days <= 36500) {
		return 0, terminal.Usagef("--at: %q cannot be; give an age above 0 and at most 36500 days, such as 14d",
			terminal.Safe(q.at))
	}
	s.Understood("at", q.at, days, "d", sheet.Decimal(days, 5)+" days")
	return days, nil
}

func (q calcStrength) strengthAt(s *sheet.Sheet, curve curing.Curve, doc *strengthDoc) error {
	days, err := q.age(s)
	if err != nil {
		return err
	}
	e, err := curve.At(days)
	if err != nil {
		return sheet.FlagErr("at", err)
	}
	mpa := func(p unit.Pressure) *float64 { v := float64(p / unit.Megapascal); return &v }
	doc.At, doc.Strength, doc.Low, doc.High = &days, mpa(e.Strength), mpa(e.Low), mpa(e.High)
	doc.LowBreak, doc.HighBreak, doc.Extrapolated = mpa(e.LowBreak), mpa(e.HighBreak), e.Extrapolated
	s.Figuref("strength", "%s at %s days", sheet.Both(e.Strength, unit.System.Pressure), sheet.Decimal(days, 5))
	s.Figuref("its mean, 95 %", "%s to %s", sheet.Both(e.Low, unit.System.Pressure),
		sheet.Both(e.High, unit.System.Pressure))
	s.Figuref("one more break, 95 %", "%s to %s", sheet.Both(e.LowBreak, unit.System.Pressure),
		sheet.Both(e.HighBreak, unit.System.Pressure))
	if e.Extrapolated {
		s.Warnf("no break covers %s days (they lie between %s and %s): the curve is carried on beyond them",
			sheet.Decimal(days, 5), sheet.Decimal(curve.From, 5), sheet.Decimal(curve.To, 5))
	}
	return nil
}

// inDays turns the unit of a parameter, in terms of the maturity m, into the days that the file has: for a field's
// name, and for a person.
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
