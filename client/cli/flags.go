package cli

import (
	"context"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

func newFlags(env *Env) *cobra.Command {
	var l looking
	var all, long bool
	c := env.command("flags", "What the record shows that a person should see: the grave first, on one screen", "hod flags", "hod flags --long   # every fact of each", "hod flags --all   # answered ones too")
	l.flags(c)
	c.Flags().BoolVar(&all, "all", false, "answered ones too")
	c.Flags().BoolVar(&long, "long", false, "every fact of each, however long that is")
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := lookFlags(c.Context(), env, l, all)
		if err != nil {
			return err
		}
		defer s.close()
		if all || long {
			return env.show("flags", v, report.Flags(v, s.page()))
		}
		return env.show("flags", v, report.FlagsShort(v, s.page()))
	}
	return c
}

func lookFlags(ctx context.Context, env *Env, l looking, all bool) (view.Flags, *site, error) {
	return look(ctx, env, l,
		func(s *site) (view.Flags, error) { return view.FlagsOf(s.fold, s.now, s.in, all), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Flags(ctx, &hodv1.FlagsRequest{At: at, All: all})
			return r.GetFlags(), err
		})
}

// why prints what a flag rests on, from its words back to the events.
func newWhy(env *Env) *cobra.Command {
	var l looking
	c := env.command("why FLAG", "What a flag rests on: figures, formula, limit, source, events", "hod why k7qd2")
	c.Long = "The beginning of a flag's id is enough where no other begins so. A flag of several facts lists them; each has an id of its own."
	l.flags(c)
	c.Args = exactly(1, "the id of a flag, as hod flags lists them")
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := lookFlags(c.Context(), env, l, true)
		if err != nil {
			return err
		}
		defer s.close()
		m, err := pickFlag(v.Flags, args[0])
		if err != nil {
			return err
		}
		f := m.flag
		if m.line != nil {
			f = f.Alone(*m.line)
		}
		return env.show("flag", struct {
			view.Flag
			Log []view.Entry `json:"log"`
		}{f, s.entries(f.Events)}, report.Flag(f, s.page())+report.Log(view.Log{Site: v.Site, AsOf: v.AsOf, Units: v.Units, Entries: s.entries(f.Events)}, s.page()))
	}
	return c
}

// entries of events by their names, as far as this device holds them.
func (s *site) entries(names []string) []view.Entry {
	var all []view.Entry
	for _, e := range view.LogOf(s.fold, s.now, s.in, view.LogQuery{}).Entries {
		for _, n := range names {
			if n == e.Name {
				all = append(all, e)
			}
		}
	}
	return all
}
