package hardening

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// calcMoist is the moist cure that a cement asks for, and what a wet time counts for.
type calcMoist struct{ cement, wet, readings, gap string }

type moistDoc struct {
	Asked      float64  `json:"asked_h"`
	Credited   *float64 `json:"credited_h,omitempty"`
	TooCold    *float64 `json:"too_cold_h,omitempty"`
	Unmeasured *float64 `json:"unmeasured_h,omitempty"`
	sheet.Sheet
}

// NewMoist makes hod calc moist.
func NewMoist(env *terminal.Streams) *cobra.Command {
	var q calcMoist
	c := env.NewCommand("moist", "How long a surface is kept wet, and what of a wet time counts",
		`hod calc moist --cement ordinary`, `hod calc moist --cement II --wet wet.csv --readings probe.csv --gap 2h`)
	c.Long = "--wet has the columns from_h,to_h: the hours between which the surface was wet or covered. --readings has\n" +
		"hours,temp_c (or temp_f) of the coat, at instants. Both count from the same hour."
	f := c.Flags()
	f.StringVar(&q.cement, "cement", string(curing.OrdinaryCement), "ordinary, high-early, II, IV or V")
	f.StringVar(&q.wet, "wet", "", "CSV file of wet times with the columns from_h,to_h")
	f.StringVar(&q.readings, "readings", "", "CSV file of the coat's temperature with the columns hours,temp_c")
	f.StringVar(&q.gap, "gap", "", "a longer pause between readings is a gap, and credits nothing")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcMoist) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	i := slices.IndexFunc(curing.Cements, func(c curing.Cement) bool { return strings.EqualFold(string(c), q.cement) })
	if i < 0 {
		return terminal.Usagef("--cement: %q is not a class that has a period; name ordinary, high-early, II, IV or V",
			terminal.Safe(q.cement))
	}
	asked, err := curing.MoistCure(curing.Cements[i])
	if err != nil {
		return sheet.FlagErr("cement", err)
	}
	s.Noted("cement", string(curing.Cements[i]))
	doc := moistDoc{Asked: asked.Hours()}
	least := sheet.Both(curing.MoistCureLeast, unit.System.Temperature)
	s.Figuref("asked for", "%s h (%s) at %s or warmer", sheet.Decimal(doc.Asked, 5), unit.Duration(asked), least)
	s.By(curing.MoistCureRule, curing.MoistCureSource)
	if (q.wet == "") != (q.readings == "") {
		return terminal.Usagef(
			"--wet and --readings go together: wet time counts where the coat was known to be warm enough")
	}
	if q.wet != "" {
		if err := q.credit(env, s, asked, &doc); err != nil {
			return err
		}
	}
	s.Caution(curing.Caution)
	doc.Sheet = *s
	return s.Print(env, "moist", doc)
}

func (q calcMoist) credit(env *terminal.Streams, s *sheet.Sheet, asked time.Duration, doc *moistDoc) error {
	history, err := history(env, s, q.readings, true, q.gap, "")
	if err != nil {
		return err
	}
	rows, _, err := sheet.ReadColumns(env, "wet", q.wet, []string{"from_h"}, []string{"to_h"})
	if err != nil {
		return err
	}
	s.Noted("wet", q.wet+": "+terminal.Plural(len(rows), "wet time", "wet times"))
	var wet []curing.Period
	for i, r := range rows {
		if r[0] < 0 || r[1] > 1e6 || r[1] < r[0] {
			return terminal.Usagef(
				"--wet: row %d: %s to %s h cannot be; a wet time ends after it begins, between hours 0 and 1000000",
				i+1, sheet.Decimal(r[0], 6), sheet.Decimal(r[1], 6))
		}
		wet = append(wet, curing.Period{From: hourOf(r[0]), To: hourOf(r[1])})
	}
	credit, err := curing.Moist(wet, history)
	if err != nil {
		return sheet.FlagErr("wet", err)
	}
	hours := func(d time.Duration) *float64 { h := d.Hours(); return &h }
	doc.Credited, doc.TooCold, doc.Unmeasured = hours(credit.Credited), hours(credit.TooCold), hours(credit.Unmeasured)
	s.Figuref("credited", "%s", hoursAnd(*doc.Credited))
	s.Figuref("wet and too cold", "%s: adds nothing", hoursAnd(*doc.TooCold))
	s.Figuref("wet, temperature not known", "%s: adds nothing", hoursAnd(*doc.Unmeasured))
	s.AtLeast("moist cure", "at least "+unit.Duration(asked),
		math.Round(credit.Credited.Seconds()) < math.Round(asked.Seconds()), curing.MoistCureSource)
	return nil
}

// hoursAnd are hours, and the same in days where there are some.
func hoursAnd(h float64) string {
	if h < 24 {
		return sheet.Decimal(h, 5) + " h"
	}
	return sheet.Decimal(h, 5) + " h (" + sheet.Decimal(h/24, 5) + " d)"
}

// hourOf is the instant of an hour of a file.
func hourOf(h float64) time.Time {
	return time.Unix(0, 0).UTC().Add(time.Duration(math.Round(h * float64(time.Hour))))
}
