package planning

import (
	"github.com/spf13/cobra"

	"hod/client/pages"
	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/report"
	"hod/internal/report/paper"
	"hod/internal/unit"
	"hod/internal/view/forms"
)

// newMixSheet shows what to weigh, on a card for the mixer.
func newMixSheet(env *session.Env) *cobra.Command {
	var moisture, scale string
	var tables session.TableFlags
	var sheets pages.PaperFlags
	c := env.NewCommand("sheet MIX", "What to weigh for the sand as it is today, on a card for the mixer",
		"hod mix sheet face --moisture 4%", "hod mix sheet face --moisture 4% --scale 1/2 --pdf face.pdf")
	c.Long = "In both systems of units, with the charging order and how much water may go in on top. Without --moisture the sand's is " +
		"the one that was last written of this mix."
	c.Args = terminal.ExactArgs(1, "the name of a mix")
	c.Flags().StringVar(&moisture, "moisture", "", "total moisture of the sand, of its dry mass: 4%")
	c.Flags().StringVar(&scale, "scale", "1", "size of the batch against the mix's: 1/2")
	tables.Register(c)
	sheets.Register(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := sheets.Check(); err != nil {
			return err
		}
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			if err := tables.ShowTable(s); err != nil {
				return err
			}
			v, err := cardOf(s, args[0], scale, moisture)
			if err != nil {
				return err
			}
			if sheets.File == "" {
				return env.Show("mix-sheet", v, report.MixCard(v, s.Page()))
			}
			made, err := paper.MixCard(v, s.Page(), sheets.Size(v.Units))
			if err != nil {
				return err
			}
			return sheets.Save(env, made)
		})
	}
	return c
}

func cardOf(s *session.Session, name, scale, moisture string) (forms.Card, error) {
	m, err := s.FindMix(name)
	if err != nil {
		return forms.Card{}, err
	}
	if m.Wrong != "" {
		return forms.Card{}, terminal.Refusedf("mix %s gives no figures: %s", m.MixPlanned.Mix, m.Wrong)
	}
	size, err := parse.Scale(scale)
	if err != nil {
		return forms.Card{}, err
	}
	said, err := parse.OptionalFlag("moisture", moisture, unit.ParseShare)
	if err != nil {
		return forms.Card{}, err
	}
	var wet *unit.Share
	if said != nil {
		wet = &said.SI
	}
	v, err := forms.CardOf(s.Fold, s.Now, m, size, wet)
	if err != nil {
		return v, terminal.Usagef("mix %s %v", m.MixPlanned.Mix, err)
	}
	return v, nil
}
