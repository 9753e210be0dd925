package hardening

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// calcIntervals are the limits in clock time that codes print for one layer after another.
type calcIntervals struct{ air, since string }

type intervalsDoc struct {
	Since     *float64       `json:"since_min,omitempty"`
	Intervals []intervalLine `json:"intervals"`
	sheet.Sheet
}

type intervalLine struct {
	Of     string   `json:"of"`
	Most   *float64 `json:"most_min,omitempty"`
	Least  *float64 `json:"least_min,omitempty"`
	Rule   string   `json:"rule"`
	Source string   `json:"source"`
}

// NewIntervals makes hod calc intervals.
func NewIntervals(env *terminal.Streams) *cobra.Command {
	var q calcIntervals
	c := env.NewCommand("intervals", "What codes print, in minutes, for one layer after another",
		`hod calc intervals --air 28C --since 95min`)
	c.Long = "These clocks know nothing of the mix. Whether a joint is cold goes by initial set: `hod calc set`, `hod joints`."
	f := c.Flags()
	f.StringVar(&q.air, "air", "", "temperature of the air")
	f.StringVar(&q.since, "since", "", "compare with this time")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcIntervals) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	air, err := sheet.Asked(s, "air", q.air, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	if err := setting.CheckTemperature(air); err != nil {
		return sheet.FlagErr("air", err)
	}
	var doc intervalsDoc
	var since time.Duration
	if q.since != "" {
		if since, err = s.Length("since", q.since, time.Minute, "min"); err != nil {
			return err
		}
		minutes := since.Minutes()
		doc.Since = &minutes
	}
	for _, i := range setting.Intervals {
		source := i.Source
		if i.Known == "M" {
			source += " (from memory)"
		}
		l := intervalLine{Of: i.Of, Rule: i.Rule, Source: source}
		is := []string{}
		if most, ok := i.At(air); ok {
			v := most.Minutes()
			l.Most = &v
			is = append(is, "at most "+unit.Duration(most))
			if doc.Since != nil {
				s.AtMost(fmt.Sprintf("%s, %s", i.Of, i.Source), "at most "+unit.Duration(most), since > most, source)
			}
		}
		if i.Least > 0 {
			v := i.Least.Minutes()
			l.Least = &v
			if i.Keeps {
				is = append(is, "keep it for "+unit.Duration(i.Least)+": "+i.Rule)
			} else {
				is = append(is, "not before "+unit.Duration(i.Least))
			}
		}
		if len(is) == 0 {
			is = append(is, "no clock time: "+i.Rule)
		}
		s.Figuref(i.Of, "%s (%s)", strings.Join(is, ", "), source)
		doc.Intervals = append(doc.Intervals, l)
	}
	s.By("limits as printed; none is this mix's own", "each with its source beside it")
	s.Warnf("a cold joint is one made past initial set, whatever the clock says (ACI 309R-96; BS 8500-1 A.9.1)")
	doc.Sheet = *s
	return s.Print(env, "intervals", doc)
}
