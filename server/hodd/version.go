package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use: "version", Short: "Say which hodd this is", Args: noWords,
		RunE: func(*cobra.Command, []string) error { return printVersion() },
	}
}

// printVersion says what a report of a fault needs.
func printVersion() error {
	name, commit := version, ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				commit = " " + s.Value[:min(len(s.Value), 12)]
			}
		}
	}
	if name == "" {
		name = "development"
	}
	fmt.Printf("hodd %s%s %s %s/%s\n", name, commit, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return nil
}
