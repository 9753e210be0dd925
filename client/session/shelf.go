package session

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"sync"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/packed"
)

// shelfFile lies beside the journal and holds the readings of probes packed, so that a command need not read nine of
// ten events of a large site. It is no part of the record: it may be deleted at any time, and whatever is wrong with
// it, or whoever else it is of, all is read from the journal as if it were not there.
const shelfFile = "shelf"

// A shelf begins with these, and ends with a sum over all before it under a key that only this device has.
const (
	shelfForm  = "hod shelf 1\n"
	shelfAfter = 2048 // readings that are not packed before they are packed
)

// shelf is what was packed of a record, and of which.
type shelf struct {
	heads  []chain.Head // how far the record reached
	left   int          // readings that could not be packed
	packed *fold.Packed
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
	if s.packed, err = packed.Read(body); err != nil {
		return nil
	}
	return s
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
	body = append(body, s.packed.Bytes()...)
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

// load folds the record: what the shelf holds packed is not read.
func (s *Session) load(ctx context.Context) error {
	on := readShelf(s.dir, s.Device)
	into := fold.New(s.Device.Site, s.Device.Root)
	var events []event.Event
	var now []chain.Head
	held := false
	if on != nil {
		spans := spansOf(on.packed)
		var err error
		if events, now, held, err = s.Journal.Except(ctx, on.heads, spans); err != nil {
			return err
		}
		if held {
			into.Hold(on.packed, func() ([]event.Event, error) { return s.Journal.In(ctx, on.heads, spans) })
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
	if s.Fold.Packable() >= on.left+shelfAfter {
		s.pack(now, on.packed)
	}
	return s.Fold.Lost()
}

// pack keeps the readings packed for the commands that come.
func (s *Session) pack(heads []chain.Head, before *fold.Packed) {
	p := s.Fold.Pack()
	if p == nil {
		return
	}
	more := p.Len()
	if s.Fold.Packs() {
		more -= before.Len()
	}
	sweepShelf(s.dir)
	writeShelf(s.dir, s.Device, &shelf{heads, max(s.Fold.Packable()-more, 0), p})
}

func spansOf(p *fold.Packed) []journal.Span {
	all := make([]journal.Span, len(p.Spans()))
	for i, s := range p.Spans() {
		all[i] = journal.Span(s)
	}
	return all
}
