package history

import (
	"errors"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/packed"
)

// A log that holds subjects was given all events but those that are filed in them, and fetches of these what an answer
// concerns: a batch with all that was written of it, a zone with all batches that went there, the air of a time.
// Whoever asks for the whole has all fetched first. So each entity that is worked out is worked out of all that
// concerns it.

// Deferred are filed events that a log was not given, and which were fetched since.
type Deferred struct {
	*packed.Subjects
	BatchIn []bool    // by its number: fetched
	ZoneIn  []bool    // the same of zones
	AirFrom time.Time // from which on the air is told by what was fetched; zero: none was
	AirIn   bool      // all weather was fetched
	// ShiftsIn says that all shifts were fetched.
	ShiftsIn bool
	fetch    func([]packed.Span) ([]event.Event, error)
	loading  bool
	in       int // how many were fetched
}

// HoldSubjects has the site, which has no events yet, answer by subjects of events that are not added. fetch gives
// events of them by their spans where an answer needs them; where it fails the answers since are worth nothing, see
// Lost.
func (s *Log) HoldSubjects(x *packed.Subjects, fetch func([]packed.Span) ([]event.Event, error)) {
	s.Deferred = &Deferred{
		Subjects: x, fetch: fetch, BatchIn: make([]bool, len(x.Batches)), ZoneIn: make([]bool, len(x.Zones)),
	}
}

// LoadExcluded fetches all that is left out where some of it is excluded, or some was fetched: a log that takes this
// one's place begins with none.
func (s *Log) LoadExcluded(excluded map[event.Device]uint64) {
	if d := s.Deferred; d != nil && (d.in > 0 || d.Reaches(excluded)) {
		s.LoadAll()
	}
}

// Defers says whether events are left out that no answer has asked for yet.
func (s *Log) Defers() bool { return s.Deferred != nil }

// Added is how many events were added to the site one by one.
func (s *Log) Added() int { return len(s.arrival) }

// defersName says whether an event of that name is left out.
func (s *Log) defersName(n event.Name) bool {
	return s.Deferred != nil && !s.Deferred.loading && s.Deferred.Holds(n)
}

// fetching says whether what is added is filed.
func (s *Log) fetching() bool { return s.Deferred != nil && s.Deferred.loading }

// deferredLen is how many events are left out.
func (s *Log) deferredLen() int {
	if s.Deferred == nil {
		return 0
	}
	return s.Deferred.Len() - s.Deferred.in
}

// DeferredOf a device: how many of its events are left out, and the seq of the last that is filed.
func (s *Log) DeferredOf(name event.Device) (events int, last uint64) {
	if s.Deferred == nil {
		return 0, 0
	}
	events, last = s.Deferred.Of(name)
	for _, r := range s.by.Member[name] {
		if s.Deferred.Holds(r.Name) {
			events--
		}
	}
	return events, last
}

// LoadAll fetches all that is left out.
func (s *Log) LoadAll() {
	d := s.Deferred
	if d == nil {
		return
	}
	s.Deferred = nil
	events, err := d.fetch(d.Spans())
	s.source.lost = errors.Join(s.source.lost, err)
	for _, e := range events {
		s.Add(e)
	}
}

// Load fetches some of what is left out, and reads it.
func (s *Log) Load(places []packed.Place) {
	d := s.Deferred
	var spans []packed.Span
	for _, p := range packed.SortPlaces(places) {
		if name := d.Name(p); s.by.name[name] == nil {
			spans = packed.AddToSpans(spans, name)
		}
	}
	if len(spans) == 0 {
		return
	}
	events, err := d.fetch(spans)
	s.source.lost = errors.Join(s.source.lost, err)
	d.loading = true
	for _, e := range events {
		s.Add(e)
	}
	d.loading = false
	d.in += len(events)
	s.Cost.Fetched += len(events)
	s.Settle()
}

// LoadAir fetches the weather that has samples of an instant or later.
func (s *Log) LoadAir(least time.Time) {
	var want []packed.Place
	for _, a := range s.Deferred.Air {
		if !a.Last.Before(least) {
			want = append(want, a.By)
		}
	}
	s.Load(want)
}

// LoadShifts fetches the starts and ends of shifts.
func (s *Log) LoadShifts() {
	if d := s.Deferred; d != nil && !d.ShiftsIn {
		d.ShiftsIn = true
		s.Load(d.Shifts)
	}
}

// Loaded is the record of that name, where it was added; nil where it was not, or not yet.
func (s *Log) Loaded(n event.Name) *Record { return s.by.name[n] }

// QuietGroup is a first writing with all its corrections, where nothing sets them apart; nil for any other record.
func (s *Log) QuietGroup(r *Record) []*Record {
	if r.State != Holds && r.State != Amended && r.State != TakenBack || !s.plain(r) {
		return nil
	}
	if _, fixes := event.TargetOf(r.Body); fixes {
		return nil
	}
	group := []*Record{r}
	for i := 0; i < len(group); i++ {
		for _, fix := range s.fixing.fixes[group[i].Hash()] {
			if fix.State != Holds || !s.plain(fix) {
				return nil
			}
			group = append(group, fix)
		}
	}
	return group
}

// plain says whether a record stands by itself: nobody settled it or wrote it again.
func (s *Log) plain(r *Record) bool {
	h := r.Hash()
	return r.Aside == nil && !r.split && !r.Ahead() && r.StandsFor.IsZero() && s.by.hash[h] == r &&
		s.by.name[r.Name] == r && len(s.fixing.settled[h]) == 0 && len(s.writings.claims[h]) == 0 &&
		len(s.writings.again[writing{r.Device, h}]) == 0
}

// IsLast reports whether a record is the last of its device, as far as is known, and nothing names it.
func (s *Log) IsLast(r *Record) bool {
	if _, last := s.DeferredOf(r.Device); last > r.Seq || r.Root != nil || len(s.GoesBy(r)) > 1 || !s.plain(r) &&
		r.Aside == nil {
		return false
	}
	return len(s.fixing.fixes[r.Hash()]) == 0 &&
		!slices.ContainsFunc(s.by.Member[r.Device], func(o *Record) bool { return o.Seq > r.Seq })
}
