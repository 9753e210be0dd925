package archive

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"hod/internal/chain"
	"hod/internal/event"
)

// Kind classifies a Fault, for scripts.
type Kind string

// The kinds of faults.
const (
	Damaged  Kind = "damaged"  // bytes that are no entry, or an entry that is no segment
	Unsound  Kind = "digest"   // the digest or the index is not that of the file
	Foreign  Kind = "foreign"  // another site's
	Forged   Kind = "forged"   // not signed by the device that it names
	Stranger Kind = "stranger" // of a device that nobody enrolled
	Gap      Kind = "gap"      // events are missing
	Forked   Kind = "fork"     // a device's log has two histories
)

// Fault is something in a file that is not as it must be.
type Fault struct {
	Kind Kind   `json:"kind"`
	File string `json:"file,omitempty"` // where several are read together
	At   int64  `json:"at_byte"`        // offset in the file; -1 where the fault has none
	What string `json:"what"`           // a sentence
}

// Checked is the result of a Check.
type Checked struct {
	Segments int
	Repeated int // events that lay there more than once, alike
	// events of a kind that this version does not know: signed and chained, their meaning not checked
	Unknown  int
	Events   []event.Event // those that hold, each once, by device and seq
	Devices  []Reach       // what of each device holds
	Enrolled int           // devices that the log enrols, or that are the root
	Faults   []Fault
	Missing  []Missing // what a part does not hold and so could not be checked
}

// Missing is events that are not there: their successors name what the chain's head must have been.
type Missing struct {
	Device      event.Device
	First, Last uint64
}

func (m Missing) String() string {
	if m.First == m.Last {
		return fmt.Sprintf("event %s/%d", m.Device, m.First)
	}
	return fmt.Sprintf("events %s/%d to %d", m.Device, m.First, m.Last)
}

// maxFaults is the most faults that are reported; a file that is damaged throughout has many more.
const maxFaults = 1000

// Check verifies that segments are what the devices of a site wrote, trusting nothing but its root key. Segments may be
// added in any order and any number of times. It is not safe for several goroutines.
type Check struct {
	site   string
	ring   *chain.KeyRing
	file   string
	held   map[event.Device][]placed
	wait   []placed // of devices that nobody has enrolled yet
	names  map[event.Device]bool
	result Checked
}

type placed struct {
	chain.Segment
	file string
	at   int64
}

// NewCheck returns a Check of one site that trusts its root key alone.
func NewCheck(site string, root event.Device, key ed25519.PublicKey) *Check {
	return &Check{
		site: site, ring: chain.NewKeyRing(site, root, key),
		held: map[event.Device][]placed{}, names: map[event.Device]bool{root: true},
	}
}

// In sets the name of the file that following segments are read from, for faults.
func (c *Check) In(file string) { c.file = file }

// Fault adds a fault that the caller found.
func (c *Check) Fault(kind Kind, at int64, format string, args ...any) {
	c.fault(placed{file: c.file, at: at}, kind, format, args...)
}

func (c *Check) fault(where placed, kind Kind, format string, args ...any) {
	if len(c.result.Faults) < maxFaults {
		c.result.Faults = append(c.result.Faults, Fault{kind, where.file, where.at, fmt.Sprintf(format, args...)})
	}
}

// Raw parses and adds a segment that lies in a file at an offset.
func (c *Check) Raw(raw []byte, at int64) (chain.Segment, bool) {
	s, err := chain.ReadSegment(raw)
	if err != nil {
		c.Fault(Damaged, at, "the record at byte %d is no segment: %v", at, err)
		return s, false
	}
	c.Add(s, at)
	return s, true
}

// Add adds a segment; at is its offset in the file, -1 where it has none.
func (c *Check) Add(s chain.Segment, at int64) {
	c.result.Segments++
	p := placed{s, c.file, at}
	if c.admit(p) {
		c.wait = append(c.wait, p)
	}
}

// admit reports whether a segment waits for its device's enrolment.
func (c *Check) admit(p placed) (waits bool) {
	err := c.ring.Admit(p.Segment)
	switch {
	case errors.Is(err, chain.ErrNotEnrolled):
		return true
	case errors.Is(err, chain.ErrWrongSite):
		c.fault(p, Foreign, "%s is of the site %q, not of %q", p, clip(p.Site), clip(c.site))
	case err != nil:
		c.fault(p, Forged, "%s is not signed with the key of the device that it names", p)
	default:
		c.held[p.Before.Device] = append(c.held[p.Before.Device], p)
		for _, e := range p.Events {
			if b, ok := e.Body.(event.DeviceEnrolled); ok {
				c.names[b.Device] = true
			}
		}
	}
	return false
}

// Knows reports whether the segments that were added enrol a device.
func (c *Check) Knows(d event.Device) bool {
	c.settle()
	return c.ring.Key(d) != nil
}

// settle adds the segments that were pending until an enrolment which has come now.
func (c *Check) settle() {
	// the error is nil as each one's is
	c.wait, _ = chain.Settle(c.wait, func(p placed) (bool, error) { return c.admit(p), nil })
}

// Ending describes the end of a file.
type Ending struct {
	Closing *Closing // nil in a file that is not closed
	Torn    *Piece   // what lies at the end of such a file and is no entry
}

// Read takes all of a file after its header, and compares what it holds with its closing. Whether a file without one
// may be so is for the caller to judge.
func (c *Check) Read(r *Reader) (Ending, error) {
	var tally Tally
	var end Ending
	for {
		p, err := r.Next()
		if errors.Is(err, io.EOF) {
			return end, nil
		}
		if err != nil {
			return end, err
		}
		switch {
		case p.Segment != nil:
			if s, ok := c.Raw(p.Segment, p.At); ok {
				tally.Add(s)
			}
		case p.Closing != nil:
			end.Closing = p.Closing
			if !p.Closing.Sound {
				c.Fault(Unsound, p.At, "the digest in the last 32 bytes, from byte %d on, is not that of the file",
					p.At+p.Size-32)
			}
			if !slices.Equal(p.Closing.Index, tally.Index()) {
				c.Fault(Unsound, p.At, "the index at byte %d does not list what can be read in the file", p.At)
			}
		case p.Torn:
			end.Torn = &p
		default:
			c.Fault(Damaged, p.At, "bytes %d to %d are not what was written", p.At, p.At+p.Size-1)
		}
	}
}

// Done returns the result. whole says that the log of every device must be there from its first event on; of a part
// that begins later, or leaves something out, it is told what was missing.
func (c *Check) Done(whole bool) Checked {
	c.settle()
	for _, p := range c.wait {
		c.fault(p, Stranger, "%s is of a device that nobody enrolled: its signature cannot be checked", p)
	}
	devices := make([]event.Device, 0, len(c.held))
	for d := range c.held {
		devices = append(devices, d)
	}
	slices.SortFunc(devices, func(a, b event.Device) int { return strings.Compare(string(a), string(b)) })
	for _, d := range devices {
		c.device(d, whole)
	}
	for d := range c.names {
		if c.ring.Key(d) != nil {
			c.result.Enrolled++
		}
	}
	return c.result
}

// device walks along one device's segments.
func (c *Check) device(d event.Device, whole bool) {
	run := c.held[d]
	slices.SortStableFunc(run, func(a, b placed) int {
		switch {
		case a.Before.Seq < b.Before.Seq:
			return -1
		case a.Before.Seq > b.Before.Seq:
			return 1
		}
		return 0
	})
	read := passage{Reach: Reach{Device: d}, hashes: map[uint64]chain.Hash{0: chain.Root(c.site, d)}}
	for _, p := range run {
		judged, err := chain.Judge(p.Segment, &read)
		if err == nil && judged.Verdict == chain.Gap {
			m := Missing{d, read.Last + 1, p.Before.Seq}
			if whole {
				c.fault(p, Gap, "%v missing: the chain cannot be followed over them", m)
			} else {
				c.result.Missing = append(c.result.Missing, m)
			}
			read.Last, read.Chain, read.hashes[p.Before.Seq] = p.Before.Seq, p.Before.Chain, p.Before.Chain
			judged, err = chain.Judge(p.Segment, &read)
		}
		switch {
		case err != nil || judged.Verdict == chain.Fork && judged.Fork == p.Before.Seq:
			c.fault(p, Forked, "%s follows another history of %q than what was read before it", p, d)
		case judged.Verdict == chain.Fork:
			c.fault(p, Forked, "event %s was written twice, differently: %q has two histories",
				event.Name{Device: d, Seq: judged.Fork}, d)
		}
		c.result.Repeated += judged.Held
		for _, e := range judged.New {
			read.add(e)
			if e.Body == nil {
				c.result.Unknown++
			}
			c.result.Events = append(c.result.Events, e)
		}
	}
	if read.First > 0 {
		c.result.Devices = append(c.result.Devices, read.Reach)
	}
}

// passage is what was read of one device, from wherever it begins.
type passage struct {
	Reach
	hashes map[uint64]chain.Hash
}

func (p *passage) add(e event.Event) {
	if p.First == 0 {
		p.First = e.Seq
	}
	p.Last, p.Chain = e.Seq, p.hashes[e.Seq-1].Next(e.Bytes())
	p.hashes[e.Seq] = p.Chain
}

// Head returns the chain's head after the last event that was read.
func (p *passage) Head(event.Device) (chain.Head, error) {
	return chain.Head{Device: p.Device, Seq: p.Last, Chain: p.hashes[p.Last]}, nil
}

// HeadAt is the head after an event that was read, or was named by what follows it.
func (p *passage) HeadAt(_ event.Device, seq uint64) (chain.Head, bool, error) {
	hash, ok := p.hashes[seq]
	return chain.Head{Device: p.Device, Seq: seq, Chain: hash}, ok, nil
}

func (p placed) String() string {
	name := fmt.Sprintf("the segment of %q from %d to %d", clip(string(p.Before.Device)), p.First(), p.After.Seq)
	if p.at >= 0 {
		name += fmt.Sprintf(", at byte %d,", p.at)
	}
	return name
}

func clip(s string) string {
	if len(s) > 60 {
		return s[:60] + "…"
	}
	return s
}
