package store

import (
	"crypto/sha256"
	"errors"
	"path/filepath"
	"strings"
	"sync"

	portable "hod/internal/archive"
	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

// mostForked is the most bytes that are set aside of one device.
const mostForked = 8 << 20

// forks are the segments that contradict the log, one file a device in the form of the archive. Nothing reads them
// but a person who has to find out what happened, and the server where they are its own.
type forks struct {
	dir  string
	head portable.Header

	mu   sync.Mutex
	seen map[event.Hash]bool
	size map[event.Device]int64
}

func openForks(dir string, head portable.Header) (*forks, error) {
	if err := MakeFolder(dir); err != nil {
		return nil, fault.OfFile(dir, err)
	}
	entries, err := ReadDir(dir)
	if err != nil {
		return nil, fault.OfFile(dir, err)
	}
	f := &forks{dir: dir, head: head, seen: map[event.Hash]bool{}, size: map[event.Device]int64{}}
	for _, e := range entries {
		name, ok := strings.CutSuffix(e.Name(), archiveEnding)
		if !ok {
			continue
		}
		path := filepath.Join(dir, e.Name())
		data, err := ReadFile(path)
		if err != nil {
			return nil, fault.OfFile(path, err)
		}
		f.size[event.Device(name)] = int64(len(data))
		_, _ = scan(data, func(raw []byte) error {
			f.seen[sha256.Sum256(raw)] = true
			return nil
		}, func(int, int) {}) // what cannot be read is written again when it is next offered
	}
	return f, nil
}

// keep stores a segment; isNew reports that it was not stored before.
func (f *forks) keep(s chain.Segment) (isNew bool, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	d, sum := s.Before.Device, event.Hash(sha256.Sum256(s.Bytes()))
	if err := bus.CheckDevice(d); err != nil {
		return false, err
	}
	if f.seen[sum] || f.size[d] > mostForked {
		return false, nil
	}
	path := filepath.Join(f.dir, string(d)+archiveEnding)
	out, err := system{}.extendOrBegin(path)
	if err != nil {
		return true, fault.OfFile(path, err)
	}
	var b []byte
	if f.size[d] == 0 {
		b = f.head.Bytes()
	}
	b = portable.AppendEntry(b, s.Bytes())
	_, err = out.Write(b)
	err = errors.Join(err, out.Sync())
	if err == nil && f.size[d] == 0 {
		err = system{}.flushNames(f.dir) // its name is new
	}
	if err != nil { // it is written again when it is next offered, and half of it before that would be read as damage
		err = errors.Join(err, out.Truncate(f.size[d]))
	}
	err = errors.Join(err, out.Close())
	if err != nil {
		return true, fault.OfFile(path, err)
	}
	f.seen[sum] = true
	f.size[d] += int64(len(b))
	return true, nil
}

// own is for Orphans.
func (f *forks) own() (events []event.Event) {
	data, err := ReadFile(filepath.Join(f.dir, string(f.head.Root)+archiveEnding))
	if err != nil {
		return nil // nothing was
	}
	_, _ = scan(data, func(raw []byte) error {
		if s, err := chain.ReadSegment(raw); err == nil && s.Site == f.head.Site && s.Before.Device == f.head.Root &&
			s.Verify(f.head.RootKey) == nil {
			events = append(events, s.Events...)
		}
		return nil
	}, func(int, int) {}) // what cannot be read is offered again
	return events
}
