package hardening

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// calcSet is initial set: from penetration readings, at another temperature, or how much of it a history has used up.
type calcSet struct {
	penetration, at, force, needle, vicat        string
	initial, reference, ea, temperature, history string
}

type penetrationDoc struct {
	Initial             float64  `json:"initial_min"`
	Final               float64  `json:"final_min"`
	Slope               float64  `json:"slope"`
	Intercept           float64  `json:"intercept"`
	R2                  float64  `json:"r2"`
	Readings            int      `json:"readings"`
	InitialExtrapolated bool     `json:"initial_extrapolated"`
	FinalExtrapolated   bool     `json:"final_extrapolated"`
	At                  *float64 `json:"at_min,omitempty"`
	Resistance          *float64 `json:"resistance_psi,omitempty"` // at that time, by the line
	sheet.Sheet
}

// needleDoc is one press of the penetrometer.
type needleDoc struct {
	PSI      float64 `json:"resistance_psi"`
	MPa      float64 `json:"resistance_mpa"`
	Diameter float64 `json:"needle_diameter_mm"`
	sheet.Sheet
}

type vicatDoc struct {
	Initial  float64 `json:"initial_min"`
	Readings int     `json:"readings"`
	sheet.Sheet
}

type setDoc struct {
	Set        *float64 `json:"set_min,omitempty"`
	AgeFactor  *float64 `json:"age_factor,omitempty"`
	Equivalent *float64 `json:"equivalent_min,omitempty"`
	Consumed   *float64 `json:"consumed,omitempty"` // 1 is initial set
	State      string   `json:"state,omitempty"`
	Third      *float64 `json:"third_longer_min,omitempty"` // rules of thumb, which know nothing of the mix
	Doubled    *float64 `json:"doubled_per_20f_min,omitempty"`
	Table      *float64 `json:"trade_table_min,omitempty"`
	sheet.Sheet
}

// NewSet makes hod calc set.
func NewSet(env *terminal.Streams) *cobra.Command {
	var q calcSet
	c := env.NewCommand("set", "Initial set: measured, at another temperature, or how much of it is used up",
		`hod calc set --initial 300min --reference 23C --ea 40kJ/mol --temperature 35C`,
		`hod calc set --penetration needles.csv`,
		`hod calc set --initial 5h --reference 73F --ea 40kJ/mol --history wall.csv`,
		`hod calc set --force 62lbf --needle 1/10in2`,
		`hod calc set --vicat needle.csv`)
	c.Long = "--penetration has the columns minutes,psi (or mpa), minutes since water met cement; or minutes,lbf,needle_in2 (or\n" +
		"newtons,needle_mm2): the force, and the bearing area of the needle. --history has minutes,temp_c (or temp_f): for how\n" +
		"many minutes the mortar had which temperature, one after the other. --vicat has minutes,mm: how deep the needle of a\n" +
		"Vicat apparatus went into paste."
	f := c.Flags()
	f.StringVar(&q.penetration, "penetration", "", "CSV file of needle readings with the columns minutes,psi")
	f.StringVar(&q.at, "at", "", "also the resistance at this time, by the line through the readings")
	f.StringVar(&q.force, "force", "", "one press of the needle: the force, 62lbf or 276N")
	f.StringVar(&q.needle, "needle", "", "its bearing area, 1/10in2 or 65mm2")
	f.StringVar(&q.vicat, "vicat", "", "CSV file of Vicat readings with the columns minutes,mm")
	f.StringVar(&q.initial, "initial", "", "initial set of the mix since water met cement, 300min")
	f.StringVar(&q.reference, "reference", "", "the temperature at which it was measured")
	f.StringVar(&q.ea, "ea", "40kJ/mol", "the mix's activation energy")
	f.StringVar(&q.temperature, "temperature", "", "when does it set at this temperature?")
	f.StringVar(&q.history, "history", "",
		"how much of it has this history used up? CSV file with the columns minutes,temp_c")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcSet) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	var ways []string
	for _, way := range []struct{ flag, text string }{
		{"penetration", q.penetration},
		{"vicat", q.vicat},
		{"force", q.force + q.needle},
		{"initial", q.initial},
		{"temperature", q.temperature},
		{"history", q.history},
	} {
		if way.text != "" {
			ways = append(ways, way.flag)
		}
	}
	if len(ways) > 1 && ways[0] != "initial" {
		if ways[0] != "temperature" {
			return terminal.Usagef("--%s measures, and --%s starts from something else; give one of them", ways[0],
				ways[1])
		}
	}
	if q.at != "" && q.penetration == "" {
		return terminal.Usagef(
			"--at reads the line through --penetration; give that, or --history for what a time has used up")
	}
	switch {
	case q.penetration != "":
		return q.measured(env, s)
	case q.vicat != "":
		return q.byVicat(env, s)
	case q.force+q.needle != "":
		return q.pressed(env, s)
	case q.initial == "":
		return s.Missing("penetration", "initial")
	}
	set, err := q.set(s)
	if err != nil {
		return err
	}
	if q.temperature == "" && q.history == "" {
		return s.Missing("temperature", "history")
	}
	return q.known(env, s, set)
}

// set is the initial set as the flags know it.
func (q calcSet) set(s *sheet.Sheet) (setting.Set, error) {
	initial, err := s.Length("initial", q.initial, time.Minute, "min")
	if err != nil {
		return setting.Set{}, err
	}
	reference, err := sheet.Asked(s, "reference", q.reference, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return setting.Set{}, err
	}
	ea, err := activation(q.ea)
	if err != nil {
		return setting.Set{}, sheet.FlagErr("ea", err)
	}
	s.Understood("ea", q.ea, float64(ea)/1000, "kJ/mol",
		sheet.Decimal(float64(ea)/1000, 5)+" kJ/mol (Q "+sheet.Decimal(float64(ea.Q()), 5)+" K)")
	set := setting.Set{Initial: initial, Reference: reference, Ea: ea}
	if err := setting.CheckTemperature(reference); err != nil {
		return set, sheet.FlagErr("reference", err)
	}
	return set, sheet.FlagErr("initial", set.Check())
}

func (q calcSet) known(env *terminal.Streams, s *sheet.Sheet, set setting.Set) error {
	var doc setDoc
	if q.temperature != "" {
		t, err := sheet.Asked(s, "temperature", q.temperature, unit.ParseTemperature, "C", unit.System.Temperature)
		if err != nil {
			return err
		}
		at, err := set.At(t)
		if err != nil {
			return sheet.FlagErr("temperature", err)
		}
		minutes, factor := at.Minutes(), setting.AgeFactor(t, set.Reference, set.Ea)
		doc.Set, doc.AgeFactor = &minutes, &factor
		s.Figuref("initial set", "%s min (%s) at %s", sheet.Decimal(minutes, 5), unit.Duration(at),
			sheet.Both(t, unit.System.Temperature))
		s.Figuref("age factor", "%s", sheet.Decimal(factor, 5))
		s.By("t(T) = initial / exp(−Ea/R (1/T − 1/Tref)), T in K with 273.15",
			"equivalent age, ASTM C1074 (from memory), as Pinto and Hover put it to set")
		rules(s, set, t, &doc)
		if t <= 0 {
			s.Warnf(
				"at 0 °C (32 °F) and below the water freezes: this is the formula's time alone, and mortar that froze before it set may be lost")
		}
	}
	if q.history != "" {
		if err := q.used(env, s, set, &doc); err != nil {
			return err
		}
	}
	doc.Sheet = *s
	return s.Print(env, "set", doc)
}

// used is the share of initial set that a history has used up.
func (q calcSet) used(env *terminal.Streams, s *sheet.Sheet, set setting.Set, doc *setDoc) error {
	rows, found, err := sheet.ReadColumns(env, "history", q.history, []string{"minutes"}, []string{"temp_c", "temp_f"})
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
			return terminal.Usagef(
				"--history: piece %d: %s minutes cannot be; each row is a length of time above 0 and its temperature",
				i+1, sheet.Decimal(r[0], 6))
		}
		pieces[i] = setting.Piece{For: time.Duration(math.Round(r[0] * float64(time.Minute))), At: t}
	}
	s.Noted("history", q.history+": "+terminal.Plural(len(rows), "piece", "pieces"))
	if slices.ContainsFunc(pieces, func(p setting.Piece) bool { return p.At <= 0 }) {
		s.Warnf(
			"part of the history is at 0 °C (32 °F) or below, where the water freezes: the formula knows nothing of that")
	}
	age, err := setting.EquivalentOver(pieces, set.Reference, set.Ea)
	if err != nil {
		return sheet.FlagErr("history", err)
	}
	share, err := setting.ConsumedOver(set, pieces)
	if err != nil {
		return sheet.FlagErr("history", err)
	}
	minutes, state := age.Minutes(), setting.Suggested.State(share)
	doc.Equivalent, doc.Consumed, doc.State = &minutes, &share, state.String()
	s.Figuref("equivalent age", "%s min (%s) at %s", sheet.Decimal(minutes, 5), unit.Duration(age),
		sheet.Both(set.Reference, unit.System.Temperature))
	s.Figuref("used up of initial set", "%s %%: %s", sheet.Decimal(share*100, 4), state)
	s.By("te = Σ exp(−Ea/R (1/T − 1/Tref)) Δt, T in K with 273.15; used up = te / initial", "ASTM C1074 (from memory)")
	ladder(s, share)
	return nil
}

// ladder are the shares of initial set from which a contact goes by the next word.
func ladder(s *sheet.Sheet, share float64) {
	s.Stage("amber", "50 % used up", setting.Suggested.Watch(share), "a choice of this program, no source")
	s.Stage("closing", "80 % used up", setting.Rounded(share) >= setting.Suggested.Closing,
		"a choice of this program, no source")
	s.Stage("cold", "initial set", setting.Rounded(share) >= setting.Suggested.Cold,
		"ACI CT; ACI 309R-96; BS 8500-1 A.9.1: a cold joint is one made past it")
}

// rules of thumb as a second opinion. They have no answer where nothing sets.
func rules(s *sheet.Sheet, set setting.Set, t unit.Celsius, doc *setDoc) {
	minutes := func(d time.Duration) *float64 { m := d.Minutes(); return &m }
	if rule, err := setting.ThirdLonger(set.Initial, set.Reference, t); err == nil {
		doc.Third = minutes(rule)
		s.Figuref("by rule of thumb", "%s: a third longer for each 10 °F cooler; common practice, no source",
			unit.Duration(rule))
	}
	if rule, err := setting.DoubledPer20F(set.Initial, set.Reference, t); err == nil {
		doc.Doubled = minutes(rule)
		s.Figuref("by another", "%s: twice as long for 20 °F cooler; a contractors' leaflet (from memory), coarser",
			unit.Duration(rule))
	}
	if f := unit.Round(t.Fahrenheit(), 0.01); f < 30 || f > 100 {
		return // the table's own ends
	}
	if table, err := setting.EnergyFromSets(setting.TradeTable); err == nil {
		if at, err := table.Set(t); err == nil {
			doc.Table = minutes(at.Initial)
			s.Figuref("contractors' table",
				"about %s, of no mix in particular; within a quarter, part of it from memory",
				unit.Duration(at.Initial))
		}
	}
}

// pressed is the resistance that one press of the needle met.
func (q calcSet) pressed(env *terminal.Streams, s *sheet.Sheet) error {
	force, err := sheet.Asked(s, "force", q.force, unit.ParseForce, "N", unit.System.Force)
	if err != nil {
		return err
	}
	needle, err := sheet.Asked(s, "needle", q.needle, unit.ParseArea, "m2", smallArea)
	if err != nil {
		return err
	}
	p, err := setting.Resistance(force, needle)
	if err != nil {
		return terminal.AsUsage(err)
	}
	diameter := setting.NeedleDiameter(needle)
	doc := needleDoc{
		PSI: float64(p / unit.PSI), MPa: float64(p / unit.Megapascal),
		Diameter: float64(diameter / unit.Millimetre),
	}
	s.Figuref("penetration resistance", "%s", unit.Both(unit.US, unit.Computed(p), unit.System.Pressure))
	s.Figuref("needle's diameter", "%s mm (%s in)", sheet.Decimal(doc.Diameter, 4),
		sheet.Decimal(float64(diameter/unit.Inch), 4))
	s.By("force / bearing area", "ASTM C403")
	s.Stage("initial set", unit.Both(unit.US, unit.Computed(setting.InitialSet), unit.System.Pressure),
		unit.Round(doc.PSI, 0.01) >= 500, "ASTM C403")
	s.Stage("final set", unit.Both(unit.US, unit.Computed(setting.FinalSet), unit.System.Pressure),
		unit.Round(doc.PSI, 0.01) >= 4000, "ASTM C403")
	if !slices.ContainsFunc(setting.Needles, func(a unit.Area) bool { return math.Abs(float64(a/needle)-1) < 0.02 }) {
		s.Warnf(
			"the standard's needles bear on 1, 1/2, 1/4, 1/10, 1/20 and 1/40 in² (645, 323, 161, 65, 32 and 16 mm²; from memory)")
	}
	doc.Sheet = *s
	return s.Print(env, "set", doc)
}

// smallArea shows the area of a needle in mm² or in².
func smallArea(in unit.System, a unit.Area) string {
	if in == unit.US {
		return sheet.Decimal(float64(a/unit.SquareInch), 4) + " in²"
	}
	return sheet.Decimal(float64(a)*1e6, 4) + " mm²"
}

// byVicat is initial set of paste by the depth to which a needle goes in.
func (q calcSet) byVicat(env *terminal.Streams, s *sheet.Sheet) error {
	rows, _, err := sheet.ReadColumns(env, "vicat", q.vicat, []string{"minutes"}, []string{"mm"})
	if err != nil {
		return err
	}
	readings := make([]setting.Vicat, len(rows))
	for i, r := range rows {
		if math.Abs(r[0]) > setting.Longest.Minutes() {
			return terminal.Usagef("--vicat: %s minutes cannot be; the readings are within 14 days of the water",
				sheet.Decimal(r[0], 6))
		}
		readings[i] = setting.Vicat{
			Elapsed: time.Duration(math.Round(r[0] * float64(time.Minute))),
			Depth:   unit.Length(r[1]) * unit.Millimetre,
		}
	}
	s.Noted("vicat", q.vicat+": "+terminal.Plural(len(rows), "reading", "readings"))
	initial, err := setting.VicatInitial(readings)
	if err != nil {
		return sheet.FlagErr("vicat", err)
	}
	s.Figuref("initial set of the paste", "%s min (%s), where the needle goes in %s",
		sheet.Decimal(initial.Minutes(), 6), unit.Duration(initial),
		sheet.Both(setting.VicatDepth, unit.System.Thickness))
	s.By("straight between the last reading deeper than 25 mm and the first that is not", "ASTM C191 (from memory)")
	s.Warnf(
		"this is the set of neat paste and not of the mortar: a joint goes by penetration resistance, --penetration")
	return s.Print(env, "set", vicatDoc{Initial: initial.Minutes(), Readings: len(rows), Sheet: *s})
}

// measured reads both set times off penetration readings.
func (q calcSet) measured(env *terminal.Streams, s *sheet.Sheet) error {
	t, err := env.ReadTable(q.penetration)
	if err != nil {
		return sheet.FlagErr("penetration", err)
	}
	columns := [][]string{{"minutes"}, {"psi", "mpa"}}
	if forces := []string{"lbf", "newtons"}; sheet.Named(t, forces) >= 0 && sheet.Named(t, columns[1]) < 0 {
		columns = [][]string{{"minutes"}, forces, {"needle_in2", "needle_mm2"}}
	}
	rows, found, err := sheet.Columns(t, "penetration", columns...)
	if err != nil {
		return err
	}
	readings := make([]setting.Penetration, len(rows))
	for i, r := range rows {
		if math.Abs(r[0]) > setting.Longest.Minutes() {
			return terminal.Usagef("--penetration: %s minutes cannot be; the readings are within 14 days of the water",
				sheet.Decimal(r[0], 6))
		}
		p, err := resistance(found, r)
		if err != nil {
			return terminal.Usagef("--penetration: reading %d: %v", i+1, err)
		}
		readings[i] = setting.Penetration{
			Elapsed:    time.Duration(math.Round(r[0] * float64(time.Minute))),
			Resistance: p,
		}
	}
	s.Noted("penetration", q.penetration+": "+terminal.Plural(len(rows), "reading", "readings"))
	fit, err := setting.FitPenetration(readings)
	if err != nil {
		return sheet.FlagErr("penetration", err)
	}
	doc := penetrationDoc{
		Initial: fit.Initial.Minutes(), Final: fit.Final.Minutes(), Slope: fit.Slope, Intercept: fit.Intercept,
		R2:       fit.R2,
		Readings: fit.Readings, InitialExtrapolated: fit.InitialExtrapolated, FinalExtrapolated: fit.FinalExtrapolated,
	}
	s.Figuref("initial set", "%s min (%s), at %s", sheet.Decimal(doc.Initial, 6), unit.Duration(fit.Initial),
		unit.Both(unit.US, unit.Computed(setting.InitialSet), unit.System.Pressure))
	s.Figuref("final set", "%s min (%s), at %s", sheet.Decimal(doc.Final, 6), unit.Duration(fit.Final),
		unit.Both(unit.US, unit.Computed(setting.FinalSet), unit.System.Pressure))
	s.Figuref("line", "log10 psi = %s + %s log10 min, R² %s", sheet.Decimal(fit.Intercept, 6),
		sheet.Decimal(fit.Slope, 6), sheet.Decimal(fit.R2, 5))
	s.By("least squares through log10 of resistance over log10 of time",
		"ASTM C403 (form from memory; its limits read)")
	s.AtLeast("least number of readings", strconv.Itoa(setting.LeastReadings), fit.Readings < setting.LeastReadings,
		"ASTM C403")
	for _, n := range fit.Notes {
		s.Warnf("%s", n)
	}
	if err := q.resistanceAt(s, fit, &doc); err != nil {
		return err
	}
	doc.Sheet = *s
	return s.Print(env, "set", doc)
}

// resistanceAt is the resistance by the line at a time, where one was asked for.
func (q calcSet) resistanceAt(s *sheet.Sheet, fit setting.PenetrationFit, doc *penetrationDoc) error {
	if q.at == "" {
		return nil
	}
	at, err := s.Length("at", q.at, time.Minute, "min")
	if err != nil {
		return err
	}
	if at <= 0 || at > setting.Longest {
		return terminal.Usagef("--at: %s cannot be; give a time from water contact, above 0 and at most 14 days",
			terminal.Safe(q.at))
	}
	minutes, p := at.Minutes(), fit.Resistance(at)
	psi := float64(p / unit.PSI)
	doc.At, doc.Resistance = &minutes, &psi
	s.Figuref("resistance by the line", "%s after %s", unit.Both(unit.US, unit.Computed(p), unit.System.Pressure),
		unit.Duration(at))
	return nil
}

// resistance in a row of penetration readings: as it stands there, or the force over the needle.
func resistance(columns []string, row []float64) (unit.Pressure, error) {
	switch strings.ToLower(columns[1]) {
	case "psi":
		return unit.Pressure(row[1]) * unit.PSI, nil
	case "mpa":
		return unit.Pressure(row[1]) * unit.Megapascal, nil
	}
	force, needle := unit.Force(row[1]), unit.Area(row[2])
	if strings.EqualFold(columns[1], "lbf") {
		force *= unit.PoundForce
	}
	if strings.EqualFold(columns[2], "needle_in2") {
		needle *= unit.SquareInch
	} else {
		needle *= 1e-6
	}
	p, err := setting.Resistance(force, needle)
	if err != nil {
		return 0, fmt.Errorf("%s %s on %s %s: both must be above 0", sheet.Decimal(row[1], 6), columns[1], columns[2],
			sheet.Decimal(row[2], 6))
	}
	return p, nil
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
		return 0, terminal.Usagef("%q is not an activation energy; it looks like 40kJ/mol, or 4811K as Q = Ea/R",
			terminal.Safe(text))
	}
	ea := setting.ActivationEnergy(v * 1000)
	if kelvins {
		ea = setting.EnergyOf(unit.Kelvins(v))
	}
	if err := ea.Check(); err != nil {
		return 0, terminal.AsUsage(err)
	}
	return ea, nil
}
