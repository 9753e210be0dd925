package foldtest

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
)

// Desk writes events by hand, each device with its own record.
type Desk struct {
	TB testing.TB
	simtest.Devices
}

func NewDesk(t testing.TB) *Desk {
	d := &Desk{TB: t, Devices: *simtest.NewDevices()}
	for _, k := range []event.DeviceEnrolled{
		{Device: "f1", Role: event.Foreman, Crew: "office"},
		{Device: "f2", Role: event.Foreman, Crew: "office"},
		{Device: "n1", Role: event.CrewRole, Crew: "north"},
		{Device: "n2", Role: event.CrewRole, Crew: "north"},
		{Device: "s1", Role: event.CrewRole, Crew: "south"},
		{Device: "i1", Role: event.Inspector},
		{Device: "p1", Role: event.Probe},
	} {
		k.PublicKey = make([]byte, 32)
		d.By(simtest.Root, 0, k)
	}
	for _, b := range SmallPlan() {
		d.By("f1", 0, b)
	}
	return d
}

// By writes a body on a device, so many minutes after seven, with typed times.
func (d *Desk) By(device event.Device, minutes int, b event.Body) event.Event {
	d.TB.Helper()
	crew := map[byte]event.Crew{'n': "north", 's': "south", 'f': "office"}[device[0]]
	if err := d.Write(device, crew, Clock(minutes), true, b); err != nil {
		d.TB.Fatal(err)
	}
	return d.Events[len(d.Events)-1]
}

func Clock(minutes int) time.Time {
	return Midnight.Add(7*time.Hour + time.Duration(minutes)*time.Minute)
}

func (d *Desk) Site() *fold.Site { return Folded(d.Events...) }

func North(n int) event.Batch { return event.Batch{Crew: "north", Day: "2031-05-12", Number: n} }

// Mixed as designed, ready at that minute, water five minutes before.
func Mixed(n, minute int) event.BatchMixed {
	return event.BatchMixed{
		Batch: North(n), Mix: "face", WaterAt: Clock(minute - 5), MixedTo: Clock(minute),
		Temperature: Ref(unit.Celsius(23)), Charges: AsDesigned(),
	}
}

func AsDesigned() []event.Charge {
	return []event.Charge{
		{Constituent: "cement", Amount: event.Amount{Mass: 42}},
		{Constituent: "sand", Amount: event.Amount{Mass: 85}},
		{Constituent: "water", Amount: event.Amount{Mass: 16}},
	}
}

func Put(n int, zone event.Zone, from, to int) event.Placement {
	return event.Placement{
		Batch: North(n), Coat: event.Coat{Zone: zone, Face: event.Outer, Number: 1},
		From: Clock(from), To: Clock(to),
	}
}

func Share(p event.Placement, of unit.Share) event.Placement {
	p.Part = event.Part{Share: Ref(of)}
	return p
}

func Volume(p event.Placement, litres float64) event.Placement {
	p.Part = event.Part{Volume: Ref(unit.Volume(litres / 1000))}
	return p
}

// Aside lists what is set aside, as name:code.
func Aside(s *fold.Site) string {
	var all []string
	for _, r := range s.Records() {
		if r.State == fold.SetAside {
			all = append(all, r.Name.String()+":"+string(r.Aside.Code))
		}
	}
	return strings.Join(all, " ")
}

func PlacedIn(t *testing.T, s *fold.Site, zone event.Zone) float64 {
	t.Helper()
	z, ok := s.Zone(zone)
	if !ok {
		t.Fatalf("no zone %s", zone)
	}
	return float64(z.Coats[0].Volume)
}

func Count(s *fold.Site, code string) int {
	n := 0
	for _, f := range s.Findings() {
		if f.Code == code {
			n++
		}
	}
	return n
}
