package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// finish is a coat that the foreman closes.
type finish struct {
	zone, why string
	coat      coatWords
	when      moment
}

func newFinish(env *deviceEnv) *cobra.Command {
	var f finish
	c := env.command("finish ZONE", "Close a coat: it gets no more mortar (the foreman)",
		"hod finish A3", `hod finish A3 --face outer --coat 1 --why "gauged, it is thick enough"`)
	c.Long = "A coat also counts as finished once it is covered, or its crew has gone on to another coat, where it holds two\n" +
		"thirds of what it needs; or once somebody says with `hod progress ZONE 100%` that all of it is complete. A coat\n" +
		"that gets mortar after that is open again."
	c.Args = exactly(1, "a zone")
	c.Flags().StringVar(&f.why, "why", "", "why, where it is worth saying")
	f.coat.flags(c.Flags())
	f.when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		f.zone = args[0]
		return env.with(c.Context(), func(s *site) error { return f.run(c.Context(), s) })
	}
	return c
}

func (f finish) run(ctx context.Context, s *site) error {
	zone, err := s.findZone(f.zone)
	if err != nil {
		return err
	}
	coat, err := s.placedCoat(zone, f.coat)
	if err != nil {
		return err
	}
	at, _, err := f.when.read(s)
	if err != nil {
		return err
	}
	return s.simply(ctx, draft{body: event.CoatFinished{Coat: coat, Why: f.why}, at: at}, fmt.Sprintf("%s is finished%s", coat, s.said(at)), s.holds(coat))
}

// holds says how much is in a coat, against its plan.
func (s *site) holds(coat event.Coat) string {
	c, ok := s.coatIs(coat)
	if !ok || c.Needed <= 0 {
		return ""
	}
	return fmt.Sprintf("it holds %s, %.0f %% of what the plan says that it needs", s.units.Volume(c.Volume), 100*float64(c.Volume/c.Needed))
}

func (s *site) coatIs(coat event.Coat) (fold.CoatIs, bool) {
	z, _ := s.fold.Zone(coat.Zone)
	for _, c := range z.Coats {
		if c.CoatPlanned.Coat == coat {
			return c, true
		}
	}
	return fold.CoatIs{}, false
}

// progress is how far a coat is.
type progress struct {
	zone, complete string
	coat           coatWords
	when           moment
}

func newProgress(env *deviceEnv) *cobra.Command {
	var p progress
	c := env.command("progress ZONE SHARE", "Write down how much of a coat is complete, as seen", "hod progress A3 60%", "hod progress A3 100% --face inner")
	c.Long = "The share is of the coat's area, as somebody who stands before it sees it; 100% says that the coat is finished.\nWhat a forecast makes of an open coat gets narrower by it. The same may be said with `hod place … --complete 60%`."
	c.Args = exactly(2, "a zone and a share")
	p.coat.flags(c.Flags())
	p.when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		p.zone, p.complete = args[0], args[1]
		return env.with(c.Context(), func(s *site) error { return p.run(c.Context(), s) })
	}
	return c
}

func (p progress) run(ctx context.Context, s *site) error {
	zone, err := s.findZone(p.zone)
	if err != nil {
		return err
	}
	coat, err := s.placedCoat(zone, p.coat)
	if err != nil {
		return err
	}
	of, err := unit.Said(p.complete, unit.ParseShare)
	if err != nil {
		return err
	}
	at, _, err := p.when.read(s)
	if err != nil {
		return err
	}
	text := fmt.Sprintf("%s is %s complete%s", coat, s.units.Share(of.SI), s.said(at))
	return s.simply(ctx, draft{body: event.ProgressStated{Coat: coat, Complete: of}, at: at}, text, s.holds(coat))
}

func newMethod(env *deviceEnv) *cobra.Command {
	var when moment
	c := env.command("method WORDS…", "Write down that from now on mortar is placed differently", `hod method "thinner: one pass less with the trowel"`)
	c.Long = "The forecast learns from finished coats what a coat takes. What was placed the old way says less of the coats to come,\nso say it when the way of placing changes: another tool, another crew's habit, a thickness that is now kept."
	c.Args = atLeast(1, "what is done differently")
	when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return env.with(c.Context(), func(s *site) error {
			at, _, err := when.read(s)
			if err != nil {
				return err
			}
			body := event.MethodChanged{What: strings.Join(args, " ")}
			return s.simply(c.Context(), draft{body: body, at: at}, "placed differently from now on: "+body.What+s.said(at), "the forecast learns anew from the coats begun after it")
		})
	}
	return c
}
