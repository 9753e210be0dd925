package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"hod/internal/event"
	"hod/internal/fold"
)

// sureFlag is the flag by which a person says that a value that the trade does not know was so.
func (env *deviceEnv) sureFlag(f *pflag.FlagSet) {
	f.BoolVar(&env.sure, "sure", false, "so it was: record a value that is beyond what the trade knows")
}

// settleDoubts asks, once for all drafts, about values that the trade does not know: a number in another unit, mostly. Where
// nobody can be asked and nobody said --sure, nothing is recorded. A batch that is mixed was asked about before.
func (s *site) settleDoubts(drafts []draft) error {
	doubts := make([][]fold.Doubtful, len(drafts))
	var all []fold.Doubtful
	for i, d := range drafts {
		if d.mixed || !s.sound(d) {
			continue
		}
		for _, one := range s.fold.Doubts(d.body, s.happened(d)) {
			if d.isDoubted(one) {
				drafts[i].sure = drafts[i].sure || d.wasSure
				continue
			}
			doubts[i], all = append(doubts[i], one), append(all, one)
		}
	}
	if len(all) == 0 {
		return nil
	}
	reread := false
	if !s.env.sure {
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
			drafts[i].body = s.fold.Reread(drafts[i].body, s.happened(drafts[i]))
		} else {
			drafts[i].sure = true
		}
	}
	return nil
}

// sound reports whether an event of the draft could be written; where it could not, that is what is to be said.
func (s *site) sound(d draft) bool {
	e := s.event(d, s.env.Now())
	e.Name = event.Name{Device: s.device.Name, Seq: 1}
	_, err := event.Write(e)
	return err == nil
}

// happened is when what a draft says happened.
func (s *site) happened(d draft) time.Time {
	switch {
	case !d.asOf.IsZero():
		return d.asOf
	case d.at.IsZero():
		return s.now
	}
	return d.at
}

// isDoubted says of a doubt that the event which the draft corrects has it already.
func (d draft) isDoubted(one fold.Doubtful) bool {
	for _, was := range d.doubted {
		if was.What == one.What && was.Said == one.Said {
			return true
		}
	}
	return false
}

// askDoubts asks whether the numbers were in the other unit, or so it was; an error where neither is said.
func (s *site) askDoubts(all []fold.Doubtful) (reread bool, err error) {
	var texts, others []string
	asis := make([]string, len(all))
	for i, d := range all {
		texts, asis[i] = append(texts, d.String()), d.Said
		if d.Other != nil {
			others = append(others, d.Other.Text)
		}
	}
	text := strings.Join(texts, "; ")
	if !s.env.asks() {
		right := "correct it"
		if len(others) == len(all) {
			right = "write it so if that was meant"
		}
		return false, refused("%s: %s; if so it was, add --sure", text, right)
	}
	fmt.Fprintln(s.env.Stderr, safe(capital(text))+".")
	if len(others) == len(all) {
		fmt.Fprintf(s.env.Stderr, "Was it %s? [y: that; s: so it was, %s; Enter alone: nothing is recorded] ", safe(strings.Join(others, ", ")), safe(strings.Join(asis, ", ")))
	} else {
		fmt.Fprint(s.env.Stderr, "Was it so? [s: so it was; Enter alone: nothing is recorded] ")
	}
	switch said := strings.ToLower(strings.TrimSpace(s.env.line())); {
	case (said == "y" || said == "yes") && len(others) == len(all):
		return true, nil
	case said == "s" || said == "so" || said == "sure":
		return false, nil
	}
	return false, refused("nothing was recorded; if so it was, add --sure")
}
