package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// migration brings a journal from one form to the next.
type migration struct {
	since string // the day from which programs know the form that it makes, as in 2027-03-01
	text  string // SQL, of one transaction
}

// migrations are in order: the first leads from form 1 to form 2. Forms only ever add to what there is: what stands in
// schema.go never changes.
var migrations []migration

// form is the one that this program writes.
func form() int { return schemaVersion + len(migrations) }

// needsKey holds, in the table meta of a form above 1, the day from which programs know it.
const needsKey = "needs"

// complete adds what the first journals of form 1 lack; the programs that made them read it all the same.
func (j *Journal) complete(ctx context.Context) error {
	const has = `select exists (select 1 from sqlite_master where type = 'table' and name = 'elsewhere')`
	var there bool
	if err := j.scan(j.conn.QueryRowContext(ctx, has), &there); err != nil || there {
		return j.fail(err)
	}
	return j.write(ctx, func(q *sql.Conn) error {
		if err := j.scan(q.QueryRowContext(ctx, has), &there); err != nil || there {
			return err // another process was first
		}
		_, err := q.ExecContext(ctx, elsewhereTable)
		return err
	})
}

// newer is the error for a journal of a form that this program does not know. It names what would.
func (j *Journal) newer(ctx context.Context, version int) error {
	needs := "use the newer program"
	var day []byte
	if err := j.conn.QueryRowContext(ctx, `select value from meta where key = ?`, needsKey).Scan(&day); err == nil &&
		len(day) > 0 {
		needs = fmt.Sprintf("it needs a hod of %.20s or later", day)
	}
	return &Error{
		Kind: Newer,
		Msg: fmt.Sprintf("the journal in %s was made by a newer hod (its form is %d, this program knows up to %d): %s",
			j.dir, version, form(), needs),
	}
}

// migrate brings a journal of an earlier form to this program's. A whole copy of it as it was is on the disk, flushed,
// before anything is changed; it stays.
func (j *Journal) migrate(ctx context.Context, version int) error {
	path := filepath.Join(j.dir, fmt.Sprintf("%s-form%d", dbFile, version))
	if err := os.Remove(path + ".new"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fileError(j.dir, err)
	}
	if _, err := j.conn.ExecContext(ctx, `vacuum into ?`, path+".new"); err != nil {
		return j.fail(fmt.Errorf("copy the journal before its form is changed: %w", err))
	}
	private(path + ".new")
	if err := errors.Join(flushFile(path+".new"), os.Rename(path+".new", path), flush(j.dir)); err != nil {
		return fileError(j.dir, err)
	}
	return j.write(ctx, func(q *sql.Conn) error {
		var now int
		if err := j.scan(q.QueryRowContext(ctx, `pragma user_version`), &now); err != nil || now != version {
			return err // another process was first
		}
		for ; now < form(); now++ {
			m := migrations[now-schemaVersion]
			if _, err := q.ExecContext(ctx, m.text); err != nil {
				return err
			}
			if _, err := q.ExecContext(ctx, `insert or replace into meta (key, value) values (?, ?)`, needsKey,
				[]byte(m.since)); err != nil {
				return err
			}
		}
		_, err := q.ExecContext(ctx, fmt.Sprintf(`pragma user_version = %d`, now))
		return err
	})
}

func flushFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
