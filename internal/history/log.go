package history

import (
	"bytes"
	"maps"
	"slices"

	"hod/internal/event"
	"hod/internal/packed"
)

// Index is told how records are read, by the log, and knows what rests on that.
type Index interface {
	// Lists are those in which a record belongs that is read as a body.
	Lists(event.Body) []*[]*Record
	// Invalidate marks all stale that is computed from how a record is read now; it is called when the record comes
	// into its lists and when it goes.
	Invalidate(*Record)
	// Recount brings the site to the events that count, now that others are excluded: by device the first event that
	// does not count.
	Recount(excluded map[event.Device]uint64)
}

// Log is all events of a site that are known, each once, and how each is read.
type Log struct {
	root    event.Device
	index   Index
	arrival []*Record
	sorted  []*Record // by device and seq; nil since an event came
	by      struct {
		name   map[event.Name]*Record
		hash   map[event.Hash]*Record
		Member map[event.Device][]*Record
	}
	Members map[event.Device]*device
	fixing  struct {
		fixes   map[event.Hash][]*Record // corrections by the hash that they name
		settled map[event.Hash][]*Record // settlements by a hash that they name
	}
	writings struct {
		again  map[writing][]*Record         // what stands for an event first written elsewhere
		claims map[event.Hash][]event.Device // whose events stand for the one of that hash
		best   map[writing]*Record           // of the writings of one event, the one that counts
	}
	excluded struct {
		orders []*Record               // of the site's own device, as they came
		from   map[event.Device]uint64 // the first event of a device that does not count
		due    bool                    // an exclusion came since
		out    map[event.Hash]event.Event
	}
	Deferred *Deferred        // events that are fetched as they are asked for; nil: none
	Packed   *packed.Readings // readings that are held in place of their events; nil: none
	source   struct {
		fetch func() ([]event.Event, error) // gives the events of what is packed
		lost  error                         // why it could not
	}

	pending pending
	round   int // of reading what was marked
	// what corrections go back to, as far as it was asked since an event came; nil: nothing known
	firsts map[*Record]*Record
	Cost   Cost
}

// NewLog is a log without events. Events of the root device, the site's own, stand without enrolment; it enrols the
// others. What is excluded is told by device: the first event that does not count.
func NewLog(root event.Device, excluded map[event.Device]uint64, index Index) Log {
	s := Log{root: root, index: index, Members: map[event.Device]*device{}, firsts: map[*Record]*Record{}}
	s.by.name, s.by.hash, s.by.Member = map[event.Name]*Record{}, map[event.Hash]*Record{}, map[event.Device][]*Record{}
	s.fixing.fixes, s.fixing.settled = map[event.Hash][]*Record{}, map[event.Hash][]*Record{}
	s.writings.again, s.writings.claims, s.writings.best = map[writing][]*Record{}, map[event.Hash][]event.Device{},
		map[writing]*Record{}
	s.excluded.from = excluded
	return s
}

// Add takes in one event, in any order and any number of times.
func (s *Log) Add(e event.Event) {
	if s.isExcluded(e.Name) {
		if s.excluded.out == nil {
			s.excluded.out = map[event.Hash]event.Event{}
		}
		s.excluded.out[e.Hash()] = e
		return
	}
	if old := s.by.name[e.Name]; old != nil {
		if old.Hash() == e.Hash() || s.by.hash[e.Hash()] != nil {
			return
		}
		if s.Deferred != nil && s.Deferred.Holds(e.Name) { // what was told without it rests on the one that was filed
			s.LoadAll()
		}
		s.fork(old, e)
		return
	}
	if s.Packed.Holds(e.Name) { // it is there, or another event goes by its name
		s.Unpack()
		s.Add(e)
		return
	}
	if s.defersName(e.Name) {
		s.LoadAll()
		s.Add(e)
		return
	}
	s.by.name[e.Name] = s.take(e)
}

// fork keeps the second event under one name for people to see. Which of the two stands must not hang on arrival: the
// lesser hash does. Whoever lets events in checks the chain, so this is a second line of defence.
func (s *Log) fork(old *Record, e event.Event) {
	first, second := old, s.take(e)
	a, b := first.Hash(), second.Hash()
	if bytes.Compare(b[:], a[:]) < 0 {
		first, second = second, first
	}
	s.unfile(second)
	if IsDevice(second.Body) && second.Now != nil { // it said who may write until now
		s.markDevice(second)
	}
	second.Now, second.State = nil, SetAside
	second.Aside = &Aside{Forked, "another event goes by the name " + e.Name.String() +
		"; the device was copied or restored"}
	s.by.name[e.Name] = first
	for _, r := range []*Record{first, second} { // which of the two stands may have changed
		if _, is := r.Body.(event.DeviceExcluded); is {
			s.excluded.due = true
		}
	}
	delete(s.writings.best, writing{second.Device, second.Hash()})
	delete(s.writings.best, writing{second.Device, second.StandsFor})
	s.markMoved(second.Hash())
	if !second.StandsFor.IsZero() {
		s.markMoved(second.StandsFor)
	}
	s.mark(second)
	s.mark(first)
}

// take keeps an event and marks what it may change to be read.
func (s *Log) take(e event.Event) *Record {
	r := &Record{Event: e}
	r.clock = &r.Event
	h := e.Hash()
	s.by.hash[h] = r
	s.by.Member[e.Device] = append(s.by.Member[e.Device], r)
	s.arrival = append(s.arrival, r)
	s.sorted = nil
	s.pending.rounds = 0
	if (s.Packed != nil || s.Deferred != nil) && !s.fetching() { // what is filed is fetched with all that it names
		s.pending.named = append(s.pending.named, namedBy(e)...)
	}
	if s.Packed != nil {
		if events, _ := s.Packed.Of(e.Device); events > 0 && OffRight(e) {
			s.pending.apart = true
		}
	}
	clear(s.firsts)
	s.enter(r)
	if target, fixes := event.TargetOf(r.Body); fixes {
		s.fixing.fixes[target] = append(s.fixing.fixes[target], r)
	}
	if b, settles := r.Body.(event.Settled); settles {
		for _, h := range append([]event.Hash{b.Holds}, b.Over...) {
			s.fixing.settled[h] = append(s.fixing.settled[h], r)
		}
	}
	if _, is := r.Body.(event.DeviceExcluded); is && r.Device == s.root {
		s.excluded.orders, s.excluded.due = append(s.excluded.orders, r), true
	}
	s.mark(r)
	if len(s.fixing.fixes[h]) > 0 || len(s.writings.claims[h]) > 0 {
		s.markMoved(h)
	}
	return r
}

// Root is the site's own device.
func (s *Log) Root() event.Device { return s.root }

// HandOver are all events that are known, whether they count or not, for a log that takes the place of this one. What
// is packed it takes as it is.
func (s *Log) HandOver(to *Log) []event.Event {
	to.Packed, to.Deferred, to.source = s.Packed, s.Deferred, s.source
	var all []event.Event
	for _, r := range s.arrival {
		all = append(all, r.Event)
	}
	for _, e := range s.excluded.out { // in any order: an order of arrival
		all = append(all, e)
	}
	return all
}

// Resume has a log that took another's place go on for an index. The exclusions in it are those by which it was made.
func (s *Log) Resume(index Index) { s.index, s.excluded.due = index, false }

// Find is the record of that name, if it is known, as it is read now. Whether it stands may still hang on the plan.
func (s *Log) Find(n event.Name) (*Record, bool) {
	s.Settle()
	r, ok := s.by.name[n]
	if !ok && s.defersName(n) {
		s.LoadAll()
		s.Settle()
		r, ok = s.by.name[n]
	}
	if !ok && s.Packed.Holds(n) {
		s.Unpack()
		s.Settle()
		r, ok = s.by.name[n]
	}
	return r, ok
}

// FindHash is the record that an event's hash means, if it is known: the event's own, or the one that was written again
// for it after a fork.
func (s *Log) FindHash(h event.Hash) (*Record, bool) {
	s.Settle()
	r := s.Named(h)
	if r == nil && s.Deferred != nil && !s.Deferred.Absent[h] {
		s.LoadAll()
		s.Settle()
		r = s.Named(h)
	}
	if r == nil && s.Packed != nil && !s.Packed.Absent[h] {
		s.Unpack()
		s.Settle()
		r = s.Named(h)
	}
	return r, r != nil
}

// Loose are the records that are not packed, in order of device and seq: nothing sets those apart that are.
func (s *Log) Loose() []*Record {
	s.LoadAll()
	s.Settle()
	if s.sorted == nil {
		s.sorted = s.byName()
	}
	return s.sorted
}

// Untouched reports whether a record stands as it was written, and nothing names it: no correction, no settlement, no
// other writing of it.
func (s *Log) Untouched(r *Record) bool {
	h := r.Hash()
	switch {
	case r.State != Holds || r.Aside != nil || len(r.Via) > 0 || r.split || !r.StandsFor.IsZero():
		return false
	case len(s.fixing.fixes[h]) > 0 || len(s.fixing.settled[h]) > 0 || len(s.writings.claims[h]) > 0 ||
		len(s.writings.again[writing{r.Device, h}]) > 0:
		return false
	}
	return true
}

// byName puts the devices' own records one behind the other. Each is in order already but where its events came late.
func (s *Log) byName() []*Record {
	order := func(a, b *Record) int {
		if c := event.CompareNames(a.Name, b.Name); c != 0 {
			return c
		}
		x, y := a.Hash(), b.Hash()
		return bytes.Compare(x[:], y[:])
	}
	devices := slices.SortedFunc(maps.Keys(s.by.Member), func(a, b event.Device) int {
		return event.CompareNames(event.Name{Device: a}, event.Name{Device: b})
	})
	all := make([]*Record, 0, len(s.arrival))
	for _, d := range devices {
		if of := s.by.Member[d]; !slices.IsSortedFunc(of, order) {
			slices.SortStableFunc(of, order)
		}
		all = append(all, s.by.Member[d]...)
	}
	return all
}

// Len is how many events are known.
func (s *Log) Len() int {
	if s.Packed != nil {
		return len(s.arrival) + s.deferredLen() + s.Packed.Len()
	}
	return len(s.arrival) + s.deferredLen()
}
