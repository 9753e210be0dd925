package host

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"hod/internal/event"
)

// The form of an archive's files: a header, then records to the end.
//
//	header  "hodlog" | version, 2 bytes | length of the site's name, 2 bytes | site | CRC-32C of all before, 4 bytes
//	record  length of the segment, 4 bytes | CRC-32C of the length and the segment, 4 bytes | segment as it was signed
//
// Numbers are little-endian. The checksum takes in the length, so that a page of zeros is no record.
const (
	archiveMagic   = "hodlog"
	archiveVersion = 1
	archiveEnding  = ".hodlog"
	recordHead     = 8

	// rollAt is the size at which a file is closed and the next begun: small enough to be read whole and carried on a stick.
	rollAt = 8 << 20
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// archive is the verified log on this server's own disk, append-only.
type archive struct {
	dir  string
	site string

	mu    sync.Mutex
	files []string // names, oldest first
	out   *os.File // the last of them; nil before the first record
	size  int64    // of the last, all of it flushed
	roll  int64
	flush func(*os.File) error // a test stands in for a disk that fails
}

// damage is a stretch of a file that holds no record that can be read.
type damage struct {
	file string
	from int
	size int
	torn bool // it is the end of the last file, as a power cut leaves it, and was cut off
}

// openArchive makes the folder if it is missing, and mends what a power cut left: an unfinished record at the very end.
// Any other damage is reported and left as it lies.
func openArchive(dir, site string) (*archive, []damage, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, nil, diskError(dir, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, nil, diskError(dir, err)
	}
	a := &archive{dir: dir, site: site, roll: rollAt, flush: (*os.File).Sync}
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), archiveEnding) {
			a.files = append(a.files, e.Name())
		}
	}
	slices.Sort(a.files)
	var found []damage
	for i, name := range a.files {
		hurt, err := a.inspect(name, i == len(a.files)-1)
		if err != nil {
			return nil, nil, err
		}
		found = append(found, hurt...)
	}
	if len(a.files) == 0 {
		return a, nil, nil
	}
	path := filepath.Join(dir, a.files[len(a.files)-1])
	if a.out, err = os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600); err != nil {
		return nil, nil, diskError(path, err)
	}
	info, err := a.out.Stat()
	if err != nil {
		return nil, nil, errors.Join(diskError(path, err), a.out.Close())
	}
	a.size = info.Size()
	return a, found, nil
}

// inspect one file; last says that nothing comes after it.
func (a *archive) inspect(name string, last bool) ([]damage, error) {
	path := filepath.Join(a.dir, name)
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, diskError(path, err)
	}
	head := headerOf(a.site)
	if last && len(data) < len(head) {
		// The power went while the file was begun: it holds no record yet.
		if err := replaceFile(path, head); err != nil {
			return nil, err
		}
		return []damage{{name, 0, len(data), true}}, nil
	}
	if !bytes.HasPrefix(data, head) {
		return nil, fail(Disk, nil, "%s is not of the archive of site %q, or its beginning is damaged: take it from a backup, or move it away and let the devices bring back what it held", path, a.site)
	}
	var found []damage
	if err := scan(data, len(head), func([]byte) error { return nil }, func(from, size int) {
		found = append(found, damage{file: name, from: from, size: size})
	}); err != nil {
		return nil, err
	}
	if n := len(found); last && n > 0 && found[n-1].from+found[n-1].size == len(data) {
		found[n-1].torn = true
		if err := cutFile(path, int64(found[n-1].from)); err != nil {
			return nil, diskError(path, err)
		}
	}
	return found, nil
}

func cutFile(path string, size int64) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	return errors.Join(f.Truncate(size), f.Sync(), f.Close())
}

// append adds segments and returns once they are flushed. After an error nothing of them counts: a flush that failed
// leaves open what lies on the disk, so the one who called must end, and read the archive again.
func (a *archive) append(segments ...[]byte) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	for len(segments) > 0 {
		if a.out == nil || a.size >= a.roll {
			if err := a.begin(); err != nil {
				return err
			}
		}
		var b []byte
		for len(segments) > 0 && a.size+int64(len(b)) < a.roll {
			b = appendRecord(b, segments[0])
			segments = segments[1:]
		}
		_, err := a.out.Write(b)
		if err == nil {
			err = a.flush(a.out)
		}
		if err != nil {
			_ = a.out.Truncate(a.size) // what stays of it is found and cut off when the archive is next opened
			return diskError(a.out.Name(), err)
		}
		a.size += int64(len(b))
	}
	return nil
}

// begin the next file.
func (a *archive) begin() error {
	name := fmt.Sprintf("%06d%s", len(a.files)+1, archiveEnding)
	if n := len(a.files); n > 0 {
		var last int
		if _, err := fmt.Sscanf(a.files[n-1], "%06d", &last); err == nil {
			name = fmt.Sprintf("%06d%s", last+1, archiveEnding)
		}
	}
	path := filepath.Join(a.dir, name)
	head := headerOf(a.site)
	if err := replaceFile(path, head); err != nil {
		return err
	}
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return diskError(path, err)
	}
	if a.out != nil {
		if err := a.out.Close(); err != nil {
			return errors.Join(diskError(a.out.Name(), err), out.Close())
		}
	}
	a.files, a.out, a.size = append(a.files, name), out, int64(len(head))
	return nil
}

// each hands on the segments in the order in which they were archived, up to what is flushed now. What cannot be read is
// left out; opening the archive reported it.
func (a *archive) each(do func(raw []byte) error) error {
	a.mu.Lock()
	files, size := slices.Clone(a.files), a.size
	a.mu.Unlock()
	for i, name := range files {
		path := filepath.Join(a.dir, name)
		data, err := os.ReadFile(path)
		if err != nil {
			return diskError(path, err)
		}
		if i == len(files)-1 {
			data = data[:min(int64(len(data)), size)]
		}
		if err := scan(data, min(len(headerOf(a.site)), len(data)), do, func(int, int) {}); err != nil {
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
	return diskError(a.dir, err)
}

func headerOf(site string) []byte {
	b := append([]byte(archiveMagic), 0, 0)
	binary.LittleEndian.PutUint16(b[len(archiveMagic):], archiveVersion)
	b = binary.LittleEndian.AppendUint16(b, uint16(len(site)))
	b = append(b, site...)
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli))
}

func appendRecord(b, segment []byte) []byte {
	length := binary.LittleEndian.AppendUint32(nil, uint32(len(segment)))
	sum := crc32.Update(crc32.Checksum(length, castagnoli), castagnoli, segment)
	b = append(b, length...)
	b = binary.LittleEndian.AppendUint32(b, sum)
	return append(b, segment...)
}

// scan hands on the records of a file, and where bytes lie that are none. After damage it looks for the next record at
// every byte, so that one flipped bit costs one segment.
func scan(data []byte, from int, do func(raw []byte) error, hurt func(from, size int)) error {
	bad := -1
	for at := from; at < len(data); {
		raw, ok := recordAt(data[at:])
		if !ok {
			if bad < 0 {
				bad = at
			}
			at++
			continue
		}
		if bad >= 0 {
			hurt(bad, at-bad)
			bad = -1
		}
		if err := do(raw); err != nil {
			return err
		}
		at += recordHead + len(raw)
	}
	if bad >= 0 {
		hurt(bad, len(data)-bad)
	}
	return nil
}

func recordAt(data []byte) ([]byte, bool) {
	if len(data) < recordHead {
		return nil, false
	}
	n := binary.LittleEndian.Uint32(data)
	if n == 0 || n > event.MaxSegmentBytes || int(n) > len(data)-recordHead {
		return nil, false
	}
	raw := data[recordHead : recordHead+int(n)]
	sum := crc32.Update(crc32.Checksum(data[:4], castagnoli), castagnoli, raw)
	return raw, sum == binary.LittleEndian.Uint32(data[4:])
}
