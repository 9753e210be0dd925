package sim_test

import (
	"context"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/rs/zerolog"

	portable "hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/host"
	"hod/server/host/hosttest"
	"hod/server/store"
)

// server is the production host, its folder, and a disk below its archive that fails and loses what was not flushed.
type server struct {
	w       *world
	dir     string
	host    *host.Host       // nil while it is down
	flushed map[string]int64 // how much of each file of the archive is on the disk for good
	disk    diskFault        // of the next flush
	steps   *hosttest.Steps  // its loop
	torn    map[string][]byte
	backups []map[string][]byte

	// What the judge reads from the files, never from the host's memory.
	parsed map[string]int64
	chains map[chain.Head]bool
	facts  map[event.Hash]int
	bad    []event.Hash // events in it that must not stand
	events int
}

type diskFault int

const (
	sound diskFault = iota
	full            // the flush is refused
	power           // the power goes while it is under way
)

var errPower = errors.New("the power went")

func (s *server) flush(f store.File) error {
	name := filepath.Base(f.Name())
	fault := s.disk
	s.disk = sound
	switch fault {
	case full:
		s.w.tally.DiskErrors++
		return syscall.ENOSPC
	case power:
		data, err := os.ReadFile(f.Name())
		s.torn[name] = data
		return errors.Join(errPower, err)
	}
	info, err := f.Stat()
	if err != nil {
		return err
	}
	s.flushed[name] = info.Size()
	return nil
}

func (s *server) open() {
	h, err := host.Open(s.dir, host.Config{Site: site, Now: s.w.clock, Log: zerolog.Nop(), Flush: s.flush})
	if err != nil {
		s.w.fail("the server does not start: %v", err)
	}
	s.host, s.disk, s.torn = h, sound, map[string][]byte{}
	s.steps = &hosttest.Steps{Loop: h.Loop(), Stream: s.w.stream, Now: s.w.now}
	s.reread()
}

// found makes the folder of a site whose root key is known: a new one, or one whose server lost all.
func (s *server) found() {
	must(0, os.MkdirAll(s.dir, 0o700))
	must(0, os.WriteFile(filepath.Join(s.dir, "root.key"), []byte(hex.EncodeToString(keyOf(root).Seed())+"\n"), 0o600))
	s.flushed = map[string]int64{}
}

// kill the process, and with it the power if lost: then what was not flushed is gone, and the last write may be torn.
func (s *server) kill(lost bool) {
	if s.host == nil {
		return
	}
	reached := filepath.Join(s.dir, "reached.json")
	before, err := os.ReadFile(reached)
	if cerr := s.host.Close(); cerr != nil {
		s.w.fail("the server does not close: %v", cerr)
	}
	s.host = nil
	switch { // it is not flushed, and closing would have written it
	case err != nil || s.w.r.IntN(8) == 0:
		_ = os.Remove(reached)
	case s.w.r.IntN(8) == 0:
		must(0, os.WriteFile(reached, before[:s.w.r.IntN(len(before)+1)], 0o600))
	default:
		must(0, os.WriteFile(reached, before, 0o600))
	}
	if !lost {
		return
	}
	s.w.tally.PowerCuts++
	entries := must(os.ReadDir(filepath.Join(s.dir, "archive")))
	for _, e := range entries {
		path := filepath.Join(s.dir, "archive", e.Name())
		data := must(os.ReadFile(path))
		if torn := s.torn[e.Name()]; torn != nil {
			data = torn
		}
		safe, ok := s.flushed[e.Name()]
		if !ok { // the header was flushed as the file was made
			safe = int64(len(s.header()))
		}
		if safe = min(safe, int64(len(data))); int(safe) < len(data) {
			keep := int(safe) + s.w.r.IntN(len(data)-int(safe)+1)
			data = data[:keep]
			for i := range data[safe:] { // a page that was given out but never written
				if s.w.r.IntN(len(data)-int(safe)) < i/2 {
					data[int(safe)+i] = 0
				}
			}
		}
		must(0, os.WriteFile(path, data, 0o600))
		s.flushed[e.Name()] = int64(len(data)) // what outlived the power is on the disk
	}
}

func (s *server) header() []byte {
	return portable.Header{Site: site, Root: root, RootKey: publicOf(root)}.Bytes()
}

// copyOut is the folder as a backup has it, made while the server runs.
func (s *server) copyOut() map[string][]byte {
	files := map[string][]byte{}
	err := filepath.WalkDir(s.dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || e.Name() == "lock" {
			return err
		}
		files[must(filepath.Rel(s.dir, path))], err = os.ReadFile(path)
		return err
	})
	return must(files, err)
}

// restore a backup in the place of what is there.
func (s *server) restore(files map[string][]byte) {
	must(0, os.RemoveAll(s.dir))
	s.found()
	for name, data := range files {
		path := filepath.Join(s.dir, name)
		must(0, os.MkdirAll(filepath.Dir(path), 0o700))
		must(0, os.WriteFile(path, data, 0o600))
		if strings.HasPrefix(name, "archive") {
			s.flushed[filepath.Base(name)] = int64(len(data))
		}
	}
}

// serve is the server's turn: its own loop takes in what came by the stream, and does what is due by then and in the
// moment that follows.
func (w *world) serve() {
	s := w.server
	if s.host == nil {
		return
	}
	for range 3 {
		now := w.now
		if s.steps.Now.After(now) {
			now = s.steps.Now
		}
		if err := s.steps.Run(context.Background(), now, now.Add(moment)); err == nil {
			break
		}
		w.brokenDisk()
	}
	s.look()
}

// moment is what the server's loop has for each turn: enough to find out that the stream is another one, to pause, and
// to read it again.
const moment = 10 * time.Second

// brokenDisk is a server that ended because its disk refused a write, and that is started again.
func (w *world) brokenDisk() {
	s := w.server
	w.say("the server's disk failed, the power gone: %v", len(s.torn) > 0)
	s.kill(len(s.torn) > 0)
	s.open()
	w.promised()
}

// record has the server write an event of its own.
func (w *world) record(b event.Body) {
	e, err := w.server.host.Append(b)
	for err != nil {
		w.brokenDisk()
		w.serve()
		e, err = w.server.host.Append(b)
	}
	w.say("the server writes %s, %s", e.Name, event.KindOf(b))
	w.server.look()
}

// reread all that lies in the archive.
func (s *server) reread() {
	for f, n := range s.facts {
		if n > 0 {
			s.w.held[f]--
		}
	}
	s.parsed, s.chains, s.facts, s.bad, s.events = map[string]int64{}, map[chain.Head]bool{}, map[event.Hash]int{}, nil,
		0
	s.look()
}

// look at what was flushed since, as it lies on the disk, and hold the host's word against it.
func (s *server) look() {
	w := s.w
	if s.host == nil {
		return
	}
	dir := filepath.Join(s.dir, "archive")
	for _, e := range must(os.ReadDir(dir)) {
		from := s.parsed[e.Name()]
		if from == s.flushed[e.Name()] {
			continue
		}
		data := must(os.ReadFile(filepath.Join(dir, e.Name())))
		if from == 0 {
			from = int64(len(s.header()))
		}
		end := min(s.flushed[e.Name()], int64(len(data)))
		for from+8 <= end {
			n := int64(binary.LittleEndian.Uint32(data[from:]))
			seg, err := chain.ReadSegment(data[from+8 : from+8+n])
			if err != nil {
				w.fail("the archive holds at %d what is no segment: %v", from, err)
			}
			s.take(seg)
			from += 8 + n
		}
		s.parsed[e.Name()] = end
	}
	for _, h := range s.host.Heads() {
		if !s.chains[h] {
			w.fail("the server tells of %v, and its disk does not hold it", brief([]chain.Head{h}))
		}
	}
	s.host.View(func(site *fold.Site) { w.barred("the server", site, s.bad) })
}

func (s *server) take(seg chain.Segment) {
	at := seg.Before
	for _, e := range seg.Events {
		at.Seq, at.Chain = e.Seq, at.Chain.Next(e.Bytes())
		if s.chains[at] {
			continue
		}
		s.chains[at] = true
		s.events++
		f := e.Origin()
		s.facts[f]++
		if s.facts[f] == 1 {
			s.w.held[f]++
		} else {
			s.w.fail("%s stands twice in the server's archive", e.Name)
		}
		if e.Device == root { // its own words are owed once they are flushed
			s.w.acknowledge(root, e)
		}
		if s.w.banned[f] == forgery {
			s.w.fail("the server took in %s, though %s", e.Name, forgery)
		} else if s.w.banned[f] != "" {
			s.bad = append(s.bad, e.Hash())
		}
	}
}

// promise is what the server told a device that it has.
func (w *world) promise(heads []chain.Head) {
	for _, h := range heads {
		w.told[h.Device] = h
	}
}

// promised holds a server that came back against what it told before.
func (w *world) promised() {
	for d, h := range w.told {
		if !w.server.chains[h] {
			w.fail("the server had told of %v, and came back without it; %s", brief([]chain.Head{h}), d)
		}
	}
}
