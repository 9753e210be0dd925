package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/crew"
	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plan"
	"hod/internal/spelling"
	"hod/internal/view"
)

// amend says what an event should have said.
type amend struct {
	event   string
	changes []string // KEY=VALUE
	why     string
	because string
}

func newAmend(env *session.Env) *cobra.Command {
	var a amend
	c := env.NewCommand("amend EVENT KEY=VALUE…", "Correct what was written; both stay in the record",
		`hod amend n2/147 share=1/2 zone=A4 --why "half went to A4"`, "hod amend 147 from=10:50 to=10:58",
		"hod amend n2/140 sand=186lb +water=1qt", "hod amend n2/151 at=\"yesterday 16:10\"")
	c.Long = "KEY= with nothing after it takes the value away. A key that an event of its kind does not have is refused with those that it has."
	c.Args = terminal.MinimumArgs(2, "an event and what it should have said")
	c.Flags().StringVar(&a.why, "why", "", "why")
	c.Flags().StringVar(&a.because, "because", "",
		"why it was done all the same where a rule of the job says no (the rule is then passed over)")
	c.RunE = func(c *cobra.Command, args []string) error {
		if a.why == "" {
			a.why = a.because
		}
		a.event, a.changes = args[0], args[1:]
		return session.Run(c.Context(), env, func(s *session.Session) error { return a.run(c.Context(), s) })
	}
	return c
}

func (a amend) run(ctx context.Context, s *session.Session) error {
	r, err := s.FindEvent(a.event)
	if err != nil {
		return err
	}
	of, err := s.FirstWriting(r)
	if err != nil {
		return err
	}
	if of.Body == nil {
		return terminal.Refusedf("%s was written by a newer hod; this one cannot amend it", of.Name)
	}
	if sort := event.SortOf(of.Body); sort == event.Correcting || sort == event.Membership {
		return terminal.Refusedf("%s is a %s, which cannot be amended", of.Name, event.KindOf(of.Body))
	}
	if of.State == fold.TakenBack {
		return terminal.Refusedf("%s is taken back; `hod undo %s` brings it back, then amend it", of.Name,
			of.Via[len(of.Via)-1].Name)
	}
	now := of.Now
	if now == nil { // set aside: amended as it was written
		now = of.Body
	}
	body := event.Amended{Target: of.Hash(), Body: event.Shifted(now, of.OnSite), Why: a.why}
	if n := len(of.Via); n > 0 {
		body.Target = of.Via[n-1].Hash()
	}
	if err := a.change(s, of, &body); err != nil {
		return err
	}
	if err := a.sound(s, of, now, body); err != nil {
		return err
	}
	before := view.Describe(s.Fold, of, s.Location)
	d := session.Draft{Body: body, Typed: true, About: of.Name, AsideBefore: of.State == fold.SetAside}
	d.AsOf, d.Doubted, d.WasSure = of.When, s.Fold.Doubts(now, of.When), of.IsSure()
	a.judgedAsNew(s, of, body, &d)
	aside := setAside(s)
	k, err := s.KeepWithMaterial(ctx, s.Learned, d)
	if err != nil {
		return err
	}
	asideBy(s, &k, aside)
	text := fmt.Sprintf("%s %s amended", event.KindOf(of.Body), of.Name)
	if plan.What(now) != "" {
		text += " from the start: " + view.Differs(now, body.Body)
	}
	return tellCorrection(s, k, of.Name, before, text)
}

// change makes the changes that were asked for in what the event should have said.
func (a amend) change(s *session.Session, of *fold.Record, body *event.Amended) error {
	var err error
	day := of.When.In(s.Location).Format(time.DateOnly) // a bare clock time means the day on which it happened
	changes := slices.Clone(a.changes)
	slices.SortStableFunc(changes, func(a, b string) int { return materialFirst(a) - materialFirst(b) })
	for _, change := range changes {
		key, value, ok := strings.Cut(change, "=")
		if !ok || key == "" {
			return terminal.Usagef("%q is no change; write KEY=VALUE, as in share=1/2", terminal.Safe(change))
		}
		if p, placed := body.Body.(event.Placement); placed && key == "at" && !p.To.IsZero() {
			key = "to" // as with `hod place`, where both say when it was done
		}
		if key == "at" {
			if body.HappenedAt, err = s.ParseTime(value, day); err != nil {
				return err
			}
			continue
		}
		if body.Body, err = setField(s, body.Body, key, value, day); err != nil {
			return err
		}
	}
	return nil
}

// judgedAsNew has an amended placement judged like a new one: it may have come to another zone, batch or time.
func (a amend) judgedAsNew(s *session.Session, of *fold.Record, body event.Amended, d *session.Draft) {
	p, ok := body.Body.(event.Placement)
	if !ok {
		return
	}
	d.Rules, d.Because, d.Known = crew.PlacementRules, a.because, s.FindingsAbout(of.Name)
	because := func(why string) event.Amended {
		p.Because = why
		body.Body = p
		return body
	}
	if a.because != "" {
		d.Body = because(a.because)
	}
	d.Reason = func(why string) event.Body { return because(why) }
}

// materialFirst puts the material before its amount, which is read by what a bag of it weighs.
func materialFirst(change string) int {
	if strings.HasPrefix(change, "material=") {
		return 0
	}
	return 1
}

// sound refuses of an amended batch what is refused of a new one, and, without a reason, a name under which what is
// written of the batch does not find it.
func (a amend) sound(s *session.Session, of *fold.Record, was event.Body, amended event.Amended) error {
	is := amended.Body
	if b, ok := is.(event.BatchBegun); ok {
		begun := amended.HappenedAt
		if begun.IsZero() {
			begun = of.When
		}
		return crew.ReadyAfterBegin(s, "ready", b.Ready, begun)
	}
	old, ok := was.(event.BatchMixed)
	now, still := is.(event.BatchMixed)
	if !ok || !still {
		return nil
	}
	if m, _ := s.Plan.MixOf(now, of.When); m != nil {
		if err := crew.HoldsCement(m, now.Charges); err != nil {
			return err
		}
	}
	if a.because != "" {
		return nil
	}
	ready := now.MixedTo
	if ready.IsZero() {
		ready = of.When
	}
	if !now.MixedFrom.Equal(of.OnSite(old.MixedFrom)) || !now.MixedTo.Equal(of.OnSite(old.MixedTo)) {
		if err := crew.MixedTooLong(s, now, ready); err != nil {
			return err
		}
	}
	if now.Batch == old.Batch {
		return nil
	}
	if left := naming(s, old.Batch, of.Name); len(left) > 0 {
		return terminal.Refusedf(
			"%s named batch %s by its old name and would no longer find it; amend each with batch=%s once this is done, and say why here with --because",
			strings.Join(left, ", "), old.Batch, now.Batch)
	}
	return nil
}

// naming are the tests, placements and the rest that name a batch, apart from one event. A break does without its
// batch.
func naming(s *session.Session, b event.Batch, but event.Name) []string {
	var all []string
	for _, r := range s.Fold.Records() {
		_, mixed := r.Now.(event.BatchMixed) // that is the batch itself
		_, broken := r.Now.(event.SpecimensBroken)
		if !mixed && !broken && slices.Contains(event.BatchesOf(r.Now), b) && r.Name != but &&
			r.State != fold.TakenBack {
			all = append(all, fmt.Sprintf("%s %s", event.KindOf(r.Now), r.Name))
		}
	}
	return all
}

// setField changes one value of a body by the table of its setters.
func setField(s *session.Session, body event.Body, key, value, day string) (event.Body, error) {
	var keys []string
	for _, t := range settersOf(body) {
		if t.key == key {
			changed, err := t.set(s, body, value, day)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", key, err)
			}
			return changed, nil
		}
		keys = append(keys, t.key)
	}
	if b, ok := body.(event.BatchMixed); ok {
		return setCharge(s, b, key, value)
	}
	keys = append(keys, "at")
	return nil, terminal.Usagef("a %s has no %q%s", event.KindOf(body), terminal.Safe(key), terminal.Suggest(key, keys))
}

// setCharge changes what went into a batch: NAME=AMOUNT instead of all that is written of it, +NAME=AMOUNT on top.
func setCharge(s *session.Session, b event.BatchMixed, key, value string) (event.Body, error) {
	name, more := strings.CutPrefix(key, "+")
	m, _ := s.Plan.MixOf(b, b.MixedTo)
	if m == nil {
		return nil, terminal.NotFoundf("mix %s is not in the plan here, so what it holds is not known", b.Mix)
	}
	c, err := session.FindConstituent(m, name)
	if err != nil {
		var keys []string
		for _, t := range settersOf(b) {
			keys = append(keys, t.key)
		}
		if near := spelling.Nearest(key, keys); near != "" {
			return nil, terminal.Usagef("a batch has no %q; did you mean %s?", terminal.Safe(key), near)
		}
		return nil, err
	}
	a, err := parse.Amount(value, c.Kind)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.Name, err)
	}
	var charges []event.Charge
	done := more
	for _, old := range b.Charges {
		if old.Constituent == c.Name && !more {
			if !done {
				charges = append(charges, event.Charge{Constituent: c.Name, Amount: a, At: old.At})
			}
			done = true
			continue
		}
		charges = append(charges, old)
	}
	if more || !done {
		charges = append(charges, event.Charge{Constituent: c.Name, Amount: a})
	}
	b.Charges = charges
	return b, nil
}
