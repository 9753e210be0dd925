package archive

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"hash"
	"hash/crc32"
	"io"

	"hod/internal/chain"
	"hod/internal/event"
)

// maxWaste bounds the bytes that are summed in vain while the next entry is looked for after damage: made-up lengths
// could ask for 64 KiB at every byte. Beyond it, the rest of the file counts as damage.
const maxWaste = 4 << 30

// Reader gives what lies in a file, piece by piece, from little memory.
type Reader struct {
	from   *bufio.Reader
	hash   hash.Hash
	at     int64
	waste  int64
	closed bool
}

// Piece is one entry, the closing, or a run of damaged bytes that is neither.
type Piece struct {
	At, Size int64    // where it lies, in bytes from the file's start
	Segment  []byte   // of an entry, as it was signed; it is the caller's
	Closing  *Closing // at the end of a closed file
	// Torn says of damage that it reaches to the end of a file that is not closed, as a write that was cut off leaves
	// it.
	Torn bool
}

// Damage reports whether the piece is bytes that nobody wrote so.
func (p Piece) Damage() bool { return p.Segment == nil && p.Closing == nil }

// NewReader reads the header and returns a Reader at the first entry. It returns the errors of ReadHeader.
func NewReader(r io.Reader) (Header, *Reader, error) {
	h, raw, err := ReadHeader(r)
	if err != nil {
		return h, nil, err
	}
	return h, After(raw, r), nil
}

// After reads what follows a header that was read already; head is its bytes.
func After(head []byte, r io.Reader) *Reader {
	a := &Reader{
		from: bufio.NewReaderSize(r, closingHead+maxIndex+sha256.Size), hash: sha256.New(),
		at: int64(len(head)),
	}
	a.hash.Write(head)
	return a
}

// Next gives the next piece; io.EOF after the last. After damage it looks for the next entry at every byte, so that
// one flipped bit costs one segment. Any other error is the reader's own.
func (r *Reader) Next() (Piece, error) {
	start := r.at
	for {
		n, closing, err := r.look()
		if err != nil {
			return Piece{}, err
		}
		if n > 0 && r.at > start {
			return Piece{At: start, Size: r.at - start}, nil // what was found is looked at again
		}
		if n > 0 {
			return r.piece(n, closing), nil
		}
		if err := r.skip(); errors.Is(err, io.EOF) && r.at > start {
			return Piece{At: start, Size: r.at - start, Torn: !r.closed}, nil
		} else if err != nil {
			return Piece{}, err
		}
	}
}

// look looks for an entry or a closing at this offset and returns its size.
func (r *Reader) look() (n int, closing bool, err error) {
	if r.closed || r.waste > maxWaste {
		return 0, false, nil
	}
	head, err := r.peek(entryHead)
	if err != nil || len(head) < entryHead {
		return 0, false, err
	}
	length := binary.LittleEndian.Uint32(head)
	if length == closingMark {
		n, err := r.lookClosing()
		return n, true, err
	}
	if length == 0 || length > chain.MaxSegmentBytes {
		return 0, false, nil
	}
	record, err := r.peek(entryHead + int(length))
	if err != nil || len(record) < entryHead+int(length) {
		return 0, false, err
	}
	if crc32.Update(crc32.Checksum(record[:4], castagnoli), castagnoli,
		record[entryHead:]) != binary.LittleEndian.Uint32(record[4:]) {
		r.waste += int64(length)
		return 0, false, nil
	}
	return len(record), false, nil
}

func (r *Reader) lookClosing() (int, error) {
	head, err := r.peek(closingHead)
	if err != nil || len(head) < closingHead {
		return 0, err
	}
	length := binary.LittleEndian.Uint32(head[4:])
	if length > maxIndex {
		return 0, nil
	}
	size := closingHead + int(length) + sha256.Size
	all, err := r.peek(size)
	if err != nil || len(all) < size {
		return 0, err
	}
	index := all[closingHead : size-sha256.Size]
	sum := crc32.Update(crc32.Checksum(all[:8], castagnoli), castagnoli, index)
	if _, ok := readIndex(index); !ok || sum != binary.LittleEndian.Uint32(all[8:]) {
		r.waste += int64(length)
		return 0, nil
	}
	return size, nil
}

// piece takes what look found.
func (r *Reader) piece(n int, closing bool) Piece {
	p := Piece{At: r.at, Size: int64(n)}
	all, _ := r.peek(n) // it is in the buffer
	if !closing {
		p.Segment = bytes.Clone(all[entryHead:])
		r.take(all)
		return p
	}
	index, _ := readIndex(all[closingHead : n-sha256.Size])
	p.Closing = &Closing{Index: index, Digest: event.Hash(all[n-sha256.Size:])}
	digest := p.Closing.Digest
	r.take(all[:n-sha256.Size])
	p.Closing.Sound = event.Hash(r.hash.Sum(nil)) == digest
	rest, _ := r.peek(sha256.Size)
	r.take(rest)
	r.closed = true
	return p
}

// peek gives fewer bytes than asked for only at the end.
func (r *Reader) peek(n int) ([]byte, error) {
	b, err := r.from.Peek(n)
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return b, err
}

func (r *Reader) take(b []byte) {
	r.hash.Write(b)
	n, _ := r.from.Discard(len(b)) // it is in the buffer
	r.at += int64(n)
}

func (r *Reader) skip() error {
	b, err := r.from.ReadByte()
	if err != nil {
		return err
	}
	r.hash.Write([]byte{b})
	r.at++
	return nil
}
