package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
)

// ErrNoPath is returned when the segments given do not lead from what is held here to the head that was accepted: some
// are missing, and nothing was changed.
var ErrNoPath = errors.New("the accepted history is not complete yet")

// Rewritten says what a rewrite did.
type Rewritten struct {
	Ancestor   chain.Head    // the last event that both histories share
	Accepted   int           // events taken in from the accepted history
	Superseded []event.Event // events put out of force; they stay on the disk
	// this device's own of them, written again on top, each naming in StandsFor the one it was first
	Again []event.Event
}

// Rewrite mends a fork of this device's own record: the history that ends at accepted comes into force, found among
// segs, which a KeyRing has admitted, in any order and with others among them; and what was written here and is not
// part of it is written again on top. One transaction. The error is ErrNoPath if segs do not hold enough.
//
// An event that another copy of this device has already written again is not written a second time.
func (j *Journal) Rewrite(ctx context.Context, now time.Time, accepted chain.Head, segs ...chain.Segment) (Rewritten,
	error,
) {
	if accepted.Device != j.device.Name {
		return Rewritten{}, fmt.Errorf("a record is written again by its own device %q only, not by %q",
			accepted.Device, j.device.Name)
	}
	return j.follow(ctx, now, accepted, segs)
}

// Follow mends a fork in another device's record: the history that ends at accepted comes into force here too, so that
// all readers of a site agree with its server. What it puts out of force stays on the disk; to write it again is for
// its author. Otherwise as Rewrite.
func (j *Journal) Follow(ctx context.Context, now time.Time, accepted chain.Head, segs ...chain.Segment) (Rewritten,
	error,
) {
	if accepted.Device == j.device.Name {
		return Rewritten{}, fmt.Errorf("the record of %q is this device's own: it is rewritten, not followed",
			accepted.Device)
	}
	return j.follow(ctx, now, accepted, segs)
}

// Again writes on top of this device's own record what Keep has met under its signature and is in force here neither as
// it was nor written again: what a copy of this device wrote, or this one before its journal was restored. It is for
// when this record is part of what the server has accepted; before that, some of it may be just what is to be accepted.
func (j *Journal) Again(ctx context.Context) ([]event.Event, error) {
	var some bool
	err := j.read(ctx, func(q *sql.Conn) error {
		return j.scan(j.row(ctx, q, `select exists (select 1 from elsewhere)`), &some)
	})
	if err != nil || !some {
		return nil, err
	}
	var written []event.Event
	err = j.write(ctx, func(q *sql.Conn) error {
		elsewhere, err := j.elsewhere(ctx, q)
		if err != nil {
			return err
		}
		head, err := j.headOf(ctx, q, j.device.Name)
		if err != nil {
			return err
		}
		if written, err = j.again(ctx, q, head, elsewhere); err != nil {
			return err
		}
		_, err = q.ExecContext(ctx, `delete from elsewhere`)
		return err
	})
	if err != nil {
		return nil, err
	}
	return written, nil
}

func (j *Journal) elsewhere(ctx context.Context, q *sql.Conn) ([]event.Event, error) {
	rows, err := q.QueryContext(ctx, `select raw from elsewhere order by last, chain`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var events []event.Event
	for rows.Next() {
		var raw []byte
		if err := j.scan(rows, &raw); err != nil {
			return nil, err
		}
		s, err := chain.ReadSegment(raw)
		if err != nil {
			return nil, j.damaged("a segment of %q that was put by: %v", j.device.Name, err)
		}
		events = append(events, s.Events...)
	}
	slices.SortStableFunc(events, func(a, b event.Event) int { return event.CompareNames(a.Name, b.Name) })
	return events, rows.Err()
}

func (j *Journal) follow(ctx context.Context, now time.Time, accepted chain.Head, segs []chain.Segment) (Rewritten,
	error,
) {
	var done Rewritten
	err := j.write(ctx, func(q *sql.Conn) error {
		done = Rewritten{}
		way, err := path(accepted, segs)
		if err != nil {
			return err
		}
		ancestor, fresh, err := j.ancestor(ctx, q, accepted, way)
		if err != nil {
			return err
		}
		done.Ancestor, done.Accepted = ancestor, len(fresh)
		if done.Superseded, err = j.supersede(ctx, q, now, ancestor, accepted); err != nil {
			return err
		}
		head := ancestor
		for _, e := range fresh {
			if head, err = j.insert(ctx, q, head, e); err != nil {
				return err
			}
		}
		if accepted.Device != j.device.Name {
			return j.followSegments(ctx, q, ancestor, way)
		}
		done.Again, err = j.again(ctx, q, head, done.Superseded)
		return err
	})
	if err != nil {
		return Rewritten{}, err
	}
	return done, nil
}

// piece is a segment as far as it is part of a history: what comes after may be of another one.
type piece struct {
	chain.Segment
	to chain.Head
}

// path picks, of many segments, those that lead to a head, from the last back to the first that it can reach. Chain
// heads stand for all before them, so of several that hold the same head the one that begins earliest is as good as
// any, but one that ends there is better than one that goes on.
func path(to chain.Head, segs []chain.Segment) ([]piece, error) {
	holder := map[chain.Head]chain.Segment{}
	for _, s := range segs {
		if s.Before.Device != to.Device {
			continue
		}
		at := s.Before
		for _, e := range s.Events {
			at.Seq, at.Chain = e.Seq, at.Chain.Next(e.Bytes())
			was, ok := holder[at]
			switch ends := s.After == at; {
			case !ok, ends && was.After != at, ends == (was.After == at) && s.Before.Seq < was.Before.Seq:
				holder[at] = s
			}
		}
	}
	var way []piece
	for to.Seq > 0 {
		s, ok := holder[to]
		if !ok {
			break
		}
		way = append(way, piece{s, to})
		to = s.Before
	}
	if len(way) == 0 && to.Seq > 0 {
		return nil, ErrNoPath
	}
	slices.Reverse(way)
	return way, nil
}

// ancestor finds the last event that what is held shares with the accepted history, and that history's events after it.
func (j *Journal) ancestor(ctx context.Context, q *sql.Conn, accepted chain.Head, way []piece) (chain.Head,
	[]event.Event, error,
) {
	at := j.root(accepted.Device)
	if len(way) > 0 {
		at = way[0].Before
	}
	if here, ok, err := j.headAt(ctx, q, at.Device, at.Seq); err != nil {
		return chain.Head{}, nil, err
	} else if !ok || here != at {
		return chain.Head{}, nil, ErrNoPath
	}
	ancestor, shared := at, true
	var fresh []event.Event
	for _, s := range way {
		for _, e := range s.Events {
			if e.Seq <= at.Seq || e.Seq > s.to.Seq { // an overlap, or past what is of this history
				continue
			}
			at.Seq, at.Chain = e.Seq, at.Chain.Next(e.Bytes())
			if shared {
				here, ok, err := j.headAt(ctx, q, at.Device, at.Seq)
				if err != nil {
					return chain.Head{}, nil, err
				}
				if ok && here == at {
					ancestor = at
					continue
				}
				shared = false
			}
			fresh = append(fresh, e)
		}
	}
	if at != accepted {
		return chain.Head{}, nil, ErrNoPath
	}
	return ancestor, fresh, nil
}

// supersede puts what is held of a device after the ancestor out of force.
func (j *Journal) supersede(ctx context.Context, q *sql.Conn, now time.Time, ancestor,
	accepted chain.Head,
) ([]event.Event, error) {
	device, after := string(ancestor.Device), int64(ancestor.Seq)
	result, err := q.ExecContext(ctx, `insert into rewrite (at_ms, device, ancestor, accepted) values (?, ?, ?, ?)`,
		now.UnixMilli(), device, after, int64(accepted.Seq))
	if err != nil {
		return nil, err
	}
	rewrite, err := result.LastInsertId()
	if err != nil {
		return nil, err
	}
	events, err := j.own(ctx, q, device, after)
	if err != nil {
		return nil, err
	}
	for _, statement := range []string{
		// The same event may be put out of force twice, where a server took one history back and then the other.
		`insert or ignore into superseded (rewrite, device, seq, chain, raw)
			select ?3, device, seq, chain, raw from event where device = ?1 and seq > ?2 order by seq`,
		`delete from event where device = ?1 and seq > ?2 and ?3 > 0`,
		`insert into superseded_segment (rewrite, device, first, last, raw)
			select ?3, device, first, last, raw from segment where device = ?1 and last > ?2`,
		`delete from segment where device = ?1 and last > ?2 and ?3 > 0`,
	} {
		if _, err := q.ExecContext(ctx, statement, device, after, rewrite); err != nil {
			return nil, err
		}
	}
	return events, nil
}

// own gives the events of one device after a seq.
func (j *Journal) own(ctx context.Context, q *sql.Conn, device string, after int64) ([]event.Event, error) {
	rows, err := q.QueryContext(ctx, `select seq, raw from event where device = ? and seq > ? order by seq`, device,
		after)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var events []event.Event
	for rows.Next() {
		var seq int64
		var raw []byte
		if err := j.scan(rows, &seq, &raw); err != nil {
			return nil, err
		}
		e, err := event.Read(raw)
		if err != nil {
			return nil, j.damaged("event %s/%d: %v", device, seq, err)
		}
		events = append(events, e)
	}
	return events, rows.Err()
}

// followSegments keeps the way's segments for carrying on, without a hole to those that are still in force.
func (j *Journal) followSegments(ctx context.Context, q *sql.Conn, ancestor chain.Head, way []piece) error {
	var covered int64
	if err := j.scan(j.row(ctx, q, `select coalesce(max(last), 0) from segment where device = ?`,
		string(ancestor.Device)), &covered); err != nil {
		return err
	}
	for _, s := range way {
		switch {
		case int64(s.to.Seq) <= covered:
			continue
		case int64(s.Before.Seq) > covered, s.After != s.to:
			// what goes on, perhaps in another history, cannot be carried; the one that ends there comes
			return ErrNoPath
		}
		if err := j.keepSegment(ctx, q, s.Segment); err != nil {
			return err
		}
		covered = int64(s.After.Seq)
	}
	return nil
}

// again writes events of this device on top of head, but those that are in force already, as they were or written again
// by another copy of this device.
func (j *Journal) again(ctx context.Context, q *sql.Conn, head chain.Head, elsewhere []event.Event) ([]event.Event,
	error,
) {
	held, err := j.own(ctx, q, string(head.Device), 0)
	if err != nil {
		return nil, err
	}
	stands := map[event.Hash]bool{}
	for _, e := range held {
		stands[e.Origin()] = true
	}
	var written []event.Event
	for _, e := range elsewhere {
		if stands[e.Origin()] {
			continue
		}
		stands[e.Origin()] = true
		fresh, err := e.Again(head.Seq + 1)
		if err != nil {
			return nil, err
		}
		if head, err = j.insert(ctx, q, head, fresh); err != nil {
			return nil, err
		}
		written = append(written, fresh)
	}
	return written, nil
}
