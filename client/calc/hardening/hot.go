package hardening

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	sky "hod/internal/trade/weather"
	"hod/internal/unit"
)

// calcHot are the limits of hot weather and of heat inside a coat.
type calcHot struct{ mortar, inside, surface string }

type hotDoc struct {
	Judgements []judgementDoc `json:"judgements"`
	sheet.Sheet
}

// NewHot makes hod calc hot.
func NewHot(env *terminal.Streams) *cobra.Command {
	var q calcHot
	c := env.NewCommand("hot", "How hot mortar may leave the mixer, and a coat may get inside",
		`hod calc hot --mortar 93F`, `hod calc hot --inside 48C --surface 30C`)
	f := c.Flags()
	f.StringVar(&q.mortar, "mortar", "", "the mortar as it leaves the mixer")
	f.StringVar(&q.inside, "inside", "", "the hottest reading inside the coat")
	f.StringVar(&q.surface, "surface", "", "its surface at that time: also how much warmer the inside is")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcHot) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if q.mortar+q.inside+q.surface == "" {
		return s.Missing("mortar", "inside")
	}
	if q.surface != "" && q.inside == "" {
		return s.Missing("inside")
	}
	doc := hotDoc{Judgements: []judgementDoc{}}
	for _, rule := range []func() (*sky.Judgement, string, error){
		func() (*sky.Judgement, string, error) { return judge(s, "mortar", q.mortar, sky.HotWeather) },
		func() (*sky.Judgement, string, error) { return judge(s, "inside", q.inside, sky.Peak) },
		func() (*sky.Judgement, string, error) {
			return judge(s, "surface", q.surface, func(t unit.Celsius) (sky.Judgement, error) {
				inside, err := unit.ParseTemperature(q.inside)
				if err != nil {
					return sky.Judgement{}, err
				}
				return sky.InsideOverSurface(unit.Kelvins(inside - t))
			})
		},
	} {
		j, _, err := rule()
		if err != nil {
			return err
		}
		if j != nil {
			doc.Judgements = append(doc.Judgements, judged(s, *j, "at most"))
		}
	}
	if q.inside != "" {
		s.Warnf(
			"both limits inside are of mass concrete: a thin shell seldom comes near them, so doubt the probe first")
	}
	doc.Sheet = *s
	return s.Print(env, "hot", doc)
}
