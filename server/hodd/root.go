package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// newRoot builds the tree of commands. Without a command, hodd serves.
func newRoot() *cobra.Command {
	root := newServe("hodd")
	root.Short = "The server of a site where crews place a thin cement shell by hand"
	root.Long = root.Short + `.

Without a command it runs the site's server; the first start makes the site. Everything is under one data folder.

Exit codes: 0 done, also after a signal; 1 unexpected; 2 wrong words; 4 no such device or folder; 5 the data folder cannot
be used, or a fault was found in it; 6 an address cannot be listened on; the cluster, or the server to give an order to,
cannot be reached.`
	root.Example = `  hodd                                  run the site's server; the first start makes the site
  hodd --listen 0.0.0.0                 the same, for all devices on the network
  hodd invite --role crew --crew north  a code with which one more device joins, while hodd runs
  hodd revoke n2 --why "lost"           ends what device n2 may do, at once, while hodd runs
  hodd space                            how much of the disk the record fills, and what to do where it is full
  hodd backup /media/stick/vault        a copy of the record, verified, while hodd runs or not
  hodd import vault.hodlog              takes in what a device exported, after the server lost its record; hodd must not run
  hodd verify                           reads all of the record again and checks it from the root key up
  hodd demo                             a site that invents itself, to look around; --stay keeps it running`
	root.SilenceErrors, root.SilenceUsage = true, true
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage("%v", err) })
	root.Args = func(_ *cobra.Command, args []string) error {
		if len(args) == 0 {
			return nil
		}
		return usage("there is no command %q%s; there are %s", args[0], suggested(root, args[0]), commands(root))
	}
	root.AddCommand(newServe("serve"), newInvite(), newRevoke(), newExclude(), newSpace(), newBackup(), newImport(),
		newVerify(), newDemo(), newVersion())
	return root
}

// suggested is the command that was perhaps meant.
func suggested(root *cobra.Command, word string) string {
	root.SuggestionsMinimumDistance = 2
	if near := root.SuggestionsFor(word); len(near) > 0 {
		return fmt.Sprintf(" (did you mean %s?)", strings.Join(near, " or "))
	}
	return ""
}

func commands(root *cobra.Command) string {
	var names []string
	for _, c := range root.Commands() {
		names = append(names, c.Name())
	}
	return strings.Join(names, ", ")
}

// doubled puts two hyphens where one was written before a flag's name, as hodd took them before it had other flags.
func doubled(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		if out[i] = a; len(a) > 2 && a[0] == '-' && a[1] >= 'a' && a[1] <= 'z' {
			out[i] = "-" + a
		}
	}
	return out
}

// word is the rule of a command that takes one word beside its flags.
func word(what string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		switch len(args) {
		case 0:
			return usage("%s is missing", what)
		case 1:
			return nil
		}
		return usage("%q is too much", args[1])
	}
}

// noWords is the rule of a command that takes flags alone.
func noWords(_ *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usage("%q is too much", args[0])
	}
	return nil
}
