package sessiontest

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/internal/event"
	"hod/internal/unit"
)

// Line is a line that somebody types and what is to become of it.
type Line struct {
	Name string
	Line string
	Want []event.Body // what it writes, in order; nil: not looked at, unless it is refused
	Says string       // is in what it prints; empty: not looked at
	Note string       // is in its hints
	Err  string       // is in its refusal; empty: it succeeds. What is refused writes nothing
}

// Check runs lines of one command on a device, each where the one before it left the journal.
func (d *Device) Check(t *testing.T, command func(*session.Env) *cobra.Command, lines ...Line) {
	t.Helper()
	for _, l := range lines {
		name := l.Name
		if name == "" {
			name = l.Line
		}
		t.Run(name, func(t *testing.T) {
			t.Helper()
			l.check(t, d.Run(command, l.Line))
		})
	}
}

func (l Line) check(t *testing.T, ran Ran) {
	t.Helper()
	if l.Err != "" {
		if ran.Err == nil || !strings.Contains(ran.Err.Error(), l.Err) {
			t.Errorf("hod %s: the error is %v; want %q", l.Line, ran.Err, l.Err)
		}
		if len(ran.Wrote) > 0 {
			t.Errorf("hod %s is refused and wrote %d events", l.Line, len(ran.Wrote))
		}
		return
	}
	if ran.Err != nil {
		t.Errorf("hod %s: %v", l.Line, ran.Err)
	}
	if l.Want != nil {
		if diff := cmp.Diff(l.Want, Bodies(ran.Wrote), nearly); diff != "" {
			t.Errorf("hod %s wrote (-want +got):\n%s", l.Line, diff)
		}
	}
	if !strings.Contains(ran.Out, l.Says) {
		t.Errorf("hod %s prints\n%s\nwant %q", l.Line, ran.Out, l.Says)
	}
	if !strings.Contains(ran.Side, l.Note) {
		t.Errorf("hod %s hints\n%s\nwant %q", l.Line, ran.Side, l.Note)
	}
}

// nearly holds figures alike that differ by rounding only.
var nearly = cmp.Comparer(Near)

// Near reports whether two figures agree to a millionth of the second.
func Near(got, want float64) bool { return math.Abs(got-want) <= 1e-6*math.Abs(want) }

// At is a time of the example's day by the clock of its site, which is an hour ahead of UTC: "10:42".
func At(clock string) time.Time {
	at, err := time.Parse("2006-01-02 15:04", "2026-07-18 "+clock)
	if err != nil {
		panic(err)
	}
	return at.Add(-time.Hour)
}

// Typed is a quantity as a person wrote it.
func Typed[Q any](si Q, entered string) *unit.As[Q] { return &unit.As[Q]{SI: si, Entered: entered} }

// North is a batch of crew north on the example's day.
func North(n int) event.Batch { return event.Batch{Crew: "north", Day: "2026-07-18", Number: n} }

// Outer is a zone's coat on the outer face.
func Outer(z event.Zone, n int) event.Coat { return event.Coat{Zone: z, Face: event.Outer, Number: n} }
