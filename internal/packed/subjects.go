package packed

import (
	"cmp"
	"crypto/sha256"
	"slices"
	"time"

	"hod/internal/event"
)

// Subjects say of the quiet events of a record what each concerns, so that a site can be given them as it asks for them
// and not all at once: a command of a crew needs some hundred of twenty thousand. Beside each batch and zone stand the
// few values that others need of it: what it yielded, where it went, whether its face lies bare.
//
// Filed are only events that nothing sets apart but plain corrections of their own: they stand, nothing of them is
// disputed or was written again after a fork. An event and its corrections are filed together, under all that any of
// them names. What that hangs on, the plan and who may write, is in Plan as a digest: where it has changed all is
// fetched. The values were worked out by a full fold of the record as it was, and those of a batch or zone are dropped
// when an event that concerns it comes. Subjects may be thrown away at any time.
type Subjects struct {
	Plan    [sha256.Size]byte
	AsOf    time.Time // nothing that the values rest on happened later
	Devices []event.Device
	counts  []int               // filed events of each device
	last    []uint64            // seq of the last of them
	Absent  map[event.Hash]bool // named by other events and not in the record
	spans   []Span              // all that is filed, by name
	Coats   []event.Coat
	Yields  []Mortar
	Batches []BatchSubject // by id
	Zones   []ZoneSubject  // by name
	HasAir  bool           // somebody read or forecast what the air was
	Air     []AirSubject
	Shifts  []Place // their starts and ends
}

// Place is an event by its device's number in Subjects, and seq.
type Place struct {
	Device int
	Seq    uint64
}

// Mortar names mixes whose yields teach each other.
type Mortar struct {
	Mix  event.Mix
	Sums string
}

// BatchSubject is a batch, the events that concern it, and what was worked out of it.
type BatchSubject struct {
	ID     event.Batch
	Events []Place
	Here   bool // it was mixed, placed or discarded
	Made   bool // it was mixed or discarded
	Stands bool
	Ready  time.Time // where it stands
	Yield  int       // what it teaches, in Subjects.Yields; −1: it was not weighed
	Ratio  float64
	Parts  []PartSubject
}

// PartSubject is a part of a batch in a coat.
type PartSubject struct {
	From, To time.Time
	Coat     int // in Subjects.Coats
	By       Place
}

// ZoneSubject is a zone, the events that concern it but placements, and the batches of which some were to go there.
type ZoneSubject struct {
	Name    event.Zone
	Events  []Place
	Batches []int // in Subjects.Batches
	Placed  bool  // something lies in it
	Bare    bool  // of which some lies uncovered
	// Cold is when all that lies in it had turned cold, and Known the reading of the air from which on no other can
	// change that; zero where that is not known.
	Cold, Known time.Time
}

// AirSubject is an event of the weather, and the time that its samples are of.
type AirSubject struct {
	By          Place
	First, Last time.Time
}

// Spans are the events that are filed, by device and seq: who holds them need not read them.
func (x *Subjects) Spans() []Span { return x.spans }

// Len is how many events are filed.
func (x *Subjects) Len() int {
	n := 0
	for _, of := range x.counts {
		n += of
	}
	return n
}

// Of a device: how many of its events are filed, and the seq of the last.
func (x *Subjects) Of(d event.Device) (events int, last uint64) {
	if i := slices.Index(x.Devices, d); i >= 0 {
		return x.counts[i], x.last[i]
	}
	return 0, 0
}

// Holds says whether the event of that name is filed.
func (x *Subjects) Holds(n event.Name) bool { return spanned(x.spans, n) }

// Reaches says whether some of what is filed is excluded.
func (x *Subjects) Reaches(excluded map[event.Device]uint64) bool {
	for d, from := range excluded {
		if _, last := x.Of(d); last >= from {
			return true
		}
	}
	return false
}

// Name of the event at a place.
func (x *Subjects) Name(p Place) event.Name {
	return event.Name{Device: x.Devices[p.Device], Seq: p.Seq}
}

// spanned says whether an event lies in spans, which are by name.
func spanned(spans []Span, n event.Name) bool {
	// the first that does not end before it
	i, _ := slices.BinarySearchFunc(spans, n, func(s Span, n event.Name) int {
		return event.CompareNames(event.Name{Device: s.Device, Seq: s.To}, n)
	})
	return i < len(spans) && spans[i].Device == n.Device && spans[i].From <= n.Seq
}

// Batch is the number of a batch in Batches; false if nothing of it is filed.
func (x *Subjects) Batch(id event.Batch) (int, bool) {
	return slices.BinarySearchFunc(x.Batches, id, func(b BatchSubject, id event.Batch) int {
		return compareBatches(b.ID, id)
	})
}

// Zone is the number of a zone in Zones; false if nothing of it is filed.
func (x *Subjects) Zone(name event.Zone) (int, bool) {
	return slices.BinarySearchFunc(x.Zones, name, func(z ZoneSubject, n event.Zone) int {
		return cmp.Compare(z.Name, n)
	})
}

// Put files events under no subject more than they are under already, and puts all in order: it is called last.
func (x *Subjects) Put(names []event.Name) {
	index := map[event.Device]int{}
	for i, d := range x.Devices {
		index[d] = i
	}
	x.counts, x.last = make([]int, len(x.Devices)), make([]uint64, len(x.Devices))
	slices.SortFunc(names, event.CompareNames)
	for _, n := range slices.Compact(names) {
		i := index[n.Device]
		x.counts[i]++
		x.last[i] = n.Seq
		x.spans = AddToSpans(x.spans, n)
	}
}

// AddToSpans adds an event behind those of some spans, by name.
func AddToSpans(spans []Span, n event.Name) []Span {
	if last := len(spans) - 1; last >= 0 && spans[last].Device == n.Device && spans[last].To+1 == n.Seq {
		spans[last].To = n.Seq
		return spans
	}
	return append(spans, Span{n.Device, n.Seq, n.Seq})
}

// SortPlaces puts places in order, each once.
func SortPlaces(all []Place) []Place {
	slices.SortFunc(all, func(a, b Place) int {
		return cmp.Or(cmp.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq))
	})
	return slices.Compact(all)
}

func compareBatches(a, b event.Batch) int {
	return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Crew, b.Crew), cmp.Compare(a.Number, b.Number))
}

// Countable says whether all instants can be put down.
func (x *Subjects) Countable() bool {
	can := func(all ...time.Time) bool {
		return !slices.ContainsFunc(all, func(t time.Time) bool {
			return !t.IsZero() &&
				(t.Year() <= 1700 || t.Year() >= 2250)
		})
	}
	for _, b := range x.Batches {
		if !can(b.Ready) || slices.ContainsFunc(b.Parts, func(p PartSubject) bool { return !can(p.From, p.To) }) {
			return false
		}
	}
	for _, z := range x.Zones {
		if !can(z.Cold, z.Known) {
			return false
		}
	}
	return can(x.AsOf) && !slices.ContainsFunc(x.Air, func(a AirSubject) bool { return !can(a.First, a.Last) })
}

// SortBatches puts batches in the order in which they are filed: by day, crew and number.
func SortBatches(all []event.Batch) { slices.SortFunc(all, compareBatches) }
