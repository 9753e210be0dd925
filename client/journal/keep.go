package journal

import (
	"context"
	"database/sql"
	"fmt"

	"hod/internal/event"
)

// Position is a place in the stream of a site. Streams number anew after damage, so the number counts only together
// with what stood there.
type Position struct {
	Seq  uint64     // 0: nothing was read yet
	Hash event.Hash // SHA-256 of the message
}

// Kept says what became of segments.
type Kept struct {
	New      int             // events that were not held before
	Repeated int             // events that were
	Waiting  []event.Segment // those that leave a gap; they are kept nowhere
	Forks    []Fork          // those that contradict what is held; they are not kept
}

// Keep takes in segments that a Ring has admitted, in any order, of any device, this one's own too: that is how a
// restored or copied journal comes by what it wrote and no longer has. Of its own, those that leave a gap or contradict
// are put by for Again. One transaction.
func (j *Journal) Keep(ctx context.Context, segs ...event.Segment) (Kept, error) {
	return j.keep(ctx, nil, segs)
}

// KeepTo is Keep, and remembers in the same transaction how far the stream was read.
func (j *Journal) KeepTo(ctx context.Context, to Position, segs ...event.Segment) (Kept, error) {
	return j.keep(ctx, &to, segs)
}

func (j *Journal) keep(ctx context.Context, to *Position, segs []event.Segment) (Kept, error) {
	for _, s := range segs {
		if s.Site != j.device.Site {
			return Kept{}, fmt.Errorf("a segment of site %q does not belong into the journal of site %q", s.Site, j.device.Site)
		}
	}
	var kept Kept
	err := j.write(ctx, func(q *sql.Conn) error {
		kept = Kept{}
		waiting := segs
		// Each round may close the gap that another segment waits for.
		for progress := true; progress && len(waiting) > 0; {
			before := kept.New
			round := waiting
			waiting = nil
			for _, s := range round {
				waits, err := j.keepOne(ctx, q, s, &kept)
				if err != nil {
					return err
				}
				if waits {
					waiting = append(waiting, s)
				}
			}
			progress = kept.New > before
		}
		kept.Waiting = waiting
		for _, s := range waiting {
			if err := j.putBy(ctx, q, s); err != nil {
				return err
			}
		}
		if to != nil {
			return j.setPosition(ctx, q, *to)
		}
		return nil
	})
	if err != nil {
		return Kept{}, err
	}
	return kept, nil
}

func (j *Journal) keepOne(ctx context.Context, q *sql.Conn, s event.Segment, kept *Kept) (waits bool, err error) {
	device := s.Before.Device
	head, err := j.headOf(ctx, q, device)
	if err != nil {
		return false, err
	}
	if s.Before.Seq > head.Seq {
		return true, nil
	}
	at, ok, err := j.headAt(ctx, q, device, s.Before.Seq)
	if err != nil {
		return false, err
	}
	if !ok {
		return false, j.damaged("event %s/%d is missing", device, s.Before.Seq)
	}
	if at.Chain != s.Before.Chain {
		kept.Forks = append(kept.Forks, Fork{device, max(s.Before.Seq, 1)})
		return false, j.putBy(ctx, q, s)
	}
	held := int(min(head.Seq, s.After.Seq) - s.Before.Seq) // events of it that are here already, or others in their place
	for _, e := range s.Events[:held] {
		at.Seq, at.Chain = e.Seq, at.Chain.Next(e.Bytes())
	}
	// A chain's head stands for all before it, so one comparison does for the whole overlap.
	if here, ok, err := j.headAt(ctx, q, device, at.Seq); err != nil {
		return false, err
	} else if !ok || here != at {
		seq, err := j.firstDifference(ctx, q, s, held)
		if err != nil {
			return false, err
		}
		kept.Forks = append(kept.Forks, Fork{device, seq})
		return false, j.putBy(ctx, q, s)
	}
	kept.Repeated += held
	for _, e := range s.Events[held:] {
		if at, err = j.insert(ctx, q, at, e); err != nil {
			return false, err
		}
		kept.New++
	}
	if held == len(s.Events) {
		return false, nil
	}
	return false, j.keepSegment(ctx, q, s)
}

// firstDifference is the seq of the first among the first n events of s that is not the one held.
func (j *Journal) firstDifference(ctx context.Context, q *sql.Conn, s event.Segment, n int) (uint64, error) {
	chain := s.Before.Chain
	for _, e := range s.Events[:n] {
		chain = chain.Next(e.Bytes())
		here, ok, err := j.headAt(ctx, q, e.Device, e.Seq)
		if err != nil || !ok || here.Chain != chain {
			return e.Seq, err
		}
	}
	return s.After.Seq, nil
}

// putBy stores a segment of this device's own that does not fit its record, before the stream's position passes it.
func (j *Journal) putBy(ctx context.Context, q *sql.Conn, s event.Segment) error {
	if s.Before.Device != j.device.Name {
		return nil
	}
	_, err := q.ExecContext(ctx, `insert or ignore into elsewhere (last, chain, raw) values (?, ?, ?)`,
		int64(s.After.Seq), s.After.Chain[:], s.Bytes())
	return err
}

// keepSegment stores the segment as received, so that it can be carried on: only its author can sign it. This device's
// own are signed anew whenever they are offered.
func (j *Journal) keepSegment(ctx context.Context, q *sql.Conn, s event.Segment) error {
	if s.Before.Device == j.device.Name {
		return nil
	}
	return j.put(ctx, q, `insert into segment (device, first, last, raw) values (?, ?, ?, ?)`,
		string(s.Before.Device), int64(s.First()), int64(s.After.Seq), s.Bytes())
}
