package finding

import (
	"slices"
	"time"

	"hod/internal/event"
)

// Finding is something that the record shows and a person should see, with what it rests on.
type Finding struct {
	Code    string // cold-joint, water-limit, …
	Key     string // what it is about, so exactly that the same finding has the same key on every device
	Subject string // what it is about, for people
	Text    string
	Grave   bool
	Since   time.Time
	Basis
	Grouping
	Reason
	Events   []event.Name
	Caution  string
	Settled  string   // what the record itself shows was done about it; empty leaves it open
	Do       []string // what to type about it
	Formerly []Former // as older versions called it
	Joint    *Joint   // of a finding about a joint
}

// Basis is what a finding rests on: the figures, what they were worked out by, and what is allowed.
type Basis struct {
	Evidence []Fact
	Formula  string
	Limit    string
	Allowed  Figure // the limit as a number
	Source   string
}

// Grouping is what findings of one code with one cause have in common.
type Grouping struct {
	Group  string  // stays when others join; empty: the finding stands alone
	About  string  // Group in words
	Brief  string  // the finding's text beside the words of all
	Amount float64 // how bad it is beside others of its code; 0 where none is worse than another
}

// Reason is why a person passed over the rule.
type Reason struct {
	Asks    []event.Name // the events that brought it about: who writes one is asked why
	Because string       // what they answered
}

// Joint names a joint that was made: what met there, and the placement that met it first.
type Joint struct {
	Kind  string
	Coat  event.Coat
	Other event.Zone
	Later event.Name
}

// Former is the code and key of a finding in an older version, which answers on disk may name.
type Former struct{ Code, Key string }

// The codes of findings.
const (
	ColdJoint     = "cold-joint"
	UntreatedCoat = "untreated-coat"
	UnsaidEdge    = "unsaid-edge"
	WaterLimit    = "water-limit"
	Weighing      = "weighing"
	UnitWeight    = "unit-weight"
	HotMix        = "hot-mix"
	ColdMix       = "cold-mix"
	OldBatch      = "old-batch"
	CutShort      = "cut-short"
	SameNumber    = "same-number"
	NoFigures     = "no-figures"
	Unplaced      = "unplaced"
	Drying        = "drying"
	ColdAir       = "cold-air"
	Frost         = "frost"
	Thin          = "thin"
	Clock         = "clock"
	ClockSet      = "clock-set"
	OddTime       = "odd-time"
	AsideFlag     = "set-aside"
	Dispute       = "conflict"
	StockShort    = "stock-short"
	LedgerShort   = "ledger-short"
	PassedOver    = "passed-over"
	DoubtfulValue = "doubtful-value"
	Washed        = "washed"
	WrongMix      = "wrong-mix"
	Overfull      = "overfull"
	SecondShift   = "second-shift"
	ClosedThin    = "closed-thin"

	UnknownRevision = "unknown-revision"
)

// Concerns says whether an event brought the finding about, so that whoever writes it is asked first.
func (f Finding) Concerns(name event.Name) bool { return slices.Contains(f.Asks, name) }
