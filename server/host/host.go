// Package host keeps one site's log at its server: it follows the site's stream, takes in what internal/chain accepts,
// archives it (server/store) and folds it.
//
// What Heads tells is flushed to the archive. The stream may lose, repeat, reorder or renumber what it holds, and be
// deleted: the log loses nothing by it, and gives the stream back what it lacks. A segment that contradicts the log is
// set aside and never overwrites it; one that leaves a gap, or whose device nobody enrolled, waits. The server's own
// events, enrolments above all, go the same way as everybody's.
//
// It asks nobody whether an event makes sense: that is the fold's. It knows no gRPC and no broker; Stream is all that
// it sees of the bus. Once its disk refuses a write it takes no more, since nobody knows then what the disk holds.
//
// Start at Open, then Follow and its Loop, which a simulation steps, too. The path of a segment is in intake.go. Who
// takes part is server/enrol's.
package host

import (
	"crypto/ed25519"
	"errors"
	"io/fs"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/auth"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
	"hod/server/fault"
	"hod/server/store"
)

// Limits of what waits in memory, in bytes: what finds no space is offered again by the device that has it.
const (
	maxGaps        = 32 << 20 // segments with a gap before them
	maxGapsEach    = 4 << 20  // of them, of one device
	maxUnknown     = 8 << 20  // segments of devices that nobody enrolled
	maxUnknownEach = 1 << 20  // of them, of one device
)

// Config of a host.
type Config struct {
	// Site is the site's name on the bus, which the first start gives it; invented if empty. Later starts need not say
	// it.
	Site string
	// Now is the server's clock; the system's if nil.
	Now func() time.Time
	// Log hears what a person who runs the server should know. Nothing secret is written to it.
	Log zerolog.Logger
	// Flush is how the archive's files are flushed; the system's own way if nil. A simulation puts a disk there that
	// fails.
	Flush func(store.File) error
}

// Host is one site's log, open. Safe for several goroutines.
type Host struct {
	*enrol.Register

	folder  *store.Folder
	now     func() time.Time
	log     zerolog.Logger
	odd     zerolog.Logger // for what strangers can cause: it does not repeat itself without end
	changes *changes

	// writing orders those who add to the log: it is held while a segment is judged, archived and folded.
	//
	// Invariant: but for their channels, intake, outgoing, following and broken are read and written with writing held.
	writing sync.Mutex
	intake
	outgoing
	following
	broken error // the disk refused a write

	// mu guards what those who ask see. Who holds writing may take mu, never the other way round.
	//
	// Invariant: heads and site hold only what lies flushed in the archive.
	mu   sync.Mutex
	site *fold.Site
	// heads are read without mu: a device hears how far its log reaches however long somebody else's question takes.
	heads atomic.Pointer[[]chain.Head]
}

// intake is what was taken in, and what cannot be yet.
type intake struct {
	chains  *chain.Log          // what is held of each device
	own     map[event.Hash]bool // what the root wrote, by the hash of its first writing
	gaps    *chain.Pending
	unknown *chain.Pending // of devices that nobody has enrolled
	dropped bool           // something found no space to wait: the stream must be read again
}

// outgoing is what the server itself wrote.
type outgoing struct {
	unsent  []chain.Segment // not known to lie in the stream
	orphans []event.Event   // they contradict the log: to be written again on top
	wake    chan struct{}   // something is unsent
}

// following is how far the stream was read.
//
// Invariant: of each device, checkpoint names no event that the stream was not seen to hold, so that what lies beyond
// it is sent again rather than believed to be there.
type following struct {
	checkpoint checkpoint
	unsaved    bool
	scrubbing  *checkpoint   // what a scrub of the stream has seen so far; nil while there is none
	whole      chan struct{} // closed once the stream was read to its end
	readTo     atomic.Uint64 // the stream's last message that was taken in; read without writing
	wholeNow   sync.Once
}

// Open reads the log that lies in dir, or begins one. The folder is this process's until Close. The Error says by its
// Kind that the folder cannot be used (Disk), that another server uses it (Busy), or that it is another site's
// (Conflict).
func Open(dir string, c Config) (*Host, error) {
	if c.Now == nil {
		c.Now = time.Now
	}
	folder, hurt, err := store.Open(dir, c.Site, c.Flush)
	if err != nil {
		return nil, err
	}
	h := &Host{
		folder: folder, now: c.Now, log: c.Log,
		odd:     c.Log.Sample(&zerolog.BurstSampler{Burst: 20, Period: time.Minute}),
		changes: newChanges(), outgoing: outgoing{wake: make(chan struct{}, 1)},
		following: following{whole: make(chan struct{})},
	}
	for _, d := range hurt {
		if d.Torn {
			h.log.Warn().Str("file", d.File).Int("from", d.From).Int("bytes",
				d.Size).Msg("cut off what was not finished at the archive's end")
		} else {
			h.log.Error().Str("file", d.File).Int("from", d.From).Int("bytes",
				d.Size).Msg("the archive is damaged; what is missing is read again from the stream and the devices")
		}
	}
	h.Register, err = enrol.Open(enrol.Config{
		Dir: folder.Dir(), Site: folder.Site, Root: folder.Root, RootKey: folder.Public(), Log: h, Now: h.Now,
		Says: h.log, Odd: h.odd,
	})
	if err == nil {
		err = h.load(len(hurt) > 0)
	}
	if err != nil {
		return nil, errors.Join(err, folder.Close())
	}
	return h, nil
}

// Close saves how far the stream was read and lets go of the folder. Follow must have returned.
func (h *Host) Close() error {
	h.writing.Lock()
	defer h.writing.Unlock()
	err := errors.Join(h.saveCheckpoint(), h.folder.Close())
	if h.broken == nil {
		h.broken = fault.New(fault.Offline, nil, "the record of site %s was closed", h.folder.Site)
	}
	return err
}

// Site returns the site's name on the bus.
func (h *Host) Site() string { return h.folder.Site }

// Root is the device as which the server writes, and the key that its enrolments are trusted by.
func (h *Host) Root() (event.Device, ed25519.PublicKey) { return h.folder.Root, h.folder.Public() }

// ShortLinkKey is what the server makes short links to the pages by, and knows them.
func (h *Host) ShortLinkKey() []byte { return auth.ShortKey(h.folder.Key) }

// Now returns the time by the server's clock.
func (h *Host) Now() time.Time { return h.now() }

// Heads returns how far the log of each device reaches, sorted by device. All of it is flushed to the archive.
func (h *Host) Heads() []chain.Head {
	if heads := h.heads.Load(); heads != nil {
		return slices.Clone(*heads)
	}
	return nil
}

// ReadTo returns the number of the stream's last message that was taken in.
func (h *Host) ReadTo() uint64 { return h.readTo.Load() }

// View calls look with the fold of the log, which does not change until look returns. look must not keep it.
func (h *Host) View(look func(*fold.Site)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	look(h.site)
}

// Whole returns a channel that is closed once the stream was read to where it ended when Follow began.
func (h *Host) Whole() <-chan struct{} { return h.whole }

// load folds the archive. What the saved heads vouch for is not verified again: the chain's head after an event stands
// for that event and all before it, so comparing the heads afterwards is enough.
func (h *Host) load(hurt bool) error {
	saved, err := readReached(h.folder.Dir(), h.folder.Identity)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		h.log.Warn().Err(err).Msg("how far the record was verified is not known; all of it is verified again")
	}
	h.orphans = h.folder.Orphans()
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

// replay makes the log anew from the archive. It goes through it again as long as that brings something: an archive
// that was damaged and mended holds some segments late.
func (h *Host) replay(trust func(chain.Head) bool) error {
	h.chains, h.site = newLog(h.folder.Identity), fold.New(h.folder.Site, h.folder.Root)
	h.own = map[event.Hash]bool{}
	h.Forget()
	h.checkpoint = checkpoint{}
	for {
		h.gaps, h.unknown = chain.NewPending(maxGaps, maxGapsEach), chain.NewPending(maxUnknown, maxUnknownEach)
		var taken, late int
		err := h.folder.Each(func(raw []byte) error {
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
				h.odd.Error().Str("device", string(s.Before.Device)).Uint64("first",
					s.First()).Msg("a segment in the archive does not belong there")
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
	h.setHeads()
	return nil
}

func (h *Host) setHeads() {
	heads := h.chains.Heads()
	h.heads.Store(&heads)
}

// fold adds flushed events to the fold. The caller holds mu, or is the only one that knows the host.
func (h *Host) fold(tail []event.Event) {
	for _, e := range tail {
		h.site.Add(e)
		if e.Device == h.folder.Root {
			h.own[e.Origin()] = true
		}
		h.Learn(e)
		h.changes.add(e)
	}
}

// newLog returns an empty log of a site that trusts only the site's root.
func newLog(id store.Identity) *chain.Log {
	return chain.NewLog(id.Site, chain.NewKeyRing(id.Site, id.Root, id.Public()))
}

// BackedUp says how far the last backup reaches, by device; none if there was none. It tells what was true when that
// backup was made: whether it still lies where it was put, nobody asks.
func (h *Host) BackedUp() []chain.Head {
	heads, err := h.folder.BackedUp()
	if err != nil {
		h.odd.Warn().Err(err).Msg("when the record was last backed up cannot be read; it counts as not backed up")
	}
	return heads
}
