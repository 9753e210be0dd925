package archive

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"hod/internal/event"
)

// Kind of a Fault, for scripts.
type Kind string

// The kinds of faults.
const (
	Damaged  Kind = "damaged"  // bytes that are no record, or a record that is no segment
	Unsound  Kind = "digest"   // the digest or the index is not that of the file
	Foreign  Kind = "foreign"  // another site's
	Forged   Kind = "forged"   // not signed by the device that it names
	Stranger Kind = "stranger" // of a device that nobody enrolled
	Gap      Kind = "gap"      // events are missing
	Forked   Kind = "fork"     // a device's record has two histories
)

// Fault is something that is not as it must be.
type Fault struct {
	Kind Kind   `json:"kind"`
	At   int64  `json:"at_byte"` // where in what was read; -1 where that is no place in a file
	What string `json:"what"`    // a sentence
}

// Checked says what was looked at and what was found.
type Checked struct {
	Segments int
	Repeated int           // events that lay there more than once, alike
	Unknown  int           // events of a kind that this version does not know: signed and chained, their meaning not checked
	Events   []event.Event // those that hold, each once, by device and seq
	Devices  []Reach       // what of each device holds
	Enrolled int           // devices that the record enrols, or that are the root
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

// maxFaults bounds what is told of a file that is damaged all over.
const maxFaults = 1000

// Check finds out whether segments are what the devices of a site wrote, from nothing but its root key. Segments may come
// in any order and any number of times.
type Check struct {
	site   string
	ring   *event.Ring
	held   map[event.Device][]placed
	wait   []placed // of devices that nobody has enrolled yet
	names  map[event.Device]bool
	result Checked
}

type placed struct {
	event.Segment
	at int64
}

// NewCheck trusts the root key alone.
func NewCheck(site string, root event.Device, key ed25519.PublicKey) *Check {
	return &Check{
		site: site, ring: event.NewRing(site, root, key),
		held: map[event.Device][]placed{}, names: map[event.Device]bool{root: true},
	}
}

// Fault adds one that was found elsewhere.
func (c *Check) Fault(kind Kind, at int64, format string, args ...any) {
	if len(c.result.Faults) < maxFaults {
		c.result.Faults = append(c.result.Faults, Fault{kind, at, fmt.Sprintf(format, args...)})
	}
}

// Raw takes a segment as it lies in a file, at a byte.
func (c *Check) Raw(raw []byte, at int64) (event.Segment, bool) {
	s, err := event.ReadSegment(raw)
	if err != nil {
		c.Fault(Damaged, at, "the record at byte %d is no segment: %v", at, err)
		return s, false
	}
	c.Add(s, at)
	return s, true
}

// Add takes a segment; at is where it lay, -1 where that is no place in a file.
func (c *Check) Add(s event.Segment, at int64) {
	c.result.Segments++
	if s.Site != c.site {
		c.Fault(Foreign, at, "%s is of the site %q, not of %q", named(s, at), clip(s.Site), clip(c.site))
		return
	}
	c.admit(placed{s, at})
}

func (c *Check) admit(p placed) {
	err := c.ring.Admit(p.Segment)
	switch {
	case errors.Is(err, event.ErrStranger):
		c.wait = append(c.wait, p)
	case err != nil:
		c.Fault(Forged, p.at, "%s is not signed with the key of the device that it names", named(p.Segment, p.at))
	default:
		c.held[p.Before.Device] = append(c.held[p.Before.Device], p)
		for _, e := range p.Events {
			if b, ok := e.Body.(event.DeviceEnrolled); ok {
				c.names[b.Device] = true
			}
		}
	}
}

// Read takes all of a file after its header, and compares what it holds with its closing.
func (c *Check) Read(r *Reader) (*Closing, error) {
	var tally Tally
	var closing *Closing
	for {
		p, err := r.Next()
		if errors.Is(err, io.EOF) {
			return closing, nil
		}
		if err != nil {
			return closing, err
		}
		switch {
		case p.Segment != nil:
			if s, ok := c.Raw(p.Segment, p.At); ok {
				tally.Add(s)
			}
		case p.Closing != nil:
			closing = p.Closing
			if !p.Closing.Sound {
				c.Fault(Unsound, p.At, "the digest in the last 32 bytes, from byte %d, is not that of the file", p.At+p.Size-32)
			}
			if !slices.Equal(p.Closing.Index, tally.Index()) {
				c.Fault(Unsound, p.At, "the index at byte %d does not list what the file holds", p.At)
			}
		case p.Torn:
			c.Fault(Damaged, p.At, "the file ends within what was being written: %d bytes from byte %d on are cut off or damaged, and it is not closed", p.Size, p.At)
		default:
			c.Fault(Damaged, p.At, "%d bytes from byte %d on are not what was written", p.Size, p.At)
		}
	}
}

// Done gives the result. whole says that every device's record must be there from its first event on; of a part that
// begins later, or leaves something out, it is told what was missing.
func (c *Check) Done(whole bool) Checked {
	for again := true; again; {
		waiting := c.wait
		c.wait = nil
		for _, p := range waiting {
			c.admit(p)
		}
		again = len(c.wait) < len(waiting) // each that is let in may enrol the next
	}
	for _, p := range c.wait {
		c.Fault(Stranger, p.at, "%s is of a device that nobody enrolled: its signature cannot be checked", named(p.Segment, p.at))
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
	chains := map[uint64]event.Chain{0: event.Root(c.site, d)}
	reach := Reach{Device: d}
	for _, p := range run {
		if p.Before.Seq > reach.Last {
			m := Missing{d, reach.Last + 1, p.Before.Seq}
			if whole {
				c.Fault(Gap, p.at, "%v, before byte %d, missing: the chain cannot be followed over them", m, p.at)
			} else {
				c.result.Missing = append(c.result.Missing, m)
			}
		}
		at, known := chains[p.Before.Seq]
		if known && at != p.Before.Chain {
			c.Fault(Forked, p.at, "%s follows another history of %q than what was read before it", named(p.Segment, p.at), d)
			continue
		}
		chain := p.Before.Chain
		for _, e := range p.Events {
			chain = chain.Next(e.Bytes())
			here, held := chains[e.Seq]
			if held && here != chain {
				c.Fault(Forked, p.at, "event %s was written twice, differently: %q has two histories", e.Name, d)
				break
			}
			if held {
				c.result.Repeated++
				continue
			}
			chains[e.Seq] = chain
			if reach.First == 0 {
				reach.First = e.Seq
			}
			reach.Last, reach.Chain = e.Seq, chain
			if e.Body == nil {
				c.result.Unknown++
			}
			c.result.Events = append(c.result.Events, e)
		}
	}
	if reach.Last > 0 {
		c.result.Devices = append(c.result.Devices, reach)
	}
}

func named(s event.Segment, at int64) string {
	name := fmt.Sprintf("the segment of %q from %d to %d", clip(string(s.Before.Device)), s.First(), s.After.Seq)
	if at >= 0 {
		name += fmt.Sprintf(", at byte %d,", at)
	}
	return name
}

func clip(s string) string {
	if len(s) > 60 {
		return s[:60] + "…"
	}
	return s
}
