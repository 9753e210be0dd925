package session

import (
	"bytes"
	"cmp"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/packed"
)

// shelfFile lies beside the journal and holds the readings of probes packed, and an index of what else is quiet, so
// that a command reads the few events that it concerns, and not all of a large site's. It is no part of the record: it
// may be deleted at any time, and whatever is wrong with it, or whoever else it is of, all is read from the journal as
// if it were not there.
const shelfFile = "shelf"

// A shelf begins with these, and ends with a sum over all before it under a key that only this device has.
const (
	shelfForm  = "hod shelf 2\n" // 1 had no index
	shelfAfter = 1024            // of Env.ShelfAfter, where that is 0
)

// shelf is what was packed and indexed of a record, and of which.
type shelf struct {
	heads  []chain.Head     // how far the record reached
	left   int              // events that could be neither packed nor indexed
	packed *packed.Readings // nil: none
	index  *packed.Subjects // nil: none
}

// program names this program by what it was built from: another may read the record otherwise. Empty where it cannot be
// told.
var program = sync.OnceValue(func() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	head, err := io.ReadAll(io.LimitReader(f, 64<<10))
	if err != nil {
		return ""
	}
	return buildID(head)
})

// buildID is the id that Go writes near the beginning of each program: in a note of its own, or in a line of its own
// where the system's programs have no notes.
func buildID(head []byte) string {
	const size = 4 // of a note's numbers
	if at := bytes.Index(head, []byte("\x04\x00\x00\x00Go\x00\x00")); at >= size {
		n := uint64(binary.LittleEndian.Uint32(head[at-size:]))
		if id := head[at+2*size:]; n > 0 && n <= uint64(len(id)) {
			return string(id[:n])
		}
	}
	_, id, found := bytes.Cut(head, []byte("\xff Go build ID: \""))
	if !found {
		return ""
	}
	id, _, found = bytes.Cut(id, []byte("\"\n \xff"))
	if !found {
		return ""
	}
	return string(id)
}

// seal is the sum of a shelf's bytes under a key that is made of the device's own.
func seal(d journal.Device, body []byte) []byte {
	key := sha256.Sum256(append([]byte("hod shelf of "+d.Site+"\n"), d.Key.Seed()...))
	h := hmac.New(sha256.New, key[:])
	h.Write(body)
	return h.Sum(nil)
}

// readShelf gives what was packed by this program on this device; nil where there is nothing, or nothing to be
// believed.
func readShelf(dir string, d journal.Device) *shelf {
	data, err := os.ReadFile(filepath.Join(dir, shelfFile))
	if err != nil || len(data) < sha256.Size || program() == "" {
		return nil
	}
	body, sum := data[:len(data)-sha256.Size], data[len(data)-sha256.Size:]
	if !hmac.Equal(sum, seal(d, body)) {
		return nil
	}
	body, ours := bytes.CutPrefix(body, []byte(shelfForm+program()+"\n"))
	if !ours || len(body) < 8 {
		return nil
	}
	// What is sealed was written by writeShelf.
	s := &shelf{left: int(binary.BigEndian.Uint32(body))}
	n := binary.BigEndian.Uint32(body[4:])
	body = body[8:]
	for range n {
		if len(body) < 9+len(chain.Hash{}) {
			return nil
		}
		h := chain.Head{Seq: binary.BigEndian.Uint64(body), Chain: chain.Hash(body[8 : 8+len(chain.Hash{})])}
		body = body[8+len(chain.Hash{}):]
		size := 1 + int(body[0])
		if len(body) < size {
			return nil
		}
		h.Device = event.Device(body[1:size])
		s.heads, body = append(s.heads, h), body[size:]
	}
	readings, body, whole := cutSized(body)
	index, body, more := cutSized(body)
	if !whole || !more || len(body) > 0 {
		return nil
	}
	if len(readings) > 0 {
		if s.packed, err = packed.Read(readings); err != nil {
			return nil
		}
	}
	if len(index) > 0 {
		if s.index, err = packed.ReadSubjects(index); err != nil {
			return nil
		}
	}
	return s
}

// cutSized takes bytes off the front of some that sized put there.
func cutSized(data []byte) (first, rest []byte, ok bool) {
	if len(data) < 4 {
		return nil, nil, false
	}
	n := int(binary.BigEndian.Uint32(data))
	if data = data[4:]; n > len(data) {
		return nil, nil, false
	}
	return data[:n], data[n:], true
}

func sized(to, data []byte) []byte {
	return append(binary.BigEndian.AppendUint32(to, uint32(len(data))), data...)
}

// writeShelf puts a shelf beside the journal, whole or not at all. That it could not be is no error: it is made again.
func writeShelf(dir string, d journal.Device, s *shelf) {
	if program() == "" {
		return
	}
	body := []byte(shelfForm + program() + "\n")
	body = binary.BigEndian.AppendUint32(body, uint32(s.left))
	body = binary.BigEndian.AppendUint32(body, uint32(len(s.heads)))
	for _, h := range s.heads {
		if len(h.Device) > 255 {
			return
		}
		body = binary.BigEndian.AppendUint64(body, h.Seq)
		body = append(append(append(body, h.Chain[:]...), byte(len(h.Device))), h.Device...)
	}
	var readings, index []byte
	if s.packed != nil {
		readings = s.packed.Bytes()
	}
	if s.index != nil {
		index = s.index.Bytes()
	}
	body = sized(sized(body, readings), index)
	f, err := os.CreateTemp(dir, shelfFile+"-*")
	if err != nil {
		return
	}
	_, err = f.Write(append(body, seal(d, body)...))
	if bad := f.Close(); err == nil && bad == nil && os.Rename(f.Name(), filepath.Join(dir, shelfFile)) == nil {
		return
	}
	_ = os.Remove(f.Name())
}

// sweepShelf removes what writers that were killed have left.
func sweepShelf(dir string) {
	left, _ := filepath.Glob(filepath.Join(dir, shelfFile+"-*"))
	for _, path := range left {
		_ = os.Remove(path)
	}
}

// load folds the record: what the shelf holds packed or indexed is not read.
func (s *Session) load(ctx context.Context) error {
	on := readShelf(s.dir, s.Device)
	into := fold.New(s.Device.Site, s.Device.Root)
	var events []event.Event
	var now []chain.Head
	held := false
	if on != nil {
		read, indexed := on.spans()
		var err error
		if events, now, held, err = s.Journal.Except(ctx, on.heads, joined(read, indexed)); err != nil {
			return err
		}
		if held {
			s.hold(ctx, into, on, read)
		}
	}
	if !held {
		var err error
		if events, now, _, err = s.Journal.Except(ctx, nil, nil); err != nil {
			return err
		}
		on = &shelf{}
	}
	var err error
	if s.Fold, err = foldAll(ctx, into, events); err != nil {
		return err
	}
	// Something that came since may have set apart what the shelf holds.
	void := on.packed != nil && !s.Fold.Packs() || on.index != nil && !s.Fold.Defers()
	after := cmp.Or(s.Env.ShelfAfter, shelfAfter)
	if n := s.Fold.Added(); n >= on.left+after || void && n >= after {
		s.shelve(now)
	}
	return s.Fold.Lost()
}

// hold gives a site what the shelf holds. It reads the record itself where an answer needs that.
func (s *Session) hold(ctx context.Context, into *fold.Site, on *shelf, read []journal.Span) {
	if on.packed != nil {
		into.Hold(on.packed, func() ([]event.Event, error) { return s.Journal.In(ctx, on.heads, read) })
	}
	if on.index != nil {
		into.HoldSubjects(on.index, func(spans []packed.Span) ([]event.Event, error) {
			return s.Journal.In(ctx, on.heads, spansOf(spans))
		})
	}
}

// shelve keeps the readings packed and the rest indexed for the commands that come.
func (s *Session) shelve(heads []chain.Head) {
	on := &shelf{heads: heads, packed: s.Fold.Pack()}
	on.index = s.Fold.Subjects(on.packed)
	on.left = s.Fold.Len()
	if on.packed != nil {
		on.left -= on.packed.Len()
	}
	if on.index != nil {
		on.left -= on.index.Len()
	}
	sweepShelf(s.dir)
	writeShelf(s.dir, s.Device, on)
}

func (on *shelf) spans() (read, indexed []journal.Span) {
	if on.packed != nil {
		read = spansOf(on.packed.Spans())
	}
	if on.index != nil {
		indexed = spansOf(on.index.Spans())
	}
	return read, indexed
}

func spansOf(of []packed.Span) []journal.Span {
	all := make([]journal.Span, len(of))
	for i, s := range of {
		all[i] = journal.Span(s)
	}
	return all
}

// joined are two lists of spans as one, by name, those that touch made one.
func joined(a, b []journal.Span) []journal.Span {
	all := slices.Concat(a, b)
	slices.SortFunc(all, func(a, b journal.Span) int {
		return cmp.Or(cmp.Compare(a.Device, b.Device), cmp.Compare(a.From, b.From))
	})
	kept := all[:0]
	for _, s := range all {
		if n := len(kept); n > 0 && kept[n-1].Device == s.Device && kept[n-1].To+1 == s.From {
			kept[n-1].To = s.To
			continue
		}
		kept = append(kept, s)
	}
	return kept
}
