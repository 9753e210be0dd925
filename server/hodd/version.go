package main

import (
	"fmt"
	"os"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"hod/internal/notices"
)

func newVersion() *cobra.Command {
	var licences bool
	c := &cobra.Command{Use: "version", Short: "Say which hodd this is", Args: noWords}
	c.Flags().BoolVar(&licences, "licences", false, "print the licences of what others wrote and hodd is built with")
	c.RunE = func(*cobra.Command, []string) error {
		if licences {
			_, err := os.Stdout.WriteString(notices.Text)
			return err
		}
		return printVersion()
	}
	return c
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
