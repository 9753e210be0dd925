// Command hod is the job log of a crew: it keeps what the crew writes on this device, with or without a network, and
// says what the site's whole record shows. The commands are in package cli.
package main

import (
	"context"
	"crypto/rand"
	"os"
	"os/signal"
	"strconv"
	"syscall"
	"time"
	_ "time/tzdata" // a site's time zone must be known on devices that have no list of them

	"golang.org/x/term"

	"hod/client/cli"
	"hod/client/terminal"
)

// version is set when a release is built.
var version string

func main() { os.Exit(run()) }

func run() int {
	ctx, cancel := context.WithCancelCause(context.Background())
	defer cancel(nil)
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	go func() {
		kind := terminal.Interrupted
		if s := <-signals; s == syscall.SIGTERM {
			kind = terminal.Terminated
		}
		signal.Stop(signals) // the first ends cleanly, a second at once
		cancel(&terminal.Error{Kind: kind, Msg: "stopped"})
	}()
	width, _, err := term.GetSize(int(os.Stdout.Fd()))
	if err != nil { // no terminal; who pipes may still say how wide the reader's is
		width, err = strconv.Atoi(os.Getenv("COLUMNS"))
		if err != nil || width < 0 {
			width = 0
		}
	}
	return cli.Run(ctx, &cli.Env{
		Args: os.Args[1:], Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		Now: time.Now, Uptime: uptime, Getenv: os.Getenv, Local: time.Local, Random: rand.Reader, Version: version,
		StdinTerminal:  term.IsTerminal(int(os.Stdin.Fd())),
		StdoutTerminal: term.IsTerminal(int(os.Stdout.Fd())),
		StderrTerminal: term.IsTerminal(int(os.Stderr.Fd())),
		Width:          width,
		Keys: func() (func(), error) {
			state, err := term.MakeRaw(int(os.Stdin.Fd()))
			if err != nil {
				return nil, err
			}
			return func() { _ = term.Restore(int(os.Stdin.Fd()), state) }, nil
		},
	})
}
