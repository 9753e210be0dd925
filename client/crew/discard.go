package crew

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
	"hod/internal/view"
)

// discard is a batch, or part of it, thrown away.
type discard struct {
	batch, part, why, where string
	when                    session.MomentFlags
}

// NewDiscard makes hod discard.
func NewDiscard(env *session.Env) *cobra.Command {
	var d discard
	c := env.NewCommand("discard [BATCH] [PART]", "Write down that a batch, or what is left of it, was thrown away",
		`hod discard 7 --why "too old" --where skip`, "hod discard 7 10l")
	c.Args = terminal.RangeArgs(0, 2, "a batch and how much of it")
	f := c.Flags()
	f.StringVar(&d.why, "why", "", "why")
	f.StringVar(&d.where, "where", "", "where it went")
	d.when.Register(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		switch {
		case len(args) == 2:
			d.batch, d.part = args[0], args[1]
		case len(args) == 1:
			d.batch = args[0]
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return d.run(c.Context(), s) })
	}
	return c
}

// discardKept is the document hod.discard.v1.
type discardKept struct {
	session.Kept
	Batch     string            `json:"batch"`
	BatchLeft terminal.Quantity `json:"batch_left"` // share
	Why       string            `json:"why,omitempty"`
	Where     string            `json:"where,omitempty"`
}

func (d discard) run(ctx context.Context, s *session.Session) error {
	at, on, err := d.when.Read(s)
	if err != nil {
		return err
	}
	b, err := s.ResolveBatch(d.batch, on)
	if err != nil {
		return err
	}
	body := event.BatchDiscarded{Batch: b.ID, Why: d.why, Where: d.where}
	if body.Part, err = parse.Part(d.part); err != nil {
		return err
	}
	if b.Left <= 0 {
		return terminal.Refusedf("nothing is left of batch %s: it went to %s", s.ShortBatch(b.ID), went(s, b))
	}
	share := b.Left
	if body.Part.Share != nil {
		share = body.Part.Share.SI
	}
	k, err := s.Keep(ctx, session.Draft{Body: body, At: at})
	if err != nil {
		return err
	}
	k.Text = partWords(s, body.Part, share) + " of batch " + s.ShortBatch(b.ID) + " thrown away" + s.AtTime(at)
	if d.why != "" {
		k.Text += ": " + d.why
	}
	doc := discardKept{Batch: b.ID.String(), Why: d.why, Where: d.where}
	if now, ok := s.Fold.Batch(b.ID); ok {
		left := view.BatchLeftOf(s.Fold, now)
		k.Next, doc.BatchLeft = leftWords(s, b.ID, left), terminal.QuantityOf(unit.Computed(left.Share), "1")
	}
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}
