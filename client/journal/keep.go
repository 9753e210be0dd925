package journal

import (
	"context"
	"database/sql"
	"fmt"

	"hod/internal/chain"
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
	Waiting  []chain.Segment // those that leave a gap; they are kept nowhere
	Forks    []Fork          // those that contradict what is held; they are not kept
}

// Keep takes in segments that a KeyRing has admitted, in any order, of any device, this one's own too: that is how a
// restored or copied journal comes by what it wrote and no longer has. Of its own, those that leave a gap or contradict
// are put by for Again. One transaction.
func (j *Journal) Keep(ctx context.Context, segs ...chain.Segment) (Kept, error) {
	return j.keep(ctx, nil, segs)
}

// IngestAt is Keep, and remembers in the same transaction how far the stream was read.
func (j *Journal) IngestAt(ctx context.Context, to Position, segs ...chain.Segment) (Kept, error) {
	return j.keep(ctx, &to, segs)
}

func (j *Journal) keep(ctx context.Context, to *Position, segs []chain.Segment) (Kept, error) {
	for _, s := range segs {
		if s.Site != j.device.Site {
			return Kept{}, fmt.Errorf("a segment of site %q does not belong into the journal of site %q", s.Site,
				j.device.Site)
		}
	}
	var kept Kept
	err := j.write(ctx, func(q *sql.Conn) error {
		kept = Kept{}
		var err error
		if kept.Waiting, err = chain.Settle(segs, func(s chain.Segment) (bool, error) {
			return j.keepOne(ctx, q, s, &kept)
		}); err != nil {
			return err
		}
		for _, s := range kept.Waiting {
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

func (j *Journal) keepOne(ctx context.Context, q *sql.Conn, s chain.Segment, kept *Kept) (waits bool, err error) {
	judged, err := chain.Judge(s, held{ctx, j, q})
	if err != nil {
		return false, err
	}
	switch judged.Verdict {
	case chain.Gap:
		return true, nil
	case chain.Fork:
		kept.Forks = append(kept.Forks, Fork{s.Before.Device, max(judged.Fork, 1)})
		return false, j.putBy(ctx, q, s)
	}
	kept.Repeated += judged.Held
	kept.New += len(judged.New)
	at := judged.After
	for _, e := range judged.New {
		if at, err = j.insert(ctx, q, at, e); err != nil {
			return false, err
		}
	}
	if judged.Verdict == chain.Duplicate {
		return false, nil
	}
	return false, j.keepSegment(ctx, q, s)
}

// held is what the record holds, within one transaction.
type held struct {
	ctx context.Context //nolint:containedctx // it lives for one call
	j   *Journal
	q   *sql.Conn
}

func (h held) Head(d event.Device) (chain.Head, error) { return h.j.headOf(h.ctx, h.q, d) }

func (h held) HeadAt(d event.Device, seq uint64) (chain.Head, bool, error) {
	at, ok, err := h.j.headAt(h.ctx, h.q, d, seq)
	if err == nil && !ok { // what lies behind the last one must be there
		err = h.j.damaged("event %s/%d is missing", d, seq)
	}
	return at, ok, err
}

// putBy stores a segment of this device's own that does not fit its record, before the stream's position passes it.
func (j *Journal) putBy(ctx context.Context, q *sql.Conn, s chain.Segment) error {
	if s.Before.Device != j.device.Name {
		return nil
	}
	_, err := q.ExecContext(ctx, `insert or ignore into elsewhere (last, chain, raw) values (?, ?, ?)`,
		int64(s.After.Seq), s.After.Chain[:], s.Bytes())
	return err
}

// keepSegment stores the segment as received, so that it can be carried on: only its author can sign it. This device's
// own are signed anew whenever they are offered.
func (j *Journal) keepSegment(ctx context.Context, q *sql.Conn, s chain.Segment) error {
	if s.Before.Device == j.device.Name {
		return nil
	}
	return j.put(ctx, q, `insert into segment (device, first, last, raw) values (?, ?, ?, ?)`,
		string(s.Before.Device), int64(s.First()), int64(s.After.Seq), s.Bytes())
}
