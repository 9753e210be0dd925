package journal

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"modernc.org/sqlite"
)

// Backup copies the record, as it stands now, into a new file, flushed; others may write meanwhile. A file that is there
// already is refused. The device's key is not in it: who holds a backup can read the record, not write as the device.
//
// To restore, put the file in the place of journal.db, without the -wal, -shm and -kept files beside it. The next contact finds
// that the server knows more, and mends it.
func (j *Journal) Backup(ctx context.Context, file string) error {
	if _, err := os.Lstat(file); err == nil {
		return &Error{Kind: Exists, Msg: fmt.Sprintf("%s is there already; it was left as it is: name a new file", file)}
	}
	part := file + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fileError(filepath.Dir(file), err)
	}
	if err := j.copyTo(ctx, part); err != nil {
		return errors.Join(err, os.Remove(part))
	}
	if err := os.Rename(part, file); err != nil {
		return fileError(filepath.Dir(file), err)
	}
	if err := flush(filepath.Dir(file)); err != nil {
		return fileError(filepath.Dir(file), err)
	}
	return nil
}

func (j *Journal) copyTo(ctx context.Context, part string) error {
	f, err := os.OpenFile(part, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fileError(filepath.Dir(part), err)
	}
	if err := errors.Join(j.copyPages(ctx, part), f.Sync(), f.Close()); err != nil {
		return j.fail(err)
	}
	return nil
}

func (j *Journal) copyPages(ctx context.Context, part string) error {
	select {
	case j.turn <- struct{}{}:
		defer func() { <-j.turn }()
	case <-ctx.Done():
		return ctx.Err()
	}
	return j.conn.Raw(func(conn any) error {
		source, ok := conn.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		})
		if !ok {
			return fmt.Errorf("this build's SQLite driver cannot copy a journal")
		}
		backup, err := source.NewBackup(address(part, "rw"))
		if err != nil {
			return err
		}
		_, err = backup.Step(-1)
		return errors.Join(err, backup.Finish())
	})
}

// Copy is the record as it stands now, in memory and with its key: what a copied phone holds, or one restored from a backup.
func (j *Journal) Copy() (*Journal, error) {
	j.turn <- struct{}{}
	defer func() { <-j.turn }()
	to, err := connect("memory", memory)
	if err != nil {
		return nil, err
	}
	err = j.conn.Raw(func(from any) error {
		return to.conn.Raw(func(into any) error {
			source, ok := from.(interface{ Serialize() ([]byte, error) })
			target, fits := into.(interface{ Deserialize([]byte) error })
			if !ok || !fits {
				return fmt.Errorf("this build's SQLite driver cannot copy a journal")
			}
			pages, err := source.Serialize()
			if err != nil {
				return err
			}
			return target.Deserialize(pages)
		})
	})
	if err != nil {
		return nil, errors.Join(j.fail(err), to.Close())
	}
	to.device = j.device
	return to, nil
}
