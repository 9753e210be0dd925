package main

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/broker"
	"hod/server/enrol"
)

// The server's clock is wrong when the site begins, and jumps while it is used: phones join, write and read all the
// same, nothing is lost, and who is refused hears whose clock it is.
func TestAServerWhoseClockIsWrongLosesNothingAndSaysThatItIsItsOwn(t *testing.T) {
	for name, wrong := range map[string]func(hour int) time.Time{
		"1970":               func(int) time.Time { return time.Unix(100, 0) },
		"eleven years ahead": func(int) time.Time { return time.Now().AddDate(11, 0, 0) },
		"it jumps by the hour": func(hour int) time.Time {
			return time.Now().Add([]time.Duration{
				-72 * time.Hour, 40 * time.Hour, 0, -time.Hour,
				9000 * time.Hour,
			}[hour%5])
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			var hour atomic.Int64
			s := here(dir)
			s.now = func() time.Time { return wrong(int(hour.Load())) }
			w := started(t, s)
			crew := enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}
			first := tabletOf(t, joined(t, w, crew))
			second := tabletOf(t, joined(t, w, crew))
			var wrote []string
			for range 5 {
				for _, d := range []*tablet{first, second} {
					text := string(d.name) + " at " + time.Duration(hour.Load()).String()
					wrote = append(wrote, text)
					d.online("note", text)
				}
				hour.Add(1)
				if said, code := typed(t, first.dir, "board", "--server"); code != 0 &&
					!strings.Contains(said, "the server's clock") {
					t.Errorf("after its clock was set the server says: exit %d, %s", code, said)
				}
				first.online("sync") // tells the phone the server's time
				if said, code := typed(t, first.dir, "board", "--server"); (code != 0) != (name == "1970") ||
					code != 0 && !strings.Contains(said, "the server's clock is wrong: it says 1970-01-01") {
					t.Errorf("after a contact: exit %d, %s", code, said)
				}
			}
			if err := w.stop(); err != nil {
				t.Fatal(err)
			}
			w = started(t, here(dir)) // with the right time
			for _, d := range []*tablet{first, second, tabletOf(t, joined(t, w, crew))} {
				redirect(t, d.dir, w)
				d.online("sync")
				sameBoard(t, d.dir, w)
			}
			early := 0
			stands := map[string]int{}
			w.host.View(func(s *fold.Site) {
				for _, r := range s.Records() {
					if b, ok := r.Now.(event.Noted); ok && r.State != fold.SetAside {
						stands[b.Text]++
						if r.When.Before(broker.Built()) {
							early++
						}
					}
				}
			})
			if early > 0 {
				t.Errorf("%d notes stand at a time of a clock that cannot be right", early)
			}
			for _, text := range wrote {
				if stands[text] != 1 {
					t.Errorf("%q stands %d times", text, stands[text])
				}
			}
		})
	}
}
