package cli

import "github.com/spf13/cobra"

func newPlan(env *Env) *cobra.Command {
	return env.group("plan", "Read the plan of a site from one file, or write it to one",
		`hod plan`)
}
