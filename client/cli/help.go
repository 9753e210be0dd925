package cli

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
)

// help prints an example first, then what the command is for, then its words and flags. It is written by hand: a
// template costs more in the program's size than this file.
func (env *Env) help(c *cobra.Command, _ []string) {
	w := env.Stdout
	if c.Example != "" {
		for line := range strings.SplitSeq(c.Example, "\n") {
			fmt.Fprintf(w, "  %s\n", line)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintln(w, c.Short+".")
	if c.Long != "" {
		fmt.Fprintln(w, "\n"+c.Long)
	}
	if c.HasAvailableSubCommands() {
		fmt.Fprintln(w)
		list(w, c)
	}
	if c.Runnable() && c.HasParent() {
		fmt.Fprintf(w, "\nUsage: %s\n", strings.TrimPrefix(c.UseLine(), " "))
	}
	if c.HasAvailableLocalFlags() && c.HasParent() {
		fmt.Fprintf(w, "\n%s", c.LocalFlags().FlagUsagesWrapped(79))
	}
	switch {
	case !c.HasParent():
		fmt.Fprintf(w, "\nWith every command:\n%s", c.PersistentFlags().FlagUsagesWrapped(79))
		fmt.Fprintln(w, "\n`hod COMMAND --help` shows a command with examples; `hod help exit-codes` what its exit code says.")
	default:
		fmt.Fprintln(w, "\n--json, --dir, --who, --color, --quiet and --no-input go with every command: `hod --help`.")
	}
}

func list(w io.Writer, c *cobra.Command) {
	wide := 0
	for _, m := range c.Commands() {
		wide = max(wide, len(m.Name()))
	}
	for _, m := range c.Commands() {
		if m.IsAvailableCommand() {
			fmt.Fprintf(w, "  %-*s  %s\n", wide, m.Name(), m.Short)
		}
	}
}

func newHelp(env *Env) *cobra.Command {
	c := env.command("help [COMMAND]", "Explain a command, or the exit codes", "hod help place", "hod help exit-codes")
	c.Args = cobra.ArbitraryArgs
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 1 && args[0] == "exit-codes" {
			return env.print("exit-codes", exitCodes(), func(w io.Writer) {
				for _, e := range exitCodes().Codes {
					fmt.Fprintf(w, "%3d  %s\n", e.Code, e.Says)
				}
			})
		}
		at := c.Root()
		for _, word := range args {
			below, _, err := at.Find([]string{word})
			if err != nil || below == at {
				return unknownCommand(at, word)
			}
			at = below
		}
		env.help(at, nil)
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

func exitCodes() exitTable {
	t := exitTable{[]exitCode{{0, "done: a record is on this device's disk; being offline is no failure"}}}
	for _, e := range exits {
		t.Codes = append(t.Codes, exitCode{e.code, e.says})
	}
	return t
}

// version is what a report of a fault needs.
func (env *Env) version() string {
	v := env.Version
	if v == "" {
		v = "not released"
	}
	commit := ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				commit = ", commit " + s.Value[:min(12, len(s.Value))]
			}
		}
	}
	return fmt.Sprintf("hod %s%s, %s, %s/%s", v, commit, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}
