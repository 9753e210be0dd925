package archive

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"unicode/utf8"

	"hod/internal/chain"
	"hod/internal/event"
)

// The form of a file: a header, then entries, and in a closed file a closing after the last.
//
//	header   "hodlog" | version, 2 bytes | length of the site's name, 2 | site
//	         from version 2: whole, 1 byte | length of the root device's name, 2 | root device | root key, 32
//	         CRC-32C of all before, 4
//	entry    length of the segment, 4 | CRC-32C of the length and the segment, 4 | segment as it was signed
//	closing  FF FF FF FF | length of the index, 4 | CRC-32C of these eight bytes and the index, 4 | index
//	         SHA-256 of the whole file before it, 32
//	index    for each device: length of its name, 2 | name | first seq, 8 | last seq, 8 | head of its chain after it, 32
//
// Numbers are little-endian. An entry's checksum takes in the length, so that a page of zeros is no entry; that of a
// closing takes in its mark, too, so that what is left of a closing is no entry either.
const (
	magic = "hodlog"

	// Version is the newest form, the one that is written. Version 1 says neither root nor whole; it is read.
	Version = 2

	entryHead   = 8
	closingHead = 12
	closingMark = 1<<32 - 1

	maxSite  = 255       // bytes
	maxIndex = 256 << 10 // bytes: some thousands of devices
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// What a file's beginning may be instead of a header.
var (
	ErrForeign = errors.New("it is not a record of hod's")
	ErrNewer   = errors.New("it was written by a newer hod")
	ErrHeader  = errors.New("its header is damaged")
)

// Header names the site whose log a file holds, and the root that vouches for it.
type Header struct {
	Site string
	// Whole says that every device's log is in it from its first event on; a part may begin anywhere.
	Whole   bool
	Root    event.Device      // empty in files of version 1
	RootKey ed25519.PublicKey // nil in files of version 1
}

// Bytes of the header in the newest form.
func (h Header) Bytes() []byte {
	b := binary.LittleEndian.AppendUint16([]byte(magic), Version)
	b = appendText(b, h.Site)
	if h.Whole {
		b = append(b, 1)
	} else {
		b = append(b, 0)
	}
	b = appendText(b, string(h.Root))
	key := make([]byte, ed25519.PublicKeySize)
	copy(key, h.RootKey)
	b = append(b, key...)
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli))
}

func (h Header) check() error {
	if h.Site == "" || len(h.Site) > maxSite || h.Root == "" || len(h.Root) > maxSite ||
		len(h.RootKey) != ed25519.PublicKeySize {
		return fmt.Errorf(
			"a record's file needs a site and a root device of 1 to %d bytes and a root key of %d, not %d, %d and %d",
			maxSite, ed25519.PublicKeySize, len(h.Site), len(h.Root), len(h.RootKey))
	}
	return nil
}

// ReadHeader gives the header and its bytes. The error has ErrForeign, ErrNewer or ErrHeader in its chain, or is the
// reader's own.
func ReadHeader(r io.Reader) (Header, []byte, error) {
	h := headerReader{from: r}
	if got := h.take(len(magic)); h.err == nil && string(got) != magic {
		return Header{}, nil, ErrForeign
	}
	version := h.number()
	if h.err == nil && version > Version {
		// The number may be what is damaged; a newer form may be longer, so its checksum cannot be looked for.
		return Header{}, nil, fmt.Errorf(
			"%w: its form is %d, this one knows up to %d, unless bytes 6 and 7 are damaged", ErrNewer, version, Version)
	}
	head := Header{Site: string(h.text())}
	if version >= 2 {
		whole := h.take(1)
		head.Whole = len(whole) == 1 && whole[0] == 1
		head.Root = event.Device(h.text())
		head.RootKey = ed25519.PublicKey(h.take(ed25519.PublicKeySize))
	}
	sum := crc32.Checksum(h.raw, castagnoli)
	stored := h.take(4)
	switch {
	case errors.Is(h.err, io.EOF), errors.Is(h.err, io.ErrUnexpectedEOF):
		return Header{}, nil, fmt.Errorf("%w: it ends after %d bytes, within it", ErrHeader, len(h.raw))
	case h.err != nil:
		return Header{}, nil, h.err
	case version == 0 || binary.LittleEndian.Uint32(stored) != sum || head.Site == "":
		return Header{}, nil, fmt.Errorf("%w: bytes 0 to %d are not what was written", ErrHeader, len(h.raw)-1)
	}
	return head, h.raw, nil
}

// headerReader takes field after field and remembers the first error; after it, fields are empty.
type headerReader struct {
	from io.Reader
	raw  []byte
	err  error
}

func (h *headerReader) take(n int) []byte {
	if h.err != nil {
		return nil
	}
	b := make([]byte, n)
	got, err := io.ReadFull(h.from, b)
	h.raw = append(h.raw, b[:got]...)
	if h.err = err; err != nil {
		return nil
	}
	return b
}

func (h *headerReader) number() int {
	b := h.take(2)
	if b == nil {
		return 0
	}
	return int(binary.LittleEndian.Uint16(b))
}

func (h *headerReader) text() []byte {
	n := h.number()
	if h.err == nil && n > maxSite {
		h.err = fmt.Errorf("%w: bytes %d and %d give a name of %d bytes; the most is %d", ErrHeader, len(h.raw)-2,
			len(h.raw)-1, n, maxSite)
	}
	return h.take(n)
}

// AppendEntry appends a segment, as it was signed, in its frame.
func AppendEntry(b, segment []byte) []byte {
	length := binary.LittleEndian.AppendUint32(nil, uint32(len(segment)))
	sum := crc32.Update(crc32.Checksum(length, castagnoli), castagnoli, segment)
	b = append(b, length...)
	b = binary.LittleEndian.AppendUint32(b, sum)
	return append(b, segment...)
}

// Reach is the part of a device's log that a file holds.
type Reach struct {
	Device event.Device
	First  uint64     // seq of its first event in the file
	Last   uint64     // and of its last
	Chain  chain.Hash // the sum's head after the last
}

// Closing is what a closed file says of itself.
type Closing struct {
	Index  []Reach // by device
	Digest event.Hash
	Sound  bool // the digest is that of the bytes before it
}

func appendIndex(b []byte, index []Reach) []byte {
	for _, r := range index {
		b = appendText(b, string(r.Device))
		b = binary.LittleEndian.AppendUint64(b, r.First)
		b = binary.LittleEndian.AppendUint64(b, r.Last)
		b = append(b, r.Chain[:]...)
	}
	return b
}

func readIndex(b []byte) ([]Reach, bool) {
	var index []Reach
	for len(b) > 0 {
		if len(b) < 2 {
			return nil, false
		}
		n := int(binary.LittleEndian.Uint16(b))
		b = b[2:]
		if n == 0 || n > maxSite || len(b) < n+16+sha256.Size || !utf8.Valid(b[:n]) {
			return nil, false
		}
		r := Reach{Device: event.Device(b[:n])}
		b = b[n:]
		r.First, r.Last = binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[8:])
		r.Chain = chain.Hash(b[16 : 16+sha256.Size])
		index, b = append(index, r), b[16+sha256.Size:]
	}
	return index, true
}

// appendClosing appends all of a closing but the digest.
func appendClosing(b []byte, index []Reach) ([]byte, error) {
	list := appendIndex(nil, index)
	if len(list) > maxIndex {
		return nil, fmt.Errorf("the index of %d devices takes %d bytes; the most is %d", len(index), len(list),
			maxIndex)
	}
	head := binary.LittleEndian.AppendUint32(nil, closingMark)
	head = binary.LittleEndian.AppendUint32(head, uint32(len(list)))
	b = append(b, head...)
	b = binary.LittleEndian.AppendUint32(b, crc32.Update(crc32.Checksum(head, castagnoli), castagnoli, list))
	return append(b, list...), nil
}

func appendText(b []byte, s string) []byte {
	b = binary.LittleEndian.AppendUint16(b, uint16(len(s)))
	return append(b, s...)
}
