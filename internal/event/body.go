package event

import (
	"reflect"
	"time"

	hodv1 "hod/proto/hod/v1"
)

// Body is what an event says: one of the structs of this package that have a file of their own.
//
// All that there is to know of a kind without knowing other events stands in its file: its struct, check, about, wrap
// and its ...Of, and those of the small interfaces below that fit it. What the fold makes of it is a line in
// fold/kinds.go, its words are a line in view/words.go. A switch over bodies names every kind or says by default what
// all others are: gochecksumtype sees to it.
//
//sumtype:decl
type Body interface {
	// check says in a sentence what cannot be.
	check() error
	// about is what is the same for all bodies of the kind.
	about() about
	// wrap gives the stored form.
	wrap() *hodv1.Body
}

// about is what is the same for all bodies of one kind.
type about struct {
	kind string // the noun that people see in the log
	sort Sort
	by   Writers
	ask  string // where a crew may not write it: what it does instead; empty for the usual words
}

// Sort tells apart what an event does to the log of the site.
type Sort int

// The sorts of events.
const (
	Work       Sort = iota // what was done, measured or noted
	Planning               // what is to be done
	Membership             // who may write
	Correcting             // how other events are to be read
)

// Writers are those who may write a kind of event, beside the site's server, which may write all.
type Writers int

// Who may write; each includes those before it. Nobody may write more by having forgotten to say it here.
const (
	Server  Writers = iota // nobody else
	Foremen                // the foremen
	Crews                  // and crews
	Probes                 // and probes
)

// A body may also be one of these. A field of a body that such a method should tell of and does not is found by
// kinds_test.go.
type (
	// zoned is about zones.
	zoned interface{ zones() []Zone }
	// batched names batches.
	batched interface{ batches() []Batch }
	// owned is one crew's, and no other crew may write it.
	owned interface{ owner() Crew }
	// reasoned may say why a rule of the job was passed over.
	reasoned interface{ because() string }
	// member says whether a device may write.
	member interface{ member() Device }
	// correction is of one other event.
	correction interface{ target() Hash }
	// timed holds times beside the event's own. shifted is the body with each of them changed, in copies.
	timed interface {
		shifted(func(time.Time) time.Time) Body
	}
	// dated says itself of which time it is, whenever it was written down. until is as much of it as is not later than
	// an instant; false if nothing is.
	dated interface {
		until(later func(time.Time) bool) (Body, bool)
	}
)

// Plan is a body that a later one of its kind may replace.
//
//sumtype:decl
type Plan interface {
	Body
	// Thing names what the plan is of, "zone A3": plans of one thing replace each other. Flags are called by it, so it
	// stays.
	Thing() string
	replaces() []Hash
	replacing([]Hash) Body
}

// KindOf is the noun for a body in the log: "batch", "placement", "weather"; "unknown" for one that a newer version
// wrote.
func KindOf(b Body) string {
	if b == nil {
		return "unknown"
	}
	return b.about().kind
}

// SortOf is what sort of event a body makes. One that a newer version wrote counts as work.
func SortOf(b Body) Sort {
	if b == nil {
		return Work
	}
	return b.about().sort
}

// WritersOf is who may write a body, and what a crew is told that may not. An amendment is for those to write who may
// write what it says.
func WritersOf(b Body) (by Writers, ask string) {
	if b = content(b); b == nil {
		return Server, ""
	}
	is := b.about()
	return is.by, is.ask
}

// OwnerOf is the crew that a body is of, where no other crew may write it.
func OwnerOf(b Body) (Crew, bool) {
	if o, ok := content(b).(owned); ok {
		return o.owner(), true
	}
	return "", false
}

// ZonesOf are the zones that a body is about, of an amendment those of what it says.
func ZonesOf(b Body) []Zone {
	if z, ok := content(b).(zoned); ok {
		return z.zones()
	}
	return nil
}

// BatchesOf are the batches that a body names, of an amendment those of what it says.
func BatchesOf(b Body) []Batch {
	if n, ok := content(b).(batched); ok {
		return n.batches()
	}
	return nil
}

// BecauseOf is the reason that a body gives for passing a rule over; empty if it gives none.
func BecauseOf(b Body) string {
	if r, ok := b.(reasoned); ok {
		return r.because()
	}
	return ""
}

// MemberOf is the device whose rights a body is of; false for a body that is of nobody's.
func MemberOf(b Body) (Device, bool) {
	if m, ok := b.(member); ok {
		return m.member(), true
	}
	return "", false
}

// TargetOf is the event that an amendment or a void corrects; false for any other body.
func TargetOf(b Body) (Hash, bool) {
	if c, ok := b.(correction); ok {
		return c.target(), true
	}
	return Hash{}, false
}

// Shifted is a body with each time in it changed, but for those that are not said. It changes nothing that the body
// points at.
func Shifted(b Body, shift func(time.Time) time.Time) Body {
	if t, ok := b.(timed); ok {
		return t.shifted(func(at time.Time) time.Time {
			if at.IsZero() {
				return at
			}
			return shift(at)
		})
	}
	return b
}

// Dated reports whether a body says itself of which time it is, as readings and forecasts do, whenever it was written
// down.
func Dated(b Body) bool {
	_, is := b.(dated)
	return is
}

// Until is a body as far as its own times are not later than an instant, false if nothing of it is left. A body that is
// not dated comes back as it is.
func Until(b Body, later func(time.Time) bool) (Body, bool) {
	if d, ok := b.(dated); ok {
		return d.until(later)
	}
	return b, true
}

// Replaces is the hashes of the events that a plan body replaces; none for any other body.
func Replaces(b Body) []Hash {
	if p, ok := b.(Plan); ok {
		return p.replaces()
	}
	return nil
}

// WithReplaces is the plan body with the hashes of the events that it replaces. Any other body comes back as it is.
func WithReplaces(b Body, replaces []Hash) Body {
	if p, ok := b.(Plan); ok {
		return p.replacing(replaces)
	}
	return b
}

// ThingOf is what a plan is of; empty for any other body.
func ThingOf(b Body) string {
	if p, ok := b.(Plan); ok {
		return p.Thing()
	}
	return ""
}

// content is what an amendment says, any other body as it is. Amendments do not hold amendments.
func content(b Body) Body {
	if a, ok := b.(Amended); ok {
		return a.Body
	}
	return b
}

func bodyProto(b Body) *hodv1.Body {
	if b == nil {
		return nil
	}
	return b.wrap()
}

// readers give the body of each kind, by the type that holds it in the oneof. Each kind's file adds its own by reads.
var readers = map[reflect.Type]func(any) Body{}

func reads[K any](of func(K) Body) bool {
	readers[reflect.TypeFor[K]()] = func(k any) Body { return of(k.(K)) }
	return true
}

// bodyOf is nil for a body that this version does not know.
func bodyOf(p *hodv1.Body) Body {
	if read := readers[reflect.TypeOf(p.GetKind())]; read != nil {
		return read(p.Kind)
	}
	return nil
}
