package journal

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Warning is that an edge has come to a stage on its way to turning cold.
type Warning struct {
	Edge  string // which, with the material that waits there: new material makes it another
	Stage string // closing, cold
}

// warnedFor is how long it is remembered what was warned of. No edge takes longer from one stage to the next.
const warnedFor = 14 * 24 * time.Hour

// WarnOnce remembers on this device that these warnings were given at an instant, and returns those that were not
// before: of several commands at once one gets each. The memory is no part of the record, and may be deleted at any
// time.
func (j *Journal) WarnOnce(ctx context.Context, at time.Time, warnings ...Warning) ([]Warning, error) {
	if len(warnings) == 0 {
		return nil, nil
	}
	if all, err := j.allWarned(ctx, warnings); err != nil || all {
		return nil, err
	}
	var fresh []Warning
	err := j.write(ctx, func(q *sql.Conn) error {
		fresh = nil
		if _, err := q.ExecContext(ctx, `create table if not exists warned (
			edge text not null, stage text not null, at_ms integer not null, primary key (edge, stage)) strict, without rowid`); err != nil {
			return err
		}
		if _, err := q.ExecContext(ctx, `delete from warned where at_ms < ?`,
			at.Add(-warnedFor).UnixMilli()); err != nil {
			return err
		}
		for _, w := range warnings {
			r, err := q.ExecContext(ctx, `insert or ignore into warned (edge, stage, at_ms) values (?, ?, ?)`, w.Edge,
				w.Stage, at.UnixMilli())
			if err != nil {
				return err
			}
			if n, err := r.RowsAffected(); err != nil {
				return err
			} else if n > 0 {
				fresh = append(fresh, w)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return fresh, nil
}

// allWarned says whether all of them were given before, without writing anything.
func (j *Journal) allWarned(ctx context.Context, warnings []Warning) (all bool, err error) {
	err = j.read(ctx, func(q *sql.Conn) error {
		var table string
		err := j.scan(q.QueryRowContext(ctx, `select name from sqlite_master where type = 'table' and name = 'warned'`),
			&table)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		for _, w := range warnings {
			var ms int64
			err := j.scan(q.QueryRowContext(ctx, `select at_ms from warned where edge = ? and stage = ?`, w.Edge,
				w.Stage), &ms)
			if errors.Is(err, sql.ErrNoRows) {
				return nil
			}
			if err != nil {
				return err
			}
		}
		all = true
		return nil
	})
	return all, err
}
