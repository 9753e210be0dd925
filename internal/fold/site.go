package fold

import (
	"bytes"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/stock"
)

// State of a record.
type State int

const (
	Holds     State = iota
	Amended         // read otherwise than first written
	TakenBack       // not read at all
	Replaced        // a plan that a later one replaces
	Disputed        // one of several that replace the same; used until a foreman settles it, or not
	SetAside        // cannot stand, see Aside
)

func (s State) String() string {
	return [...]string{"holds", "amended", "taken back", "replaced", "conflict", "set aside"}[s]
}

// Code says in a word why an event is set aside.
type Code string

// Why an event is set aside.
const (
	CannotBe          Code = "cannot-be"
	UnknownBody       Code = "unknown-body"
	NotEnrolled       Code = "not-enrolled"
	Revoked           Code = "revoked"
	NoRight           Code = "no-right"
	NoTarget          Code = "no-target"
	Forked            Code = "fork"
	WrittenTwice      Code = "written-twice"
	UnknownZone       Code = "unknown-zone"
	UnknownCoat       Code = "unknown-coat"
	UnknownMix        Code = "unknown-mix"
	UnknownBatch      Code = "unknown-batch"
	PlacedBeyondMixed Code = "placed-beyond-mixed"
	NoBulk            Code = "no-bulk-density"
	PlacedBeforeMixed Code = "placed-before-mixed"
	PlacedAnotherDay  Code = "placed-another-day"
	BreakBeforeAge    Code = "break-before-age"
)

// Aside is why an event cannot stand, and what would let it.
type Aside struct {
	Code Code
	Why  string
}

// Record is an event and how it is read now. After events were added it is as before until the site is asked for
// something; then the same record is as it is read by then.
type Record struct {
	event.Event
	Now   event.Body   // after corrections; nil if taken back or unknown
	When  time.Time    // that it happened, by the site's clock
	Via   []*Record    // the corrections that made it so, oldest first
	State State        // of the reading
	Aside *Aside       // where State is SetAside
	clock *event.Event // whose clock the times of Now are by
	root  *Record      // for a correction: the event first written, once known
	split bool         // its corrections are disputed
	in    []*[]*Record // where it is indexed

	due     bool // it is marked to be read
	leaving bool // it is being taken out of where it is indexed
	round   int  // in which it was read last

	ahead     bool  // it claims to have happened after it was written
	soundBy   *Plan // by which no value of it was doubted, as it was read in the round of soundRead
	soundRead int
}

// OnSite brings a time in the body to the site's clock.
func (r *Record) OnSite(t time.Time) time.Time { return r.clock.OnSite(t) }

// Site is what a site's events say.
type Site struct {
	ID    string
	root  event.Device
	until time.Time // plans that happened later do not hold; zero: all do

	records  map[event.Name]*Record
	arrival  []*Record
	byHash   map[event.Hash]*Record
	byDevice map[event.Device][]*Record
	devices  map[event.Device]*device
	fixes    map[event.Hash][]*Record      // corrections by the hash that they name
	settled  map[event.Hash][]*Record      // settlements by a hash that they name
	again    map[writing][]*Record         // what stands for an event first written elsewhere
	claims   map[event.Hash][]event.Device // whose events stand for the one of that hash

	exclusions    []*Record               // of the site's own device, as they came
	excluded      map[event.Device]uint64 // the first event of a device that does not count
	exclusionsDue bool                    // an exclusion came since
	out           map[event.Hash]event.Event

	packed *Packed // readings that are held in place of their events; nil: none
	fetch  func() ([]event.Event, error)
	lost   error

	pending pending
	round   int // of reading what was marked
	// what corrections go back to, as far as it was asked since an event came; nil: nothing known
	firsts map[*Record]*Record
	best   map[writing]*Record // of the writings of one event, the one that counts
	work   work

	slots   map[string]*slot // plans by kind and name
	plan    *Plan            // nil when stale
	batches map[event.Batch]*batchState
	zones   map[event.Zone]*zoneState
	stale   struct {
		batches []*batchState
		zones   []*zoneState
		breaks  bool
	}
	// known is what was gathered from all entities, until one of them changes
	known struct {
		batches []*Batch
		ledgers map[event.Material]stock.Ledger
		records []*Record
		edges   map[edgeKey]edgeIs
		yields  *yieldsIs
		steps   map[event.Crew][]step
		// findings and contacts of all the site; nil since an event came
		findings []Finding
		contacts []Contact
	}
	observed, forecasts []*Record
	air                 *timeline   // nil when stale
	airDirty            []time.Time // samples that came or went since
	airChanges          []span      // spans of time in which the air was learned anew
	yields              map[yieldKey]*yieldState
	stock               map[event.Material]*[]*Record
	breaks              map[event.Mix]*[]*Record
	answers             map[string]*[]*Record
	shifts              []*Record
	methods             []*Record
	begun               []*Record // batches
	taken               []*Record // proposals
	ordered             []*Record // days
	fronts              []*Record // ended on purpose
}

// New is a site without events. Events of the root device, the site's own, stand without enrolment; it enrols the
// others.
func New(id string, root event.Device) *Site {
	return &Site{
		ID: id, root: root,
		records: map[event.Name]*Record{}, byHash: map[event.Hash]*Record{}, byDevice: map[event.Device][]*Record{},
		firsts: map[*Record]*Record{}, best: map[writing]*Record{}, again: map[writing][]*Record{},
		claims: map[event.Hash][]event.Device{}, devices: map[event.Device]*device{}, fixes: map[event.Hash][]*Record{},
		settled: map[event.Hash][]*Record{},
		slots:   map[string]*slot{}, batches: map[event.Batch]*batchState{}, zones: map[event.Zone]*zoneState{},
		yields: map[yieldKey]*yieldState{}, stock: map[event.Material]*[]*Record{}, breaks: map[event.Mix]*[]*Record{},
		answers: map[string]*[]*Record{},
	}
}

// Add takes in one event, in any order and any number of times.
func (s *Site) Add(e event.Event) {
	if s.isExcluded(e.Name) {
		if s.out == nil {
			s.out = map[event.Hash]event.Event{}
		}
		s.out[e.Hash()] = e
		return
	}
	if old := s.records[e.Name]; old != nil {
		if old.Hash() == e.Hash() || s.byHash[e.Hash()] != nil {
			return
		}
		s.fork(old, e)
		return
	}
	if s.packed.holds(e.Name) { // it is there, or another event goes by its name
		s.unpack()
		s.Add(e)
		return
	}
	s.records[e.Name] = s.take(e)
}

// fork keeps the second event under one name for people to see. Which of the two stands must not hang on arrival: the
// lesser hash does. Whoever lets events in checks the chain, so this is a second line of defence.
func (s *Site) fork(old *Record, e event.Event) {
	first, second := old, s.take(e)
	a, b := first.Hash(), second.Hash()
	if bytes.Compare(b[:], a[:]) < 0 {
		first, second = second, first
	}
	s.unindex(second)
	if isDevice(second.Body) && second.Now != nil { // it said who may write until now
		s.markDevice(second)
	}
	second.Now, second.State = nil, SetAside
	second.Aside = &Aside{Forked, "another event goes by the name " + e.Name.String() +
		"; the device was copied or restored"}
	s.records[e.Name] = first
	for _, r := range []*Record{first, second} { // which of the two stands may have changed
		if _, is := r.Body.(event.DeviceExcluded); is {
			s.exclusionsDue = true
		}
	}
	delete(s.best, writing{second.Device, second.Hash()})
	delete(s.best, writing{second.Device, second.StandsFor})
	s.markMoved(second.Hash())
	if !second.StandsFor.IsZero() {
		s.markMoved(second.StandsFor)
	}
	s.mark(second)
	s.mark(first)
}

// take keeps an event and marks what it may change to be read.
func (s *Site) take(e event.Event) *Record {
	r := &Record{Event: e}
	r.clock = &r.Event
	// Both by the site's clock: a typed time is by that, and the device's own may be slow.
	r.ahead = r.At().After(r.Logged().Add(ahead))
	h := e.Hash()
	s.byHash[h] = r
	s.byDevice[e.Device] = append(s.byDevice[e.Device], r)
	s.arrival = append(s.arrival, r)
	s.known.records, s.known.findings, s.known.contacts = nil, nil, nil
	s.pending.rounds = 0
	if s.packed != nil {
		s.pending.named = append(s.pending.named, namedBy(e)...)
		if events, _ := s.packed.of(e.Device); events > 0 && offRight(e) {
			s.pending.apart = true
		}
	}
	clear(s.firsts)
	s.enter(r)
	if target, fixes := event.TargetOf(r.Body); fixes {
		s.fixes[target] = append(s.fixes[target], r)
	}
	if b, settles := r.Body.(event.Settled); settles {
		for _, h := range append([]event.Hash{b.Holds}, b.Over...) {
			s.settled[h] = append(s.settled[h], r)
		}
	}
	if _, is := r.Body.(event.DeviceExcluded); is && r.Device == s.root {
		s.exclusions, s.exclusionsDue = append(s.exclusions, r), true
	}
	s.mark(r)
	if len(s.fixes[h]) > 0 || len(s.claims[h]) > 0 {
		s.markMoved(h)
	}
	return r
}

// Record of that name, if it is known.
func (s *Site) Record(n event.Name) (*Record, bool) {
	s.settle()
	r, ok := s.records[n]
	if !ok && s.packed.holds(n) {
		s.unpack()
		s.settle()
		r, ok = s.records[n]
	}
	if ok {
		s.computeWhat(r)
	}
	return r, ok
}

// ByHash is the record that an event's hash means, if it is known: the event's own, or the one that was written again
// for it after a fork.
func (s *Site) ByHash(h event.Hash) (*Record, bool) {
	s.settle()
	r := s.named(h)
	if r == nil && s.packed != nil && !s.packed.absent[h] {
		s.unpack()
		s.settle()
		r = s.named(h)
	}
	if r != nil {
		s.computeWhat(r)
	}
	return r, r != nil
}

// computeWhat brings up to date what says whether a record stands: the plan, its batch, its zone.
func (s *Site) computeWhat(r *Record) {
	s.computePlan()
	is := s.kindOf(r.Now)
	if is.ledgers || is.strength {
		s.compute()
		return
	}
	if is.batch != (event.Batch{}) {
		s.Batch(is.batch)
	}
	for _, z := range is.zones {
		if z != "" {
			s.computeTheZone(z)
		}
	}
}

// Records are all events in order of device and seq, each as it is read now. The caller must not change the slice.
func (s *Site) Records() []*Record {
	s.unpack()
	return s.loose()
}

// loose are the records that are not packed: nothing sets those apart that are.
func (s *Site) loose() []*Record {
	s.compute()
	if s.known.records == nil {
		s.known.records = s.byName()
	}
	return s.known.records
}

// byName puts the devices' own records one behind the other. Each is in order already but where its events came late.
func (s *Site) byName() []*Record {
	order := func(a, b *Record) int {
		if c := event.CompareNames(a.Name, b.Name); c != 0 {
			return c
		}
		x, y := a.Hash(), b.Hash()
		return bytes.Compare(x[:], y[:])
	}
	devices := slices.SortedFunc(maps.Keys(s.byDevice), func(a, b event.Device) int {
		return event.CompareNames(event.Name{Device: a}, event.Name{Device: b})
	})
	all := make([]*Record, 0, len(s.arrival))
	for _, d := range devices {
		if of := s.byDevice[d]; !slices.IsSortedFunc(of, order) {
			slices.SortStableFunc(of, order)
		}
		all = append(all, s.byDevice[d]...)
	}
	return all
}

// Len is how many events are known.
func (s *Site) Len() int {
	if s.packed != nil {
		return len(s.arrival) + s.packed.Len()
	}
	return len(s.arrival)
}

// ByTime is the one order of what happened, by the site's clock, then by device and seq.
func ByTime(a, b *Record) int {
	if c := a.When.Compare(b.When); c != 0 {
		return c
	}
	return event.CompareNames(a.Name, b.Name)
}

// byLogged orders records by when their devices wrote them, by the site's clock as far as a device knew how far its own
// was off: the order that decides nothing but which of two disputed readings is shown until a foreman settles it, and
// which of two foremen's settlements holds.
func byLogged(a, b *Record) int {
	if c := a.Logged().Compare(b.Logged()); c != 0 {
		return c
	}
	return event.CompareNames(a.Name, b.Name)
}
