package history

import (
	"slices"
	"time"

	"hod/internal/event"
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
	Root  *Record      // for a correction: the event first written, once known
	split bool         // its corrections are disputed
	in    []*[]*Record // where it is indexed

	due     bool // it is marked to be read
	leaving bool // it is being taken out of where it is indexed
	Round   int  // in which it was read last
}

// IsFiled reports whether it stands in the lists of what it concerns.
func (r *Record) IsFiled() bool { return len(r.in) > 0 }

// OnSite brings a time in the body to the site's clock.
func (r *Record) OnSite(t time.Time) time.Time { return r.clock.OnSite(t) }

// ahead is how far past its writing an event may claim to have happened before its clock is doubted.
const TrustedAhead = 10 * time.Minute

// Ahead reports whether it claims to have happened after it was written: both by the site's clock, since a typed time
// is by that, and the device's own may be slow.
func (r *Record) Ahead() bool { return r.At().After(r.Logged().Add(TrustedAhead)) }

// IsSure reports whether whoever wrote what now holds was asked about it and said that so it was.
func (r *Record) IsSure() bool {
	for _, via := range slices.Backward(r.Via) {
		if _, ok := via.Body.(event.Amended); ok {
			return via.Sure
		}
	}
	return r.Sure
}

// Lacks sets a record aside for something that may yet arrive; Stands takes that back.
func (r *Record) Lacks(a *Aside) { r.State, r.Aside = SetAside, a }

// Stands takes back that it was set aside.
func (r *Record) Stands() {
	if r.State == SetAside {
		r.State, r.Aside = PlainState(r), nil
	}
}

// PlainState is the state of a record by its own corrections, whatever replaces it.
func PlainState(r *Record) State {
	if r.split {
		return Disputed
	}
	if len(r.Via) > 0 {
		return Amended
	}
	return Holds
}

// ByTime is the one order of what happened, by the site's clock, then by device and seq.
func ByTime(a, b *Record) int {
	if c := a.When.Compare(b.When); c != 0 {
		return c
	}
	return event.CompareNames(a.Name, b.Name)
}

// ByLogged orders records by when their devices wrote them, by the site's clock as far as a device knew how far its own
// was off: the order that decides nothing but which of two disputed readings is shown until a foreman settles it, and
// which of two foremen's settlements holds.
func ByLogged(a, b *Record) int {
	if c := a.Logged().Compare(b.Logged()); c != 0 {
		return c
	}
	return event.CompareNames(a.Name, b.Name)
}
