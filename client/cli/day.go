package cli

import (
	"context"
	"errors"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/device"
	"hod/client/pages"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report/leaf"
	"hod/internal/report/paper"
	"hod/internal/report/summary"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
	"hod/internal/wire"
	hodv1 "hod/proto/hod/v1"
)

// dayShown is one day as it is asked for, and as a page of its own with its pictures.
type dayShown struct {
	session.ViewFlags
	crew, html string
	all        bool
	sheets     pages.PaperFlags

	date string
	of   event.Crew
	end  time.Time // the instant of the pictures
	leaf drawing.DayLeaf
}

func newDay(env *session.Env) *cobra.Command {
	var d dayShown
	c := env.NewCommand("day [DATE]", "The end-of-day summary, for those who were not there", "hod day",
		"hod day yesterday", "hod day 2026-07-18 --server", "hod day 7/18 --crew north",
		"hod day --all   # all of each list; without it, two printed pages", "hod day --html monday.html",
		"hod day --pdf monday.pdf --paper a4")
	d.Register(c)
	d.sheets.Register(c)
	c.Flags().StringVar(&d.crew, "crew", "", "only this crew's day")
	c.Flags().BoolVar(&d.all, "all", false, "all of each list, however long that is")
	c.Flags().StringVar(&d.html, "html", "", "write it as a page of its own into this `FILE`, with its pictures inside")
	c.Args = terminal.RangeArgs(0, 1, "at most one date, like 2026-07-18")
	c.RunE = func(c *cobra.Command, args []string) error {
		d.Read = func(s *session.Session) error { return d.read(s, args) }
		return d.run(c.Context(), env)
	}
	return c
}

// read the words that need the site's clock and names.
func (d *dayShown) read(s *session.Session, args []string) (err error) {
	if d.crew != "" {
		if d.of, err = s.KnownCrew(d.crew); err != nil {
			return err
		}
	}
	d.date, err = s.ParseDate(args)
	d.end, _ = drawing.DayEnd(s.Now, s.Location, d.date)
	return err
}

func (d *dayShown) run(ctx context.Context, env *session.Env) error {
	if err := d.sheets.Check(); err != nil {
		return err
	}
	if d.CSV && d.drawn() || d.html != "" && d.sheets.File != "" {
		return terminal.Usagef("--html, --pdf and --csv are forms of their own: say hod day once for each")
	}
	v, s, err := session.View(ctx, env, d.ViewFlags, d.own, d.asked)
	if err != nil {
		return err
	}
	defer s.Close()
	switch {
	case d.drawn():
		return d.save(s, v)
	case d.all:
		return env.Show("day", v, summary.DayAll(v, s.Page()))
	}
	return env.Show("day", v, summary.Day(v, s.Page()))
}

// drawn tells whether the day becomes a file with pictures.
func (d *dayShown) drawn() bool { return d.html != "" || d.sheets.File != "" }

// save writes the day as a page or on paper. The digest of its figures, where they are this device's own, is in the
// foot: hod verify --day says the same.
func (d *dayShown) save(s *session.Session, v daily.Day) error {
	digest := ""
	if !d.Server {
		var err error
		if digest, err = device.FiguresOf(s.Fold, v.Date, s.Location); err != nil {
			return err
		}
	}
	d.leaf.Day = v
	if d.html != "" {
		return pages.Save(s, d.html, "day "+v.Date, digest, leaf.DayLeaf(d.leaf, s.Page()))
	}
	made, err := paper.Day(d.leaf, s.Page(), d.sheets.Size(v.Units), digest)
	if err != nil {
		return err
	}
	return d.sheets.Save(s.Env, made)
}

// own is the day from this device's copy.
func (d *dayShown) own(s *session.Session) (v daily.Day, err error) {
	if d.drawn() {
		d.leaf, err = drawing.DayLeafOf(s.Fold, s.Now, s.Location, d.date)
		v = d.leaf.Day
	} else {
		v, err = daily.DayOf(s.Fold, s.Now, s.Location, d.date)
	}
	return v.Of(s.Fold, s.Location, d.of), err
}

// asked is the day of the server.
func (d *dayShown) asked(
	ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp,
) (proto.Message, error) {
	r, err := q.Day(ctx, &hodv1.DayRequest{At: at, Date: d.date, Crew: string(d.of)})
	if err == nil && d.drawn() {
		d.leaf, err = dayDrawn(ctx, q, d.end)
	}
	return r.GetDay(), err
}

// dayDrawn are the pictures of a day as the server has them, at an instant.
func dayDrawn(ctx context.Context, q hodv1.QueryServiceClient, at time.Time) (drawing.DayLeaf, error) {
	v := drawing.DayLeaf{At: at}
	when := timestamppb.New(at)
	o, err := q.Overview(ctx, &hodv1.OverviewRequest{At: when})
	if err != nil {
		return v, err
	}
	c, err := q.Charts(ctx, &hodv1.ChartsRequest{At: when})
	if err != nil {
		return v, err
	}
	var shown drawing.Overview
	if err := errors.Join(wire.From(o.GetOverview(), &shown), wire.From(c.GetCharts(), &v.Charts)); err != nil {
		return v, err
	}
	v.Map, v.Drying, v.Fan = shown.Map, shown.Drying, shown.Fan
	return v, nil
}
