// Package store is a server's data folder: which site it is, the archive of its log, what contradicted the log, the
// lock that keeps a second server out, and backups.
//
// What Append has returned for is flushed, and a power cut costs nothing of it; any other damage is reported and left
// as it lies. A backup is a data folder itself. It judges no segment and knows neither stream nor fold; the form of the
// files is internal/archive's.
//
// Start at Open; the archive is in archive.go, backups and their verification in backup.go.
//
// # Decisions
//
// The archive is a framed file where a device's journal is SQLite: one process writes it, it is only appended to, and
// a copy of it is a backup.
package store

import (
	"errors"
	"io"
	"path/filepath"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

// Folder is a data folder, open and locked. Safe for several goroutines.
type Folder struct {
	Identity

	dir     string
	lock    io.Closer
	archive *archive
	forks   *forks
	backups lastBackup
}

// Open takes a data folder, or makes one; site is its name at the first start, and may be empty. It gives what of the
// archive cannot be read. flush is how the archive's files are flushed; the system's own way if nil.
func Open(dir, site string, flush func(File) error) (*Folder, []Damage, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, nil, fault.OfFile(dir, err)
	}
	if err := MakeFolder(dir); err != nil {
		return nil, nil, fault.OfFile(dir, err)
	}
	lock, err := Lock(dir)
	if err != nil {
		return nil, nil, err
	}
	f := &Folder{dir: dir, lock: lock}
	hurt, err := f.open(site)
	if err != nil {
		return nil, nil, errors.Join(err, lock.Close())
	}
	if flush != nil {
		f.archive.flush = flush
	}
	return f, hurt, nil
}

func (f *Folder) open(site string) (hurt []Damage, err error) {
	if f.Identity, err = openIdentity(f.dir, site); err != nil {
		return nil, err
	}
	if f.archive, hurt, err = openArchive(filepath.Join(f.dir, archiveDir), f.Header()); err != nil {
		return nil, err
	}
	if f.forks, err = openForks(filepath.Join(f.dir, forksDir), f.Header()); err != nil {
		return nil, errors.Join(err, f.archive.close())
	}
	return hurt, nil
}

// Dir returns the folder's path.
func (f *Folder) Dir() string { return f.dir }

// Close releases the folder for other processes.
func (f *Folder) Close() error { return errors.Join(f.archive.close(), f.lock.Close()) }

// Append adds segments to the archive and returns once they are flushed. After an error nothing of them counts, and
// nobody knows what the disk holds: the caller must end, and open the folder again.
func (f *Folder) Append(segments ...[]byte) error { return f.archive.append(segments...) }

// Each hands on the segments in the order in which they were archived, up to what is flushed now. What cannot be read
// is left out; Open reported it.
func (f *Folder) Each(do func(raw []byte) error) error { return f.archive.each(do) }

// Size returns how many bytes the archive and the segments that were set aside take.
func (f *Folder) Size() (int64, error) {
	var size int64
	for _, name := range []string{archiveDir, forksDir} {
		dir := filepath.Join(f.dir, name)
		entries, err := ReadDir(dir)
		if err != nil {
			return 0, fault.OfFile(dir, err)
		}
		for _, e := range entries {
			if info, err := e.Info(); err == nil { // a file that was being written has got its name meanwhile
				size += info.Size()
			}
		}
	}
	return size, nil
}

// SetAside keeps a segment that contradicts the log; isNew says that it was not kept before.
func (f *Folder) SetAside(s chain.Segment) (isNew bool, err error) { return f.forks.keep(s) }

// Orphans are what was set aside of the server's own events and carries its signature: whoever can write the folder but
// has no key must not get anything signed by putting it there.
func (f *Folder) Orphans() []event.Event { return f.forks.own() }
