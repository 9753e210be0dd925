package crew

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
)

// treat is joints made ready for material, or mended after.
type treat struct {
	words []string // zones, then the method
	along []string
	coat  session.CoatFlags
	when  session.MomentFlags
}

// NewTreat makes hod treat.
func NewTreat(env *session.Env) *cobra.Command {
	var t treat
	c := env.NewCommand("treat ZONE… METHOD…", "Write down how a joint was treated",
		`hod treat A3 "chipped, wetted, slurried" --along B3`, "hod treat A3 bonding slurry",
		"hod treat A3 A4 wetted, slurried")
	c.Long = "Without --along it is the joint inside the coat, or on the coat below, in each of the zones."
	c.Args = terminal.MinimumArgs(2, "a zone and what was done")
	f := c.Flags()
	f.StringArrayVar(&t.along, "along", nil, "the zones across the edges: B3,A4")
	t.coat.Register(f)
	t.when.Register(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		t.words = args
		return session.Run(c.Context(), env, func(s *session.Session) error { return t.run(c.Context(), s) })
	}
	return c
}

func (t treat) run(ctx context.Context, s *session.Session) error {
	zones, method, err := s.FindZones(t.words)
	if err != nil {
		return err
	}
	if method == "" {
		return terminal.Usagef(
			"say how the joint of %s was treated, as in `hod treat %s slurried`; the edge between two zones is `hod treat %s slurried --along %s`",
			terminal.JoinNames(zones), zones[0], zones[0], zones[len(zones)-1])
	}
	bodies, places, err := t.joints(s, zones, method)
	if err != nil {
		return err
	}
	at, _, err := t.when.Read(s)
	if err != nil {
		return err
	}
	drafts := make([]session.Draft, len(bodies))
	for i, b := range bodies {
		drafts[i] = session.Draft{Body: b, At: at}
	}
	cold := coldJoints(s)
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		return err
	}
	for i := range all {
		all[i].Text = fmt.Sprintf("joint %s treated: %s%s", places[i], method, s.AtTime(at))
	}
	if n := cold - coldJoints(s); n > 0 {
		all[len(all)-1].Next = fmt.Sprintf("%s now shows that it was treated; its history stays",
			terminal.Plural(n, "cold joint", "cold joints"))
	}
	t.hintEdges(s, zones)
	return s.TellAll(all)
}

// joints are those that the words name, and where each is in words: an edge of each zone, or its own.
func (t treat) joints(s *session.Session, zones []event.Zone, method string) (bodies []event.JointTreated,
	places []string, err error,
) {
	along := parse.List(t.along)
	for _, zone := range zones {
		coat, err := s.FindPlacedCoat(zone, t.coat)
		if err != nil {
			return nil, nil, err
		}
		if len(along) == 0 {
			bodies, places = append(bodies, event.JointTreated{Coat: coat, Method: method}),
				append(places, "in "+coat.String())
		}
		for _, word := range along {
			other, err := s.FindZone(word)
			if err != nil {
				return nil, nil, err
			}
			if err := SharesEdge(s, zone, other); err != nil {
				return nil, nil, err
			}
			bodies = append(bodies, event.JointTreated{Coat: coat, OtherZone: other, Method: method})
			places = append(places, fmt.Sprintf("of %s along %s", coat, other))
		}
	}
	return bodies, places, nil
}

// hintEdges says, where neighbours were named in one line, that the edge between them is another joint.
func (t treat) hintEdges(s *session.Session, zones []event.Zone) {
	if len(t.along) > 0 {
		return
	}
	for i, a := range zones {
		for _, b := range zones[i+1:] {
			if neighbours(s, a, b) {
				s.Env.Hintf(
					"note: this is the joint in each zone; the edge between %s and %s is another: `hod treat %s METHOD --along %s`", a, b, a, b)
				return
			}
		}
	}
}

// coldJoints counts those that nothing was done about.
func coldJoints(s *session.Session) int {
	n := 0
	for _, f := range s.Fold.Findings() {
		if (f.Code == fold.ColdJoint || f.Code == fold.UntreatedCoat) && f.Settled == "" {
			n++
		}
	}
	return n
}

// SharesEdge refuses two zones that share no edge in the plan.
func SharesEdge(s *session.Session, zone, other event.Zone) error {
	if neighbours(s, zone, other) {
		return nil
	}
	return terminal.NotFoundf("zones %s and %s share no edge in the plan; %s shares one with %s", zone, other, zone,
		neighboursOf(s, zone))
}

func neighbours(s *session.Session, a, b event.Zone) bool {
	for _, e := range s.Plan.Zones[a].Edges {
		if e.Other(a) == b {
			return true
		}
	}
	return false
}

func neighboursOf(s *session.Session, z event.Zone) string {
	var all []event.Zone
	for _, e := range s.Plan.Zones[z].Edges {
		all = append(all, e.Other(z))
	}
	if len(all) == 0 {
		return "none"
	}
	return terminal.JoinNames(all)
}
