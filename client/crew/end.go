package crew

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
)

// end is fronts that are ended on purpose.
type end struct {
	treat
}

// NewEnd makes hod end.
func NewEnd(env *session.Env) *cobra.Command {
	var e end
	c := env.NewCommand("end ZONE… HOW…", "Write down that a front was ended on purpose, and how it was left",
		`hod end A3 "cut square, rough, damp" --along B3`, "hod end A3 cut square")
	c.Long = "An ended front waits for nobody any more: no countdown runs for it, and hod next sends nobody to meet it. It is still to be\n" +
		"made ready as the engineer wants it before anybody places on: `hod treat`. Without --along it is the front inside the coat."
	c.Args = terminal.MinimumArgs(2, "a zone and how the front was left")
	f := c.Flags()
	f.StringArrayVar(&e.along, "along", nil, "the zones across the edges: B3,A4")
	e.coat.Register(f)
	e.when.Register(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		e.words = args
		return session.Run(c.Context(), env, func(s *session.Session) error { return e.run(c.Context(), s) })
	}
	return c
}

func (e end) run(ctx context.Context, s *session.Session) error {
	zones, how, err := s.FindZones(e.words)
	if err != nil {
		return err
	}
	if how == "" {
		return terminal.Usagef("say how the front of %s was left, as in `hod end %s \"cut square, rough, damp\"`",
			terminal.JoinNames(zones), zones[0])
	}
	joints, places, err := e.joints(s, zones, how)
	if err != nil {
		return err
	}
	at, _, err := e.when.Read(s)
	if err != nil {
		return err
	}
	for _, b := range joints {
		if err := liesThere(s, b, at); err != nil {
			return err
		}
	}
	drafts := make([]session.Draft, len(joints))
	for i, b := range joints {
		drafts[i] = session.Draft{Body: event.FrontEnded{Coat: b.Coat, OtherZone: b.OtherZone, Treatment: how}, At: at}
	}
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		return err
	}
	for _, b := range joints { // of what is kept: what was refused asks nothing of the engineer
		e.hintNotPermitted(s, b)
	}
	for i := range all {
		all[i].Text = fmt.Sprintf("front %s ended on purpose: %s%s", places[i], how, s.AtTime(at))
	}
	all[len(
		all)-1].Next = "it waits for nobody any more; before anybody places on, it is made ready as the engineer wants it"
	return s.TellAll(all)
}

// liesThere refuses a front where nothing lies at that time, on neither side of the edge: there is none to end.
func liesThere(s *session.Session, b event.JointTreated, at time.Time) error {
	if at.IsZero() {
		at = s.Now
	}
	coats := []event.Coat{b.Coat}
	if b.OtherZone != "" {
		other := b.Coat
		other.Zone = b.OtherZone
		coats = append(coats, other)
	}
	for _, coat := range coats {
		z, _ := s.Fold.Zone(coat.Zone)
		for _, c := range z.Coats {
			if c.Coat.Coat == coat &&
				slices.ContainsFunc(c.Placed, func(p *fold.Placed) bool { return !p.From.After(at) }) {
				return nil
			}
		}
	}
	where := b.Coat.String()
	if b.OtherZone != "" {
		where += " or across its edge with " + string(b.OtherZone)
	}
	return terminal.Refusedf("nothing lies in %s at %s: this ends no front", where, s.FormatTime(at))
}

// hintNotPermitted says where the plan permits no joint of itself.
func (e end) hintNotPermitted(s *session.Session, b event.JointTreated) {
	for _, edge := range s.Plan.Zones[b.Coat.Zone].Edges {
		if edge.Other(b.Coat.Zone) == b.OtherZone && edge.Joint != event.JointYes {
			s.Env.Hintf("note: the plan permits no joint of itself between %s and %s; ask the engineer", b.Coat.Zone,
				b.OtherZone)
		}
	}
}
