package session

import (
	"context"
	"io"
	"math"
	"time"

	"hod/client/journal"
	"hod/client/remote"
	"hod/client/terminal"
)

// copyAge says how old this device's own copy of the record is. It stands in every document that was made of that copy,
// as own_copy, so that the record of one device is not taken for the site's of now.
type copyAge struct {
	Met  bool            `json:"met_the_server"`
	AsOf *terminal.Stamp `json:"as_of,omitempty"` // what others had written by then is in it; missing: not known
	AgeS *float64        `json:"age_s,omitempty"` // since then; below zero where this device's clock was set back
	age  time.Duration
}

// copyAgeOf is the age of a copy at an instant of the site's clock, as this device knows it.
func copyAgeOf(c journal.Contact, now time.Time) *copyAge {
	own := &copyAge{Met: !c.At.IsZero()}
	if c.Fetched.IsZero() {
		return own
	}
	asOf, age := terminal.Stamp(c.Fetched), math.Round(now.Sub(c.Fetched).Seconds())
	own.AsOf, own.AgeS, own.age = &asOf, &age, now.Sub(c.Fetched)
	return own
}

// fetchTime is how long a board that stays on the screen tries to fetch before it shows what is here.
const fetchTime = 3 * time.Second

// Fetch has one contact with the server, if it can be had in a moment. How old the copy is where it cannot, the page
// says.
func (env *Env) Fetch(ctx context.Context) {
	if env.Getenv("HOD_SYNC") == "off" {
		return
	}
	dir, err := env.Folder()
	if err != nil {
		return
	}
	j, err := journal.Open(dir)
	if err != nil {
		return // who shows the board says why
	}
	defer j.Close()
	ctx, cancel := context.WithTimeout(ctx, fetchTime)
	defer cancel()
	road, err := remote.Open(ctx, j)
	if err != nil {
		return
	}
	defer road.Close()
	if out, err := road.Contact(ctx, env.Clock()); err == nil {
		forgetSilence(dir)
		for _, f := range out.Forks {
			env.Tellf("%s", f)
		}
	}
}

// Show prints a view that a report has put into words already.
func (env *Env) Show(thing string, doc any, words string) error {
	if env.table != nil {
		return env.writeTable(thing, doc)
	}
	if env.JSON {
		if env.copyAge == nil {
			return terminal.WriteJSON(env.Stdout, thing, doc)
		}
		return terminal.WriteJSON(env.Stdout, thing, doc, terminal.Member{Name: "own_copy", Value: env.copyAge})
	}
	if _, err := io.WriteString(env.Stdout, words); err != nil {
		return &terminal.PrintError{Err: err}
	}
	return nil
}
