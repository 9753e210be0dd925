package terminal

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Help prints an example first, then what the command is for, then its words and flags. It is written by hand: a
// template costs more in the program's size than this file.
func (env *Streams) Help(c *cobra.Command, _ []string) {
	w := env.Stdout
	if c.Example != "" {
		for line := range strings.SplitSeq(c.Example, "\n") {
			fmt.Fprintf(w, "  %s\n", line)
		}
		fmt.Fprintln(w)
	}
	for _, line := range wrap(c.Short+".", 79) {
		fmt.Fprintln(w, line)
	}
	if c.Long != "" {
		fmt.Fprintln(w)
		for _, line := range wrap(c.Long, 79) {
			fmt.Fprintln(w, line)
		}
	}
	if c.HasAvailableSubCommands() {
		fmt.Fprintln(w)
		list(w, c)
	}
	if c.Runnable() && c.HasParent() && (!c.HasSubCommands() || c.Flags().HasAvailableFlags()) {
		fmt.Fprintf(w, "\nUsage: %s\n", strings.TrimPrefix(c.UseLine(), " "))
	}
	if c.HasAvailableLocalFlags() && c.HasParent() {
		fmt.Fprintln(w)
		listFlags(w, c.LocalFlags())
	}
	switch {
	case !c.HasParent():
		fmt.Fprintln(w, "\nWith every command")
		listFlags(w, c.PersistentFlags())
		fmt.Fprintln(w,
			"\n`hod COMMAND --help` shows a command with examples,\n`hod help exit-codes` what the exit codes say.")
	default:
		fmt.Fprintln(w, "\n--json, --dir, --who, --color, --quiet and --no-input go with every command.")
	}
}

// list shows the commands below c, in their sections where they have any.
func list(w io.Writer, c *cobra.Command) {
	wide := 0
	for _, m := range c.Commands() {
		wide = max(wide, len(m.Name()))
	}
	of := func(id string) {
		for _, m := range c.Commands() {
			if m.IsAvailableCommand() && m.GroupID == id {
				name := m.Name()
				for _, line := range wrap(m.Short, 79-wide-4) {
					fmt.Fprintf(w, "  %-*s  %s\n", wide, name, line)
					name = ""
				}
			}
		}
	}
	for _, g := range c.Groups() {
		fmt.Fprintln(w, g.Title)
		of(g.ID)
	}
	of("")
}

// listFlags shows flags with what they are for, in 79 columns.
func listFlags(w io.Writer, flags *pflag.FlagSet) {
	wide := 0
	show := func(each func(f *pflag.Flag, name string)) {
		flags.VisitAll(func(f *pflag.Flag) {
			if f.Hidden || f.Name == "help" {
				return
			}
			name := "--" + f.Name
			if f.Value.Type() != "bool" {
				name += " …"
			}
			each(f, name)
		})
	}
	show(func(_ *pflag.Flag, name string) { wide = max(wide, utf8.RuneCountInString(name)) })
	show(func(f *pflag.Flag, name string) {
		text := f.Usage
		if d := f.DefValue; d != "" && d != "0" && d != "false" && d != "[]" && !strings.Contains(text, "default") {
			text += " (default: " + d + ")"
		}
		for i, line := range wrap(text, 79-wide-4) {
			if i > 0 {
				name = ""
			}
			fmt.Fprintf(w, "  %-*s  %s\n", wide, name, line)
		}
	})
}

// wrap breaks a text between words so that no line is longer than most, where its words allow.
func wrap(text string, most int) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > most {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}

// NewHelp makes hod help.
func NewHelp(env *Streams) *cobra.Command {
	c := env.NewCommand("help [COMMAND]", "Explain a command, or the exit codes", "hod help place",
		"hod help exit-codes")
	c.Args = cobra.ArbitraryArgs
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 1 && args[0] == "exit-codes" {
			return env.Print("exit-codes", exitCodesDoc(), func(w io.Writer) {
				for _, e := range exitCodesDoc().Codes {
					fmt.Fprintf(w, "%3d  %s\n", e.Code, e.Says)
				}
			})
		}
		at := c.Root()
		for _, word := range args {
			below, _, err := at.Find([]string{word})
			if err != nil || below == at {
				return UnknownCommand(at, word)
			}
			at = below
		}
		env.Help(at, nil)
		return nil
	}
	return c
}

type exitCode struct {
	Code int    `json:"code"`
	Says string `json:"says"`
}

type exitTable struct {
	Codes []exitCode `json:"codes"`
}

func exitCodesDoc() exitTable {
	t := exitTable{[]exitCode{{0, "done: a record is on this device's disk; being offline is no failure"}}}
	for _, e := range exitCodes {
		t.Codes = append(t.Codes, exitCode{e.code, e.says})
	}
	return t
}
