package cli

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// undo takes an event back: the last that this device wrote, or one that is named.
type undo struct{ event, why string }

func newUndo(env *Env) *cobra.Command {
	var u undo
	c := env.command("undo [EVENT]", "Take back the last thing written here, or one that is named",
		"hod undo", `hod undo n2/147 --why "that was the other batch"`)
	c.Long = "Nothing is deleted: the record shows what was written and that it was taken back. Taking back an amendment brings back " +
		"what stood before; taking back an undo does so too."
	c.Args = arguments(0, 1, "one event")
	c.Flags().StringVar(&u.why, "why", "", "why")
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 1 {
			u.event = args[0]
		}
		return env.with(c.Context(), func(s *site) error { return u.run(c.Context(), s) })
	}
	return c
}

// correctionKept is the document hod.void.v1, hod.amendment.v1 and hod.settlement.v1.
type correctionKept struct {
	kept
	Of     string `json:"of"`     // the event that it is about
	Before string `json:"before"` // how that was read
	After  string `json:"after"`  // how it is read now
}

func (u undo) run(ctx context.Context, s *site) error {
	r, err := s.toUndo(u.event)
	if err != nil {
		return err
	}
	target, of, err := s.tipOf(r)
	if err != nil {
		return err
	}
	before := view.Describe(s.fold, of, s.in)
	k, err := s.keep(ctx, draft{body: event.Voided{Target: target.Hash(), Why: u.why}})
	if err != nil {
		return err
	}
	return s.tellCorrection(k, of.Name, before, "taken back: "+what(target, of))
}

// what is taken back, in words.
func what(target, of *fold.Record) string {
	if target == of {
		return fmt.Sprintf("%s %s", event.KindOf(of.Body), of.Name)
	}
	return fmt.Sprintf("%s %s of %s", event.KindOf(target.Body), target.Name, of.Name)
}

func (s *site) tellCorrection(k kept, of event.Name, before, text string) error {
	r, _ := s.fold.Record(of)
	s.fold.Records()
	after := "not read at all"
	if r.Now != nil {
		after = view.Describe(s.fold, r, s.in)
	}
	k.Text = text
	k.Next = fmt.Sprintf("it was: %s; it is now: %s", before, after)
	s.warned(&k)
	return s.tellKept(k, correctionKept{kept: k, Of: of.String(), Before: before, After: after})
}

// toUndo is the event named, or the last of this device's own that still holds.
func (s *site) toUndo(word string) (*fold.Record, error) {
	if word != "" {
		return s.findEvent(word)
	}
	for _, r := range slices.Backward(s.fold.Records()) {
		if r.Device != s.device.Name || r.State == fold.TakenBack || r.Aside != nil && r.Aside.Code == fold.Forked {
			continue
		}
		switch r.Body.(type) {
		case event.Voided, event.Settled:
			continue
		case event.Amended:
			if len(s.correctionsOf(r.Hash())) > 0 {
				continue
			}
		}
		return r, nil
	}
	return nil, refused("there is nothing to take back: this device has written nothing that still holds")
}

// correctionsOf are the corrections that name an event.
func (s *site) correctionsOf(h event.Hash) []*fold.Record {
	var all []*fold.Record
	for _, r := range s.fold.Records() {
		switch b := r.Body.(type) {
		case event.Amended:
			if b.Target == h {
				all = append(all, r)
			}
		case event.Voided:
			if b.Target == h {
				all = append(all, r)
			}
		}
	}
	return all
}

// rootOf is the event first written that a correction goes back to; itself for any other.
func (s *site) rootOf(r *fold.Record) (*fold.Record, error) {
	for range s.fold.Len() {
		var target event.Hash
		switch b := r.Body.(type) {
		case event.Amended:
			target = b.Target
		case event.Voided:
			target = b.Target
		default:
			return r, nil
		}
		next, ok := s.fold.ByHash(target)
		if !ok {
			return nil, notFound("what %s corrects has not arrived here yet; `hod sync` may fetch it", r.Name)
		}
		r = next
	}
	return r, nil
}

// tipOf is what a correction of the event must name: the last correction in force, or the event itself. A correction can
// only be taken back while it is the last.
func (s *site) tipOf(r *fold.Record) (target, of *fold.Record, err error) {
	if of, err = s.rootOf(r); err != nil {
		return nil, nil, err
	}
	target = of
	if n := len(of.Via); n > 0 {
		target = of.Via[n-1]
	}
	if r != of {
		if r != target {
			return nil, nil, refused("%s is not the last word on %s; that is %s: take it back first", r.Name, of.Name, target.Name)
		}
		return target, of, nil
	}
	if of.State == fold.TakenBack {
		return nil, nil, refused("%s is taken back already, by %s; `hod undo %s` brings it back", of.Name, target.Name, target.Name)
	}
	if _, restored := target.Body.(event.Voided); restored { // an amendment was taken back; now the event itself is to go
		return of, of, nil
	}
	return target, of, nil
}
