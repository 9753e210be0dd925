package main

import (
	"os"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/term"
)

// newLog writes JSON, one line an entry; words only where a person looks on. Texts of events and codes never reach it.
func newLog(to *os.File) zerolog.Logger {
	zerolog.TimeFieldFormat = time.RFC3339Nano
	if term.IsTerminal(int(to.Fd())) {
		return zerolog.New(zerolog.ConsoleWriter{Out: to, TimeFormat: time.TimeOnly}).With().Timestamp().Logger()
	}
	return zerolog.New(to).With().Timestamp().Logger()
}
