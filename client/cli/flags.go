package cli

import (
	"context"
	"slices"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view"
	"hod/internal/view/daily"
	hodv1 "hod/proto/hod/v1"
)

func newFlags(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	var all, long bool
	c := env.NewCommand("flags", "What the record shows that a person should see: the grave first, on one screen",
		"hod flags", "hod flags --long   # every fact of each", "hod flags --all   # answered ones too")
	l.Register(c)
	c.Flags().BoolVar(&all, "all", false, "answered ones too")
	c.Flags().BoolVar(&long, "long", false, "every fact of each, however long that is")
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := lookFlags(c.Context(), env, l, all)
		if err != nil {
			return err
		}
		defer s.Close()
		s.HintExcluded()
		if all || long {
			return env.Show("flags", v, report.Flags(v, s.Page()))
		}
		return env.Show("flags", v, report.FlagsShort(v, s.Page()))
	}
	return c
}

func lookFlags(ctx context.Context, env *session.Env, l session.ViewFlags, all bool) (daily.Flags, *session.Session,
	error,
) {
	return session.View(ctx, env, l,
		func(s *session.Session) (daily.Flags, error) {
			return daily.FlagsOf(s.Fold, s.Now, s.Location, all), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Flags(ctx, &hodv1.FlagsRequest{At: at, All: all})
			return r.GetFlags(), err
		})
}

// why prints what a flag rests on, from its words back to the events; or what became of an event, and the flags on it.
func newWhy(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("why FLAG|EVENT",
		"What a flag rests on: figures, formula, limit, source, events; or how an event is read", "hod why k7qd2",
		"hod why n2/147   # an event: what corrected it, what rests on it")
	c.Long = "The beginning of a flag's id is enough where no other begins so. A flag of several facts lists them; each has an id of its own."
	l.Register(c)
	c.Args = terminal.ExactArgs(1, "the id of a flag, as hod flags lists them, or the name of an event")
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := lookFlags(c.Context(), env, l, true)
		if err != nil {
			return err
		}
		defer s.Close()
		if isEvent(args[0]) {
			return whyEvent(s, v, args[0])
		}
		m, err := pickFlag(v.Flags, args[0])
		if err != nil {
			return err
		}
		f := m.flag
		if m.line != nil {
			f = f.Alone(*m.line)
		}
		log := entries(s, f.Events)
		return env.Show("flag", struct {
			daily.Flag
			Log []view.Entry `json:"log"`
		}{f, log}, report.Flag(f, s.Page())+report.Log(view.Log{
			Site: v.Site, AsOf: v.AsOf, Units: v.Units,
			Entries: log,
		}, s.Page()))
	}
	return c
}

// isEvent reports whether a word is written as the name of an event, which that of a flag never is.
func isEvent(word string) bool {
	_, err := event.ParseName(word)
	return err == nil
}

// whyEvent shows an event with all that corrects it and the flags that rest on any of these. The flags are those of v;
// the events are this device's own.
func whyEvent(s *session.Session, v daily.Flags, word string) error {
	r, err := s.FindEvent(word)
	if err != nil {
		return err
	}
	names := []string{r.Name.String()}
	if first, ok := s.Fold.FirstWriting(r); ok {
		names = append(names, first.Name.String())
	}
	log := view.LogOf(s.Fold, s.Now, s.Location, view.LogQuery{Events: names})
	on := v
	on.Flags = nil
	for _, f := range v.Flags {
		if slices.ContainsFunc(log.Entries, func(e view.Entry) bool { return slices.Contains(f.Events, e.Name) }) {
			on.Flags = append(on.Flags, f)
		}
	}
	words := report.Log(log, s.Page())
	if len(on.Flags) > 0 {
		words += "\n" + report.Flags(on, s.Page())
	} else {
		words += "\nNo flag rests on it.\n"
	}
	return s.Env.Show("event", struct {
		Name string `json:"name"`
		view.Log
		Flags []daily.Flag `json:"flags"` // that rest on it
	}{r.Name.String(), log, on.Flags}, words)
}

// entries of events by their names, as far as this device holds them.
func entries(s *session.Session, names []string) []view.Entry {
	var all []view.Entry
	for _, e := range view.LogOf(s.Fold, s.Now, s.Location, view.LogQuery{}).Entries {
		for _, n := range names {
			if n == e.Name {
				all = append(all, e)
			}
		}
	}
	return all
}
