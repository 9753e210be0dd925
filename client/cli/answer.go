package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/view"
)

func newAnswer(env *Env) *cobra.Command {
	c := env.command("answer FLAG WORDS…", "Write down what was done about a flag, which closes it",
		`hod answer f4k2 "chipped out and slurried before the next coat"`)
	c.Args = atLeast(2, "a flag and what was done about it")
	c.RunE = func(c *cobra.Command, args []string) error {
		return env.with(c.Context(), func(s *site) error {
			f, err := s.findFlag(args[0])
			if err != nil {
				return err
			}
			body := event.FlagAnswered{Flag: f.ID, Answer: strings.Join(args[1:], " ")}
			text := fmt.Sprintf("flag %s (%s) answered: %s", f.ID, f.Text, body.Answer)
			return s.simply(c.Context(), draft{body: body}, text, s.openFlags(f.ID))
		})
	}
	return c
}

// findFlag finds a flag by its name, or by the beginning of it where only one begins so.
func (s *site) findFlag(word string) (view.Flag, error) {
	return pickFlag(view.FlagsOf(s.fold, s.now, s.in, true).Flags, word)
}

// pickFlag is findFlag among the flags of a view.
func pickFlag(all []view.Flag, word string) (view.Flag, error) {
	var fit []view.Flag
	var names []string
	for _, f := range all {
		if strings.EqualFold(f.ID, word) {
			return f, nil
		}
		if strings.HasPrefix(strings.ToLower(f.ID), strings.ToLower(word)) {
			fit = append(fit, f)
		}
		if f.Open {
			names = append(names, f.ID)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		return view.Flag{}, notFound("%s fits %d flags; write more of it", safe(word), len(fit))
	case len(names) == 0:
		return view.Flag{}, notFound("there is no flag %s; none is open", safe(word))
	}
	for _, f := range all { // an answered one may be meant too
		if !f.Open && distance(strings.ToLower(word), f.ID) == 1 {
			names = append(names, f.ID)
		}
	}
	return view.Flag{}, notFound("there is no flag %s%s", safe(word), offer(word, names))
}

// openFlags says how many others are open.
func (s *site) openFlags(but string) string {
	n := 0
	for _, f := range view.FlagsOf(s.fold, s.now, s.in, false).Flags {
		if f.ID != but {
			n++
		}
	}
	if n == 0 {
		return "no flag is open"
	}
	return count(n, "flag is", "flags are") + " still open: `hod flags`"
}
