package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plan"
	"hod/internal/view"
)

// amend says what an event should have said.
type amend struct {
	event   string
	changes []string // KEY=VALUE
	why     string
	because string
}

func newAmend(env *deviceEnv) *cobra.Command {
	var a amend
	c := env.command("amend EVENT KEY=VALUE…", "Correct what was written; both stay in the record",
		`hod amend n2/147 share=1/2 zone=A4 --why "half went to A4"`, "hod amend 147 from=10:50 to=10:58", "hod amend n2/140 sand=186lb +water=1qt", "hod amend n2/151 at=\"yesterday 16:10\"")
	c.Long = "KEY= with nothing after it takes the value away. A key that an event of its kind does not have is refused with those that it has."
	c.Args = atLeast(2, "an event and what it should have said")
	c.Flags().StringVar(&a.why, "why", "", "why")
	c.Flags().StringVar(&a.because, "because", "", "why it was done all the same where a rule of the job says no (the rule is then passed over)")
	c.RunE = func(c *cobra.Command, args []string) error {
		if a.why == "" {
			a.why = a.because
		}
		a.event, a.changes = args[0], args[1:]
		return env.with(c.Context(), func(s *site) error { return a.run(c.Context(), s) })
	}
	return c
}

func (a amend) run(ctx context.Context, s *site) error {
	r, err := s.findEvent(a.event)
	if err != nil {
		return err
	}
	of, err := s.rootOf(r)
	if err != nil {
		return err
	}
	switch of.Body.(type) {
	case nil:
		return refused("%s was written by a newer hod; this one cannot amend it", of.Name)
	case event.Settled, event.DeviceEnrolled, event.DeviceRevoked:
		return refused("%s is a %s, which cannot be amended", of.Name, event.KindOf(of.Body))
	}
	if of.State == fold.TakenBack {
		return refused("%s is taken back; `hod undo %s` brings it back, then amend it", of.Name, of.Via[len(of.Via)-1].Name)
	}
	now := of.Now
	if now == nil { // set aside: amended as it was written
		now = of.Body
	}
	body := event.Amended{Target: of.Hash(), Body: onSite(now, of.OnSite), Why: a.why}
	if n := len(of.Via); n > 0 {
		body.Target = of.Via[n-1].Hash()
	}
	day := of.When.In(s.in).Format(time.DateOnly) // a bare clock time means the day on which it happened
	changes := slices.Clone(a.changes)
	slices.SortStableFunc(changes, func(a, b string) int { return materialFirst(a) - materialFirst(b) })
	for _, change := range changes {
		key, value, ok := strings.Cut(change, "=")
		if !ok || key == "" {
			return usage("%q is no change; write KEY=VALUE, as in share=1/2", safe(change))
		}
		if key == "at" {
			if body.HappenedAt, err = s.when(value, day); err != nil {
				return err
			}
			continue
		}
		if body.Body, err = s.set(body.Body, key, value, day); err != nil {
			return err
		}
	}
	if err := a.sound(s, of, now, body.Body); err != nil {
		return err
	}
	before := view.Describe(s.fold, of, s.in)
	d := draft{body: body, typed: true, about: of.Name, asideBefore: of.State == fold.SetAside}
	d.asOf, d.doubted, d.wasSure = of.When, s.fold.Doubts(now, of.When), of.IsSure()
	if p, ok := body.Body.(event.Placement); ok { // it may have come to another zone, batch or time, which is judged like a new one
		d.rules, d.because, d.known = placementRules, a.because, s.found(of.Name)
		because := func(why string) event.Amended {
			p.Because = why
			body.Body = p
			return body
		}
		if a.because != "" {
			d.body = because(a.because)
		}
		d.reason = func(why string) event.Body { return because(why) }
	}
	aside := s.setAside()
	k, err := s.keepWith(ctx, s.learned, d)
	if err != nil {
		return err
	}
	s.asideBy(&k, aside)
	text := fmt.Sprintf("%s %s amended", event.KindOf(of.Body), of.Name)
	if plan.What(now) != "" {
		text += " from the start: " + view.Differs(now, body.Body)
	}
	return s.tellCorrection(k, of.Name, before, text)
}

// materialFirst puts the material before its amount, which is read by what a bag of it weighs.
func materialFirst(change string) int {
	if strings.HasPrefix(change, "material=") {
		return 0
	}
	return 1
}

// foundBefore are all findings, by code and key, before something is written.
func (s *site) foundBefore() map[string]bool {
	all := map[string]bool{}
	for _, f := range s.fold.Findings() {
		all[f.Code+" "+f.Key] = true
	}
	return all
}

// found are the findings about an event, by code and key.
func (s *site) found(name event.Name) map[string]bool {
	all := map[string]bool{}
	for _, f := range s.fold.Findings() {
		if isAbout(f, name) {
			all[f.Code+" "+f.Key] = true
		}
	}
	return all
}

// sound refuses of an amended batch what is refused of a new one, and, without a reason, a name under which what is written
// of the batch does not find it.
func (a amend) sound(s *site, of *fold.Record, was, is event.Body) error {
	old, ok := was.(event.BatchMixed)
	now, still := is.(event.BatchMixed)
	if !ok || !still {
		return nil
	}
	if m, _ := s.plan.MixOf(now, of.When); m != nil {
		if err := holdsCement(m, now.Charges); err != nil {
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
		if err := s.mixedTooLong(now, ready); err != nil {
			return err
		}
	}
	if now.Batch == old.Batch {
		return nil
	}
	if left := s.naming(old.Batch, of.Name); len(left) > 0 {
		return refused("%s named batch %s by its old name and would no longer find it; amend each with batch=%s once this is done, and say why here with --because",
			strings.Join(left, ", "), old.Batch, now.Batch)
	}
	return nil
}

// naming are the tests, placements and the rest that name a batch, apart from one event.
func (s *site) naming(b event.Batch, but event.Name) []string {
	var all []string
	for _, r := range s.fold.Records() {
		var of event.Batch
		switch body := r.Now.(type) {
		case event.BatchTested:
			of = body.Batch
		case event.Placement:
			of = body.Batch
		case event.BatchDiscarded:
			of = body.Batch
		}
		if of == b && r.Name != but && r.State != fold.TakenBack {
			all = append(all, fmt.Sprintf("%s %s", event.KindOf(r.Now), r.Name))
		}
	}
	return all
}

// set changes one value of a body by the table of its setters.
func (s *site) set(body event.Body, key, value, day string) (event.Body, error) {
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
		return s.setCharge(b, key, value)
	}
	keys = append(keys, "at")
	return nil, usage("a %s has no %q%s", event.KindOf(body), safe(key), offer(key, keys))
}

// setCharge changes what went into a batch: NAME=AMOUNT instead of all that is written of it, +NAME=AMOUNT on top.
func (s *site) setCharge(b event.BatchMixed, key, value string) (event.Body, error) {
	name, more := strings.CutPrefix(key, "+")
	m, _ := s.plan.MixOf(b, b.MixedTo)
	if m == nil {
		return nil, notFound("mix %s is not in the plan here, so what it holds is not known", b.Mix)
	}
	c, err := findConstituent(m, name)
	if err != nil {
		var keys []string
		for _, t := range settersOf(b) {
			keys = append(keys, t.key)
		}
		if near := nearest(key, keys); near != "" {
			return nil, usage("a batch has no %q; did you mean %s?", safe(key), near)
		}
		return nil, err
	}
	a, err := readAmount(value, c.Kind)
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

// onSite brings the times in a body to the site's clock, so that they mean the same in an event of another device.
func onSite(body event.Body, shift func(time.Time) time.Time) event.Body {
	switch b := body.(type) {
	case event.BatchMixed:
		b.MixedFrom, b.MixedTo, b.WaterAt = shift(b.MixedFrom), shift(b.MixedTo), shift(b.WaterAt)
		charges := make([]event.Charge, len(b.Charges))
		for i, c := range b.Charges {
			c.At = shift(c.At)
			charges[i] = c
		}
		b.Charges = charges
		return b
	case event.Placement:
		b.From, b.To = shift(b.From), shift(b.To)
		return b
	case event.CureReadings:
		samples := make([]event.Reading, len(b.Samples))
		for i, r := range b.Samples {
			r.At = shift(r.At)
			samples[i] = r
		}
		b.Samples = samples
		return b
	case event.WeatherObserved:
		samples := make([]event.Weather, len(b.Samples))
		for i, w := range b.Samples {
			w.At = shift(w.At)
			samples[i] = w
		}
		b.Samples = samples
		return b
	}
	return body
}
