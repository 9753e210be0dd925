package cli

import (
	"context"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// log is the record in words.
type log struct {
	looking
	zone, crew, kind, since string
	setAside                bool
	most                    int
}

func newLog(env *Env) *cobra.Command {
	var l log
	c := env.command("log", "The record in words: who wrote what, and how it is read now",
		"hod log", "hod log --zone A3 --since 10:00", "hod log --set-aside   # what cannot stand, and why", "hod log --kind placement -n 50")
	l.flags(c)
	f := c.Flags()
	f.StringVar(&l.zone, "zone", "", "only what concerns this zone")
	f.StringVar(&l.crew, "crew", "", "only of this crew")
	f.StringVar(&l.kind, "kind", "", "only this kind: batch, placement, weather, …")
	f.StringVar(&l.since, "since", "", "only since: 10:00, yesterday, -2h")
	f.BoolVar(&l.setAside, "set-aside", false, "only what was set aside")
	f.IntVarP(&l.most, "most", "n", 40, "the newest so many; 0 for all")
	c.RunE = func(c *cobra.Command, _ []string) error { return l.run(c.Context(), env) }
	return c
}

func (l log) run(ctx context.Context, env *Env) error {
	var from time.Time
	v, s, err := look(ctx, env, l.looking,
		func(s *site) (view.Log, error) {
			if err := l.check(s, &from); err != nil {
				return view.Log{}, err
			}
			return view.LogOf(s.fold, s.now, s.in, view.LogQuery{Zone: l.zone, Crew: l.crew, Kind: l.kind, Since: from, SetAside: l.setAside, Most: l.most}), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Log(ctx, &hodv1.LogRequest{At: at, Zone: l.zone, Crew: l.crew, Kind: l.kind, SetAside: l.setAside, Most: int32(l.most)})
			return r.GetLog(), err
		})
	if err != nil {
		return err
	}
	defer s.close()
	return env.show("log", v, report.Log(v, s.page()))
}

func (l log) check(s *site, from *time.Time) (err error) {
	if l.zone != "" {
		if _, err = s.findZone(l.zone); err != nil {
			return err
		}
	}
	if l.since != "" {
		if *from, err = s.when(l.since, ""); err != nil {
			return flagged("since", err)
		}
	}
	return nil
}
