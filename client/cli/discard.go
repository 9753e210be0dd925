package cli

import (
	"context"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/unit"
)

// discard is a batch, or part of it, thrown away.
type discard struct {
	batch, part, why, where string
	when                    moment
}

func newDiscard(env *deviceEnv) *cobra.Command {
	var d discard
	c := env.command("discard [BATCH] [PART]", "Write down that a batch, or what is left of it, was thrown away",
		`hod discard 7 --why "too old" --where skip`, "hod discard 7 10l")
	c.Args = arguments(0, 2, "a batch and how much of it")
	f := c.Flags()
	f.StringVar(&d.why, "why", "", "why")
	f.StringVar(&d.where, "where", "", "where it went")
	d.when.flags(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		switch {
		case len(args) == 2:
			d.batch, d.part = args[0], args[1]
		case len(args) == 1:
			d.batch = args[0]
		}
		return env.with(c.Context(), func(s *site) error { return d.run(c.Context(), s) })
	}
	return c
}

// discardKept is the document hod.discard.v1.
type discardKept struct {
	kept
	Batch     string   `json:"batch"`
	BatchLeft Quantity `json:"batch_left"` // share
	Why       string   `json:"why,omitempty"`
	Where     string   `json:"where,omitempty"`
}

func (d discard) run(ctx context.Context, s *site) error {
	at, on, err := d.when.read(s)
	if err != nil {
		return err
	}
	b, err := s.meant(d.batch, on)
	if err != nil {
		return err
	}
	body := event.BatchDiscarded{Batch: b.ID, Why: d.why, Where: d.where}
	if body.Part, err = readPart(d.part); err != nil {
		return err
	}
	if b.Left <= 0 {
		return refused("nothing is left of batch %s: it went to %s", s.shortBatch(b.ID), s.went(b))
	}
	share := b.Left
	if body.Part.Share != nil {
		share = body.Part.Share.SI
	}
	k, err := s.keep(ctx, draft{body: body, at: at})
	if err != nil {
		return err
	}
	k.Text = s.partWords(body.Part, share) + " of batch " + s.shortBatch(b.ID) + " thrown away" + s.said(at)
	if d.why != "" {
		k.Text += ": " + d.why
	}
	doc := discardKept{Batch: b.ID.String(), Why: d.why, Where: d.where}
	if now, ok := s.fold.Batch(b.ID); ok {
		k.Next, doc.BatchLeft = s.leftOf(now), quantity(unit.Computed(now.Left), "1")
	}
	s.warned(&k)
	doc.kept = k
	return s.tellKept(k, doc)
}
