package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// leader leads a person through a mix's charging order, one key a step, and keeps the time of each.
type leader struct {
	env  *Env
	mix  *fold.Mix
	body *event.BatchMixed
	keys *bufio.Reader
	show func(event.Amount) string

	over time.Time     // until when the last step's wait lasts; zero: none
	wait time.Duration // how long it is
	of   string        // what is waited after
}

// leadThrough fills the times of a batch, and its charges divided as they go in.
func (s *site) leadThrough(ctx context.Context, m *fold.Mix, body *event.BatchMixed) error {
	if s.env.said.noInput || !s.env.StdinTerminal {
		return usage("--lead asks for a key at each step and needs a terminal; afterwards the batch can be written in one line, with --from, --to and --water-at")
	}
	if len(m.Steps) == 0 {
		return usage("mix %s states no charging order to lead through; write the batch in one line", m.MixPlanned.Mix)
	}
	l := leader{env: s.env, mix: m, body: body, keys: bufio.NewReader(s.env.Stdin), show: s.amount}
	if s.env.Keys != nil {
		restore, err := s.env.Keys()
		if err != nil {
			return fmt.Errorf("read single keys: %w", err)
		}
		defer restore()
	}
	return l.run(ctx)
}

func (l *leader) run(ctx context.Context) error {
	amounts := l.body.Charges
	l.body.Charges = nil
	steps := l.mix.Steps
	l.say("Leading through %s in %d steps: Enter when it is done, q to stop (nothing is then recorded).", l.mix.MixPlanned.Mix, len(steps))
	put := map[event.Material]float64{}
	for i, step := range steps {
		part := l.portion(step, amounts, put)
		l.say("%d/%d  %s", i+1, len(steps), l.step(step, part))
		at, err := l.key(ctx, step)
		if err != nil {
			return err
		}
		if l.body.MixedFrom.IsZero() {
			l.body.MixedFrom = at
		}
		if step.Constituent != "" {
			l.body.Charges = append(l.body.Charges, event.Charge{Constituent: step.Constituent, Amount: part, At: at})
		}
		l.waterMeetsCement(step, at)
		l.begin(step, at)
	}
	l.rest(amounts, put)
	l.say("Enter when the batch is ready.")
	at, err := l.key(ctx, event.Step{})
	if err != nil {
		return err
	}
	l.body.MixedTo = at
	return nil
}

// step is what is to be done, in words.
func (l *leader) step(step event.Step, part event.Amount) string {
	text := ""
	if step.Constituent != "" {
		text = string(step.Constituent) + ": " + l.show(part)
		if step.Share != nil {
			text += ", " + unit.Metric.Share(step.Share.SI) + " of it"
		}
	}
	if step.Wait > 0 {
		if text != "" {
			text += ", then "
		}
		text += "wait " + unit.Duration(step.Wait)
	}
	if step.LookFor != "" {
		if text != "" {
			text += "; "
		}
		text += "go on when: " + step.LookFor
	}
	return text
}

// portion is how much of a constituent goes in at this step: its share of all that was said of it.
func (l *leader) portion(step event.Step, amounts []event.Charge, put map[event.Material]float64) event.Amount {
	share := 1.0
	if step.Share != nil {
		share = float64(step.Share.SI)
	}
	for _, c := range amounts {
		if c.Constituent == step.Constituent {
			put[step.Constituent] += share
			return scaled(c.Amount, share)
		}
	}
	return event.Amount{}
}

// rest charges, without a time, what the charging order leaves out or leaves over.
func (l *leader) rest(amounts []event.Charge, put map[event.Material]float64) {
	seen := map[event.Material]bool{}
	for _, c := range amounts {
		left := 1 - put[c.Constituent]
		if seen[c.Constituent] { // on top of the mix's own
			left = 1
		}
		seen[c.Constituent] = true
		if left > 0.001 {
			l.body.Charges = append(l.body.Charges, event.Charge{Constituent: c.Constituent, Amount: scaled(c.Amount, left)})
		}
	}
}

func (l *leader) kind(m event.Material) event.Kind {
	for _, c := range l.mix.Constituents {
		if c.Name == m {
			return c.Kind
		}
	}
	return event.NoKind
}

// waterMeetsCement keeps the moment when the second of the two went in.
func (l *leader) waterMeetsCement(step event.Step, at time.Time) {
	if !l.body.WaterAt.IsZero() {
		return
	}
	water, cement := false, false
	for _, c := range l.body.Charges {
		k := l.kind(c.Constituent)
		water = water || k == event.Water
		cement = cement || k == event.Cement
	}
	if water && cement && step.Constituent != "" {
		l.body.WaterAt = at
	}
}

// begin starts the wait that a step asks for.
func (l *leader) begin(step event.Step, at time.Time) {
	l.over, l.wait, l.of = time.Time{}, step.Wait, string(step.Constituent)
	if l.of == "" {
		l.of = step.LookFor
	}
	if step.Wait > 0 {
		l.over = at.Add(step.Wait)
		l.say("     wait until %s", l.over.In(l.env.Local).Format("15:04:05"))
	}
}

// key waits for a key and gives its time. Where it comes before a wait is over, it says so; water then needs a second
// word.
func (l *leader) key(ctx context.Context, next event.Step) (time.Time, error) {
	for {
		if err := l.read(ctx, false); err != nil {
			return time.Time{}, err
		}
		at := l.env.Now()
		left := l.over.Sub(at)
		if l.over.IsZero() || left <= 0 {
			return at, nil
		}
		label := fmt.Sprintf("waited %s of %s after %s", unit.Duration((l.wait - left).Round(time.Second)), unit.Duration(l.wait), l.of)
		if l.kind(next.Constituent) == event.Water {
			l.say("     WAIT: %s of the %s after %s are left before water goes in. y puts it in all the same, any other key waits on.",
				unit.Duration(left.Round(time.Second)), unit.Duration(l.wait), l.of)
			err := l.read(ctx, true)
			if errors.Is(err, errWaitOn) {
				continue
			}
			if err != nil {
				return time.Time{}, err
			}
			label += ", then water went in"
			at = l.env.Now()
			if !at.Before(l.over) {
				return at, nil
			}
		} else {
			l.say("     cut short: %s", label)
		}
		l.body.CutShort = append(l.body.CutShort, label)
		return at, nil
	}
}

var errWaitOn = errors.New("wait on")

// read takes one key; with yes, only y goes on.
func (l *leader) read(ctx context.Context, yes bool) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	r, _, err := l.keys.ReadRune()
	switch {
	case errors.Is(err, io.EOF), err == nil && (r == 'q' || r == 'Q' || r == 3 || r == 4): // also Ctrl-C and Ctrl-D, which come as keys
		return l.stopped()
	case err != nil:
		return fmt.Errorf("read a key: %w", err)
	case yes && r != 'y' && r != 'Y':
		return errWaitOn
	}
	return nil
}

// stopped gives back what was kept so far, so that the batch can still be written in one line.
func (l *leader) stopped() error {
	said := ""
	if !l.body.MixedFrom.IsZero() {
		said = " --from " + l.body.MixedFrom.In(l.env.Local).Format("15:04:05")
	}
	if !l.body.WaterAt.IsZero() {
		said += " --water-at " + l.body.WaterAt.In(l.env.Local).Format("15:04:05")
	}
	return &Error{Kind: Interrupted, Msg: fmt.Sprintf("stopped, nothing was recorded; in one line it is `hod batch %s%s`", l.mix.MixPlanned.Mix, said)}
}

// say writes a line that stands right in a terminal that passes single keys.
func (l *leader) say(format string, args ...any) {
	fmt.Fprintf(l.env.Stderr, "%s\r\n", safe(fmt.Sprintf(format, args...)))
}
