// Package cli is the tree of hod's commands: Run parses the words, has the command do its work, and turns what became
// of it into a sentence and an exit code. It has the commands that show the record and those that correct it; the
// others lie in the packages crew, readings, planning, device and calc, which commands.go puts in their sections.
//
// It promises that a command which said "kept" has its record on this device's disk; that results go to stdout and
// everything else to stderr; that --json prints one document of a named shape; that it asks questions only at a
// terminal; and that it ends with one of the exit codes of terminal/error.go, each with a sentence on stderr. Recording
// never waits for the network. It keeps no state of its own, computes no figure of the trade (the views do), and
// registers nothing at start-up: the tree of commands is built by a function from an Env, so that a test runs the very
// same commands.
//
// # The shape of a command
//
// One file holds one command or a group of them. A struct holds what was said, a constructor names the flags and
// parses, run does the work with everything it touches as an argument:
//
//	// note is something worth writing down.
//	type note struct {
//		text string
//		zone string
//	}
//
//	// NewNote makes hod note.
//	func NewNote(env *session.Env) *cobra.Command {
//		var n note
//		c := env.NewCommand("note WORDS…", "Write down something worth remembering",
//			`hod note "mesh lifted at the north foot of A3" --zone A3`) // a real example, shown first in the help
//		c.Flags().StringVar(&n.zone, "zone", "", "the zone that it is about")
//		c.Args = terminal.MinimumArgs(1, "the words to write down")
//		c.RunE = func(c *cobra.Command, args []string) error {
//			n.text = strings.Join(args, " ")
//			return session.Run(c.Context(), env, func(s *session.Session) error { return n.run(c.Context(), s) })
//		}
//		return c
//	}
//
// A group that only holds other commands is made with env.NewGroup, which refuses a mistyped command below it and
// offers the nearest. What is wrong is returned as a *terminal.Error, whose Kind is the exit code (terminal.Usagef,
// NotFoundf and Refusedf build one); nothing but Run turns errors into words and codes. What a command found is printed
// once, with env.Print or, for a view, env.Show. Quantities are read with the Parse functions of internal/unit, words
// of the site with package parse, times and names with the methods of session.Session.
//
// Start at Run in run.go.
package cli
