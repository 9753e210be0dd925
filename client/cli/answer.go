package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/spelling"
	"hod/internal/view/daily"
)

func newAnswer(env *session.Env) *cobra.Command {
	c := env.NewCommand("answer FLAG WORDS…", "Write down what was done about a flag, which closes it",
		`hod answer f4k2 "chipped out and slurried before the next coat"`)
	c.Long = "The beginning of a flag's id is enough where no other begins so. An answer to a flag of several facts covers those that are " +
		"known now; one that comes later opens it again. Each fact has an id of its own and may be answered alone."
	c.Args = terminal.MinimumArgs(2, "a flag and what was done about it")
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			m, err := pickFlag(daily.FlagsOf(s.Fold, s.Now, s.Location, true).Flags, args[0])
			if err != nil {
				return err
			}
			body, text := m.answered(strings.Join(args[1:], " "))
			return s.KeepAndTell(c.Context(), session.Draft{Body: body}, text, openFlags(s, m.flag.FullID))
		})
	}
	return c
}

// flagMeant is a flag that a person named, or one of its lines.
type flagMeant struct {
	flag daily.Flag
	line *daily.FlagLine
}

// answered is what an answer says. One to a flag of several names the lines that are open now, or where none is all of
// them: whoever answers does not know of those that are still to come.
func (m flagMeant) answered(words string) (event.FlagAnswered, string) {
	if m.line != nil {
		return event.FlagAnswered{Flag: m.line.FullID, Answer: words},
			fmt.Sprintf("flag %s (%s) answered: %s", m.line.ID, m.line.Text, words)
	}
	body := event.FlagAnswered{Flag: m.flag.FullID, Answer: words}
	for _, l := range m.flag.Lines {
		if (l.Open || !m.flag.Open) && len(body.Lines) < event.MaxRun {
			body.Lines = append(body.Lines, l.FullID)
		}
	}
	text := fmt.Sprintf("flag %s (%s) answered: %s", m.flag.ID, m.flag.Text, words)
	if n := len(body.Lines); len(m.flag.Lines) > 1 {
		text += fmt.Sprintf("; that covers the %s known now", terminal.Plural(n, "fact", "facts"))
	}
	return body, text
}

// leastOfID is how much of a flag's id must be written: a slip of one letter is not to close anything.
const leastOfID = 3

// pickFlag finds a flag, or a line of one, by its id or by the beginning of it where no other begins so.
func pickFlag(all []daily.Flag, word string) (flagMeant, error) {
	short := strings.ToLower(word)
	if len(short) < leastOfID {
		return flagMeant{},
			terminal.Usagef(
				"%q is too little of a flag's id; write %d letters of it at least, as `hod flags` lists them",
				terminal.Safe(word), leastOfID)
	}
	var fit []flagMeant
	var fits, names []string
	try := func(id, full string, m flagMeant) {
		if strings.HasPrefix(full, short) {
			fit, fits = append(fit, m), append(fits, id)
		}
	}
	for _, f := range all {
		try(f.ID, f.FullID, flagMeant{flag: f})
		for i, l := range f.Lines {
			try(l.ID, l.FullID, flagMeant{f, &f.Lines[i]})
		}
		if f.Open {
			names = append(names, f.ID)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		return flagMeant{}, terminal.NotFoundf("%s fits %s; write more of it", terminal.Safe(word), some(fits))
	case len(names) == 0:
		return flagMeant{}, terminal.NotFoundf("there is no flag %s; none is open", terminal.Safe(word))
	}
	for _, f := range all { // an answered one may be meant too
		if !f.Open && spelling.Distance(short, f.ID) == 1 {
			names = append(names, f.ID)
		}
	}
	return flagMeant{}, terminal.NotFoundf("there is no flag %s%s", terminal.Safe(word), terminal.Suggest(word, names))
}

// some joins a few names and counts the rest.
func some(names []string) string {
	const most = 6
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}

// openFlags says how many others are open.
func openFlags(s *session.Session, but string) string {
	n := 0
	for _, f := range daily.FlagsOf(s.Fold, s.Now, s.Location, false).Flags {
		if f.FullID != but {
			n++
		}
	}
	if n == 0 {
		return "no flag is open"
	}
	return terminal.Plural(n, "flag is", "flags are") + " still open: `hod flags`"
}
