package cli

import (
	"context"
	"slices"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

func newFlags(env *deviceEnv) *cobra.Command {
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

func lookFlags(ctx context.Context, env *deviceEnv, l looking, all bool) (view.Flags, *site, error) {
	return look(ctx, env, l,
		func(s *site) (view.Flags, error) { return view.FlagsOf(s.fold, s.now, s.in, all), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Flags(ctx, &hodv1.FlagsRequest{At: at, All: all})
			return r.GetFlags(), err
		})
}

// why prints what a flag rests on, from its words back to the events; or what became of an event, and the flags on it.
func newWhy(env *deviceEnv) *cobra.Command {
	var l looking
	c := env.command("why FLAG|EVENT", "What a flag rests on: figures, formula, limit, source, events; or how an event is read", "hod why k7qd2", "hod why n2/147   # an event: what corrected it, what rests on it")
	c.Long = "The beginning of a flag's id is enough where no other begins so. A flag of several facts lists them; each has an id of its own."
	l.flags(c)
	c.Args = exactly(1, "the id of a flag, as hod flags lists them, or the name of an event")
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := lookFlags(c.Context(), env, l, true)
		if err != nil {
			return err
		}
		defer s.close()
		if isEvent(args[0]) {
			return s.whyEvent(v, args[0])
		}
		m, err := pickFlag(v.Flags, args[0])
		if err != nil {
			return err
		}
		f := m.flag
		if m.line != nil {
			f = f.Alone(*m.line)
		}
		log := s.entries(f.Events)
		return env.show("flag", struct {
			view.Flag
			Log []view.Entry `json:"log"`
		}{f, log}, report.Flag(f, s.page())+report.Log(view.Log{Site: v.Site, AsOf: v.AsOf, Units: v.Units, Entries: log}, s.page()))
	}
	return c
}

// isEvent reports whether a word is written as the name of an event, which that of a flag never is.
func isEvent(word string) bool {
	_, err := event.ParseName(word)
	return err == nil
}

// whyEvent shows an event with all that corrects it and the flags that rest on any of these. The flags are those of v; the
// events are this device's own.
func (s *site) whyEvent(v view.Flags, word string) error {
	r, err := s.findEvent(word)
	if err != nil {
		return err
	}
	names := []string{r.Name.String()}
	if first, ok := s.fold.FirstWriting(r); ok {
		names = append(names, first.Name.String())
	}
	log := view.LogOf(s.fold, s.now, s.in, view.LogQuery{Events: names})
	on := v
	on.Flags = nil
	for _, f := range v.Flags {
		if slices.ContainsFunc(log.Entries, func(e view.Entry) bool { return slices.Contains(f.Events, e.Name) }) {
			on.Flags = append(on.Flags, f)
		}
	}
	words := report.Log(log, s.page())
	if len(on.Flags) > 0 {
		words += "\n" + report.Flags(on, s.page())
	} else {
		words += "\nNo flag rests on it.\n"
	}
	return s.env.show("event", struct {
		Name string `json:"name"`
		view.Log
		Flags []view.Flag `json:"flags"` // that rest on it
	}{r.Name.String(), log, on.Flags}, words)
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
