package parse

import (
	"errors"

	"hod/client/terminal"
	"hod/internal/plan"
)

// Mistakes tells all mistakes of a YAML file, one a line, and gives the error that ends the command.
func Mistakes(env *terminal.Streams, path string, err error) error {
	var all plan.Mistakes
	if !errors.As(err, &all) {
		return terminal.AsUsage(err)
	}
	for _, m := range all {
		env.Tellf("%s", m)
	}
	return terminal.Usagef("%s in %s; nothing was taken from it", terminal.Plural(len(all), "mistake", "mistakes"),
		terminal.Safe(path))
}
