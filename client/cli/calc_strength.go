package cli

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// maxBreaks is how many breaks a curve is drawn through. The fit goes over all of them many times, and a job breaks some
// hundreds.
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
	calcSheet
}

// givenDoc is a strength by a curve whose parameters were given.
type givenDoc struct {
	Form       string             `json:"form"`
	Parameters map[string]float64 `json:"parameters"`
	At         float64            `json:"at_days"`
	Strength   float64            `json:"strength_mpa"`
	calcSheet
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
	calcSheet
}

func newCalcStrength(env *streams) *cobra.Command {
	var q calcStrength
	c := env.command("strength", "A mix's own strength curve, fitted to its breaks", `hod calc strength --breaks cubes.csv --form hyperbolic --at 14d`,
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
	f.StringArrayVar(&q.parameters, "parameter", nil, "a parameter of the form, NAME=VALUE; repeat it, in place of --breaks")
	f.StringVar(&q.fallback, "fallback", "", "en1992 or aci209: a code's curve in place of --breaks")
	f.StringVar(&q.at28, "strength-28", "", "mean strength at 28 days, for --fallback")
	f.StringVar(&q.cement, "cement", "", "for en1992 R, N or S (N if not said); for aci209 I or III (I if not said)")
	f.StringVar(&q.cure, "cure", "", "for aci209 moist or steam; moist if not said")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcStrength) run(_ context.Context, env *streams, s *calcSheet) error {
	switch {
	case q.breaks != "" && q.fallback != "", q.breaks != "" && len(q.parameters) > 0, q.fallback != "" && len(q.parameters) > 0:
		return usage("--breaks, --parameter and --fallback are three curves; give one of them")
	case q.fallback == "" && q.at28+q.cement+q.cure != "":
		return usage("--strength-28, --cement and --cure belong to --fallback; give that too")
	case q.reaches != "" && q.breaks == "":
		return usage("--reaches goes by the mix's own breaks; give --breaks")
	case q.fallback != "":
		return q.borrowed(env, s)
	case len(q.parameters) > 0:
		return q.given(env, s)
	case q.breaks == "":
		return s.missing("breaks", "fallback")
	}
	form, err := curing.ParseForm(strings.ToLower(q.form))
	if err != nil {
		return usage("--form: %v", err)
	}
	rows, found, err := env.readColumns("breaks", q.breaks, []string{"days"}, []string{"mpa", "psi"})
	if err != nil {
		return err
	}
	if len(rows) > maxBreaks {
		return usage("--breaks: %s has %d breaks; a curve is drawn through %d at most: give those of one mix, or the mean of each age", safe(q.breaks), len(rows), maxBreaks)
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
	if days, ok := curve.Reaches(curing.FrostStrength); ok {
		doc.StandsFrost = &days
		s.figure("may stand one freezing", "from %s days, at %s, by the middle of the band", decimal(days, 3), unit.Both(unit.US, unit.Computed(curing.FrostStrength), unit.System.Pressure))
		s.by("no freezing before 500 psi (3.5 MPa)", "PCA Design and Control of Concrete Mixtures, chapter 14, after Powers")
	}
	for _, n := range curve.Notes {
		s.warn("%s", n)
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
	s.caution(curing.Caution, curing.Scope)
	doc.calcSheet = *s
	return s.print(env, "strength", doc)
}

// reached is when the curve comes to a strength.
func (q calcStrength) reached(s *calcSheet, curve curing.Curve, doc *strengthDoc) error {
	level, err := asked(s, "reaches", q.reaches, unit.ParsePressure, "Pa", unit.System.Pressure)
	if err != nil {
		return err
	}
	if level <= 0 {
		return usage("--reaches: %s cannot be; give a strength above 0", safe(q.reaches))
	}
	days, ok := curve.Reaches(level)
	if !ok {
		s.warn("the curve never comes to %s", bothUnits(level, unit.System.Pressure))
		return nil
	}
	doc.ReachedAt = &days
	s.figure("comes to it", "%s at %s days, by the middle of the band", bothUnits(level, unit.System.Pressure), decimal(days, 4))
	if days < curve.From || days > curve.To {
		s.warn("no break covers %s days (they lie between %s and %s): the curve is carried on beyond them", decimal(days, 4), decimal(curve.From, 5), decimal(curve.To, 5))
	}
	return nil
}

// borrowed is a strength by a code's general curve.
func (q calcStrength) borrowed(env *streams, s *calcSheet) error {
	days, err := q.age(s)
	if err != nil {
		return err
	}
	grown, err := q.growth(time.Duration(days * 24 * float64(time.Hour)))
	if err != nil {
		return err
	}
	s.noted("fallback", grown.Curve)
	doc := borrowedDoc{Curve: grown.Curve, NotOwn: true, At: days, Share: grown.Share}
	s.figure("NOT THIS MIX'S OWN", "%s %% of the 28-day strength at %s days", decimal(100*grown.Share, 4), decimal(days, 5))
	s.by(fallbackFormula(q.fallback), grown.Curve)
	if q.at28 != "" {
		at28, err := asked(s, "strength-28", q.at28, unit.ParsePressure, "Pa", unit.System.Pressure)
		if err != nil {
			return err
		}
		is, err := grown.Of(at28)
		if err != nil {
			return ofFlag("strength-28", err)
		}
		mpa := float64(is.Strength / unit.Megapascal)
		doc.Strength = &mpa
		s.figure("strength by that curve", "%s", bothUnits(is.Strength, unit.System.Pressure))
		if strings.EqualFold(q.fallback, "en1992") && days >= 3 && days <= 28 {
			if c, err := curing.EN1992Characteristic(is.Strength); err == nil {
				v := float64(c / unit.Megapascal)
				doc.Characteristic = &v
				s.figure("characteristic", "%s: the mean less 8 MPa, EN 1992-1-1 3.1.2, from 3 to 28 days", bothUnits(c, unit.System.Pressure))
			}
		}
	}
	s.warn("%s", curing.NotOwn)
	s.warn("for a cure at 20 °C (68 °F); elsewhere give the equivalent age, `hod calc maturity`")
	s.caution(curing.Caution)
	doc.calcSheet = *s
	return s.print(env, "strength", doc)
}

func (q calcStrength) growth(age time.Duration) (curing.Growth, error) {
	switch strings.ToLower(q.fallback) {
	case "en1992":
		if q.cure != "" {
			return curing.Growth{}, usage("--cure is for aci209; EN 1992-1-1 has one curve a class of cement")
		}
		class := strings.ToUpper(cmp.Or(q.cement, "N"))
		if len(class) != 1 {
			return curing.Growth{}, usage("--cement: %q is no class of EN 1992-1-1; R, N or S", safe(q.cement))
		}
		g, err := curing.EN1992Growth(curing.CementClass(class[0]), age)
		return g, ofFlag("cement", err)
	case "aci209":
		kind := strings.ToLower(cmp.Or(q.cure, "moist")) + " " + strings.ToUpper(cmp.Or(q.cement, "I"))
		cure, ok := map[string]curing.ACI209Cure{
			"moist I": curing.MoistTypeI, "moist III": curing.MoistTypeIII, "steam I": curing.SteamTypeI, "steam III": curing.SteamTypeIII,
		}[kind]
		if !ok {
			return curing.Growth{}, usage("%q is no cure and cement of ACI 209R; --cure moist or steam, --cement I or III", safe(kind))
		}
		g, err := curing.ACI209Growth(cure, age)
		return g, ofFlag("at", err)
	}
	return curing.Growth{}, usage("--fallback: %q is no code that has a curve here; en1992 or aci209", safe(q.fallback))
}

func fallbackFormula(code string) string {
	if strings.EqualFold(code, "en1992") {
		return "f(t)/f(28) = exp(s (1 − √(28/t))), s 0.20, 0.25, 0.38 for R, N, S"
	}
	return "f(t)/f(28) = t/(a + b t), a and b 4.0, 0.85 moist I; 2.3, 0.92 moist III; 1.0, 0.95 steam I; 0.70, 0.98 steam III (from memory)"
}

// given is a strength by a curve whose parameters somebody has.
func (q calcStrength) given(env *streams, s *calcSheet) error {
	form, err := curing.ParseForm(strings.ToLower(q.form))
	if err != nil {
		return usage("--form: %v", err)
	}
	s.noted("form", form.String())
	names := map[curing.Form][]string{
		curing.Hyperbolic: {"ultimate", "rate", "start"}, curing.Logarithmic: {"a", "b"}, curing.Exponential: {"ultimate", "tau", "alpha"},
	}[form]
	value := map[string]float64{}
	for _, text := range q.parameters {
		name, said, ok := strings.Cut(text, "=")
		if name = strings.TrimSpace(name); !ok || !slices.Contains(names, name) {
			return usage("--parameter: %q is none of the %v form's; it has %s, such as %s=…", safe(text), form, strings.Join(names, ", "), names[0])
		}
		if _, twice := value[name]; twice {
			return usage("--parameter: %s is given twice", name)
		}
		if value[name], err = s.parameter(name, said); err != nil {
			return err
		}
	}
	for _, name := range names {
		if _, ok := value[name]; !ok {
			return usage("the %v form also needs --parameter %s=…", form, name)
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
	s.figure("strength", "%s at %s days", bothUnits(strength, unit.System.Pressure), decimal(days, 5))
	s.by(formulaOf(form), strings.TrimSuffix(strengthSource(form), "; least squares")+"; parameters as given")
	s.warn("parameters without their breaks say nothing of how sure the curve is")
	s.caution(curing.Caution, curing.Scope)
	return s.print(env, "strength", givenDoc{Form: form.String(), Parameters: value, At: days, Strength: float64(strength / mpa), calcSheet: *s})
}

// parameter is one of a curve's: a strength in MPa, or a number in days. Only a, the logarithmic form's strength at one
// day, may lie below 0.
func (s *calcSheet) parameter(name, said string) (float64, error) {
	said = strings.TrimSpace(said)
	flag := "parameter " + name
	if name == "ultimate" || name == "a" || name == "b" {
		sign, plain := 1.0, said
		if name == "a" && (strings.HasPrefix(said, "-") || strings.HasPrefix(said, "−")) {
			sign, plain = -1, strings.TrimPrefix(strings.TrimPrefix(said, "-"), "−")
		}
		p, err := unit.ParsePressure(plain)
		if err != nil {
			return 0, ofFlag("parameter", err)
		}
		v := sign * float64(p/unit.Megapascal)
		if name != "a" && v <= 0 || v > 1000 || v < -1000 {
			return 0, usage("--parameter: %s=%s cannot be; give a strength above 0 and at most 1000 MPa (145000 psi)", name, safe(said))
		}
		s.understood(flag, said, v, "MPa", bothUnits(p*unit.Pressure(sign), unit.System.Pressure))
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
		return 0, usage("--parameter: %s=%s cannot be; give a number in days, such as rate=0.2 (a day), start=0.3, tau=1.2, alpha=0.8", name, safe(said))
	}
	in := map[string]string{"rate": "1/d", "start": "d", "tau": "d"}[name]
	s.understood(flag, said, v, in, decimal(v, 5)+map[string]string{"rate": " a day", "start": " days", "tau": " days"}[name])
	return v, nil
}

// age is --at in days.
func (q calcStrength) age(s *calcSheet) (float64, error) {
	if q.at == "" {
		return 0, s.missing("at")
	}
	days, err := strconv.ParseFloat(q.at, 64)
	if err != nil {
		d, err := unit.ParseDuration(q.at)
		if err != nil {
			return 0, ofFlag("at", err)
		}
		days = d.Hours() / 24
	}
	if !(days > 0 && days <= 36500) {
		return 0, usage("--at: %q cannot be; give an age above 0 and at most 36500 days, such as 14d", safe(q.at))
	}
	s.understood("at", q.at, days, "d", decimal(days, 5)+" days")
	return days, nil
}

func (q calcStrength) strengthAt(s *calcSheet, curve curing.Curve, doc *strengthDoc) error {
	days, err := q.age(s)
	if err != nil {
		return err
	}
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
