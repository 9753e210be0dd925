package journal

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"

	"google.golang.org/protobuf/encoding/protowire"

	"hod/internal/chain"
	"hod/internal/event"
)

// Mark is how far a reader has come in the order in which events came here. The zero Mark is the start.
type Mark struct {
	rewrites int64
	row      int64
}

// ErrRewritten is returned when since a mark was taken a fork put events out of force: read the record anew, from
// Mark{}.
var ErrRewritten = errors.New(
	"the record was rewritten after a fork since this mark was taken; read it anew from the start")

// Events gives all that is held and in force, in the order in which it came here.
func (j *Journal) Events(ctx context.Context) ([]event.Event, error) {
	events, _, err := j.Since(ctx, Mark{})
	return events, err
}

// Counted is Events without what the site's own device excluded, which is not read from the disk at all: what a revoked
// device wrote without end costs nobody anything any more. A fold of it is that of all events.
func (j *Journal) Counted(ctx context.Context) ([]event.Event, error) {
	var kept []row
	err := j.read(ctx, func(q *sql.Conn) error {
		but, err := j.excluded(ctx, q)
		if err != nil {
			return err
		}
		if kept, err = j.rows(ctx, q, 0, but); err != nil {
			return err
		}
		return j.link(ctx, q, kept)
	})
	if err != nil {
		return nil, err
	}
	return j.decode(ctx, kept)
}

// excludes is how the field device_excluded of an event begins: what holds it nowhere is no exclusion.
var excludes = protowire.AppendTag(nil, 90, protowire.BytesType)

// excluded gives the first event that does not count, by device: by the last word of the site's own device, as the fold
// has it.
func (j *Journal) excluded(ctx context.Context, q *sql.Conn) (map[string]int64, error) {
	rows, err := j.ask(ctx, q, `select raw from event where device = ? order by seq`, string(j.device.Root))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	from := map[string]int64{}
	for rows.Next() {
		var raw sql.RawBytes
		if err := j.scan(rows, &raw); err != nil {
			return nil, err
		}
		if !bytes.Contains(raw, excludes) {
			continue
		}
		e, err := event.Read(bytes.Clone(raw))
		if err != nil {
			continue // it is told where it is read for what it says
		}
		if b, ok := e.Body.(event.DeviceExcluded); ok && b.Device != j.device.Root && e.Check() == nil {
			from[string(b.Device)] = int64(min(b.FromSeq, math.MaxInt64))
		}
	}
	maps.DeleteFunc(from, func(_ string, seq int64) bool { return seq == 0 })
	return from, rows.Err()
}

// Since gives what came after a mark, in the order in which it came here, and the mark for the next call. Each event is
// checked against its chain on the way, so that a byte changed on the disk is an Error of Kind Damaged and never a
// changed figure.
func (j *Journal) Since(ctx context.Context, since Mark) ([]event.Event, Mark, error) {
	var kept []row
	now := since
	err := j.read(ctx, func(q *sql.Conn) error {
		if err := j.scan(j.row(ctx, q, `select coalesce(max(id), 0) from rewrite`), &now.rewrites); err != nil {
			return err
		}
		if since.row > 0 && now.rewrites != since.rewrites {
			return ErrRewritten
		}
		var err error
		if kept, err = j.rows(ctx, q, since.row, nil); err != nil {
			return err
		}
		if len(kept) > 0 {
			now.row = kept[len(kept)-1].mark
		}
		return j.link(ctx, q, kept)
	})
	if err != nil {
		return nil, since, err
	}
	events, err := j.decode(ctx, kept)
	if err != nil {
		return nil, since, err
	}
	return events, now, nil
}

// row is an event as it lies in its table, and the chain before it.
type row struct {
	mark, seq     int64
	device        string
	before, chain []byte
	raw           []byte
}

// rows gives the events after a mark, but for those of some devices from a seq on.
func (j *Journal) rows(ctx context.Context, q *sql.Conn, after int64, but map[string]int64) ([]row, error) {
	where, args := ` from event where mark > ?`, []any{after}
	for _, d := range slices.Sorted(maps.Keys(but)) {
		where, args = where+` and not (device = ? and seq >= ?)`, append(args, d, but[d])
	}
	var n int
	if err := j.scan(j.row(ctx, q, `select count(*)`+where, args...), &n); err != nil {
		return nil, err
	}
	found, err := j.ask(ctx, q, `select mark, device, seq, chain, raw`+where+` order by mark`, args...)
	if err != nil {
		return nil, err
	}
	defer found.Close()
	kept := make([]row, 0, n)
	for found.Next() {
		var r row
		if err := j.scan(found, &r.mark, &r.device, &r.seq, &r.chain, &r.raw); err != nil {
			return nil, err
		}
		kept = append(kept, r)
	}
	return kept, found.Err()
}

// link finds the chain before each event: events of one device come here in order, so it is that of the row before.
func (j *Journal) link(ctx context.Context, q *sql.Conn, kept []row) error {
	type end struct {
		seq   int64
		chain []byte
	}
	ends := map[string]end{}
	for i := range kept {
		r := &kept[i]
		last, ok := ends[r.device]
		if !ok {
			h, held, err := j.headAt(ctx, q, event.Device(r.device), uint64(r.seq-1))
			if err != nil {
				return err
			}
			if held {
				last = end{r.seq - 1, h.Chain[:]}
			}
		}
		if last.seq != r.seq-1 || last.chain == nil {
			return j.damaged("the events of %q before %d are missing", r.device, r.seq)
		}
		r.before = last.chain
		ends[r.device] = end{r.seq, r.chain}
	}
	return nil
}

// decode reads and checks the rows on all cores.
func (j *Journal) decode(ctx context.Context, kept []row) ([]event.Event, error) {
	events := make([]event.Event, len(kept))
	workers := min(runtime.GOMAXPROCS(0), 1+len(kept)/512)
	failed := make([]error, workers)
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() {
			for i := w * len(kept) / workers; i < (w+1)*len(kept)/workers && failed[w] == nil; i++ {
				// whoever stops the command does not wait for the rest
				if failed[w] = context.Cause(ctx); failed[w] == nil {
					events[i], failed[w] = j.decodeRow(kept[i])
				}
			}
		})
	}
	wait.Wait()
	for _, err := range failed {
		if err != nil {
			return nil, err
		}
	}
	return events, nil
}

func (j *Journal) decodeRow(r row) (event.Event, error) {
	if len(r.before) != len(chain.Hash{}) || len(r.chain) != len(chain.Hash{}) ||
		chain.Hash(r.before).Next(r.raw) != chain.Hash(r.chain) {
		return event.Event{}, j.damaged("event %s/%d does not match its chain", r.device, r.seq)
	}
	e, err := event.Read(r.raw)
	if err != nil {
		return event.Event{}, j.damaged("event %s/%d: %v", r.device, r.seq, err)
	}
	if string(e.Device) != r.device || int64(e.Seq) != r.seq {
		return event.Event{}, j.damaged("event %s lies in the place of %s/%d", e.Name, r.device, r.seq)
	}
	return e, nil
}
