package bench

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
)

func as[Q any](q Q) unit.As[Q]   { return unit.As[Q]{SI: q} }
func ref[Q any](q Q) *unit.As[Q] { return &unit.As[Q]{SI: q} }

// The shares of an invented site: what is not work on the shell is readings of the weather and of probes, each every ten
// minutes and each an event of its own, as a probe that is in touch writes them.
const (
	crews       = 6
	probes      = 20
	columns     = 12
	every       = 10 * time.Minute
	shift       = 4 * time.Hour
	corrections = 100 // one event of so many is corrected
	late        = 20  // one of so many is written down hours later
)

// draft is an event before its device writes it down.
type draft struct {
	on     string // whose device: a crew's name, "office" or "probe"
	at     time.Time
	logged time.Time
	typed  bool
	body   event.Body
	id     int
	fixes  int // the draft that it corrects; 0: none
}

// shell is the plan of a site with so many zones, in columns, each edge beside and below shared.
// Work begins at an hour of the day.
func shell(zones int, from time.Duration) []event.Body {
	plan := []event.Body{
		event.SitePlanned{Name: "Great vault", Place: "Overmere", Units: event.Metric, TimeZone: "UTC", WorkFrom: from, WorkTo: from + shift},
		event.MixPlanned{
			Mix: "face", Revision: 1, Air: ref(unit.Share(0.06)), WaterLimit: 0.42, InitialSet: 150 * time.Minute, SetReference: ref(unit.Celsius(23)), Activation: 40,
			Constituents: []event.Constituent{
				{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42}, Gravity: 3.15},
				{Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 85}, Gravity: 2.65, Absorption: ref(unit.Share(0.01))},
				{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}, Gravity: 1},
			},
		},
	}
	for i := range crews {
		plan = append(plan, event.CrewPlanned{Crew: crew(i), People: 4})
	}
	for i := range zones {
		plan = append(plan, event.ZonePlanned{Zone: zone(i), Area: as(unit.Area(140)), Order: i + 1})
		for n := 1; n <= 2; n++ {
			plan = append(plan, event.CoatPlanned{Coat: event.Coat{Zone: zone(i), Face: event.Outer, Number: n}, Thickness: as(unit.Length(0.012)), Mix: "face"})
		}
		if i%columns > 0 {
			plan = append(plan, event.EdgePlanned{A: zone(i - 1), B: zone(i), Length: as(unit.Length(9))})
		}
		if i >= columns {
			plan = append(plan, event.EdgePlanned{A: zone(i - columns), B: zone(i), Length: as(unit.Length(9))})
		}
	}
	return plan
}

func crew(i int) event.Crew { return event.Crew(fmt.Sprintf("c%d", i)) }
func zone(i int) event.Zone { return event.Zone(fmt.Sprintf("Z%03d", i)) }

// size of a site: how many batches it has, and zones that take these and more.
func size(events int) (batches, zones int) {
	switch {
	case events <= 10_000:
		return 1500, 48
	default:
		return 5000, 120
	}
}

// invented is all that is written on a site of so many events whose last day is the one of end, in the order in which it is
// written.
func invented(events int, end time.Time) ([]draft, error) {
	batches, zones := size(events)
	last := end.Truncate(24 * time.Hour)
	plan := shell(zones, max(0, end.Sub(last).Truncate(time.Hour)-3*time.Hour)) // so that all crews are at work at the end
	perDay := 0
	var work []sim.Work
	for days := 1; ; {
		job := sim.Job{Plan: plan, First: last.AddDate(0, 0, 1-days), Days: days, Seed: 5, HotDay: -1}
		var err error
		if work, err = job.Work(); err != nil {
			return nil, err
		}
		n := 0
		for _, w := range work {
			if _, is := w.Body.(event.BatchMixed); is {
				n++
			}
		}
		if n >= batches {
			break
		}
		perDay = max(perDay, n/days, 1)
		days += max(1, (batches-n)/perDay)
	}
	first := work[0].At.Truncate(24 * time.Hour)
	all := make([]draft, 0, events)
	for _, b := range plan {
		all = append(all, draft{on: "office", at: first, logged: first, typed: true, body: b})
	}
	r := rand.New(rand.NewPCG(uint64(events), 7))
	treated := map[event.Body]bool{} // by what is not of the day: nobody treats an edge anew each morning
	for _, w := range work {
		switch b := w.Body.(type) {
		case event.WeatherObserved, event.CureReadings:
			continue
		case event.JointTreated:
			if treated[b] {
				continue
			}
			treated[b] = true
		}
		if w.At.After(end) {
			continue
		}
		d := draft{on: string(w.Crew), at: w.At, logged: w.At, typed: w.Typed, body: w.Body}
		if r.IntN(late) == 0 {
			d.logged = d.at.Add(time.Duration(1+r.IntN(300)) * time.Minute)
		}
		all = append(all, d)
	}
	for i, d := range slices.Clone(all) {
		all[i].id = i + 1
		if b, is := corrected(d.body); is && r.IntN(corrections/2) == 0 { // half of all can be corrected
			at := d.logged.Add(time.Hour)
			all = append(all, draft{on: d.on, at: at, logged: at, typed: true, body: b, fixes: i + 1})
		}
	}
	all = append(all, readings(events-len(all), end, zones)...)
	slices.SortStableFunc(all, func(a, b draft) int { return a.logged.Compare(b.logged) })
	return all, nil
}

// corrected is a body as it is put right afterwards; false for those that nobody corrects here.
func corrected(b event.Body) (event.Body, bool) {
	switch b := b.(type) {
	case event.BatchMixed:
		b.SandMoisture = ref(unit.Share(0.05))
		return b, true
	case event.Placement:
		b.Gauges = append(slices.Clone(b.Gauges), as(unit.Length(0.012)))
		return b, true
	case event.BatchTested:
		b.Temperature = ref(unit.Celsius(21))
		return b, true
	}
	return nil, false
}

// readings of the weather and of the probes, so many, up to an instant.
func readings(n int, end time.Time, zones int) []draft {
	var all []draft
	for at := end.Truncate(every); len(all) < n; at = at.Add(-every) {
		hour := float64(at.Hour()) + float64(at.Minute())/60
		air := 19 + 5*math.Sin((hour-9)/24*2*math.Pi)
		tenth := func(c float64) unit.Celsius { return unit.Celsius(math.Round(10*c) / 10) }
		warm, humidity, wind := tenth(air), unit.Share(0.6), unit.Speed(2)
		all = append(all, draft{on: "probe", at: at, logged: at, typed: true, body: event.WeatherObserved{
			Station: "mast", WindHeight: as(unit.Length(2)), Samples: []event.Weather{{At: at, Air: &warm, Humidity: &humidity, Wind: &wind}},
		}})
		for i := range min(probes, n-len(all)) {
			all = append(all, draft{on: "probe", at: at, logged: at, typed: true, body: event.CureReadings{
				Probe: fmt.Sprintf("p%02d", i), Coat: event.Coat{Zone: zone(i * zones / probes), Face: event.Outer, Number: 1},
				Samples: []event.Reading{{At: at, Temperature: tenth(air + 2 + 0.1*float64(i%5))}},
			}})
		}
	}
	return all
}

// events are the drafts as their devices write them, in memory: d0 and on the crews', f1 the office's, q1 the probe's.
func events(drafts []draft) ([]event.Event, error) {
	names := map[string]event.Device{"office": "f1", "probe": "q1"}
	d := sim.NewDevices()
	first := drafts[0].at
	for i := range crews {
		names[string(crew(i))] = event.Device(fmt.Sprintf("d%d", i))
		if err := enrol(d, first, names[string(crew(i))], crew(i), event.CrewRole); err != nil {
			return nil, err
		}
	}
	if err := errors.Join(enrol(d, first, "f1", "office", event.Foreman), enrol(d, first, "q1", "", event.Probe)); err != nil {
		return nil, err
	}
	hashes := map[int]event.Hash{}
	for _, k := range drafts {
		if err := d.Write(names[k.on], crewOf(k.on), k.at, k.typed, k.written(hashes)); err != nil {
			return nil, err
		}
		hashes[k.id] = d.Events[len(d.Events)-1].Hash()
	}
	return d.Events, nil
}

func enrol(d *sim.Devices, at time.Time, name event.Device, crew event.Crew, role event.Role) error {
	return d.Write(sim.Root, "", at, true, event.DeviceEnrolled{Device: name, PublicKey: make([]byte, 32), Role: role, Crew: crew})
}

func crewOf(on string) event.Crew {
	if on == "probe" {
		return ""
	}
	return event.Crew(on)
}

// written is the body as it is written, once what it corrects is.
func (d draft) written(hashes map[int]event.Hash) event.Body {
	if d.fixes == 0 {
		return d.body
	}
	return event.Amended{Target: hashes[d.fixes], Body: d.body, Why: "read again"}
}

// Bodies of the late events.
type unitC = unit.Celsius

var middleShare = as(unit.Share(0.01))
