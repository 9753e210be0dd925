package sync

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
)

// plan is what follows from comparing what is held with what the server has accepted. All three are in the order of
// devices, the site's root first: its enrolments let the others' segments in.
type plan struct {
	offer   []chain.Head // the server's heads after which something is held that it lacks; seq 0 where it has nothing
	lacking []chain.Head // the server's heads that are beyond what is held
	forked  []chain.Head // the server's heads that contradict what is held
}

// decide compares. held is this device's heads; at is, for each of the server's heads, the head that is held at that
// seq. A device whose record forks is not offered: the server would only set it aside.
func decide(site string, root event.Device, held []chain.Head, at map[event.Device]chain.Head,
	server []chain.Head,
) plan {
	accepted := map[event.Device]chain.Head{}
	for _, h := range server {
		accepted[h.Device] = h
	}
	reach := map[event.Device]uint64{}
	for _, h := range held {
		reach[h.Device] = h.Seq
	}
	var devices []event.Device
	for _, h := range slices.Concat(held, server) {
		devices = append(devices, h.Device)
	}
	slices.SortFunc(devices, func(a, b event.Device) int {
		if (a == root) != (b == root) {
			if a == root {
				return -1
			}
			return 1
		}
		return strings.Compare(string(a), string(b))
	})
	var p plan
	for _, d := range slices.Compact(devices) {
		h, ok := accepted[d]
		if !ok || h.Seq == 0 {
			h = chain.Head{Device: d, Chain: chain.Root(site, d)}
		}
		switch {
		case h.Seq > reach[d]:
			p.lacking = append(p.lacking, h)
		case h.Seq > 0 && at[d] != h:
			p.forked = append(p.forked, h)
		case h.Seq < reach[d]:
			p.offer = append(p.offer, h)
		}
	}
	return p
}

// stands reports whether the first of the messages is what stood at a position.
func stands(at journal.Position, msgs []Message) bool {
	return len(msgs) > 0 && msgs[0].Seq == at.Seq && event.Hash(sha256.Sum256(msgs[0].Data)) == at.Hash
}

// needsFullRescan reports whether what this device lacks, or what forks, is worth reading the whole stream for. It is
// if that has not been tried yet for the device in question, or long ago: something may have come into the stream
// before this device's position, since numbers are used again, and a segment that once waited was kept nowhere. This
// device's own fork, which stops it from sending, is always worth it.
func needsFullRescan(own event.Device, p plan, forked map[event.Device]bool, known journal.Contact, justRead bool,
	now time.Time,
) bool {
	// a clock set back must not forbid it for long
	due := now.Sub(known.Whole) >= rescanAfter || now.Before(known.Whole)
	untried := func(h chain.Head) bool {
		return due || !slices.ContainsFunc(known.Missing, func(m chain.Head) bool { return m.Device == h.Device })
	}
	forks := func(h chain.Head) bool { return h.Device == own || untried(h) }
	return slices.ContainsFunc(p.forked, forks) || slices.ContainsFunc(p.lacking, func(h chain.Head) bool {
		if forked[h.Device] {
			return forks(h)
		}
		return !justRead && untried(h)
	})
}

// verified is what messages turned out to be.
type verified struct {
	verified   []chain.Segment
	unenrolled []chain.Segment // of devices that nobody enrolled yet
	refused    []string
}

// verify reads messages and has their segments verified; those of devices not enrolled are tried again after each that
// may have enrolled them.
func verify(ring *chain.KeyRing, unenrolled []chain.Segment, msgs []Message) verified {
	var v verified
	queue := slices.Clone(unenrolled)
	for _, m := range msgs {
		seg, err := chain.ReadSegment(m.Data)
		if err != nil {
			v.refused = append(v.refused, fmt.Sprintf("message %d of the site's stream is not what it should be: %v",
				m.Seq, err))
			continue
		}
		queue = append(queue, seg)
	}
	v.unenrolled, _ = chain.Settle(queue, func(seg chain.Segment) (bool, error) { // the error is nil as each one's is
		switch err := ring.Admit(seg); {
		case err == nil:
			v.verified = append(v.verified, seg)
		case errors.Is(err, chain.ErrNotEnrolled):
			return true, nil
		default:
			v.refused = append(v.refused, err.Error())
		}
		return false, nil
	})
	return v
}

// unconfirmed counts the events sent that the server's heads do not reach.
func unconfirmed(sent map[event.Device]chain.Head, server []chain.Head) int {
	n := 0
	for _, after := range sent {
		reached := uint64(0)
		for _, h := range server {
			if h.Device == after.Device {
				reached = h.Seq
			}
		}
		if reached < after.Seq {
			n += int(after.Seq - reached)
		}
	}
	return n
}
