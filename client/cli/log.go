package cli

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
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
	f.StringVar(&l.kind, "kind", "", "only this kind: batch, test, placement, weather, stock, …")
	f.StringVar(&l.since, "since", "", "only since: 10:00, yesterday, -2h")
	f.BoolVar(&l.setAside, "set-aside", false, "only what was set aside")
	f.IntVarP(&l.most, "most", "n", 40, "so many, those written last; 0 for all")
	c.RunE = func(c *cobra.Command, _ []string) error { return l.run(c.Context(), env) }
	return c
}

// serverEntries is the most that one answer of the server holds.
const serverEntries = 2000

func (l log) run(ctx context.Context, env *Env) error {
	kinds, err := kindsMeant(l.kind)
	if err != nil {
		return err
	}
	one := "" // the kind to ask for; several are sorted out here
	if len(kinds) == 1 {
		one = kinds[0]
	}
	var from time.Time
	l.read = func(s *site) error { return l.check(s, &from) }
	v, s, err := look(ctx, env, l.looking,
		func(s *site) (view.Log, error) {
			return view.LogOf(s.fold, s.now, s.in, view.LogQuery{Zone: l.zone, Crew: l.crew, Kind: one, Since: from, SetAside: l.setAside}), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			ask := &hodv1.LogRequest{At: at, Zone: l.zone, Crew: l.crew, Kind: one, SetAside: l.setAside, Most: serverEntries}
			if !from.IsZero() {
				ask.Since = timestamppb.New(from)
			}
			r, err := q.Log(ctx, ask)
			return r.GetLog(), err
		})
	if err != nil {
		return err
	}
	defer s.close()
	if len(kinds) > 1 {
		v.Entries = slices.DeleteFunc(v.Entries, func(e view.Entry) bool { return !slices.Contains(kinds, e.Kind) })
	}
	v.Entries = lastWritten(v.Entries, l.most)
	return env.show("log", v, report.Log(v, s.page()))
}

// lastWritten keeps the newest so many by when they were written, in the order in which they happened; 0 keeps all.
func lastWritten(all []view.Entry, most int) []view.Entry {
	if most <= 0 || len(all) <= most {
		return all
	}
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		one, _ := event.ParseName(all[a].Name)
		other, _ := event.ParseName(all[b].Name)
		return cmp.Or(all[b].LoggedAt.Compare(all[a].LoggedAt), event.CompareNames(other, one))
	})
	order = order[:most]
	slices.Sort(order)
	kept := make([]view.Entry, len(order))
	for i, at := range order {
		kept[i] = all[at]
	}
	return kept
}

// logKinds are the kinds of events, as --kind takes them.
var logKinds = []event.Body{
	event.BatchMixed{},
	event.BatchTested{},
	event.Placement{},
	event.BatchDiscarded{},
	event.JointTreated{},
	event.SurfaceTended{},
	event.CoatFinished{},
	event.ProgressStated{},
	event.MethodChanged{},
	event.CureReadings{},
	event.WeatherObserved{},
	event.WeatherForecast{},
	event.StockReceived{},
	event.StockCounted{},
	event.StockSpoiled{},
	event.SpecimensBroken{},
	event.Noted{},
	event.FlagAnswered{},
	event.ShiftStarted{},
	event.ShiftEnded{},
	event.Amended{},
	event.Voided{},
	event.Settled{},
	event.SitePlanned{},
	event.CrewPlanned{},
	event.MixPlanned{},
	event.ZonePlanned{},
	event.CoatPlanned{},
	event.EdgePlanned{},
	event.MaterialPlanned{},
	event.DeviceEnrolled{},
	event.DeviceRevoked{},
}

// kindsMeant are the kinds of that name, or those that begin with it: stock is what was received, counted and spoiled. A
// dash may stand for a space.
func kindsMeant(word string) ([]string, error) {
	if word == "" {
		return nil, nil
	}
	said := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(word), "-", " "))
	var begin, all []string
	for _, b := range logKinds {
		kind := event.KindOf(b)
		if kind == said {
			return []string{kind}, nil
		}
		if strings.HasPrefix(kind, said+" ") {
			begin = append(begin, kind)
		}
		all = append(all, kind)
	}
	if len(begin) > 0 {
		return begin, nil
	}
	hint := "; the"
	if near := nearest(said, all); near != "" {
		hint = "; did you mean " + near + "? The"
	}
	return nil, usage("--kind: no event is a %q%s kinds are %s", safe(word), hint, strings.Join(all, ", "))
}

func (l log) check(s *site, from *time.Time) (err error) {
	if l.zone != "" {
		if _, err = s.findZone(l.zone); err != nil {
			return err
		}
	}
	if l.crew != "" {
		if _, err = s.findCrew(l.crew); err != nil {
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
