// Package cli is the crew's command line: it reads words, asks the rooms below, writes what was said into the device's
// journal, and prints.
//
// It promises that a command which said "kept" has its record on this device's disk; that results go to stdout and
// everything else to stderr; that --json prints one document of a named shape; that it asks questions only at a
// terminal; and that it ends with one of the exit codes of error.go, each with a sentence on stderr. Recording never waits for the
// network. It keeps no state of its own, computes no figure of the trade (the views do), and registers nothing at
// start-up: the tree of commands is built by a function from an Env, so that a test runs the very same commands.
//
// # The shape of a command
//
// One file holds one group of commands. A struct holds what was said, a constructor names the flags and parses, run
// does the work with everything it touches as an argument:
//
//	// note is something worth writing down.
//	type note struct {
//		text string
//		zone string
//	}
//
//	func newNote(env *deviceEnv) *cobra.Command {
//		var n note
//		c := env.command("note WORDS…", "Write down something worth remembering",
//			`hod note "mesh lifted at the north foot of A3" --zone A3`) // a real example, shown first in the help
//		c.Flags().StringVar(&n.zone, "zone", "", "the zone that it is about")
//		c.Args = atLeast(1, "the words to write down")
//		c.RunE = func(c *cobra.Command, args []string) error {
//			n.text = strings.Join(args, " ")
//			return n.run(c.Context(), env)
//		}
//		return c
//	}
//
// A group that only holds other commands is made with env.group, which refuses a mistyped command below it and offers
// the nearest. What is wrong is returned as an *Error, whose Kind is the exit code (usage, notFound, refused build
// one); nothing but Run turns errors into words and codes. What a command found is printed once with env.print, as text or as
// JSON. Quantities are read with the Parse functions of internal/unit, times with env.when (when.go), names with the
// find functions of names.go. What a site holds comes from env.open (site.go).
//
// Start at Run in run.go.
package cli
