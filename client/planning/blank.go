package planning

import (
	"github.com/spf13/cobra"

	"hod/client/pages"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/report/paper"
	"hod/internal/view/forms"
)

// NewBlank makes hod blank.
func NewBlank(env *session.Env) *cobra.Command {
	first, crew := 1, ""
	var sheets pages.PaperFlags
	c := env.NewCommand("blank", "Forms to fill in by hand on a day without a phone, to be typed in later",
		"hod blank --pdf forms.pdf", "hod blank --first 8")
	c.Long = "Each line stands in the order in which the command asks for it, and batches have their numbers, so that --number says " +
		"later which one it was. The forms are made from the plan: print them before the phone is dead."
	c.Flags().IntVar(&first, "first", 1, "number of the first batch")
	c.Flags().StringVar(&crew, "crew", "", "the crew (default: this device's)")
	sheets.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := sheets.Check(); err != nil {
			return err
		}
		if first < 1 || first > 999 {
			return terminal.Usagef("--first %d is no number of a batch; say 1 to 999", first)
		}
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			of := s.Device.Crew
			if crew != "" {
				var err error
				if of, err = s.FindCrew(crew); err != nil {
					return err
				}
			}
			return blank(s, of, first, sheets)
		})
	}
	return c
}

func blank(s *session.Session, crew event.Crew, first int, sheets pages.PaperFlags) error {
	v := forms.BlankOf(s.Fold, crew, first)
	if sheets.File == "" {
		return s.Env.Show("blank", v, report.Blank(v, s.Page()))
	}
	made, err := paper.Blank(v, sheets.Size(v.Units))
	if err != nil {
		return err
	}
	return sheets.Save(s.Env, made)
}
