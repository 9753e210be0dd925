// Package host keeps one site's record at its server: it follows the site's stream, lets in what carries its author's
// signature and goes on from what is held, writes that to an archive of its own, and folds it.
//
// What Heads tells is flushed to the archive. The stream may lose, repeat, reorder or renumber what it holds, and be
// deleted: the record loses nothing by it, and gives the stream back what it lacks. A segment that contradicts the record
// is set aside in a file and never overwrites it; one that leaves a gap, or whose device nobody enrolled, waits. The
// server's own events, enrolments above all, go the same way as everybody's.
//
// It asks nobody whether an event makes sense: that is the fold's. It knows no gRPC and no broker; Stream is all that it
// sees of the bus. Once its disk refuses a write it takes no more, since nobody knows then what the disk holds.
//
// Start at Open, then Follow. The path of a segment is in intake.go, the archive in archive.go and its form in
// internal/archive, copies of it and their verification in backup.go, who may join in enrol.go.
package host

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
)

// Config of a host.
type Config struct {
	// Site is the site's name on the bus, which the first start gives it; invented if empty. Later starts need not say it.
	Site string
	// Now is the server's clock; the system's if nil.
	Now func() time.Time
	// Log hears what a person who runs the server should know. Nothing secret is written to it.
	Log zerolog.Logger
	// Flush is how the archive's files are flushed; the system's own way if nil. A simulation puts a disk there that fails.
	Flush func(File) error
}

// Host is one site's record, open. Safe for several goroutines.
type Host struct {
	dir string
	id  identity
	now func() time.Time
	log zerolog.Logger
	odd zerolog.Logger // for what strangers can cause: it does not repeat itself without end

	lock    *os.File
	archive *archive
	forks   *forks
	changes *changes

	joining sync.Mutex // one enrolment at a time, and one hand on the invitations

	// writing orders those who add to the record: it is held while a segment is judged, archived and folded.
	writing    sync.Mutex
	chains     *chain.Log          // what is held of each device
	own        map[event.Hash]bool // what the root wrote, by the hash of its first writing
	gaps       *chain.Pending
	unknown    *chain.Pending
	dropped    bool            // something found no place to wait: the stream must be read again
	unsent     []chain.Segment // the server's own that are not known to lie in the stream
	orphans    []event.Event   // the server's own that contradict the record: to be written again on top
	tagged     bool            // the letters in its names were drawn since it was opened
	checkpoint checkpoint
	unsaved    bool
	scrubbing  *checkpoint   // what a scrub of the stream has seen so far; nil while there is none
	broken     error         // the disk refused a write
	wake       chan struct{} // something is unsent
	whole      chan struct{} // closed once the stream was read to its end
	wholeNow   sync.Once

	// mu guards what those who ask see.
	mu      sync.Mutex
	site    *fold.Site
	tag     string // of the names that it gives
	heads   []chain.Head
	members *members

	backups remembered
}

// Open reads the record that lies in dir, or begins one. The folder is this process's until Close. The Error log by its
// Kind that the folder cannot be used (Disk), that another server uses it (Busy), or that it is another site's (Conflict).
func Open(dir string, c Config) (*Host, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("find %s: %w", dir, err)
	}
	if err := makeFolder(system{}, dir); err != nil {
		return nil, diskError(dir, err)
	}
	lock, err := lockFolder(dir)
	if err != nil {
		return nil, err
	}
	h, err := open(dir, c)
	if err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	h.lock = lock
	return h, nil
}

func open(dir string, c Config) (*Host, error) {
	if c.Now == nil {
		c.Now = time.Now
	}
	id, err := openIdentity(dir, c.Site)
	if err != nil {
		return nil, err
	}
	tag, drawn, err := openTag(dir)
	if err != nil {
		return nil, err
	}
	h := &Host{
		dir: dir, id: id, tag: tag, tagged: drawn, now: c.Now, log: c.Log,
		odd:     c.Log.Sample(&zerolog.BurstSampler{Burst: 20, Period: time.Minute}),
		changes: newChanges(),
		wake:    make(chan struct{}, 1), whole: make(chan struct{}),
	}
	if err := makeFolder(system{}, filepath.Join(dir, invitesDir)); err != nil {
		return nil, diskError(dir, err)
	}
	var hurt []damage
	if h.archive, hurt, err = openArchive(filepath.Join(dir, archiveDir), id.header()); err != nil {
		return nil, err
	}
	if c.Flush != nil {
		h.archive.flush = c.Flush
	}
	for _, d := range hurt {
		if d.torn {
			h.log.Warn().Str("file", d.file).Int("from", d.from).Int("bytes", d.size).Msg("cut off what was not finished at the archive's end")
		} else {
			h.log.Error().Str("file", d.file).Int("from", d.from).Int("bytes", d.size).Msg("the archive is damaged; what is missing is read again from the stream and the devices")
		}
	}
	if h.forks, err = openForks(filepath.Join(dir, forksDir), id.header()); err != nil {
		return nil, errors.Join(err, h.archive.close())
	}
	if err := h.load(len(hurt) > 0); err != nil {
		return nil, errors.Join(err, h.archive.close())
	}
	return h, nil
}

// Close saves how far the stream was read and lets go of the folder. Follow must have returned.
func (h *Host) Close() error {
	h.writing.Lock()
	defer h.writing.Unlock()
	err := errors.Join(h.saveCheckpoint(), h.archive.close(), h.lock.Close())
	if h.broken == nil {
		h.broken = fail(Offline, nil, "the record of site %s was closed", h.id.site)
	}
	return err
}

// Site is the site's name on the bus.
func (h *Host) Site() string { return h.id.site }

// Root is the device as which the server writes, and the key that its enrolments are trusted by.
func (h *Host) Root() (event.Device, ed25519.PublicKey) { return h.id.root, publicKey(h.id.key) }

// Now is the server's clock.
func (h *Host) Now() time.Time { return h.now() }

// Heads log how far the record of each device reaches, flushed to the archive, by device.
func (h *Host) Heads() []chain.Head {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Clone(h.heads)
}

// View calls look with the folded record, which is whole and still until look returns. look must not keep it.
func (h *Host) View(look func(*fold.Site)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	look(h.site)
}

// Whole is closed once the stream was read to where it ended when Follow began.
func (h *Host) Whole() <-chan struct{} { return h.whole }

// load folds the archive. What the saved heads vouch for is not verified again: the chain's head after an event stands
// for that event and all before it, so comparing the heads afterwards is enough.
func (h *Host) load(hurt bool) error {
	saved, err := readReached(h.dir, h.id)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		h.log.Warn().Err(err).Msg("how far the record was verified is not known; all of it is verified again")
	}
	h.orphans = h.forks.own()
	if err := h.replay(saved.trusted()); err != nil {
		return err
	}
	held, agrees := saved.compare(h.chains)
	if !agrees {
		h.log.Error().Msg("the archive is not what this server once verified; all of it is verified again")
		if err := h.replay(nil); err != nil {
			return err
		}
	}
	if held && agrees && !hurt && h.gaps.Len() == 0 && h.unknown.Len() == 0 {
		h.checkpoint = saved.checkpoint()
	}
	return nil
}

// replay makes the record anew from the archive. It goes through it again as long as that brings something: an archive
// that was damaged and mended holds some segments late.
func (h *Host) replay(trust func(chain.Head) bool) error {
	h.chains, h.site, h.members = newLog(h.id), fold.New(h.id.site, h.id.root), newMembers(h.id)
	h.own = map[event.Hash]bool{}
	h.checkpoint = checkpoint{}
	for {
		h.gaps, h.unknown = chain.NewPending(32<<20, 4<<20), chain.NewPending(8<<20, 1<<20)
		var taken, late int
		err := h.archive.each(func(raw []byte) error {
			s, err := chain.ReadSegment(raw)
			if err != nil {
				h.odd.Error().Err(err).Msg("a segment in the archive cannot be read")
				return nil
			}
			switch v, tail := h.chains.Take(s, trust); v {
			case chain.Accepted:
				taken++
				h.fold(tail)
			case chain.Gap:
				late++
				h.gaps.Put(chain.Marked{Segment: s, Marks: inArchive})
			case chain.NotEnrolled:
				late++
				h.unknown.Put(chain.Marked{Segment: s, Marks: inArchive})
			case chain.Fork, chain.BadSignature, chain.WrongSite:
				h.odd.Error().Str("device", string(s.Before.Device)).Uint64("first", s.First()).Msg("a segment in the archive does not belong there")
			case chain.Duplicate:
			}
			return nil
		})
		if err != nil {
			return err
		}
		if late == 0 || taken == 0 {
			break
		}
	}
	h.heads = h.chains.Heads()
	return nil
}

// fold takes in what is flushed. The caller holds mu, or is alone.
func (h *Host) fold(tail []event.Event) {
	for _, e := range tail {
		h.site.Add(e)
		if e.Device == h.id.root {
			h.own[e.Origin()] = true
		}
		h.members.learn(e)
		h.changes.add(e)
	}
}

func publicKey(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }
