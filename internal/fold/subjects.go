package fold

import (
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/packed"
	"hod/internal/placed"
)

// Subjects files all quiet events of the record as it stands but those that are packed; nil where there are none, or
// where the site is looked at as of an instant.
func (s *Site) Subjects(but *packed.Readings) *packed.Subjects {
	if !s.AsOf.IsZero() {
		return nil
	}
	s.compute()
	if s.Lost() != nil {
		return nil
	}
	f := filing{
		s: s, x: &packed.Subjects{Plan: s.PlanMark(), Absent: s.AbsentNames()},
		devices: map[event.Device]int{}, coats: map[event.Coat]int{},
		batches: map[event.Batch]*filedBatch{}, zones: map[event.Zone]*filedZone{},
	}
	for _, r := range s.Arrived() {
		if !fileable(r.Body) || but.Holds(r.Name) || !countable(r.When) {
			continue
		}
		if group := s.QuietGroup(r); group != nil {
			f.file(group)
		}
	}
	if len(f.names) == 0 {
		return nil
	}
	f.putBatches()
	f.putZones()
	f.x.Shifts = packed.SortPlaces(f.x.Shifts)
	f.x.HasAir = !s.Timeline().None()
	f.x.Put(f.names)
	if !f.x.Countable() {
		return nil
	}
	return f.x
}

// filing is Subjects as they are made.
type filing struct {
	s       *Site
	x       *packed.Subjects
	devices map[event.Device]int
	coats   map[event.Coat]int
	batches map[event.Batch]*filedBatch
	zones   map[event.Zone]*filedZone
	names   []event.Name
}

type filedBatch struct {
	events []packed.Place
	zones  map[event.Zone]bool
}

type filedZone struct {
	events  []packed.Place
	batches map[event.Batch]bool
}

// fileable says whether events of a kind are filed: those that come by the thousand.
func fileable(b event.Body) bool {
	switch b.(type) {
	case event.BatchMixed, event.BatchTested, event.Placement, event.BatchDiscarded, event.JointTreated,
		event.SurfaceTended, event.CoatFinished, event.ProgressStated, event.CureReadings,
		event.WeatherObserved, event.WeatherForecast, event.Noted, event.ShiftStarted, event.ShiftEnded:
		return true
	default:
		return false
	}
}

// file a group of records under all that any of them says.
func (f *filing) file(group []*history.Record) {
	places := make([]packed.Place, len(group))
	for i, r := range group {
		f.names = append(f.names, r.Name)
		places[i] = f.place(r.Name)
	}
	switch group[0].Body.(type) { // a correction keeps the kind
	case event.ShiftStarted, event.ShiftEnded:
		f.x.Shifts = append(f.x.Shifts, places...)
		return
	default:
	}
	var first, last time.Time
	for _, r := range group {
		body := r.Body
		if a, amends := body.(event.Amended); amends {
			body = a.Body
		}
		of, about := subjectOf(body)
		f.under(of, about, places)
		for _, w := range samplesOf(body) {
			at := r.Event.OnSite(w.At)
			if first.IsZero() || at.Before(first) {
				first = at
			}
			if at.After(last) {
				last = at
			}
		}
	}
	if last.IsZero() {
		return
	}
	for _, p := range places {
		f.x.Air = append(f.x.Air, packed.AirSubject{By: p, First: first, Last: last})
	}
}

// subjectOf a body of those that are filed: its batch, its zone, both or none.
func subjectOf(body event.Body) (batch event.Batch, zone event.Zone) {
	switch b := body.(type) {
	case event.BatchMixed:
		return b.Batch, ""
	case event.BatchTested:
		return b.Batch, ""
	case event.BatchDiscarded:
		return b.Batch, ""
	case event.Placement:
		return b.Batch, b.Coat.Zone
	case event.JointTreated:
		return event.Batch{}, b.Coat.Zone
	case event.SurfaceTended:
		return event.Batch{}, b.Zone
	case event.CoatFinished:
		return event.Batch{}, b.Coat.Zone
	case event.ProgressStated:
		return event.Batch{}, b.Coat.Zone
	case event.CureReadings:
		return event.Batch{}, b.Coat.Zone
	default: // the weather, a note, or a taking back
		return event.Batch{}, ""
	}
}

func samplesOf(body event.Body) []event.Weather {
	switch b := body.(type) {
	case event.WeatherObserved:
		return b.Samples
	case event.WeatherForecast:
		return b.Samples
	default:
		return nil
	}
}

// under a batch, and a zone where it went there; or under a zone.
func (f *filing) under(batch event.Batch, zone event.Zone, places []packed.Place) {
	if batch != (event.Batch{}) {
		b := f.batch(batch)
		b.events = append(b.events, places...)
		if zone != "" {
			b.zones[zone] = true
		}
		return
	}
	if zone != "" {
		z := f.zone(zone)
		z.events = append(z.events, places...)
	}
}

func (f *filing) batch(id event.Batch) *filedBatch {
	if f.batches[id] == nil {
		f.batches[id] = &filedBatch{zones: map[event.Zone]bool{}}
	}
	return f.batches[id]
}

func (f *filing) zone(name event.Zone) *filedZone {
	if f.zones[name] == nil {
		f.zones[name] = &filedZone{batches: map[event.Batch]bool{}}
	}
	return f.zones[name]
}

func (f *filing) place(n event.Name) packed.Place {
	i, known := f.devices[n.Device]
	if !known {
		i = len(f.x.Devices)
		f.devices[n.Device] = i
		f.x.Devices = append(f.x.Devices, n.Device)
	}
	return packed.Place{Device: i, Seq: n.Seq}
}

func (f *filing) coat(c event.Coat) int {
	i, known := f.coats[c]
	if !known {
		i = len(f.x.Coats)
		f.coats[c] = i
		f.x.Coats = append(f.x.Coats, c)
	}
	return i
}

// putBatches puts down what was worked out of each batch.
func (f *filing) putBatches() {
	s, x := f.s, f.x
	for _, key := range s.MortarKeys() {
		x.Yields = append(x.Yields, packed.Mortar(key))
	}
	ids := slices.Collect(maps.Keys(f.batches))
	packed.SortBatches(ids)
	for _, id := range ids {
		row := packed.BatchSubject{ID: id, Events: packed.SortPlaces(f.batches[id].events), Yield: -1}
		if st := s.ByBatch[id]; st != nil {
			row.Made = len(st.Mixed)+len(st.Discards) > 0
			row.Here = row.Made || len(st.Placements) > 0
			if b := st.Is; b != nil && b.Mixed != nil {
				row.Ready, row.Stands = b.Ready, true
				if ratio, of, weighed := s.RatioOf(b); weighed {
					row.Yield, row.Ratio = slices.Index(x.Yields, packed.Mortar(of)), ratio
				}
				for _, p := range b.Parts {
					row.Parts = append(row.Parts, packed.PartSubject{
						From: p.From, To: p.To, Coat: f.coat(p.Coat), By: f.place(p.Record.Name),
					})
				}
			}
		}
		for z := range f.batches[id].zones { // in any order: it only marks
			f.zone(z).batches[id] = true
		}
		x.Batches = append(x.Batches, row)
	}
}

// putZones puts down what was worked out of each zone.
func (f *filing) putZones() {
	for _, name := range slices.Sorted(maps.Keys(f.zones)) {
		filed := f.zones[name]
		row := packed.ZoneSubject{Name: name, Events: packed.SortPlaces(filed.events)}
		for id := range filed.batches { // in any order: they are sorted below
			i, _ := f.x.Batch(id)
			row.Batches = append(row.Batches, i)
		}
		slices.Sort(row.Batches)
		if st := f.s.ByZone[name]; st != nil && st.Is != nil {
			f.putZone(&row, st.Is)
		}
		f.x.Zones = append(f.x.Zones, row)
	}
}

func (f *filing) putZone(row *packed.ZoneSubject, z *placed.Zone) {
	row.Bare = z.IsBare()
	if latest := z.Latest(); latest.After(f.x.AsOf) {
		f.x.AsOf = latest
	}
	cold, all := time.Time{}, true
	for _, id := range z.Order {
		c := z.Coats[id]
		for _, p := range c.Placed {
			row.Placed = true
			turns, ok := f.s.Turns(c, p, 1)
			if all = all && ok; turns.After(cold) {
				cold = turns
			}
		}
	}
	if !all || cold.IsZero() {
		return
	}
	if known := f.s.Timeline().Settled(cold); !known.IsZero() {
		row.Cold, row.Known = cold, known
	}
}
