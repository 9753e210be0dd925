package foldtest

import (
	"math/rand/v2"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
)

// Probed is a troubled job with readings of probes of all sorts: single ones and runs, two of one instant, in a zone
// that nobody planned, doubtful, corrected, taken back, frozen, by a clock that is a little off.
func Probed(t testing.TB, r *rand.Rand) []event.Event {
	t.Helper()
	d := simtest.Continue(Troubled(t, SmallJob(t)))
	write := func(on event.Device, crew event.Crew, at time.Duration, body event.Body) event.Event {
		t.Helper()
		if err := d.Write(on, crew, Midnight.Add(at), r.IntN(2) == 0, body); err != nil {
			t.Fatal(err)
		}
		return d.Events[len(d.Events)-1]
	}
	write(simtest.Root, "", 0, event.DeviceEnrolled{Device: "p1", PublicKey: make([]byte, 32), Role: event.Probe})
	zones := []event.Zone{"A1", "A2", "A3", "A9"}
	for i := range 150 {
		at := time.Duration(i) * 15 * time.Minute
		b := event.CureReadings{Probe: []string{"a", "b"}[r.IntN(2)], Coat: event.Coat{
			Zone: zones[r.IntN(len(zones))],
			Face: event.Outer, Number: 1 + r.IntN(2),
		}}
		if b.Coat.Zone == "A9" && r.IntN(3) > 0 {
			b.Coat.Zone = "A1"
		}
		temp := unit.Celsius(float64(r.IntN(300))/10 - 1)
		switch r.IntN(20) {
		case 0:
			temp = 95 // no mortar is that hot
		case 1:
			temp = 21.234567
		}
		b.Samples = []event.Reading{{At: Midnight.Add(at), Temperature: temp}}
		if r.IntN(4) == 0 {
			b.Samples = append(b.Samples, event.Reading{At: Midnight.Add(at + 5*time.Minute), Temperature: temp})
		}
		on := []event.Device{"p1", "p1", "n2"}[r.IntN(3)]
		e := write(on, "", at, b)
		switch r.IntN(25) {
		case 0:
			b.Samples = []event.Reading{{At: Midnight.Add(at), Temperature: 17}}
			write(on, "", at+time.Hour, event.Amended{Target: e.Hash(), Body: b, Why: "misread"})
		case 1:
			write("f1", "office", at+time.Hour, event.Voided{Target: e.Hash(), Why: "the probe lay in the sun"})
		case 2:
			if err := d.Again(e); err != nil {
				t.Fatal(err)
			}
		case 3: // two of one instant
			b.Samples = []event.Reading{{At: Midnight.Add(at), Temperature: temp + 1}}
			write([]event.Device{"n2", "p1"}[r.IntN(2)], "", at+time.Minute, b)
		}
	}
	return d.Events
}
