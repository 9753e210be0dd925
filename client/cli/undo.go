package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// undo takes an event back: the last that this device wrote, or one that is named.
type undo struct{ event, why string }

func newUndo(env *session.Env) *cobra.Command {
	var u undo
	c := env.NewCommand("undo [EVENT]", "Take back the last thing written here, or one that is named",
		"hod undo", `hod undo n2/147 --why "that was the other batch"`)
	c.Long = "Nothing is deleted: the record shows what was written and that it was taken back. Taking back an amendment brings back " +
		"what stood before; taking back an undo does so too."
	c.Args = terminal.RangeArgs(0, 1, "one event")
	c.Flags().StringVar(&u.why, "why", "", "why")
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 1 {
			u.event = args[0]
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return u.run(c.Context(), s) })
	}
	return c
}

// correctionKept is the document hod.void.v1, hod.amendment.v1 and hod.settlement.v1.
type correctionKept struct {
	session.Kept
	Of     string `json:"of"`              // the event that it is about
	Before string `json:"before"`          // how that was read
	After  string `json:"after"`           // how it is read now
	Moved  string `json:"moved,omitempty"` // of a plan: what the correction moved in the record
}

func (u undo) run(ctx context.Context, s *session.Session) error {
	r, err := toUndo(s, u.event)
	if err != nil {
		return err
	}
	of, err := s.FirstWriting(r)
	if err != nil {
		return err
	}
	body, err := undoing(s, r, of, u.why)
	if err != nil {
		return err
	}
	before, aside := view.Describe(s.Fold, of, s.Location), setAside(s)
	k, err := s.Keep(ctx, session.Draft{Body: body, Typed: true})
	if err != nil {
		return err
	}
	asideBy(s, &k, aside)
	return tellCorrection(s, k, of.Name, before, what(r, of))
}

// undoes begins the reason of an amendment that brings back what stood before another.
const undoes = "undoes "

// undoing is the event that takes r back: the void of a first writing, or the amendment that brings back what stood
// before a correction. Either names the last word on the event.
func undoing(s *session.Session, r, of *fold.Record, why string) (event.Body, error) {
	tip := of
	if n := len(of.Via); n > 0 {
		tip = of.Via[n-1]
	}
	if r == of {
		if of.State == fold.TakenBack {
			return nil, terminal.Refusedf("%s is taken back already, by %s; `hod undo %s` brings it back", of.Name,
				tip.Name, tip.Name)
		}
		return event.Voided{Target: tip.Hash(), Why: why}, nil
	}
	if r != tip {
		return nil, terminal.Refusedf("%s is not the last word on %s; that is %s: take it back first", r.Name, of.Name,
			tip.Name)
	}
	// What stood before r is the word before it, which may have been a void too.
	body, clock, when := of.Body, of, of.At()
	for _, via := range of.Via[:len(of.Via)-1] {
		b, amends := via.Body.(event.Amended)
		if !amends {
			body = nil
			continue
		}
		body, clock = b.Body, via
		if !b.HappenedAt.IsZero() {
			when = via.Event.OnSite(b.HappenedAt)
		}
	}
	if body == nil {
		return event.Voided{Target: tip.Hash(), Why: undoes + r.Name.String() + reason(why)}, nil
	}
	back := event.Amended{
		Target: tip.Hash(), Body: event.Shifted(body, clock.Event.OnSite),
		Why: undoes + r.Name.String() + reason(why),
	}
	if !when.Equal(of.When) {
		back.HappenedAt = when
	}
	return back, nil
}

func reason(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// what was done by taking r back, in words.
func what(r, of *fold.Record) string {
	if _, amends := r.Body.(event.Amended); amends {
		return fmt.Sprintf("taken back: amendment %s of %s", r.Name, of.Name)
	}
	if _, fixes := event.TargetOf(r.Body); fixes { // a void
		return fmt.Sprintf("brought back: %s %s", event.KindOf(of.Body), of.Name)
	}
	return fmt.Sprintf("taken back: %s %s", event.KindOf(of.Body), of.Name)
}

func tellCorrection(s *session.Session, k session.Kept, of event.Name, before, text string) error {
	r, _ := s.Fold.Record(of)
	s.Fold.Records()
	after := "not read at all"
	if r.Now != nil {
		after = view.Describe(s.Fold, r, s.Location)
	}
	k.Text = text
	k.Next = fmt.Sprintf("it was: %s; it is now: %s", before, after)
	doc := correctionKept{Of: of.String(), Before: before, After: after, Moved: s.MovedBy(k.Name)}
	if doc.Moved != "" {
		k.Next += "; it moved: " + doc.Moved
	}
	s.AddWarnings(&k)
	s.AddWarningsAbout(&k, of)
	doc.Kept = k
	return s.Tell(k, doc)
}

// setAside are the events that cannot stand now.
func setAside(s *session.Session) map[event.Name]bool {
	all := map[event.Name]bool{}
	for _, r := range s.Fold.Records() {
		if r.State == fold.SetAside {
			all[r.Name] = true
		}
	}
	return all
}

// asideBy warns of other events that a correction has set aside, beside those that were before.
func asideBy(s *session.Session, k *session.Kept, before map[event.Name]bool) {
	for _, r := range s.Fold.Records() {
		if r.State == fold.SetAside && !before[r.Name] && r.Name != k.Name {
			k.Warnings = append(k.Warnings, fmt.Sprintf("this sets %s aside, a %s: %s", r.Name, event.KindOf(r.Body),
				r.Aside.Why))
		}
	}
}

// toUndo is the event named, or the last of this device's own that still holds.
func toUndo(s *session.Session, word string) (*fold.Record, error) {
	if word != "" {
		return s.FindEvent(word)
	}
	for _, r := range slices.Backward(s.Fold.Records()) {
		if r.Device != s.Device.Name || r.State == fold.TakenBack || r.Aside != nil &&
			(r.Aside.Code == fold.Forked || r.Aside.Code == fold.WrittenTwice) {
			continue
		}
		b, amends := r.Body.(event.Amended)
		if event.SortOf(r.Body) == event.Correcting && !amends {
			continue
		}
		if amends {
			of, err := s.FirstWriting(r)
			if err != nil || strings.HasPrefix(b.Why, undoes) || len(of.Via) == 0 || of.Via[len(of.Via)-1] != r {
				continue
			}
		}
		return r, nil
	}
	return nil, terminal.Refusedf("there is nothing to take back: this device has written nothing that still holds")
}
