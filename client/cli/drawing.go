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
	"hod/internal/report/leaf"
	"hod/internal/report/picture"
	"hod/internal/view/drawing"
	hodv1 "hod/proto/hod/v1"
)

// coatShown is which coat of the shell a map shows.
type coatShown struct {
	face string
	coat int32
	all  bool
}

func (k *coatShown) register(c *cobra.Command) {
	c.Flags().StringVar(&k.face, "face", "", "of the coat to show: outer or inner")
	c.Flags().Int32Var(&k.coat, "coat", 0, "its number; without it the coat into which something was placed last")
	c.Flags().BoolVar(&k.all, "all", false, "all coats together")
}

// asked is the coat that was said; nil where none was.
func (k coatShown) asked() (*drawing.MapCoat, error) {
	switch _, err := event.ParseFace(k.face); {
	case k.face != "" && err != nil:
		return nil, terminal.Usagef("--face %s: %s", terminal.Safe(k.face), err)
	case k.all && (k.coat != 0 || k.face != ""):
		return nil, terminal.Usagef("--all shows all coats, and --coat %d with --face one of them; say one", k.coat)
	case k.coat < 0, k.coat == 0 && k.face != "":
		return nil, terminal.Usagef("a coat is its number with its face, as in --face outer --coat 1")
	case k.coat == 0:
		return nil, nil
	}
	return &drawing.MapCoat{Face: k.face, Coat: k.coat}, nil
}

// onWire is a coat as the server is asked for it.
func onWire(c *drawing.MapCoat) *hodv1.MapCoat {
	if c == nil {
		return nil
	}
	return &hodv1.MapCoat{Face: c.Face, Coat: c.Coat}
}

// planned returns an error where the plan has no coat that was asked for.
func planned(c *drawing.MapCoat, all []drawing.MapCoat) error {
	if c == nil || slices.Contains(all, *c) {
		return nil
	}
	var names []string
	for _, k := range all {
		names = append(names, picture.CoatName(k))
	}
	asked := picture.CoatName(*c)
	if c.Face != "" {
		asked = "coat " + asked
	}
	return terminal.NotFoundf("the plan has no %s; it has %s", asked, terminal.AndList(names))
}

// theMap is the shell laid flat.
type theMap struct {
	session.ViewFlags
	coatShown
}

func newMap(env *session.Env) *cobra.Command {
	var m theMap
	c := env.NewCommand("map", "The shell laid flat: how far each zone is, and what is open along its edges",
		"hod map", "hod map --face inner --coat 1", "hod map --all --json")
	m.ViewFlags.Register(c)
	m.register(c)
	c.RunE = func(c *cobra.Command, _ []string) error { return m.run(c.Context(), env) }
	return c
}

func (m theMap) run(ctx context.Context, env *session.Env) error {
	coat, err := m.asked()
	if err != nil {
		return err
	}
	v, s, err := session.View(ctx, env, m.ViewFlags,
		func(s *session.Session) (drawing.Map, error) {
			return drawing.MapOf(s.Fold, s.Now, s.Location, coat, m.all), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Map(ctx, &hodv1.MapRequest{At: at, Coat: onWire(coat), AllCoats: m.all})
			return r.GetMap(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if err := planned(coat, v.Coats); err != nil {
		return err
	}
	return env.Show("map", v, leaf.MapWords(v, s.Page()))
}

// overview is what the foreman's page shows.
type overview struct {
	session.ViewFlags
	coatShown
}

func newOverview(env *session.Env) *cobra.Command {
	var o overview
	c := env.NewCommand("overview", "What the foreman's page shows: crews, edges that turn next, drying, what is left",
		"hod overview", "hod overview --server --json")
	o.ViewFlags.Register(c)
	o.register(c)
	c.RunE = func(c *cobra.Command, _ []string) error { return o.run(c.Context(), env) }
	return c
}

func (o overview) run(ctx context.Context, env *session.Env) error {
	coat, err := o.asked()
	if err != nil {
		return err
	}
	v, s, err := session.View(ctx, env, o.ViewFlags,
		func(s *session.Session) (drawing.Overview, error) {
			return drawing.OverviewOf(s.Fold, s.Now, s.Location, coat, o.all), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Overview(ctx, &hodv1.OverviewRequest{At: at, Coat: onWire(coat), AllCoats: o.all})
			return r.GetOverview(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if err := planned(coat, v.Map.Coats); err != nil {
		return err
	}
	return env.Show("overview", v, leaf.OverviewWords(v, s.Page()))
}

func newCharts(env *session.Env) *cobra.Command {
	var flags session.ViewFlags
	c := env.NewCommand("charts", "Figures over the days: progress, control charts of the mixes, thickness, stock",
		"hod charts", "hod charts --json")
	flags.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error { return charts(c.Context(), env, flags) }
	return c
}

func charts(ctx context.Context, env *session.Env, flags session.ViewFlags) error {
	v, s, err := session.View(ctx, env, flags,
		func(s *session.Session) (drawing.Charts, error) {
			return drawing.ChartsOf(s.Fold, s.Now, s.Location), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Charts(ctx, &hodv1.ChartsRequest{At: at})
			return r.GetCharts(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	return env.Show("charts", v, leaf.ChartsWords(v, s.Page()))
}
