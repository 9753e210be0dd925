package crew

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// finish is a coat that the foreman closes.
type finish struct {
	zone, why string
	coat      session.CoatFlags
	when      session.MomentFlags
}

// NewFinish makes hod finish.
func NewFinish(env *session.Env) *cobra.Command {
	var f finish
	c := env.NewCommand("finish ZONE", "Close a coat: it gets no more mortar (the foreman)",
		"hod finish A3", `hod finish A3 --face outer --coat 1 --why "gauged, it is thick enough"`)
	c.Long = "A coat also counts as finished once it is covered, or its crew has gone on to another coat, where it holds two\n" +
		"thirds of what it needs; or once somebody says with `hod progress ZONE 100%` that all of it is complete. A coat\n" +
		"that gets mortar after that is open again."
	c.Args = terminal.ExactArgs(1, "a zone")
	c.Flags().StringVar(&f.why, "why", "", "why, where it is worth saying")
	f.coat.Register(c.Flags())
	f.when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		f.zone = args[0]
		return session.Run(c.Context(), env, func(s *session.Session) error { return f.run(c.Context(), s) })
	}
	return c
}

func (f finish) run(ctx context.Context, s *session.Session) error {
	zone, err := s.FindZone(f.zone)
	if err != nil {
		return err
	}
	coat, err := s.FindPlacedCoat(zone, f.coat)
	if err != nil {
		return err
	}
	at, _, err := f.when.Read(s)
	if err != nil {
		return err
	}
	return s.KeepAndTell(ctx, session.Draft{Body: event.CoatFinished{Coat: coat, Why: f.why}, At: at},
		fmt.Sprintf("%s is finished%s", coat, s.AtTime(at)), holds(s, coat))
}

// holds says how much is in a coat, against its plan.
func holds(s *session.Session, coat event.Coat) string {
	c, ok := s.CoatState(coat)
	if !ok || c.Needed <= 0 {
		return ""
	}
	return fmt.Sprintf("it holds %s, %.0f %% of what the plan says that it needs", s.Units.Volume(c.Volume),
		100*float64(c.Volume/c.Needed))
}

// progress is how far a coat is.
type progress struct {
	zone, complete string
	coat           session.CoatFlags
	when           session.MomentFlags
}

// NewProgress makes hod progress.
func NewProgress(env *session.Env) *cobra.Command {
	var p progress
	c := env.NewCommand("progress ZONE SHARE", "Write down how much of a coat is complete, as seen",
		"hod progress A3 60%", "hod progress A3 100% --face inner")
	c.Long = "The share is of the coat's area, as somebody who stands before it sees it; 100% says that the coat is finished.\nWhat a forecast makes of an open coat gets narrower by it. The same may be said with `hod place … --complete 60%`."
	c.Args = terminal.ExactArgs(2, "a zone and a share")
	p.coat.Register(c.Flags())
	p.when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		p.zone, p.complete = args[0], args[1]
		return session.Run(c.Context(), env, func(s *session.Session) error { return p.run(c.Context(), s) })
	}
	return c
}

func (p progress) run(ctx context.Context, s *session.Session) error {
	zone, err := s.FindZone(p.zone)
	if err != nil {
		return err
	}
	coat, err := s.FindPlacedCoat(zone, p.coat)
	if err != nil {
		return err
	}
	of, err := unit.Said(p.complete, unit.ParseShare)
	if err != nil {
		return err
	}
	at, _, err := p.when.Read(s)
	if err != nil {
		return err
	}
	text := fmt.Sprintf("%s is %s complete%s", coat, s.Units.Share(of.SI), s.AtTime(at))
	return s.KeepAndTell(ctx, session.Draft{Body: event.ProgressStated{Coat: coat, Complete: of}, At: at}, text,
		holds(s, coat))
}

// NewMethod makes hod method.
func NewMethod(env *session.Env) *cobra.Command {
	var when session.MomentFlags
	c := env.NewCommand("method WORDS…", "Write down that from now on mortar is placed differently",
		`hod method "thinner: one pass less with the trowel"`)
	c.Long = "The forecast learns from finished coats what a coat takes. What was placed the old way says less of the coats to come,\nso say it when the way of placing changes: another tool, another crew's habit, a thickness that is now kept."
	c.Args = terminal.MinimumArgs(1, "what is done differently")
	when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			at, _, err := when.Read(s)
			if err != nil {
				return err
			}
			body := event.MethodChanged{What: strings.Join(args, " ")}
			return s.KeepAndTell(c.Context(), session.Draft{Body: body, At: at},
				"placed differently from now on: "+body.What+s.AtTime(at),
				"the forecast learns anew from the coats begun after it")
		})
	}
	return c
}
