package cli

import (
	"context"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/device"
	"hod/client/pages"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/report/paper"
	"hod/internal/view/daily"
	hodv1 "hod/proto/hod/v1"
)

func newDay(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("day [DATE]", "The end-of-day summary, for those who were not there", "hod day",
		"hod day yesterday", "hod day 2026-07-18 --server", "hod day 7/18 --crew north",
		"hod day --all   # all of each list; without it, two printed pages", "hod day --html monday.html",
		"hod day --pdf monday.pdf --paper a4")
	l.Register(c)
	var sheets pages.PaperFlags
	sheets.Register(c)
	crew, all, file := "", false, ""
	c.Flags().StringVar(&crew, "crew", "", "only this crew's day")
	c.Flags().BoolVar(&all, "all", false, "all of each list, however long that is")
	c.Flags().StringVar(&file, "html", "", "write it as a page of its own into this `FILE`, with its pictures inside")
	c.Args = terminal.RangeArgs(0, 1, "at most one date, like 2026-07-18")
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := sheets.Check(); err != nil {
			return err
		}
		if l.CSV && (file != "" || sheets.File != "") {
			return terminal.Usagef("--csv is a form of its own: say hod day once for each")
		}
		date := ""
		of := event.Crew("")
		l.Read = func(s *session.Session) (err error) {
			if crew != "" {
				if of, err = s.KnownCrew(crew); err != nil {
					return err
				}
			}
			date, err = s.ParseDate(args)
			return err
		}
		v, s, err := session.View(c.Context(), env, l,
			func(s *session.Session) (daily.Day, error) {
				v, err := daily.DayOf(s.Fold, s.Now, s.Location, date)
				return v.Of(s.Fold, s.Location, of), err
			},
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.Day(ctx, &hodv1.DayRequest{At: at, Date: date, Crew: string(of)})
				return r.GetDay(), err
			})
		if err != nil {
			return err
		}
		defer s.Close()
		if sheets.File != "" {
			return dayOnPaper(s, sheets, v, l.Server)
		}
		if file != "" {
			page := s.Page()
			page.HTML = true
			return pages.Save(s, file, "day "+v.Date, report.DayAll(v, page))
		}
		if all {
			return env.Show("day", v, report.DayAll(v, s.Page()))
		}
		return env.Show("day", v, report.Day(v, s.Page()))
	}
	return c
}

// dayOnPaper has the digest of the day's figures in its foot, where they are this device's own: hod verify --day says
// the same.
func dayOnPaper(s *session.Session, sheets pages.PaperFlags, v daily.Day, server bool) error {
	digest := ""
	if !server {
		var err error
		if digest, err = device.FiguresOf(s.Fold, v.Date, s.Location); err != nil {
			return err
		}
	}
	made, err := paper.Day(v, s.Page(), sheets.Size(v.Units), digest)
	if err != nil {
		return err
	}
	return sheets.Save(s.Env, made)
}
