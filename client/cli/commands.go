package cli

import "github.com/spf13/cobra"

// commands are all that hod can do, in the order in which the help lists them. To add one, add its line here.
func commands(env *Env) []*cobra.Command {
	return []*cobra.Command{
		newCalc(env),
		newPlan(env),
	}
}
