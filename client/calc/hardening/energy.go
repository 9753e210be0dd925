package hardening

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// calcEnergy is a mix's activation energy, from what it did at two temperatures or more.
type calcEnergy struct {
	sets, rates, reference string
	table                  bool
}

type energyDoc struct {
	Ea         float64  `json:"ea_kj_mol"`
	Q          float64  `json:"q_k"`
	R2         float64  `json:"r2"`
	Points     int      `json:"points"`
	Believable bool     `json:"believable"`
	Set        *float64 `json:"set_min,omitempty"` // at the reference, by the line
	sheet.Sheet
}

// NewEnergy makes hod calc energy.
func NewEnergy(env *terminal.Streams) *cobra.Command {
	var q calcEnergy
	c := env.NewCommand("energy", "A mix's activation energy, from set times at two temperatures or more",
		`hod calc energy --sets sets.csv --reference 23C`,
		`hod calc energy --rates cubes.csv`,
		`hod calc energy --trade-table`)
	c.Long = "--sets has the columns hours,temp_c (or minutes, or temp_f): initial set since water met cement, and the temperature of\n" +
		"the mortar. --rates has per_day,temp_c: rate constants of strength, as the fits of breaks give them."
	f := c.Flags()
	f.StringVar(&q.sets, "sets", "", "CSV file of set times with the columns hours,temp_c")
	f.StringVar(&q.rates, "rates", "", "CSV file of rate constants with the columns per_day,temp_c")
	f.BoolVar(&q.table, "trade-table", false, "take the contractors' table of set times, for comparison")
	f.StringVar(&q.reference, "reference", "", "also the set time at this temperature, by the line")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcEnergy) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	fit, err := q.fit(env, s)
	if err != nil {
		return err
	}
	doc := energyDoc{
		Ea: float64(fit.Ea) / 1000, Q: float64(fit.Q), R2: fit.R2, Points: fit.Points,
		Believable: fit.Believable,
	}
	s.Figuref("activation energy", "%s kJ/mol", sheet.Decimal(doc.Ea, 6))
	s.Figuref("over the gas constant", "Q %s K (%s °R)", sheet.Decimal(doc.Q, 6), sheet.Decimal(doc.Q*1.8, 6))
	s.Figuref("line", "through %s, R² %s", terminal.Plural(fit.Points, "point", "points"), sheet.Decimal(fit.R2, 5))
	s.Between("can be a cement's", "5 to 200 kJ/mol; literature has about 30 to 64", !fit.Believable,
		"bounds of this program; Carino and Tank, Carino and Lew (from memory)")
	if fit.Points == 2 {
		s.Warnf("two points always lie on a line: a third would show how good it is")
	}
	if q.reference != "" {
		if q.rates != "" {
			return terminal.Usagef("--reference asks for a set time, and --rates knows none; give --sets")
		}
		reference, err := sheet.Asked(s, "reference", q.reference, unit.ParseTemperature, "C", unit.System.Temperature)
		if err != nil {
			return err
		}
		set, err := fit.Set(reference)
		if err != nil {
			return sheet.FlagErr("reference", err)
		}
		minutes := set.Initial.Minutes()
		doc.Set = &minutes
		s.Figuref("initial set", "%s min (%s) at %s, by the line", sheet.Decimal(minutes, 5),
			unit.Duration(set.Initial), sheet.Both(reference, unit.System.Temperature))
	}
	doc.Sheet = *s
	return s.Print(env, "energy", doc)
}

func (q calcEnergy) fit(env *terminal.Streams, s *sheet.Sheet) (setting.EnergyFit, error) {
	asked := 0
	for _, is := range []bool{q.sets != "", q.rates != "", q.table} {
		if is {
			asked++
		}
	}
	switch {
	case asked == 0:
		return setting.EnergyFit{}, s.Missing("sets", "rates", "trade-table")
	case asked > 1:
		return setting.EnergyFit{},
			terminal.Usagef("--sets, --rates and --trade-table are three ways to the same figure; give one of them")
	case q.table:
		s.Noted("trade-table", "contractors' table, "+terminal.Plural(len(setting.TradeTable), "set time", "set times"))
		for _, row := range setting.TradeTable {
			s.Figuref("table at "+sheet.Both(row.Temp, unit.System.Temperature), "%s", unit.Duration(row.Initial))
		}
		s.By("slope of ln t over 1/T, T in K with 273.15",
			"least squares; the table is widely reprinted (part of it from memory), good to about a quarter")
		fit, err := setting.EnergyFromSets(setting.TradeTable)
		return fit, terminal.AsUsage(err)
	case q.rates != "":
		return q.fromRates(env, s)
	}
	rows, found, err := sheet.ReadColumns(env, "sets", q.sets, []string{"hours", "minutes"},
		[]string{"temp_c", "temp_f"})
	if err != nil {
		return setting.EnergyFit{}, err
	}
	one := time.Hour
	if strings.EqualFold(found[0], "minutes") {
		one = time.Minute
	}
	sets := make([]setting.SetAt, len(rows))
	for i, r := range rows {
		long := r[0] * float64(one)
		if !(long > 0 && long <= float64(setting.Longest)) {
			return setting.EnergyFit{},
				terminal.Usagef("--sets: set time %d is %s %s: it must be above 0 and at most 14 days", i+1,
					sheet.Decimal(r[0], 6), found[0])
		}
		t, err := heat("sets", found[1], i+1, r[1])
		if err != nil {
			return setting.EnergyFit{}, err
		}
		sets[i] = setting.SetAt{Temp: t, Initial: time.Duration(math.Round(long))}
	}
	s.Noted("sets", q.sets+": "+terminal.Plural(len(rows), "set time", "set times"))
	s.By("slope of ln t over 1/T, T in K with 273.15", "least squares; equivalent age, ASTM C1074 (from memory)")
	fit, err := setting.EnergyFromSets(sets)
	return fit, sheet.FlagErr("sets", err)
}

func (q calcEnergy) fromRates(env *terminal.Streams, s *sheet.Sheet) (setting.EnergyFit, error) {
	rows, found, err := sheet.ReadColumns(env, "rates", q.rates, []string{"per_day"}, []string{"temp_c", "temp_f"})
	if err != nil {
		return setting.EnergyFit{}, err
	}
	rates := make([]setting.RateAt, len(rows))
	for i, r := range rows {
		t, err := heat("rates", found[1], i+1, r[1])
		if err != nil {
			return setting.EnergyFit{}, err
		}
		rates[i] = setting.RateAt{Temp: t, Rate: r[0]}
	}
	s.Noted("rates", q.rates+": "+terminal.Plural(len(rows), "rate", "rates"))
	s.By("slope of −ln k over 1/T, T in K with 273.15", "annex of ASTM C1074 (method from memory); least squares")
	fit, err := setting.EnergyFromRates(rates)
	return fit, sheet.FlagErr("rates", err)
}

// heat is a temperature out of a column temp_c or temp_f. What cannot be is said in the column's own unit.
func heat(flag, column string, row int, v float64) (unit.Celsius, error) {
	t, said := unit.Celsius(v), sheet.Decimal(v, 6)+" °C"
	if strings.EqualFold(column, "temp_f") {
		t = unit.Fahrenheit(v)
		said = fmt.Sprintf("%s °F (%.4g °C)", sheet.Decimal(v, 6), float64(t))
	}
	if setting.CheckTemperature(t) != nil {
		return 0, terminal.Usagef("--%s: row %d: %s cannot be; give %g to %g °C (%g to %g °F)", flag, row, said,
			float64(setting.Coldest), float64(setting.Hottest), setting.Coldest.Fahrenheit(),
			setting.Hottest.Fahrenheit())
	}
	return t, nil
}
