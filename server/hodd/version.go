package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// printVersion says what a report of a fault needs.
func printVersion(args []string) error {
	if len(args) > 0 {
		return usage("version takes nothing, not %q", args[0])
	}
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
