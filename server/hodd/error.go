package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"syscall"

	"github.com/spf13/cobra"

	"hod/internal/bus"
	"hod/server/fault"
)

// exits are the codes that hodd ends with; they are those of hod where both have one.
const (
	exitDone     = 0 // also after a signal
	exitFailed   = 1 // unexpected
	exitUsage    = 2 // wrong words; nothing was started
	exitNotFound = 4 // no device has that name, no site is in that folder
	// the data folder cannot be used, a fault was found in it, or another hodd uses it; the disk is full
	exitFolder = 5
	// an address is taken or cannot be listened on; the cluster, or the server to give an order to, cannot be reached
	exitNetwork = 6
)

// mistake is an error in the words that hodd was called with, network one of the addresses.
type (
	mistake struct{ error }
	network struct{ error }
)

func (m mistake) Unwrap() error { return m.error }

func (n network) Unwrap() error { return n.error }

func usage(format string, args ...any) error {
	return mistake{fmt.Errorf(format+"; see `hodd help`", args...)}
}

// usageOf is usage for a mistake in the words of one command, whose help says more.
func usageOf(c *cobra.Command, format string, args ...any) error {
	return mistake{fmt.Errorf(format+"; see `"+c.CommandPath()+" --help`", args...)}
}

// code is the one table from errors to exit codes.
func code(err error) int {
	var words mistake
	var failed network
	var kept *fault.Error
	var carried *bus.Error
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &words):
		return exitUsage
	case errors.As(err, &failed):
		return exitNetwork
	case errors.As(err, &kept):
		switch kept.Kind {
		case fault.Disk, fault.Busy:
			return exitFolder
		case fault.Offline:
			return exitNetwork
		case fault.NotFound:
			return exitNotFound
		case fault.Invalid, fault.Conflict:
			return exitUsage
		}
	case errors.As(err, &carried):
		return exitNetwork
	case errors.Is(err, os.ErrPermission), errors.Is(err, syscall.ENOSPC):
		return exitFolder
	}
	return exitFailed
}

// said is an error in a sentence.
func said(err error) string {
	var kept *fault.Error
	if errors.As(err, &kept) {
		return kept.Msg
	}
	return err.Error()
}

// listening returns why an address could not be had, and what would be right.
func listening(what, flag, address string, err error) error {
	if err == nil {
		return nil
	}
	_, port, _ := net.SplitHostPort(address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return network{fmt.Errorf(
			"port %s for %s is taken: another hodd may run; stop it, or choose another port with %s", port, what, flag)}
	case errors.Is(err, syscall.EACCES):
		return network{fmt.Errorf("this user may not listen on port %s for %s: choose one above 1023 with %s", port,
			what, flag)}
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return network{fmt.Errorf(
			"this machine has no address %s: choose one of its own with --listen, or 0.0.0.0 for all", address)}
	}
	return network{fmt.Errorf("cannot listen at %s for %s: %w", address, what, err)}
}
