package archive

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"
	"strings"

	"hod/internal/chain"
	"hod/internal/event"
)

// Writer writes a file from its header to its closing.
type Writer struct {
	to    io.Writer
	hash  hash.Hash
	tally Tally
}

// NewWriter writes the header.
func NewWriter(w io.Writer, h Header) (*Writer, error) {
	if err := h.check(); err != nil {
		return nil, err
	}
	sum := sha256.New()
	a := &Writer{to: io.MultiWriter(w, sum), hash: sum}
	_, err := a.to.Write(h.Bytes())
	return a, err
}

// Add writes a segment, as it was signed.
func (w *Writer) Add(s chain.Segment) error {
	w.tally.Add(s)
	_, err := w.to.Write(AppendEntry(nil, s.Bytes()))
	return err
}

// Close writes the index and the digest. What was written before may be read without, but does not count as closed.
func (w *Writer) Close() (Closing, error) {
	c := Closing{Index: w.tally.Index(), Sound: true}
	b, err := appendClosing(nil, c.Index)
	if err != nil {
		return c, err
	}
	if _, err := w.to.Write(b); err != nil {
		return c, err
	}
	c.Digest = event.Hash(w.hash.Sum(nil))
	_, err = w.to.Write(c.Digest[:])
	return c, err
}

// ErrNotSound is returned when a file cannot be closed, since not all in it can be read.
var ErrNotSound = errors.New("not all of the file can be read")

// Close gives the closing for a file that holds a header and entries so far: what to append to it.
func Close(file io.Reader) ([]byte, error) {
	var tally Tally
	_, r, err := NewReader(file)
	if err != nil {
		return nil, err
	}
	for {
		p, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if p.Segment == nil {
			return nil, fmt.Errorf("%w, at byte %d", ErrNotSound, p.At)
		}
		s, err := chain.ReadSegment(p.Segment)
		if err != nil {
			return nil, fmt.Errorf("%w, at byte %d: %w", ErrNotSound, p.At, err)
		}
		tally.Add(s)
	}
	b, err := appendClosing(nil, tally.Index())
	if err != nil {
		return nil, err
	}
	r.hash.Write(b)
	return r.hash.Sum(b), nil
}

// Tally counts what of each device a file holds.
type Tally struct{ reach map[event.Device]Reach }

// Add a segment.
func (t *Tally) Add(s chain.Segment) {
	if t.reach == nil {
		t.reach = map[event.Device]Reach{}
	}
	d := s.Before.Device
	r, ok := t.reach[d]
	if !ok {
		r = Reach{Device: d, First: s.First()}
	}
	r.First = min(r.First, s.First())
	if s.After.Seq > r.Last {
		r.Last, r.Chain = s.After.Seq, s.After.Chain
	}
	t.reach[d] = r
}

// Index by device.
func (t *Tally) Index() []Reach {
	index := make([]Reach, 0, len(t.reach))
	for _, r := range t.reach {
		index = append(index, r)
	}
	slices.SortFunc(index, func(a, b Reach) int { return strings.Compare(string(a.Device), string(b.Device)) })
	return index
}
