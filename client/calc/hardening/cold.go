package hardening

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	sky "hod/internal/trade/weather"
	"hod/internal/unit"
)

// calcCold are the rules of cold weather, each judged for which something is given.
type calcCold struct {
	air, thickness, mixed, mortar, surface, fall, lowest, strength, hourly, bears string
	accelerated                                                                   bool
}

// judgementDoc is a rule in both systems, since the printed limits are rounded and are not each other's conversion. A
// difference has its figures in K and in degrees Fahrenheit of difference.
type judgementDoc struct {
	Rule      string   `json:"rule"`
	Broken    bool     `json:"broken"` // in either system
	BrokenSI  bool     `json:"broken_metric"`
	BrokenUS  bool     `json:"broken_us"`
	MeasuredC *float64 `json:"measured_c,omitempty"`
	LimitC    *float64 `json:"limit_c,omitempty"`
	MeasuredF *float64 `json:"measured_f,omitempty"`
	LimitF    *float64 `json:"limit_f,omitempty"`
	DiffK     *float64 `json:"difference_k,omitempty"`
	LimitK    *float64 `json:"limit_k,omitempty"`
	DiffF     *float64 `json:"difference_f,omitempty"`
	LimitDF   *float64 `json:"limit_difference_f,omitempty"`
	Says      string   `json:"says"`
	Source    string   `json:"source"`
}

type coldDoc struct {
	Judgements []judgementDoc `json:"judgements"`
	Protection *float64       `json:"protection_days,omitempty"`
	sheet.Sheet
}

// NewCold makes hod calc cold.
func NewCold(env *terminal.Streams) *cobra.Command {
	var q calcCold
	c := env.NewCommand("cold",
		"What cold weather asks of a section: as mixed, as placed, while it is young, and after",
		`hod calc cold --air 2C --thickness 12mm --mixed 17C --mortar 12C --protect exposed`,
		`hod calc cold --hourly air.csv`,
		`hod calc cold --lowest 30F --strength 300psi --fall 55F --thickness 1/2in`)
	c.Long = "Give what is known; each rule is judged for which it is enough. --hourly has the column temp_c (or temp_f), one row an\n" +
		"hour, oldest first; the last 72 are judged by the older rule of three days."
	f := c.Flags()
	f.StringVar(&q.air, "air", "", "lowest air in the time of protection")
	f.StringVar(&q.thickness, "thickness", "", "least dimension of the section")
	f.StringVar(&q.mixed, "mixed", "", "the mortar as mixed (needs --air and --thickness)")
	f.StringVar(&q.mortar, "mortar", "", "the mortar as placed and kept (needs --thickness)")
	f.StringVar(&q.surface, "surface", "", "mesh, form or coat that it is placed on")
	f.StringVar(&q.lowest, "lowest", "", "lowest temperature of the mortar itself (needs --strength)")
	f.StringVar(&q.strength, "strength", "", "its strength then; 0 for fresh")
	f.StringVar(&q.fall, "fall", "",
		"how far its surface fell in 24 hours after protection, 25K or 45F (needs --thickness)")
	f.StringVar(&q.hourly, "hourly", "", "CSV file of hourly air with the column temp_c")
	f.StringVar(&q.bears, "protect", "", "how many days? sheltered, exposed or loaded in part")
	f.BoolVar(&q.accelerated, "accelerated", false, "with an accelerator, for --protect")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcCold) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if q.air+q.mixed+q.mortar+q.surface+q.lowest+q.strength+q.fall+q.hourly+q.bears == "" {
		return s.Missing("air", "mortar", "surface", "lowest", "fall", "hourly", "protect")
	}
	doc := coldDoc{Judgements: []judgementDoc{}}
	thickness, err := sheet.AskedIfGiven(s, "thickness", q.thickness, unit.ParseLength, "m", unit.System.Thickness)
	if err != nil {
		return err
	}
	if thickness == nil && q.mixed+q.mortar+q.fall != "" {
		return s.Missing("thickness")
	}
	for _, rule := range []func() (*sky.Judgement, string, error){
		func() (*sky.Judgement, string, error) { return q.byAir(s) },
		func() (*sky.Judgement, string, error) { return q.asMixed(s, thickness) },
		func() (*sky.Judgement, string, error) {
			return judge(s, "mortar", q.mortar,
				func(t unit.Celsius) (sky.Judgement, error) { return sky.PlacingTemperature(t, *thickness) })
		},
		func() (*sky.Judgement, string, error) { return judge(s, "surface", q.surface, sky.ColdSurface) },
		func() (*sky.Judgement, string, error) { return q.frozen(s) },
		func() (*sky.Judgement, string, error) { return q.cooled(s, thickness) },
		func() (*sky.Judgement, string, error) { return q.spell(env, s) },
	} {
		j, flag, err := rule()
		if err != nil {
			return err
		}
		if j != nil {
			word := "at least"
			if flag == "lowest" {
				word = "above"
			}
			doc.Judgements = append(doc.Judgements, judged(s, *j, word))
		}
	}
	if q.bears != "" {
		if err := q.protection(s, &doc); err != nil {
			return err
		}
	} else if q.accelerated {
		return terminal.Usagef("--accelerated shortens the days of --protect; give that too")
	}
	doc.Sheet = *s
	return s.Print(env, "cold", doc)
}

// judge a temperature that a flag gives; nil if it gives none.
func judge(s *sheet.Sheet, flag, text string, by func(unit.Celsius) (sky.Judgement, error)) (*sky.Judgement, string,
	error,
) {
	t, err := sheet.AskedIfGiven(s, flag, text, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil || t == nil {
		return nil, flag, err
	}
	j, err := by(*t)
	return &j, flag, sheet.FlagErr(flag, err)
}

func (q calcCold) byAir(s *sheet.Sheet) (*sky.Judgement, string, error) {
	return judge(s, "air", q.air, sky.ColdWeather)
}

func (q calcCold) asMixed(s *sheet.Sheet, thickness *unit.Length) (*sky.Judgement, string, error) {
	if q.mixed != "" && q.air == "" {
		return nil, "mixed", s.Missing("air")
	}
	return judge(s, "mixed", q.mixed, func(t unit.Celsius) (sky.Judgement, error) {
		air, err := unit.ParseTemperature(q.air)
		if err != nil {
			return sky.Judgement{}, err
		}
		return sky.MixedTemperature(t, air, *thickness)
	})
}

func (q calcCold) frozen(s *sheet.Sheet) (*sky.Judgement, string, error) {
	switch {
	case q.lowest == "" && q.strength == "":
		return nil, "", nil
	case q.lowest == "":
		return nil, "", s.Missing("lowest")
	case q.strength == "":
		return nil, "", s.Missing("strength")
	}
	var strength unit.Pressure
	if strings.TrimSpace(q.strength) == "0" {
		s.Noted("strength", "0, fresh")
	} else {
		var err error
		if strength, err = sheet.Asked(s, "strength", q.strength, unit.ParsePressure, "Pa",
			unit.System.Pressure); err != nil {
			return nil, "strength", err
		}
	}
	return judge(s, "lowest", q.lowest, func(t unit.Celsius) (sky.Judgement, error) { return sky.Frost(t, strength) })
}

func (q calcCold) cooled(s *sheet.Sheet, thickness *unit.Length) (*sky.Judgement, string, error) {
	fall, err := sheet.AskedIfGiven(s, "fall", q.fall, unit.ParseTemperatureDifference, "K", unit.System.Difference)
	if err != nil || fall == nil {
		return nil, "fall", err
	}
	if *fall < 0 {
		return nil, "fall", terminal.Usagef("--fall: %s is a rise; give how far it fell, above 0",
			terminal.Safe(q.fall))
	}
	j, err := sky.Cooling(*fall, *thickness)
	return &j, "fall", sheet.FlagErr("fall", err)
}

func (q calcCold) spell(env *terminal.Streams, s *sheet.Sheet) (*sky.Judgement, string, error) {
	if q.hourly == "" {
		return nil, "hourly", nil
	}
	rows, found, err := sheet.ReadColumns(env, "hourly", q.hourly, []string{"temp_c", "temp_f"})
	if err != nil {
		return nil, "hourly", err
	}
	air := make([]unit.Celsius, len(rows))
	for i, r := range rows {
		air[i] = unit.Celsius(r[0])
		if strings.EqualFold(found[0], "temp_f") {
			air[i] = unit.Fahrenheit(r[0])
		}
	}
	s.Noted("hourly", fmt.Sprintf("%s: %s, the last 72 of them judged", q.hourly,
		terminal.Plural(len(rows), "hour", "hours")))
	j, err := sky.ColdSpell(air)
	return &j, "hourly", sheet.FlagErr("hourly", err)
}

func (q calcCold) protection(s *sheet.Sheet, doc *coldDoc) error {
	services := map[string]sky.Service{
		"sheltered": sky.NoLoadSheltered, "exposed": sky.NoLoadExposed,
		"loaded": sky.PartialLoad,
	}
	service, ok := services[strings.ToLower(q.bears)]
	if !ok {
		return terminal.Usagef(
			"--protect: %q is none of sheltered (no load, not exposed), exposed (no load, exposed), loaded (partial load, exposed); full load is for the engineer", terminal.Safe(q.bears))
	}
	long, err := sky.Protection(service, q.accelerated)
	if err != nil {
		return sheet.FlagErr("protect", err)
	}
	with := "without accelerator"
	if q.accelerated {
		with = "with accelerator"
	}
	s.Noted("protect", strings.ToLower(q.bears)+", "+with)
	days := long.Hours() / 24
	doc.Protection = &days
	s.Figuref("protection", "%s", terminal.Plural(int(days), "day", "days"))
	s.By(sky.ProtectionSource.Text, sky.ProtectionSource.String())
	s.Warnf("this says nothing of when supports may go: that is for the responsible licensed engineer")
	return nil
}

// judged puts a rule on the sheet. The word before its limit is at least, above or at most.
func judged(s *sheet.Sheet, j sky.Judgement, word string) judgementDoc {
	d := judgementDoc{
		Rule: j.Rule, Broken: j.Broken(), BrokenSI: j.SI.Broken, BrokenUS: j.US.Broken, Says: j.Says,
		Source: j.Source.String(),
	}
	v := j                // the figures get addresses of their own
	if j.SI.Unit == "K" { // a difference: all of those are limited from above
		d.DiffK, d.LimitK, d.DiffF, d.LimitDF = &v.SI.Measured, &v.SI.Limit, &v.US.Measured, &v.US.Limit
		word = "at most"
	} else {
		d.MeasuredC, d.LimitC, d.MeasuredF, d.LimitF = &v.SI.Measured, &v.SI.Limit, &v.US.Measured, &v.US.Limit
	}
	say := func(si, us float64) string {
		return fmt.Sprintf("%s %s (%s %s)", sheet.Decimal(si, 3), j.SI.Unit, sheet.Decimal(us, 3), j.US.Unit)
	}
	s.Figuref(j.Rule, "%s", say(j.SI.Measured, j.US.Measured))
	is := word + " " + say(j.SI.Limit, j.US.Limit)
	switch {
	case j.SI.Broken && !j.US.Broken:
		is += ", broken in metric only: the printed limits are rounded"
	case j.US.Broken && !j.SI.Broken:
		is += ", broken in US units only: the printed limits are rounded"
	}
	if word == "at most" {
		s.AtMost(j.Rule, is, j.Broken(), j.Source.String())
	} else {
		s.AtLeast(j.Rule, is, j.Broken(), j.Source.String())
	}
	s.By(j.Source.Text, j.Source.String())
	if j.Broken() {
		s.Warnf("%s: %s", j.Rule, j.Says)
	}
	return d
}
