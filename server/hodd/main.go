// Command hodd is a site's server: it takes in what the devices write, keeps one record of it, and answers the site's
// people. It holds the flags and puts the rooms together, no more: the stream is server/broker's, the record
// server/host's, the answers are server/api's.
//
// To read on, start at serve.go for what runs, at site.go for how it is put together.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"strings"
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
	if len(args) == 0 || strings.HasPrefix(args[0], "-") {
		return serve(ctx, args)
	}
	switch args[0] {
	case "serve":
		return serve(ctx, args[1:])
	case "invite":
		return invitation(args[1:])
	case "revoke":
		return revocation(ctx, args[1:])
	case "backup":
		return backup(args[1:])
	case "import":
		return importing(args[1:])
	case "verify":
		return verify(ctx, args[1:])
	case "demo":
		return demo(ctx, args[1:])
	case "version":
		return printVersion(args[1:])
	case "help":
		fmt.Print(usageText)
		return nil
	}
	return usage("there is no command %q; there are serve (or nothing), invite, revoke, backup, import, verify, demo, version and help", args[0])
}
