package terminal

import (
	"fmt"
	"strings"

	"hod/internal/spelling"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// NewCommand is a command that does something: its words, what it is for, and real examples, the commonest first.
func (env *Streams) NewCommand(use, short string, examples ...string) *cobra.Command {
	c := &cobra.Command{Use: use, Short: short, Example: strings.Join(examples, "\n"), DisableFlagsInUseLine: true}
	c.Flags().SortFlags = false
	c.Args = NoArgs
	return c
}

// NewGroup is a command that only holds others. Words that name none of them are an error with an offer, never the help
// and success.
func (env *Streams) NewGroup(use, short, example string, members ...*cobra.Command) *cobra.Command {
	c := &cobra.Command{
		Use: use, Short: short, Example: example, Args: cobra.ArbitraryArgs,
		DisableFlagsInUseLine: true,
	}
	c.AddCommand(members...)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) > 0 {
			return UnknownCommand(c, args[0])
		}
		return Usagef("hod %s does nothing by itself; say one of %s, as in %q", c.Name(),
			strings.Join(memberNames(c), ", "), FirstExample(c.Example))
	}
	return c
}

// UnknownCommand is the error for a word that names no command below c, with the nearest that does.
func UnknownCommand(c *cobra.Command, word string) error {
	names := memberNames(c)
	path := strings.TrimSpace(c.CommandPath())
	if near := spelling.Nearest(word, names); near != "" {
		return Usagef("%s has no command %q; did you mean `%s %s`?", path, Safe(word), path, near)
	}
	return Usagef("%s has no command %q; it has %s", path, Safe(word), strings.Join(names, ", "))
}

// memberNames are the names of the commands below c that a person may type.
func memberNames(c *cobra.Command) []string {
	var names []string
	for _, m := range c.Commands() {
		if !m.Hidden {
			names = append(names, m.Name())
		}
	}
	return names
}

// FlagError says which flag is wrong and offers the nearest.
func FlagError(c *cobra.Command, err error) error {
	if c.HasSubCommands() && c.Flags().NArg() > 0 { // it is the command that is not known, so no flag of it can be
		return UnknownCommand(c, c.Flags().Arg(0))
	}
	switch e := err.(type) { //nolint:errorlint // the parser's own, never wrapped
	case *pflag.NotExistError:
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		word := "--" + e.GetSpecifiedName()
		if e.GetSpecifiedShortnames() != "" {
			word = "-" + e.GetSpecifiedName()
		}
		if near := spelling.Nearest(e.GetSpecifiedName(), names); near != "" {
			return Usagef("%s has no flag %s; did you mean --%s?", c.CommandPath(), Safe(word), near)
		}
		return Usagef("%s has no flag %s; see `%s --help`", c.CommandPath(), Safe(word), c.CommandPath())
	case *pflag.ValueRequiredError:
		return Usagef("--%s needs a value; see `%s --help`", e.GetSpecifiedName(), c.CommandPath())
	case *pflag.InvalidValueError:
		return Usagef("--%s cannot be %q; see `%s --help`", e.GetFlag().Name, Safe(e.GetValue()), c.CommandPath())
	}
	return Usagef("%s; see `%s --help`", Safe(err.Error()), c.CommandPath())
}

// RangeArgs says how many words a command takes and what they are.
func RangeArgs(least, most int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return Usagef("%s needs %s, as in %q", c.CommandPath(), what, FirstExample(c.Example))
		case most >= 0 && len(args) > most:
			return Usagef("%s takes %s; %q is too much", c.CommandPath(), what, Safe(args[most]))
		}
		return nil
	}
}

// NoArgs refuses any word, or the mistyped name of a command below.
func NoArgs(c *cobra.Command, args []string) error {
	switch {
	case len(args) == 0:
		return nil
	case c.HasSubCommands():
		return UnknownCommand(c, args[0])
	}
	return Usagef("%s takes no words beside its flags; %q is too much", c.CommandPath(), Safe(args[0]))
}

// MinimumArgs is RangeArgs for n words or more.
func MinimumArgs(n int, what string) cobra.PositionalArgs { return RangeArgs(n, -1, what) }

// ExactArgs is RangeArgs for n words.
func ExactArgs(n int, what string) cobra.PositionalArgs { return RangeArgs(n, n, what) }

// FirstExample is the first line of the examples of a command.
func FirstExample(example string) string {
	line, _, _ := strings.Cut(example, "\n")
	return line
}

// InFlag puts the name of a flag before what is wrong with its value.
func InFlag(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("--%s: %w", name, err)
}
