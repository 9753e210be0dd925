package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// command is a command that does something: its words, what it is for, and real examples, the commonest first.
func (env *streams) command(use, short string, examples ...string) *cobra.Command {
	c := &cobra.Command{Use: use, Short: short, Example: strings.Join(examples, "\n"), DisableFlagsInUseLine: true}
	c.Flags().SortFlags = false
	c.Args = nothing
	return c
}

// group is a command that only holds others. Words that name none of them are an error with an offer, never the help
// and success.
func (env *streams) group(use, short, example string, members ...*cobra.Command) *cobra.Command {
	c := &cobra.Command{Use: use, Short: short, Example: example, Args: cobra.ArbitraryArgs, DisableFlagsInUseLine: true}
	c.AddCommand(members...)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) > 0 {
			return unknownCommand(c, args[0])
		}
		return usage("hod %s does nothing by itself; say one of %s, as in %q", c.Name(), strings.Join(memberNames(c), ", "), first(c.Example))
	}
	return c
}

func unknownCommand(c *cobra.Command, word string) error {
	names := memberNames(c)
	path := strings.TrimSpace(c.CommandPath())
	if near := nearest(word, names); near != "" {
		return usage("%s has no command %q; did you mean `%s %s`?", path, safe(word), path, near)
	}
	return usage("%s has no command %q; it has %s", path, safe(word), strings.Join(names, ", "))
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

// flagError says which flag is wrong and offers the nearest.
func flagError(c *cobra.Command, err error) error {
	if c.HasSubCommands() && c.Flags().NArg() > 0 { // it is the command that is not known, so no flag of it can be
		return unknownCommand(c, c.Flags().Arg(0))
	}
	switch e := err.(type) { //nolint:errorlint // the parser's own, never wrapped
	case *pflag.NotExistError:
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		word := "--" + e.GetSpecifiedName()
		if e.GetSpecifiedShortnames() != "" {
			word = "-" + e.GetSpecifiedName()
		}
		if near := nearest(e.GetSpecifiedName(), names); near != "" {
			return usage("%s has no flag %s; did you mean --%s?", c.CommandPath(), safe(word), near)
		}
		return usage("%s has no flag %s; see `%s --help`", c.CommandPath(), safe(word), c.CommandPath())
	case *pflag.ValueRequiredError:
		return usage("--%s needs a value; see `%s --help`", e.GetSpecifiedName(), c.CommandPath())
	case *pflag.InvalidValueError:
		return usage("--%s cannot be %q; see `%s --help`", e.GetFlag().Name, safe(e.GetValue()), c.CommandPath())
	}
	return usage("%s; see `%s --help`", safe(err.Error()), c.CommandPath())
}

// arguments says how many words a command takes and what they are.
func arguments(least, most int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return usage("%s needs %s, as in %q", c.CommandPath(), what, first(c.Example))
		case most >= 0 && len(args) > most:
			return usage("%s takes %s; %q is too much", c.CommandPath(), what, safe(args[most]))
		}
		return nil
	}
}

// nothing refuses any word, or the mistyped name of a command below.
func nothing(c *cobra.Command, args []string) error {
	switch {
	case len(args) == 0:
		return nil
	case c.HasSubCommands():
		return unknownCommand(c, args[0])
	}
	return usage("%s takes no words beside its flags; %q is too much", c.CommandPath(), safe(args[0]))
}

func atLeast(n int, what string) cobra.PositionalArgs { return arguments(n, -1, what) }

func exactly(n int, what string) cobra.PositionalArgs { return arguments(n, n, what) }

func first(example string) string {
	line, _, _ := strings.Cut(example, "\n")
	return line
}

// flagged puts the name of a flag before what is wrong with its value.
func flagged(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("--%s: %w", name, err)
}
