package session

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
)

// SureFlag is the flag by which a person says that a value that the trade does not know was so.
func (env *Env) SureFlag(f *pflag.FlagSet) {
	f.BoolVar(&env.Sure, "sure", false, "so it was: record a value that is beyond what the trade knows")
}

// SettleDoubts asks, once for all drafts, about values that the trade does not know: a number in another unit, mostly.
// Where nobody can be asked and nobody said --sure, nothing is recorded. A batch that is mixed was asked about before.
func (s *Session) SettleDoubts(drafts []Draft) error {
	doubts := make([][]fold.Doubtful, len(drafts))
	var all []fold.Doubtful
	for i, d := range drafts {
		if d.Mixed || !s.sound(d) {
			continue
		}
		for _, one := range s.Fold.Doubts(d.Body, s.happened(d)) {
			if d.isDoubted(one) {
				drafts[i].Sure = drafts[i].Sure || d.WasSure
				continue
			}
			doubts[i], all = append(doubts[i], one), append(all, one)
		}
	}
	if len(all) == 0 {
		return nil
	}
	reread := false
	if !s.Env.Sure {
		var err error
		if reread, err = s.askDoubts(all); err != nil {
			return err
		}
	}
	for i := range drafts {
		if len(doubts[i]) == 0 {
			continue
		}
		if drafts[i].reread = reread; reread {
			drafts[i].Body = s.Fold.Reread(drafts[i].Body, s.happened(drafts[i]))
		} else {
			drafts[i].Sure = true
		}
	}
	return nil
}

// sound reports whether an event of the draft could be written; where it could not, that is what is to be said.
func (s *Session) sound(d Draft) bool {
	e := s.event(d, s.Env.Now())
	e.Name = event.Name{Device: s.Device.Name, Seq: 1}
	_, err := event.Write(e)
	return err == nil
}

// happened is when what a draft says happened.
func (s *Session) happened(d Draft) time.Time {
	switch {
	case !d.AsOf.IsZero():
		return d.AsOf
	case d.At.IsZero():
		return s.Now
	}
	return d.At
}

// isDoubted says of a doubt that the event which the draft corrects has it already.
func (d Draft) isDoubted(one fold.Doubtful) bool {
	for _, was := range d.Doubted {
		if was.What == one.What && was.Said == one.Said {
			return true
		}
	}
	return false
}

// askDoubts asks whether the numbers were in the other unit, or so it was; an error where neither is said.
func (s *Session) askDoubts(all []fold.Doubtful) (reread bool, err error) {
	var texts, others []string
	asis := make([]string, len(all))
	for i, d := range all {
		texts, asis[i] = append(texts, d.String()), d.Said
		if d.Other != nil {
			others = append(others, d.Other.Text)
		}
	}
	text := strings.Join(texts, "; ")
	if !s.Env.CanAsk() {
		right := "correct it"
		if len(others) == len(all) {
			right = "write it so if that was meant"
		}
		return false, terminal.Refusedf("%s: %s; if so it was, add --sure", text, right)
	}
	fmt.Fprintln(s.Env.Stderr, terminal.Safe(terminal.Capitalise(text))+".")
	if len(others) == len(all) {
		fmt.Fprintf(s.Env.Stderr, "Was it %s? [y: that; s: so it was, %s; Enter alone: nothing is recorded] ",
			terminal.Safe(strings.Join(others, ", ")), terminal.Safe(strings.Join(asis, ", ")))
	} else {
		fmt.Fprint(s.Env.Stderr, "Was it so? [s: so it was; Enter alone: nothing is recorded] ")
	}
	switch said := strings.ToLower(strings.TrimSpace(s.Env.ReadLine())); {
	case (said == "y" || said == "yes") && len(others) == len(all):
		return true, nil
	case said == "s" || said == "so" || said == "sure":
		return false, nil
	}
	return false, terminal.Refusedf("nothing was recorded; if so it was, add --sure")
}
