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
	all := false
	c := env.command("flags", "What the record shows that a person should see", "hod flags", "hod flags --all   # answered ones too")
	l.flags(c)
	c.Flags().BoolVar(&all, "all", false, "answered ones too")
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := lookFlags(c.Context(), env, l, all)
		if err != nil {
			return err
		}
		defer s.close()
		return env.show("flags", v, report.Flags(v, s.page()))
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
	l.flags(c)
	c.Args = exactly(1, "the name of a flag, as hod flags lists them")
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := lookFlags(c.Context(), env, l, true)
		if err != nil {
			return err
		}
		defer s.close()
		var ids []string
		for _, f := range v.Flags {
			if f.ID == args[0] {
				return env.show("flag", struct {
					view.Flag
					Log []view.Entry `json:"log"`
				}{f, s.entries(f.Events)}, report.Flag(f, s.page())+report.Log(view.Log{Site: v.Site, AsOf: v.AsOf, Units: v.Units, Entries: s.entries(f.Events)}, s.page()))
			}
			ids = append(ids, f.ID)
		}
		if near := nearest(args[0], ids); near != "" {
			return notFound("there is no flag %q; did you mean %s?", safe(args[0]), near)
		}
		return notFound("there is no flag %q; `hod flags --all` lists them", safe(args[0]))
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
