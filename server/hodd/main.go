// Command hodd is a site's server: it takes in what the devices write, keeps one log of all of it, and answers the
// site's people. It holds the flags and puts the rooms together, no more: the stream is server/broker's, the log
// server/host's, the answers are server/api's.
//
// To read on, start at root.go for its commands, serve.go for what runs, site.go for how it is put together.
//
// # Decisions
//
// A full check of the stream reads a copy, or has the running server read (verify.go): to open a stream is to mend
// it, and a check must not change what it checks.
//
// The demo (demo.go) uses internal/sim and the real parts: real journals, bus and server; only clock and people are
// invented. Not canned output, which proves nothing. It alone stands on both sides, client and server.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // a site's time zone must be known on machines that have no list of them
)

// version is set when a release is built.
var version string

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // the first signal ends cleanly, a second at once
	err := run(ctx, os.Args[1:])
	if err != nil {
		fmt.Fprintln(os.Stderr, "hodd: "+said(err))
	}
	os.Exit(code(err))
}

func run(ctx context.Context, args []string) error {
	root := newRoot()
	root.SetArgs(doubled(args))
	return root.ExecuteContext(ctx)
}
