package host

import (
	"errors"
	"fmt"
	"io"

	portable "hod/internal/archive"
	"hod/internal/chain"
	"hod/server/fault"
)

// Imported is what the import of a file did.
type Imported struct {
	New     int // events that the log did not hold
	Waiting int // segments that are pending until others come: a gap before them, or no enrolment
	Damaged int // bytes of the file that could not be read
}

// Import takes in a file that a device exported, as if its segments had come by the stream: what carries its author's
// signature and goes on from what is held is archived and flushed when Import returns. It is how a server that lost its
// log learns again whom it let in, so that their devices can bring the rest. A file of another site is refused with
// an Error of kind Conflict. Importing twice is importing once.
func (h *Host) Import(file io.Reader) (Imported, error) {
	head, pieces, err := portable.NewReader(file)
	if err != nil {
		return Imported{}, fault.New(fault.Invalid, err, "it is no file that `hod export` wrote: %v", err)
	}
	if head.Site != h.folder.Site || head.Root != h.folder.Root || !head.RootKey.Equal(h.folder.Public()) {
		return Imported{}, fault.New(fault.Conflict, nil,
			"the file is of the site %q and of another root key than this server's, whose site is %q", head.Site,
			h.folder.Site)
	}
	h.writing.Lock()
	defer h.writing.Unlock()
	var did Imported
	before := h.count()
	var offers []chain.Marked
	take := func() error {
		err := h.admit(offers)
		offers = offers[:0]
		return err
	}
	for {
		p, err := pieces.Next()
		switch {
		case errors.Is(err, io.EOF):
			if err := take(); err != nil {
				return did, err
			}
			did.New, did.Waiting = h.count()-before, h.gaps.Len()+h.unknown.Len()
			h.unsaved = true
			return did, h.saveCheckpoint()
		case err != nil:
			return did, fmt.Errorf("read the file: %w", err)
		case p.Segment != nil:
			s, err := chain.ReadSegment(p.Segment)
			if err != nil {
				did.Damaged += int(p.Size)
				continue
			}
			if offers = append(offers, chain.Marked{Segment: s}); len(offers) >= atOnce {
				if err := take(); err != nil {
					return did, err
				}
			}
		case p.Damage():
			did.Damaged += int(p.Size)
		}
	}
}

// count is how many events the log holds.
func (h *Host) count() int {
	n := 0
	for _, head := range h.chains.Heads() {
		n += int(head.Seq)
	}
	return n
}
