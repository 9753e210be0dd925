package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	portable "hod/internal/archive"
	"hod/server/fault"
)

// The form of an archive's files is that of internal/archive: the last is open, those before it are closed.
const (
	archiveEnding = ".hodlog"

	// rollAt is the size at which a file is closed and the next begun: small enough to be read whole and carried on a
	// stick.
	rollAt = 8 << 20
)

// archive is the verified log on this server's disk, append-only. It is not safe for several goroutines; Folder locks
// it.
type archive struct {
	dir  string
	head portable.Header
	disk disk

	mu     sync.Mutex
	files  []string // names, oldest first
	out    File     // the last of them; nil before the first entry
	size   int64    // of the last, all of it flushed
	closed bool     // nothing may be added to the last
	roll   int64
	flush  func(File) error // a test stands in for a disk that fails
}

// Damage is a stretch of a file that holds no entry that can be read.
type Damage struct {
	File string
	From int
	Size int
	Torn bool // it is the end of the last file, as a power cut leaves it, and was cut off
}

// openArchive makes the folder if it is missing, and mends what a power cut left: an unfinished entry at the very end.
// Any other damage is reported and left as it lies.
func openArchive(dir string, head portable.Header) (*archive, []Damage, error) {
	return openArchiveOn(system{}, dir, head)
}

func openArchiveOn(d disk, dir string, head portable.Header) (*archive, []Damage, error) {
	if err := makeFolder(d, dir); err != nil {
		return nil, nil, fault.OfFile(dir, err)
	}
	entries, err := d.names(dir)
	if err != nil {
		return nil, nil, fault.OfFile(dir, err)
	}
	a := &archive{dir: dir, head: head, disk: d, roll: rollAt, flush: File.Sync}
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), archiveEnding) {
			a.files = append(a.files, e.Name())
		}
	}
	slices.Sort(a.files)
	var found []Damage
	for i, name := range a.files {
		hurt, closed, err := a.inspect(name, i == len(a.files)-1)
		if err != nil {
			return nil, nil, err
		}
		a.closed = closed // that of the last stays
		found = append(found, hurt...)
	}
	if len(a.files) == 0 {
		return a, nil, nil
	}
	path := filepath.Join(dir, a.files[len(a.files)-1])
	if a.out, err = d.extend(path); err != nil {
		return nil, nil, fault.OfFile(path, err)
	}
	info, err := a.out.Stat()
	if err != nil {
		return nil, nil, errors.Join(fault.OfFile(path, err), a.out.Close())
	}
	a.size = info.Size()
	return a, found, nil
}

// inspect checks one file of the archive. last says that it is the newest, whose end a power cut may have torn.
func (a *archive) inspect(name string, last bool) (found []Damage, closed bool, err error) {
	path := filepath.Join(a.dir, name)
	data, err := a.disk.read(path)
	if err != nil {
		return nil, false, fault.OfFile(path, err)
	}
	head, _, unreadable := portable.ReadHeader(bytes.NewReader(data))
	if fresh := a.head.Bytes(); unreadable != nil && last && len(data) < len(fresh) {
		// The power went while the file was begun: it holds no entry yet.
		if err := replaceOn(a.disk, path, fresh); err != nil {
			return nil, false, err
		}
		return []Damage{{name, 0, len(data), true}}, false, nil
	}
	if unreadable != nil || head.Site != a.head.Site || head.RootKey != nil && !head.RootKey.Equal(a.head.RootKey) {
		return nil, false, fault.New(fault.Disk, unreadable,
			"%s is not of the archive of site %q, or its beginning is damaged: take it from a backup, or move it away and let the devices bring back what it held", path, a.head.Site)
	}
	closing, err := scan(data, func([]byte) error { return nil }, func(from, size int) {
		found = append(found, Damage{File: name, From: from, Size: size})
	})
	if err != nil {
		return nil, false, err
	}
	if closing != nil && !closing.Sound {
		found = append(found, Damage{File: name, From: len(data) - len(closing.Digest), Size: len(closing.Digest)})
	}
	if n := len(found); last && closing == nil && n > 0 && found[n-1].From+found[n-1].Size == len(data) {
		found[n-1].Torn = true
		if err := a.cut(path, int64(found[n-1].From)); err != nil {
			return nil, false, fault.OfFile(path, err)
		}
	}
	return found, closing != nil, nil
}

func (a *archive) cut(path string, size int64) error {
	f, err := a.disk.extend(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Truncate(size), f.Sync(), f.Close())
}

// append adds segments and returns once they are flushed. After an error none of them counts. A failed flush leaves
// unknown what the disk holds, so the caller must stop and open the archive again.
func (a *archive) append(segments ...[]byte) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	for len(segments) > 0 {
		if a.out == nil || a.closed || a.size >= a.roll {
			if err := a.begin(); err != nil {
				return err
			}
		}
		var b []byte
		for len(segments) > 0 && a.size+int64(len(b)) < a.roll {
			b = portable.AppendEntry(b, segments[0])
			segments = segments[1:]
		}
		_, err := a.out.Write(b)
		if err == nil {
			err = a.flush(a.out)
		}
		if err != nil {
			_ = a.out.Truncate(a.size) // what stays of it is found and cut off when the archive is next opened
			return fault.OfFile(a.out.Name(), err)
		}
		a.size += int64(len(b))
	}
	return nil
}

// begin closes the last file and starts the next.
func (a *archive) begin() error {
	if err := a.finish(); err != nil {
		return err
	}
	name := fmt.Sprintf("%06d%s", len(a.files)+1, archiveEnding)
	if n := len(a.files); n > 0 {
		var last int
		if _, err := fmt.Sscanf(a.files[n-1], "%06d", &last); err == nil {
			name = fmt.Sprintf("%06d%s", last+1, archiveEnding)
		}
	}
	path := filepath.Join(a.dir, name)
	head := a.head.Bytes()
	if err := replaceOn(a.disk, path, head); err != nil {
		return err
	}
	out, err := a.disk.extend(path)
	if err != nil {
		return fault.OfFile(path, err)
	}
	if a.out != nil {
		if err := a.out.Close(); err != nil {
			return errors.Join(fault.OfFile(a.out.Name(), err), out.Close())
		}
	}
	a.files, a.out, a.size, a.closed = append(a.files, name), out, int64(len(head)), false
	return nil
}

// finish closes the last file with its index and digest. One in which not all can be read stays without: what is
// damaged was reported, and a digest over it would call it sound.
func (a *archive) finish() error {
	if a.out == nil || a.closed {
		return nil
	}
	path := a.out.Name()
	data, err := a.disk.read(path)
	if err != nil {
		return fault.OfFile(path, err)
	}
	closing, err := portable.Close(bytes.NewReader(data))
	if errors.Is(err, portable.ErrNotSound) {
		return nil
	} else if err != nil {
		return fmt.Errorf("close %s: %w", path, err)
	}
	_, err = a.out.Write(closing)
	if err == nil {
		err = a.flush(a.out)
	}
	if err != nil {
		_ = a.out.Truncate(a.size) // what stays of it is found and cut off when the archive is next opened
		return fault.OfFile(path, err)
	}
	a.size, a.closed = a.size+int64(len(closing)), true
	return nil
}

// each calls back with each segment, in the order in which they were archived, up to what is flushed now. It skips what
// cannot be read, which was reported when the archive was opened.
func (a *archive) each(do func(raw []byte) error) error {
	a.mu.Lock()
	files, size := slices.Clone(a.files), a.size
	a.mu.Unlock()
	for i, name := range files {
		path := filepath.Join(a.dir, name)
		data, err := a.disk.read(path)
		if err != nil {
			return fault.OfFile(path, err)
		}
		if i == len(files)-1 {
			data = data[:min(int64(len(data)), size)]
		}
		if _, err := scan(data, do, func(int, int) {}); err != nil {
			return err
		}
	}
	return nil
}

func (a *archive) close() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.out == nil {
		return nil
	}
	err := a.out.Close()
	a.out = nil
	return fault.OfFile(a.dir, err)
}

// scan hands on the entries of a file, and where bytes lie that are none; a file whose header cannot be read is all of
// it damage. It gives the closing of a file that has one.
func scan(data []byte, do func(raw []byte) error, hurt func(from, size int)) (*portable.Closing, error) {
	_, r, err := portable.NewReader(bytes.NewReader(data))
	if err != nil {
		if len(data) > 0 {
			hurt(0, len(data))
		}
		return nil, nil //nolint:nilerr // hurt was told
	}
	var closing *portable.Closing
	for {
		p, err := r.Next()
		switch {
		case errors.Is(err, io.EOF):
			return closing, nil
		case err != nil:
			return closing, err
		case p.Segment != nil:
			if err := do(p.Segment); err != nil {
				return closing, err
			}
		case p.Closing != nil:
			closing = p.Closing
		default:
			hurt(int(p.At), int(p.Size))
		}
	}
}

// Records calls back with each segment in the archive of a data folder that is not open here.
func Records(dir string, do func(raw []byte) error) error {
	folder := filepath.Join(dir, archiveDir)
	names, err := filesIn(folder)
	if err != nil {
		return err
	}
	for _, name := range names {
		if !strings.HasSuffix(name, archiveEnding) {
			continue
		}
		data, err := ReadFile(filepath.Join(folder, name))
		if err == nil {
			_, err = scan(data, do, func(int, int) {})
		}
		if err != nil {
			return fault.OfFile(folder, err)
		}
	}
	return nil
}
