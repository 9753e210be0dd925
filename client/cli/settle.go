package cli

import (
	"context"
	"fmt"
	"reflect"
	"slices"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// settle says which of several amendments or plans holds.
type settle struct{ holds, why string }

func newSettle(env *deviceEnv) *cobra.Command {
	var d settle
	c := env.command("settle EVENT", "Say which of several corrections or plans holds (foreman)",
		`hod settle n3/12 --why "asked both crews"`)
	c.Long = "`hod flags` shows what is in conflict and between which events; the event named here is the one that holds."
	c.Args = exactly(1, "the event that holds")
	c.Flags().StringVar(&d.why, "why", "", "why")
	c.RunE = func(c *cobra.Command, args []string) error {
		d.holds = args[0]
		return env.with(c.Context(), func(s *site) error { return d.run(c.Context(), s) })
	}
	return c
}

func (d settle) run(ctx context.Context, s *site) error {
	r, err := s.findEvent(d.holds)
	if err != nil {
		return err
	}
	over := s.rivals(r)
	if len(over) == 0 {
		return refused("%s is in conflict with nothing: there is nothing to settle", r.Name)
	}
	if r.State == fold.Holds && !slices.ContainsFunc(over, func(o *fold.Record) bool { return o.State != fold.Replaced }) {
		return refused("%s holds already over %s", r.Name, join(namesOf(over)))
	}
	of, err := s.rootOf(r)
	if err != nil {
		return err
	}
	before := view.Describe(s.fold, of, s.in)
	body := event.Settled{Holds: r.Hash(), Why: d.why}
	for _, o := range over {
		body.Over = append(body.Over, o.Hash())
	}
	k, err := s.keep(ctx, draft{body: body})
	if err != nil {
		return err
	}
	return s.tellCorrection(k, of.Name, before, fmt.Sprintf("%s holds over %s", r.Name, join(namesOf(over))))
}

func namesOf(records []*fold.Record) (names []string) {
	for _, r := range records {
		names = append(names, r.Name.String())
	}
	return names
}

// rivals are what an event is in conflict with: other corrections of the same event, or other plans of the same thing.
// Corrections that were settled once may be settled anew; a plan is simply written anew.
func (s *site) rivals(r *fold.Record) []*fold.Record {
	target := corrected(r.Body)
	var all []*fold.Record
	for _, o := range s.fold.Records() {
		disputed := o.State == fold.Disputed
		settled := o.State == fold.Replaced || o.State == fold.Holds && r.State == fold.Replaced
		switch {
		case o == r || corrected(o.Body) != target:
		case !target.IsZero() && (disputed || settled),
			target.IsZero() && disputed && r.State == fold.Disputed && samePlan(r.Now, o.Now):
			all = append(all, o)
		}
	}
	return all
}

// corrected is what a correction corrects; zero for every other body.
func corrected(b event.Body) event.Hash {
	switch b := b.(type) {
	case event.Amended:
		return b.Target
	case event.Voided:
		return b.Target
	}
	return event.Hash{}
}

// samePlan says that two bodies plan the same thing.
func samePlan(a, b event.Body) bool {
	if a == nil || b == nil || reflect.TypeOf(a) != reflect.TypeOf(b) {
		return false
	}
	switch a := a.(type) {
	case event.SitePlanned:
		return true
	case event.ZonePlanned:
		return a.Zone == b.(event.ZonePlanned).Zone
	case event.EdgePlanned:
		o := b.(event.EdgePlanned)
		return a.A == o.A && a.B == o.B || a.A == o.B && a.B == o.A
	case event.CoatPlanned:
		return a.Coat == b.(event.CoatPlanned).Coat
	case event.MixPlanned:
		return a.Mix == b.(event.MixPlanned).Mix
	case event.CrewPlanned:
		return a.Crew == b.(event.CrewPlanned).Crew
	case event.MaterialPlanned:
		return a.Material == b.(event.MaterialPlanned).Material
	}
	return false
}

// replaces are the plans that a new one of the same thing replaces: all that hold or are in conflict now.
func (s *site) replaces(body event.Body) []event.Hash {
	var all []event.Hash
	for _, r := range s.fold.Records() {
		if (r.State == fold.Holds || r.State == fold.Amended || r.State == fold.Disputed || r.State == fold.SetAside) && samePlan(r.Now, body) {
			all = append(all, r.Hash())
		}
	}
	return all
}
