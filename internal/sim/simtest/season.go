package simtest

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

// The shares of a season: what is not work on the shell is readings of the weather and of probes, each every ten
// minutes and each an event of its own, as a probe that is in touch writes them.
const (
	SeasonCrews = 6
	probes      = 20
	columns     = 12
	every       = 10 * time.Minute
	shift       = 4 * time.Hour
	corrections = 100 // one event of so many is corrected
	tardy       = 20  // one of so many is written down hours later
)

// Draft is an event of a season before its device writes it down.
type Draft struct {
	On           string // whose device: a crew's name, "office" or "probe"
	At, LoggedAt time.Time
	Typed        bool
	ID           int
	body         event.Body
	fixes        int // the draft that it corrects; 0: none
}

// season is the plan of a site with so many zones, in columns, each edge beside and below shared.
// Work begins at an hour of the day.
func season(zones int, from time.Duration) []event.Body {
	plan := []event.Body{
		event.SitePlanned{
			Name: "Great vault", Place: "Overmere", Units: event.Metric, TimeZone: "UTC", WorkFrom: from,
			WorkTo: from + shift,
		},
		event.MixPlanned{
			Mix: "face", Revision: 1, Air: &unit.As[unit.Share]{SI: 0.06}, WaterLimit: 0.42,
			InitialSet: 150 * time.Minute, SetReference: &unit.As[unit.Celsius]{SI: 23}, Activation: 40,
			Constituents: []event.Constituent{
				{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42}, Gravity: 3.15},
				{
					Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 85}, Gravity: 2.65,
					Absorption: &unit.As[unit.Share]{SI: 0.01},
				},
				{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}, Gravity: 1},
			},
		},
	}
	for i := range SeasonCrews {
		plan = append(plan, event.CrewPlanned{Crew: seasonCrew(i), People: 4})
	}
	for i := range zones {
		plan = append(plan, event.ZonePlanned{Zone: seasonZone(i), Area: unit.As[unit.Area]{SI: 140}, Order: i + 1})
		for n := 1; n <= 2; n++ {
			plan = append(plan, event.CoatPlanned{
				Coat:      event.Coat{Zone: seasonZone(i), Face: event.Outer, Number: n},
				Thickness: unit.As[unit.Length]{SI: 0.012}, Mix: "face",
			})
		}
		if i%columns > 0 {
			plan = append(plan, event.EdgePlanned{
				A: seasonZone(i - 1), B: seasonZone(i),
				Length: unit.As[unit.Length]{SI: 9},
			})
		}
		if i >= columns {
			plan = append(plan, event.EdgePlanned{
				A: seasonZone(i - columns), B: seasonZone(i),
				Length: unit.As[unit.Length]{SI: 9},
			})
		}
	}
	return plan
}

func seasonCrew(i int) event.Crew { return event.Crew(fmt.Sprintf("c%d", i)) }
func seasonZone(i int) event.Zone { return event.Zone(fmt.Sprintf("Z%03d", i)) }

// size of a site: how many batches it has, and zones that take these and more.
func size(events int) (batches, zones int) {
	switch {
	case events <= 10_000:
		return 1500, 48
	default:
		return 5000, 120
	}
}

// Season is all that is written on a site of so many events whose last day is the one of end, in the order in which it
// is written.
func Season(events int, end time.Time) ([]Draft, error) {
	batches, zones := size(events)
	// so that all crews are at work at the end
	plan := season(zones, max(0, end.Sub(end.Truncate(24*time.Hour)).Truncate(time.Hour)-3*time.Hour))
	work, err := workUntil(end, plan, batches)
	if err != nil {
		return nil, err
	}
	first := work[0].At.Truncate(24 * time.Hour)
	all := make([]Draft, 0, events)
	for _, b := range plan {
		all = append(all, Draft{On: "office", At: first, LoggedAt: first, Typed: true, body: b})
	}
	r := rand.New(rand.NewPCG(uint64(events), 7))
	all = append(all, drafted(work, end, r)...)
	for i, d := range slices.Clone(all) {
		all[i].ID = i + 1
		if b, is := corrected(d.body); is && r.IntN(corrections/2) == 0 { // half of all can be corrected
			at := d.LoggedAt.Add(time.Hour)
			all = append(all, Draft{On: d.On, At: at, LoggedAt: at, Typed: true, body: b, fixes: i + 1})
		}
	}
	all = append(all, readings(events-len(all), end, zones)...)
	slices.SortStableFunc(all, func(a, b Draft) int { return a.LoggedAt.Compare(b.LoggedAt) })
	return all, nil
}

// workUntil is the work of as many days up to end as so many batches take.
func workUntil(end time.Time, plan []event.Body, batches int) ([]sim.Work, error) {
	last := end.Truncate(24 * time.Hour)
	perDay := 0
	for days := 1; ; {
		job := sim.Job{Plan: plan, First: last.AddDate(0, 0, 1-days), Days: days, Seed: 5, HotDay: -1}
		work, err := job.Work()
		if err != nil {
			return nil, err
		}
		n := 0
		for _, w := range work {
			if _, is := w.Body.(event.BatchMixed); is {
				n++
			}
		}
		if n >= batches {
			return work, nil
		}
		perDay = max(perDay, n/days, 1)
		days += max(1, (batches-n)/perDay)
	}
}

// drafted is the work up to end as it is written down, some of it hours late. Readings are made apart.
func drafted(work []sim.Work, end time.Time, r *rand.Rand) []Draft {
	var all []Draft
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
		default:
		}
		if w.At.After(end) {
			continue
		}
		d := Draft{On: string(w.Crew), At: w.At, LoggedAt: w.At, Typed: w.Typed, body: w.Body}
		if r.IntN(tardy) == 0 {
			d.LoggedAt = d.At.Add(time.Duration(1+r.IntN(300)) * time.Minute)
		}
		all = append(all, d)
	}
	return all
}

// corrected is a body as it is put right afterwards; false for those that nobody corrects here.
func corrected(b event.Body) (event.Body, bool) {
	switch b := b.(type) {
	case event.BatchMixed:
		b.SandMoisture = &unit.As[unit.Share]{SI: 0.05}
		return b, true
	case event.Placement:
		b.Gauges = append(slices.Clone(b.Gauges), unit.As[unit.Length]{SI: 0.012})
		return b, true
	case event.BatchTested:
		b.Temperature = &unit.As[unit.Celsius]{SI: 21}
		return b, true
	default:
		return nil, false
	}
}

// readings of the weather and of the probes, so many, up to an instant.
func readings(n int, end time.Time, zones int) []Draft {
	var all []Draft
	for at := end.Truncate(every); len(all) < n; at = at.Add(-every) {
		hour := float64(at.Hour()) + float64(at.Minute())/60
		air := 19 + 5*math.Sin((hour-9)/24*2*math.Pi)
		tenth := func(c float64) unit.Celsius { return unit.Celsius(math.Round(10*c) / 10) }
		warm, humidity, wind := tenth(air), unit.Share(0.6), unit.Speed(2)
		all = append(all, Draft{On: "probe", At: at, LoggedAt: at, Typed: true, body: event.WeatherObserved{
			Station: "mast", WindHeight: unit.As[unit.Length]{SI: 2},
			Samples: []event.Weather{{At: at, Air: &warm, Humidity: &humidity, Wind: &wind}},
		}})
		for i := range min(probes, n-len(all)) {
			all = append(all, Draft{On: "probe", At: at, LoggedAt: at, Typed: true, body: event.CureReadings{
				Probe: fmt.Sprintf("p%02d", i), Coat: event.Coat{
					Zone: seasonZone(i * zones / probes),
					Face: event.Outer, Number: 1,
				},
				Samples: []event.Reading{{At: at, Temperature: tenth(air + 2 + 0.1*float64(i%5))}},
			}})
		}
	}
	return all
}

// WriteSeason gives the drafts as their devices write them, in memory: d0 and on the crews', f1 the office's, q1 the
// probe's.
func WriteSeason(drafts []Draft) ([]event.Event, error) {
	names := map[string]event.Device{"office": "f1", "probe": "q1"}
	d := NewDevices()
	first := drafts[0].At
	for i := range SeasonCrews {
		names[string(seasonCrew(i))] = event.Device(fmt.Sprintf("d%d", i))
		if err := enrolIn(d, first, names[string(seasonCrew(i))], seasonCrew(i), event.CrewRole); err != nil {
			return nil, err
		}
	}
	if err := errors.Join(enrolIn(d, first, "f1", "office", event.Foreman),
		enrolIn(d, first, "q1", "", event.Probe)); err != nil {
		return nil, err
	}
	hashes := map[int]event.Hash{}
	for _, k := range drafts {
		if err := d.Write(names[k.On], seasonCrewOf(k.On), k.At, k.Typed, k.Written(hashes)); err != nil {
			return nil, err
		}
		hashes[k.ID] = d.Events[len(d.Events)-1].Hash()
	}
	return d.Events, nil
}

func enrolIn(d *Devices, at time.Time, name event.Device, crew event.Crew, role event.Role) error {
	return d.Write(Root, "", at, true, event.DeviceEnrolled{
		Device: name, PublicKey: make([]byte, 32), Role: role,
		Crew: crew,
	})
}

func seasonCrewOf(on string) event.Crew {
	if on == "probe" {
		return ""
	}
	return event.Crew(on)
}

// Fixes says whether the draft corrects another.
func (d Draft) Fixes() bool { return d.fixes != 0 }

// Written is the body as it is written, once what it corrects is.
func (d Draft) Written(hashes map[int]event.Hash) event.Body {
	if d.fixes == 0 {
		return d.body
	}
	return event.Amended{Target: hashes[d.fixes], Body: d.body, Why: "read again"}
}
