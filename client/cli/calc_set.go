package cli

import (
	"context"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/setting"
	"hod/internal/unit"
)

// calcSet is initial set: from penetration readings, at another temperature, or how much of it a history has used up.
type calcSet struct{ penetration, initial, reference, ea, temperature, history string }

type penetrationDoc struct {
	Initial             float64 `json:"initial_min"`
	Final               float64 `json:"final_min"`
	Slope               float64 `json:"slope"`
	Intercept           float64 `json:"intercept"`
	R2                  float64 `json:"r2"`
	Readings            int     `json:"readings"`
	InitialExtrapolated bool    `json:"initial_extrapolated"`
	FinalExtrapolated   bool    `json:"final_extrapolated"`
	calcSheet
}

type setDoc struct {
	Set        *float64 `json:"set_min,omitempty"`
	AgeFactor  *float64 `json:"age_factor,omitempty"`
	Equivalent *float64 `json:"equivalent_min,omitempty"`
	Consumed   *float64 `json:"consumed,omitempty"` // 1 is initial set
	State      string   `json:"state,omitempty"`
	calcSheet
}

func newCalcSet(env *Env) *cobra.Command {
	var q calcSet
	c := env.command("set", "Initial set: measured, at another temperature, or how much of it is used up",
		`hod calc set --initial 300min --reference 23C --ea 40kJ/mol --temperature 35C`,
		`hod calc set --penetration needles.csv`,
		`hod calc set --initial 5h --reference 73F --ea 40kJ/mol --history wall.csv`)
	c.Long = "--penetration has the columns minutes,psi (or mpa), minutes since water met cement. --history has minutes,temp_c (or\n" +
		"temp_f): for how many minutes the mortar had which temperature, one after the other."
	f := c.Flags()
	f.StringVar(&q.penetration, "penetration", "", "CSV file of needle readings with the columns minutes,psi")
	f.StringVar(&q.initial, "initial", "", "initial set of the mix since water met cement, 300min")
	f.StringVar(&q.reference, "reference", "", "the temperature at which it was measured")
	f.StringVar(&q.ea, "ea", "40kJ/mol", "the mix's activation energy")
	f.StringVar(&q.temperature, "temperature", "", "when does it set at this temperature?")
	f.StringVar(&q.history, "history", "", "how much of it has this history used up? CSV file with the columns minutes,temp_c")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcSet) run(_ context.Context, env *Env, s *calcSheet) error {
	if q.penetration != "" {
		for flag, text := range map[string]string{"initial": q.initial, "temperature": q.temperature, "history": q.history} {
			if text != "" {
				return usage("--penetration measures initial set, and --%s starts from a known one; give one of them", flag)
			}
		}
		return q.measured(env, s)
	}
	if q.initial == "" {
		return s.missing("penetration", "initial")
	}
	initial, err := unit.ParseDuration(q.initial)
	if err != nil {
		return ofFlag("initial", err)
	}
	s.understood("initial", q.initial, initial.Minutes(), "min", unit.Duration(initial))
	reference, err := asked(s, "reference", q.reference, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	ea, err := activation(q.ea)
	if err != nil {
		return ofFlag("ea", err)
	}
	s.understood("ea", q.ea, float64(ea)/1000, "kJ/mol", decimal(float64(ea)/1000, 5)+" kJ/mol (Q "+decimal(float64(ea.Q()), 5)+" K)")
	set := setting.Set{Initial: initial, Reference: reference, Ea: ea}
	if err := set.Check(); err != nil {
		return impossible(err)
	}
	if q.temperature == "" && q.history == "" {
		return s.missing("temperature", "history")
	}
	return q.known(env, s, set)
}

func (q calcSet) known(env *Env, s *calcSheet, set setting.Set) error {
	var doc setDoc
	if q.temperature != "" {
		t, err := asked(s, "temperature", q.temperature, unit.ParseTemperature, "C", unit.System.Temperature)
		if err != nil {
			return err
		}
		at, err := set.At(t)
		if err != nil {
			return ofFlag("temperature", err)
		}
		minutes, factor := at.Minutes(), setting.AgeFactor(t, set.Reference, set.Ea)
		doc.Set, doc.AgeFactor = &minutes, &factor
		s.figure("initial set", "%s min (%s) at %s", decimal(minutes, 5), unit.Duration(at), bothUnits(t, unit.System.Temperature))
		s.figure("age factor", "%s", decimal(factor, 5))
		s.by("t(T) = initial / exp(−Ea/R (1/T − 1/Tref)), T in K with 273.15", "equivalent age, ASTM C1074 (from memory), as Pinto and Hover put it to set")
		if rule, err := setting.ThirdLonger(set.Initial, set.Reference, t); err == nil { // it has no answer where nothing sets
			s.figure("by rule of thumb", "%s: a third longer for each 10 °F cooler; common practice, no source", unit.Duration(rule))
		}
	}
	if q.history != "" {
		if err := q.used(env, s, set, &doc); err != nil {
			return err
		}
	}
	doc.calcSheet = *s
	return s.print(env, "set", doc)
}

// used is the share of initial set that a history has used up.
func (q calcSet) used(env *Env, s *calcSheet, set setting.Set, doc *setDoc) error {
	rows, found, err := env.readColumns("history", q.history, []string{"minutes"}, []string{"temp_c", "temp_f"})
	if err != nil {
		return err
	}
	pieces := make([]setting.Piece, len(rows))
	for i, r := range rows {
		t := unit.Celsius(r[1])
		if strings.EqualFold(found[1], "temp_f") {
			t = unit.Fahrenheit(r[1])
		}
		if !(r[0] > 0 && r[0] <= setting.Longest.Minutes()) {
			return usage("--history: piece %d: %s minutes cannot be; each row is a length of time above 0 and its temperature", i+1, decimal(r[0], 6))
		}
		pieces[i] = setting.Piece{For: time.Duration(math.Round(r[0] * float64(time.Minute))), At: t}
	}
	s.noted("history", q.history+": "+count(len(rows), "piece", "pieces"))
	age, err := setting.EquivalentOver(pieces, set.Reference, set.Ea)
	if err != nil {
		return ofFlag("history", err)
	}
	share, err := setting.ConsumedOver(set, pieces)
	if err != nil {
		return ofFlag("history", err)
	}
	minutes, state := age.Minutes(), setting.Suggested.State(share)
	doc.Equivalent, doc.Consumed, doc.State = &minutes, &share, state.String()
	s.figure("equivalent age", "%s min (%s) at %s", decimal(minutes, 5), unit.Duration(age), bothUnits(set.Reference, unit.System.Temperature))
	s.figure("used up of initial set", "%s %%: %s", decimal(share*100, 4), state)
	s.by("te = Σ exp(−Ea/R (1/T − 1/Tref)) Δt, T in K with 273.15; used up = te / initial", "ASTM C1074 (from memory)")
	s.against("amber", "50 % used up", setting.Rounded(share) >= setting.Suggested.Amber, "a choice of this program, no source")
	s.against("closing", "80 % used up", setting.Rounded(share) >= setting.Suggested.Closing, "a choice of this program, no source")
	s.against("cold", "initial set", setting.Rounded(share) >= setting.Suggested.Cold, "ACI CT; ACI 309R-96; BS 8500-1 A.9.1: a cold joint is one made past it")
	return nil
}

// measured reads both set times off penetration readings.
func (q calcSet) measured(env *Env, s *calcSheet) error {
	rows, found, err := env.readColumns("penetration", q.penetration, []string{"minutes"}, []string{"psi", "mpa"})
	if err != nil {
		return err
	}
	one := unit.PSI
	if strings.EqualFold(found[1], "mpa") {
		one = unit.Megapascal
	}
	readings := make([]setting.Penetration, len(rows))
	for i, r := range rows {
		if math.Abs(r[0]) > setting.Longest.Minutes() {
			return usage("--penetration: %s minutes cannot be; the readings are within 14 days of the water", decimal(r[0], 6))
		}
		readings[i] = setting.Penetration{Elapsed: time.Duration(math.Round(r[0] * float64(time.Minute))), Resistance: unit.Pressure(r[1]) * one}
	}
	s.noted("penetration", q.penetration+": "+count(len(rows), "reading", "readings"))
	fit, err := setting.FitPenetration(readings)
	if err != nil {
		return ofFlag("penetration", err)
	}
	doc := penetrationDoc{
		Initial: fit.Initial.Minutes(), Final: fit.Final.Minutes(), Slope: fit.Slope, Intercept: fit.Intercept, R2: fit.R2,
		Readings: fit.Readings, InitialExtrapolated: fit.InitialExtrapolated, FinalExtrapolated: fit.FinalExtrapolated,
	}
	s.figure("initial set", "%s min (%s), at %s", decimal(doc.Initial, 6), unit.Duration(fit.Initial), unit.Both(unit.US, unit.Computed(setting.InitialSet), unit.System.Pressure))
	s.figure("final set", "%s min (%s), at %s", decimal(doc.Final, 6), unit.Duration(fit.Final), unit.Both(unit.US, unit.Computed(setting.FinalSet), unit.System.Pressure))
	s.figure("line", "log10 psi = %s + %s log10 min, R² %s", decimal(fit.Intercept, 6), decimal(fit.Slope, 6), decimal(fit.R2, 5))
	s.by("least squares through log10 of resistance over log10 of time", "ASTM C403 (form from memory; its limits read)")
	s.against("least number of readings", strconv.Itoa(setting.LeastReadings), fit.Readings < setting.LeastReadings, "ASTM C403")
	for _, n := range fit.Notes {
		s.warn("%s", n)
	}
	doc.calcSheet = *s
	return s.print(env, "set", doc)
}

// activation reads 40kJ/mol, the 5000K of the same thing over the gas constant, or a bare number of kJ/mol.
func activation(text string) (setting.ActivationEnergy, error) {
	plain := strings.ToLower(strings.Join(strings.Fields(text), ""))
	kelvins := false
	number, ok := strings.CutSuffix(plain, "kj/mol")
	if !ok {
		number, kelvins = strings.CutSuffix(plain, "k")
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, usage("%q is not an activation energy; it looks like 40kJ/mol, or 4811K as Q = Ea/R", safe(text))
	}
	ea := setting.ActivationEnergy(v * 1000)
	if kelvins {
		ea = setting.EnergyOf(unit.Kelvins(v))
	}
	if err := ea.Check(); err != nil {
		return 0, impossible(err)
	}
	return ea, nil
}
