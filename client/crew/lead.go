package crew

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// leader leads a person through a mix's charging order, one key a step, and keeps the time of each.
type leader struct {
	site  *session.Session
	mix   *fold.Mix
	body  *event.BatchMixed
	keys  *bufio.Reader
	whole []event.Charge // of the batch, before the steps divide it
	done  []stepDone     // the steps that are done

	over time.Time     // until when the last step's wait lasts; zero: none
	wait time.Duration // how long it is
	of   string        // what is waited after
	mute bool          // it was said that the steps cannot be kept
}

// stepDone is when a step was done, and the wait before it that was cut short for it, if any.
type stepDone struct {
	at  time.Time
	cut string
}

// leadThrough fills the times of a batch, and its charges divided as they go in.
func leadThrough(ctx context.Context, s *session.Session, m *fold.Mix, body *event.BatchMixed) error {
	if s.Env.NoInput || !s.Env.StdinTerminal {
		return terminal.Usagef(
			"--lead asks for a key at each step and needs a terminal; afterwards the batch can be written in one line, with --from, --to and --water-at")
	}
	if len(m.Steps) == 0 {
		return terminal.Usagef("mix %s states no charging order to lead through; write the batch in one line",
			m.MixPlanned.Mix)
	}
	l := leader{site: s, mix: m, body: body, whole: body.Charges, keys: bufio.NewReader(s.Env.Stdin)}
	if s.Env.Keys != nil {
		restore, err := s.Env.Keys()
		if err != nil {
			return fmt.Errorf("read single keys: %w", err)
		}
		defer restore()
	}
	return l.run(ctx)
}

// run goes through the steps; the last, after those of the mix, is that the batch is ready. A step back forgets the
// time of the one before, which is then done again.
func (l *leader) run(ctx context.Context) error {
	steps := l.mix.Steps
	l.say(
		"Leading through %s in %s. Enter, Space or a letter: done. b: one step back. ?: help. q: stop, nothing is then recorded.",
		l.mix.MixPlanned.Mix, terminal.Plural(len(steps), "step", "steps"))
	if err := l.resume(ctx); err != nil {
		return err
	}
	for len(l.done) <= len(steps) {
		step := event.Step{}
		if n := len(l.done); n < len(steps) {
			step = steps[n]
			l.say("%d/%d  %s", n+1, len(steps), l.site.FormatStep(step, session.Portion(step, l.whole)))
		} else {
			l.say("Enter when the batch is ready.")
		}
		did, err := l.key(ctx, step)
		switch {
		case errors.Is(err, errBack):
			l.back()
			continue
		case err != nil:
			return err
		}
		l.done = append(l.done, did)
		l.write()
		l.keepSteps()
		l.begin()
		if l.over.After(did.at) {
			l.say("     wait until %s", l.clock(l.over))
		}
	}
	return nil
}

// resume goes on with a batch that was broken off, if the person wants to.
func (l *leader) resume(ctx context.Context) error {
	done := l.stepsKept()
	if done == nil {
		return nil
	}
	l.done = done
	l.write()
	l.say("     This batch was broken off after its step %d at %s. Enter goes on with it; b begins a new one.",
		len(done), l.clock(done[len(done)-1].at))
	err := l.read(ctx, false)
	if errors.Is(err, errBack) {
		l.done, err = nil, nil
		l.write()
		dropSteps(l.site)
	}
	l.begin()
	return err
}

// back forgets the last step.
func (l *leader) back() {
	if len(l.done) == 0 {
		l.say("     nothing is done yet")
		return
	}
	l.done = l.done[:len(l.done)-1]
	l.write()
	l.keepSteps()
	l.begin()
	l.say("     one step back: its time is forgotten")
}

// write puts into the batch what the steps done so far say of it.
func (l *leader) write() {
	b := l.body
	b.Charges, b.CutShort, b.MixedFrom, b.WaterAt, b.MixedTo = nil, nil, time.Time{}, time.Time{}, time.Time{}
	for i, did := range l.done {
		if did.cut != "" {
			b.CutShort = append(b.CutShort, did.cut)
		}
		if i == len(l.mix.Steps) {
			l.rest()
			b.MixedTo = did.at
			continue
		}
		if i == 0 {
			b.MixedFrom = did.at
		}
		if step := l.mix.Steps[i]; step.Constituent != "" {
			b.Charges = append(b.Charges, event.Charge{
				Constituent: step.Constituent,
				Amount:      session.Portion(l.mix.Steps[i], l.whole), At: did.at,
			})
			l.waterMeetsCement(did.at)
		}
	}
}

// rest charges, without a time, what the charging order leaves out or leaves over.
func (l *leader) rest() {
	put := map[event.Material]float64{}
	for _, step := range l.mix.Steps {
		put[step.Constituent] += session.StepShare(step)
	}
	seen := map[event.Material]bool{}
	for _, c := range l.whole {
		left := 1 - put[c.Constituent]
		if seen[c.Constituent] { // on top of the mix's own
			left = 1
		}
		seen[c.Constituent] = true
		if left > 0.001 {
			l.body.Charges = append(l.body.Charges,
				event.Charge{Constituent: c.Constituent, Amount: session.ScaledAmount(c.Amount, left)})
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
func (l *leader) waterMeetsCement(at time.Time) {
	if !l.body.WaterAt.IsZero() {
		return
	}
	water, cement := false, false
	for _, c := range l.body.Charges {
		k := l.kind(c.Constituent)
		water = water || k == event.Water
		cement = cement || k == event.Cement
	}
	if water && cement {
		l.body.WaterAt = at
	}
}

// begin starts the wait that the last step done asks for.
func (l *leader) begin() {
	l.over, l.wait, l.of = time.Time{}, 0, ""
	n := len(l.done)
	if n == 0 || n > len(l.mix.Steps) {
		return
	}
	step := l.mix.Steps[n-1]
	if l.wait, l.of = step.Wait, string(step.Constituent); l.of == "" {
		l.of = step.LookFor
	}
	if step.Wait > 0 {
		l.over = l.done[n-1].at.Add(step.Wait)
	}
}

// key waits for a key and gives its time. Where it comes before a wait is over, it says so; water then needs a second
// word.
func (l *leader) key(ctx context.Context, next event.Step) (stepDone, error) {
	for {
		if err := l.read(ctx, false); err != nil {
			return stepDone{}, err
		}
		at := l.site.Env.Now()
		left := l.over.Sub(at)
		if l.over.IsZero() || left <= 0 {
			return stepDone{at: at}, nil
		}
		cut := fmt.Sprintf("waited %s of %s after %s", unit.Duration((l.wait - left).Round(time.Second)),
			unit.Duration(l.wait), l.of)
		if l.kind(next.Constituent) != event.Water {
			l.say("     cut short: %s", cut)
			return stepDone{at, cut}, nil
		}
		l.say(
			"     WAIT: %s of the %s after %s are left before water goes in. y puts it in all the same, any other key waits on.",
			unit.Duration(left.Round(time.Second)), unit.Duration(l.wait), l.of)
		err := l.read(ctx, true)
		if errors.Is(err, errWaitOn) {
			continue
		}
		if err != nil {
			return stepDone{}, err
		}
		if at = l.site.Env.Now(); !at.Before(l.over) {
			return stepDone{at: at}, nil
		}
		return stepDone{at, cut + ", then water went in"}, nil
	}
}

var (
	errWaitOn = errors.New("wait on")
	errBack   = errors.New("one step back")
)

// read takes one key; with yes, only y goes on.
func (l *leader) read(ctx context.Context, yes bool) error {
	for {
		if ctx.Err() != nil {
			return l.stopped()
		}
		r, _, err := l.keys.ReadRune()
		switch {
		case errors.Is(err, io.EOF): // the terminal is gone, the steps are kept
			return l.stopped()
		case err == nil && (r == 'q' || r == 'Q' || r == 3 || r == 4): // also Ctrl-C and Ctrl-D, which come as keys
			dropSteps(l.site)
			return l.stopped()
		case err != nil:
			return fmt.Errorf("read a key: %w", err)
		case yes && r != 'y' && r != 'Y':
			return errWaitOn
		case yes:
			return nil
		case r == 'b' || r == 'B':
			return errBack
		case r == '\r', r == '\n', r == ' ', unicode.IsLetter(r):
			return nil
		case r == '?':
			l.help()
		case r == 27: // the arrows and other keys that send more than themselves
			_, _ = l.keys.Discard(l.keys.Buffered())
			l.say("     not understood; ? is help")
		default:
			l.say("     not understood; ? is help")
		}
	}
}

// help says what the keys do.
func (l *leader) help() {
	l.say(
		"     Enter, Space or a letter when the step is done: its time is kept. b takes the last step back and asks for it again.")
	l.say(
		"     q or Ctrl-C stops, records nothing and says how to write the batch in one line. Waits that are cut short are kept with the batch.")
}

// stopped gives back what was kept so far, so that the batch can still be written in one line.
func (l *leader) stopped() error {
	return &terminal.Error{
		Kind: terminal.Interrupted,
		Msg:  "stopped, nothing was recorded; in one line it is `" + oneLine(l.site, *l.body) + "`",
	}
}

// notLost gives back the times of a batch that could not be written down after all.
func notLost(s *session.Session, body event.BatchMixed, err error) error {
	e := session.Classify(context.Background(), err)
	return &terminal.Error{
		Kind: e.Kind,
		Msg: fmt.Sprintf("%s. The batch is NOT recorded; when that is mended it is `%s`", strings.TrimRight(e.Msg, "."),
			oneLine(s, body)), Err: err,
	}
}

// oneLine is the command as it was typed, with the times that were kept, by the site's clock, in the place of --lead.
func oneLine(s *session.Session, body event.BatchMixed) string {
	words := []string{"hod"}
	for _, a := range s.Env.Args {
		if a != "--lead" && a != "--lead=true" {
			words = append(words, terminal.ShellQuote(a))
		}
	}
	for _, t := range []struct {
		flag string
		at   time.Time
	}{{"--from", body.MixedFrom}, {"--water-at", body.WaterAt}, {"--to", body.MixedTo}} {
		if t.at.IsZero() {
			continue
		}
		words = append(words, t.flag, s.ToSiteClock(t.at).In(s.Location).Format("15:04:05"))
	}
	if !body.MixedFrom.IsZero() {
		if day := s.ToSiteClock(body.MixedFrom).In(s.Location).Format(time.DateOnly); day != s.Today() {
			words = append(words, "--on", day)
		}
	}
	return strings.Join(words, " ")
}

// clock shows an instant of this device's clock as the clock on the site's wall has it.
func (l *leader) clock(t time.Time) string {
	return l.site.ToSiteClock(t).In(l.site.Location).Format("15:04:05")
}

// say writes a line that stands right in a terminal that passes single keys.
func (l *leader) say(format string, args ...any) {
	fmt.Fprintf(l.site.Env.Stderr, "%s\r\n", terminal.Safe(fmt.Sprintf(format, args...)))
}
