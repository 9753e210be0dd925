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

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/spelling"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// log is the record in words.
type log struct {
	session.ViewFlags
	zone, crew, kind, since, batch string
	setAside                       bool
	most                           int
	events                         []string // those that were named, with all that corrects them
}

func newLog(env *session.Env) *cobra.Command {
	var l log
	c := env.NewCommand("log [EVENT…]", "The record in words: who wrote what, and how it is read now",
		"hod log", "hod log --zone A3 --since 10:00", "hod log n2/147        # one event, and what corrected it",
		"hod log --batch 16", "hod log --who Ana     # what she wrote",
		"hod log --set-aside   # what cannot stand for now, and why", "hod log --kind placement -n 50")
	l.Register(c)
	f := c.Flags()
	f.StringVar(&l.zone, "zone", "", "only what concerns this zone")
	f.StringVar(&l.crew, "crew", "", "only of this crew")
	f.StringVar(&l.batch, "batch", "", "only what concerns this batch: 16, north/16, north/2026-07-18/16")
	f.StringVar(&l.kind, "kind", "", "only this kind: batch, test, placement, weather, stock, …")
	f.StringVar(&l.since, "since", "", "only since: 10:00, yesterday, 2026-07-18, -2h")
	f.BoolVar(&l.setAside, "set-aside", false,
		"only what was set aside: kept, and counted in nothing until what it lacks is there")
	f.IntVarP(&l.most, "most", "n", 40, "so many, those written last; 0 for all")
	c.Args = terminal.MinimumArgs(0, "")
	c.RunE = func(c *cobra.Command, args []string) error {
		l.events = args
		return l.run(c.Context(), env)
	}
	return c
}

// serverEntries is the most that one answer of the server holds.
const serverEntries = 2000

func (l log) run(ctx context.Context, env *session.Env) error {
	kinds, err := kindsMeant(l.kind)
	if err != nil {
		return err
	}
	one := "" // the kind to ask for; several are sorted out here
	if len(kinds) == 1 {
		one = kinds[0]
	}
	q := view.LogQuery{Crew: l.crew, Kind: one, Person: env.Who, SetAside: l.setAside}
	l.Read = func(s *session.Session) error { return l.check(s, &q) }
	v, s, err := session.View(ctx, env, l.ViewFlags,
		func(s *session.Session) (view.Log, error) {
			return view.LogOf(s.Fold, s.Now, s.Location, q), nil
		},
		func(ctx context.Context, server hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			ask := &hodv1.LogRequest{
				At: at, Zone: q.Zone, Crew: q.Crew, Kind: one, SetAside: l.setAside, Most: serverEntries,
				Person: q.Person, Batch: q.Batch, Events: q.Events,
			}
			if !q.Since.IsZero() {
				ask.Since = timestamppb.New(q.Since)
			}
			r, err := server.Log(ctx, ask)
			return r.GetLog(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if len(kinds) > 1 {
		v.Entries = slices.DeleteFunc(v.Entries, func(e view.Entry) bool { return !slices.Contains(kinds, e.Kind) })
	}
	v.Entries = lastWritten(v.Entries, l.most)
	return env.Show("log", v, report.Log(v, s.Page()))
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
	event.BatchBegun{},
	event.FrontEnded{},
	event.ProposalTaken{},
	event.DayOrdered{},
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
	event.DeviceExcluded{},
}

// kindsMeant are the kinds of that name, or those that begin with it: stock is what was received, counted and spoiled.
// A dash may stand for a space.
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
	if near := spelling.Nearest(said, all); near != "" {
		hint = "; did you mean " + near + "? The"
	}
	return nil, terminal.Usagef("--kind: no event is a %q%s kinds are %s", terminal.Safe(word), hint,
		strings.Join(all, ", "))
}

// check finds the names that were said and brings them into the question.
func (l log) check(s *session.Session, q *view.LogQuery) error {
	if l.zone != "" {
		z, err := s.FindZone(l.zone)
		if err != nil {
			return err
		}
		q.Zone = string(z)
	}
	if l.crew != "" {
		crew, err := s.KnownCrew(l.crew)
		if err != nil {
			return err
		}
		q.Crew = string(crew)
	}
	if l.batch != "" {
		b, err := s.FindBatch(l.batch, "")
		if err != nil {
			return err
		}
		q.Batch = b.ID.String()
	}
	for _, word := range parse.List(l.events) {
		r, err := s.FindEvent(word)
		if err != nil {
			return err
		}
		q.Events = append(q.Events, r.Name.String())
		if first, ok := s.Fold.FirstWriting(r); ok && first != r { // a correction is shown with all of what it corrects
			q.Events = append(q.Events, first.Name.String())
		}
	}
	if q.Person != "" && !l.Server {
		if err := findPerson(s, q.Person); err != nil {
			return err
		}
	}
	return l.readSince(s, &q.Since)
}

// findPerson refuses a name under which nobody wrote.
func findPerson(s *session.Session, name string) error {
	var people []string
	for _, r := range s.Fold.Records() {
		switch {
		case view.Called(r.Person, name):
			return nil
		case r.Person != "" && !slices.Contains(people, r.Person):
			people = append(people, r.Person)
		}
	}
	if len(people) == 0 {
		return terminal.NotFoundf(
			"nobody called %q wrote in this record: no event in it says who wrote it (--who, HOD_WHO)",
			terminal.Safe(name))
	}
	return terminal.NotFoundf("nobody called %q wrote in this record%s", terminal.Safe(name),
		terminal.Suggest(name, people))
}

// readSince reads a time, or a day, which is its beginning.
func (l log) readSince(s *session.Session, since *time.Time) error {
	if l.since == "" {
		return nil
	}
	if day, err := s.TimeReader().Day(l.since); err == nil {
		*since = time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, s.Location)
		if since.After(s.Now) {
			return terminal.Usagef("--since: %s is still to come; today is %s", terminal.Safe(l.since), s.Today())
		}
		return nil
	}
	at, err := s.ParseTime(l.since, "")
	*since = at
	return terminal.InFlag("since", err)
}
