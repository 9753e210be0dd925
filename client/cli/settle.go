package cli

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// settle says which of several amendments or plans holds.
type settle struct{ holds, why string }

func newSettle(env *session.Env) *cobra.Command {
	var d settle
	c := env.NewCommand("settle EVENT", "Say which of several corrections or plans holds (foreman)",
		`hod settle n3/12 --why "asked both crews"`)
	c.Long = "`hod flags` shows what is in conflict and between which events; the event named here is the one that holds."
	c.Args = terminal.ExactArgs(1, "the event that holds")
	c.Flags().StringVar(&d.why, "why", "", "why")
	c.RunE = func(c *cobra.Command, args []string) error {
		d.holds = args[0]
		return session.Run(c.Context(), env, func(s *session.Session) error { return d.run(c.Context(), s) })
	}
	return c
}

func (d settle) run(ctx context.Context, s *session.Session) error {
	r, err := s.FindEvent(d.holds)
	if err != nil {
		return err
	}
	over := rivals(s, r)
	if len(over) == 0 {
		return terminal.Refusedf("%s is in conflict with nothing: there is nothing to settle", r.Name)
	}
	if r.State == fold.Holds && !slices.ContainsFunc(over,
		func(o *fold.Record) bool { return o.State != fold.Replaced }) {
		return terminal.Refusedf("%s holds already over %s", r.Name, terminal.JoinNames(namesOf(over)))
	}
	of, err := s.FirstWriting(r)
	if err != nil {
		return err
	}
	before := view.Describe(s.Fold, of, s.Location)
	body := event.Settled{Holds: r.Hash(), Why: d.why}
	for _, o := range over {
		body.Over = append(body.Over, o.Hash())
	}
	k, err := s.Keep(ctx, session.Draft{Body: body})
	if err != nil {
		return err
	}
	return tellCorrection(s, k, of.Name, before,
		fmt.Sprintf("%s holds over %s", r.Name, terminal.JoinNames(namesOf(over))))
}

func namesOf(records []*fold.Record) (names []string) {
	for _, r := range records {
		names = append(names, r.Name.String())
	}
	return names
}

// rivals are what an event is in conflict with: other corrections of the same event, or other plans of the same thing.
// Corrections that were settled once may be settled anew; a plan is simply written anew.
func rivals(s *session.Session, r *fold.Record) []*fold.Record {
	target := corrected(r.Body)
	var all []*fold.Record
	for _, o := range s.Fold.Records() {
		disputed := o.State == fold.Disputed
		settled := o.State == fold.Replaced || o.State == fold.Holds && r.State == fold.Replaced
		switch {
		case o == r || corrected(o.Body) != target:
		case !target.IsZero() && (disputed || settled),
			target.IsZero() && disputed && r.State == fold.Disputed && session.SamePlan(r.Now, o.Now):
			all = append(all, o)
		}
	}
	return all
}

// corrected is what a correction corrects; zero for every other body.
func corrected(b event.Body) event.Hash {
	target, _ := event.TargetOf(b)
	return target
}
