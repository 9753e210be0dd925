package cli

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"hod/client/journal"
	"hod/client/session"
	"hod/client/terminal"
)

// Env is everything outside the program that a command touches.
type Env struct {
	Args    []string // without the program's name
	Stdin   io.Reader
	Stdout  io.Writer // only what was asked for
	Stderr  io.Writer // all else
	Now     func() time.Time
	Uptime  func() journal.Uptime // since the device was started, whatever its clock was set to; nil: not known
	Getenv  func(string) string
	Local   *time.Location // the device's own time zone, where a site names none
	Random  io.Reader      // makes the keys of devices
	Version string

	// Which streams are a terminal, and how wide it is in columns; 0 is not known.
	StdinTerminal, StdoutTerminal, StderrTerminal bool
	Width                                         int
	// Keys lets single keys through, until restore is called, where the terminal can do that; nil where it cannot.
	Keys func() (restore func(), err error)
}

// Run does what the words say and gives the exit code. All that can be learned of a failure is on Stderr by then.
func Run(ctx context.Context, env *Env) int { return env.run(ctx, env.device()) }

func (env *Env) run(ctx context.Context, device *session.Env) int {
	root := newRoot(device, env.Version)
	root.SetArgs(shield(env.Args))
	root.SetIn(env.Stdin)
	root.SetOut(env.Stdout)
	root.SetErr(env.Stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	e := session.Classify(ctx, err)
	if e.Msg != "" {
		fmt.Fprintln(env.Stderr, "hod: "+terminal.Safe(e.Msg))
	}
	return e.Kind.Code()
}

// device is what a command gets of env.
func (env *Env) device() *session.Env {
	return &session.Env{
		Streams: &terminal.Streams{
			Stdin: env.Stdin, Stdout: env.Stdout, Stderr: env.Stderr, Getenv: env.Getenv,
			StdinTerminal: env.StdinTerminal, StdoutTerminal: env.StdoutTerminal, StderrTerminal: env.StderrTerminal,
			Width: env.Width, Keys: env.Keys,
		},
		Args: env.Args, Now: env.Now, Uptime: env.Uptime, Local: env.Local, Random: env.Random,
	}
}

// newRoot builds the tree of commands.
func newRoot(env *session.Env, release string) *cobra.Command {
	root := &cobra.Command{Use: "hod", Short: "The job log of crews who place thin cement shells by hand"}
	root.SilenceErrors, root.SilenceUsage, root.DisableSuggestions = true, true, true
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetHelpFunc(env.Help)
	root.SetUsageFunc(func(*cobra.Command) error { return nil })
	root.SetFlagErrorFunc(terminal.FlagError)
	root.SetHelpCommand(terminal.NewHelp(env.Streams))
	f := root.PersistentFlags()
	f.SortFlags = false
	f.BoolVar(&env.JSON, "json", false, "print one JSON document instead of words")
	f.StringVar(&env.ColourMode, "color", "auto", "auto, always or never")
	f.BoolVar(&env.NoInput, "no-input", false, "never ask; fail where something is missing")
	f.BoolVar(&env.Quiet, "quiet", false, "no hints and warnings on the side")
	f.StringVar(&env.Dir, "dir", "", "the folder of this device's record (HOD_DIR)")
	f.StringVar(&env.Who, "who", "", "the person who writes (HOD_WHO)")
	// Not cobra's own version: that prints by a template, and whoever links text/template keeps every exported method
	// of the program alive, a fifth of its size.
	var tellVersion bool
	root.Flags().BoolVarP(&tellVersion, "version", "v", false, "version for hod")
	for _, sec := range sections(env, release) {
		root.AddGroup(&cobra.Group{ID: sec.title, Title: sec.title})
		for _, c := range sec.commands {
			c.GroupID = sec.title
		}
		root.AddCommand(sec.commands...)
	}
	root.Args = cobra.ArbitraryArgs
	root.RunE = func(c *cobra.Command, args []string) error {
		if tellVersion {
			fmt.Fprintln(env.Stdout, version(release))
			return nil
		}
		if len(args) > 0 {
			return terminal.UnknownCommand(c, args[0])
		}
		env.Help(c, nil)
		return nil
	}
	return root
}

// shield keeps a negative number that stands by itself, -5C, from being read as flags: no flag is a digit. The parsers
// of quantities take the true minus sign.
func shield(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		out[i] = a
		value := i > 0 && len(args[i-1]) > 2 && args[i-1][:2] == "--" // may be the value of the flag before it
		if len(a) > 1 && a[0] == '-' && a[1] >= '0' && a[1] <= '9' && !value {
			out[i] = terminal.MinusSign + a[1:]
		}
	}
	return out
}
