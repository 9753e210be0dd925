package journal

import (
	"context"
	"database/sql"
	"fmt"

	"hod/internal/chain"
	"hod/internal/event"
)

// Verified says what Verify looked at and what it found wrong, in sentences; no faults: all is as it was written.
type Verified struct {
	Devices, Events, Segments, Superseded int
	Faults                                []string
}

// Verify reads every byte of the record: the tables' own structure, each device's chain from its first event, that each
// segment of others holds what is in force, and that what was superseded can still be read. It checks no signatures.
func (j *Journal) Verify(ctx context.Context) (Verified, error) {
	var v Verified
	err := j.read(ctx, func(q *sql.Conn) error {
		v = Verified{}
		found, err := texts(ctx, q, `pragma integrity_check(20)`)
		if err != nil {
			return err
		}
		for _, s := range found {
			if s != "ok" {
				v.fault("the file's structure: %s", s)
			}
		}
		if found, err = texts(ctx, q, `pragma foreign_key_check`); err != nil {
			return err
		}
		for range found {
			v.fault("a superseded event belongs to no rewrite")
		}
		if err := j.verifyEvents(ctx, q, &v); err != nil {
			return err
		}
		if err := j.verifySegments(ctx, q, &v); err != nil {
			return err
		}
		return j.verifySuperseded(ctx, q, &v)
	})
	return v, err
}

func (v *Verified) fault(format string, args ...any) {
	v.Faults = append(v.Faults, fmt.Sprintf(format, args...))
}

func (j *Journal) verifyEvents(ctx context.Context, q *sql.Conn, v *Verified) error {
	rows, err := q.QueryContext(ctx, `select device, seq, chain, raw from event order by device, seq`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var at chain.Head
	for rows.Next() {
		var r row
		if err := j.scan(rows, &r.device, &r.seq, &r.chain, &r.raw); err != nil {
			return err
		}
		if string(at.Device) != r.device {
			at = j.root(event.Device(r.device))
			v.Devices++
		}
		v.Events++
		if r.seq != int64(at.Seq)+1 {
			v.fault("the events of %q from %d to %d are missing", r.device, at.Seq+1, r.seq-1)
		} else {
			r.before = at.Chain[:]
			if _, err := j.decodeRow(r); err != nil {
				v.fault("event %s/%d does not match its chain", r.device, r.seq)
			}
		}
		at.Seq = uint64(r.seq)
		if len(r.chain) == len(at.Chain) {
			at.Chain = chain.Hash(r.chain)
		}
	}
	return rows.Err()
}

func (j *Journal) verifySegments(ctx context.Context, q *sql.Conn, v *Verified) error {
	rows, err := q.QueryContext(ctx, `select s.device, s.first, s.last, s.raw, e.chain from segment s
		left join event e on e.device = s.device and e.seq = s.last order by s.device, s.last`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var device string
		var from, to int64
		var raw, sum []byte
		if err := j.scan(rows, &device, &from, &to, &raw, &sum); err != nil {
			return err
		}
		v.Segments++
		s, err := chain.ReadSegment(raw)
		if err != nil {
			v.fault("the segment of %q from %d to %d: %v", device, from, to, err)
			continue
		}
		if string(s.Before.Device) != device || int64(s.First()) != from || int64(s.After.Seq) != to ||
			string(sum) != string(s.After.Chain[:]) {
			v.fault("the segment of %q from %d to %d does not hold the events that are in force", device, from, to)
		}
	}
	return rows.Err()
}

func (j *Journal) verifySuperseded(ctx context.Context, q *sql.Conn, v *Verified) error {
	rows, err := q.QueryContext(ctx, `select device, seq, raw from superseded order by device, seq`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var device string
		var seq int64
		var raw []byte
		if err := j.scan(rows, &device, &seq, &raw); err != nil {
			return err
		}
		v.Superseded++
		if e, err := event.Read(raw); err != nil || string(e.Device) != device || int64(e.Seq) != seq {
			v.fault("the superseded event %s/%d cannot be read", device, seq)
		}
	}
	return rows.Err()
}

func texts(ctx context.Context, q *sql.Conn, query string) ([]string, error) {
	rows, err := q.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	var found []string
	for rows.Next() {
		var s sql.NullString
		row := make([]any, len(columns))
		row[0] = &s
		for i := 1; i < len(row); i++ {
			row[i] = new(any)
		}
		if err := rows.Scan(row...); err != nil {
			return nil, err
		}
		found = append(found, s.String)
	}
	return found, rows.Err()
}
