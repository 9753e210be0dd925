package auth

import (
	"crypto/ed25519"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"strings"
	"time"
)

// ShortLink is a link short enough to be typed: the server makes it for a foreman's device, by a key of its own, and
// keeps nothing of it. It ends as a Link does, with its time and with the device that asked for it.
type ShortLink struct {
	Device string
	Until  time.Time // to the minute
	mark   [markBytes]byte
}

// A code has 80 bits, 16 letters: 25 of the minute at which it runs out, 55 of the mark. Who guesses must ask the
// server, which answers an address ten times a second: by then a mark is found in some hundred million years.
const (
	shortLetters = 16
	minuteBits   = 25
	markBytes    = 7
)

// shortBegin is the first minute that a code can name; the last is in 2083.
var shortBegin = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)

// ShortKey is what a server makes and knows short links by: it comes from the key of the site's own device, so that
// each server of a site has the same.
func ShortKey(root ed25519.PrivateKey) []byte {
	sum := hmac.New(sha256.New, root.Seed())
	sum.Write([]byte("hod short link key 1"))
	return sum.Sum(nil)
}

// NewShortLink is the code of a link that a server made for a device, as it stands in an address: the device's name,
// and its letters in groups of four. The time is cut to the minute before.
func NewShortLink(key []byte, site, device string, public ed25519.PublicKey, until time.Time) string {
	minute := uint32(until.Sub(shortBegin) / time.Minute)
	var b [8 + 2]byte
	mark := markOf(key, site, device, public, minute)
	// 25 bits of the minute, then 55 of the mark.
	binary.BigEndian.PutUint64(b[:8], uint64(minute)<<(64-minuteBits)|first55(mark)>>16)
	binary.BigEndian.PutUint16(b[8:], uint16(first55(mark))) //nolint:gosec // the lower 16 of its bits
	return device + "-" + groups(b[:])
}

// first55 are the first 55 bits of a mark, as a number.
func first55(mark [markBytes]byte) uint64 {
	var b [8]byte
	copy(b[1:], mark[:])
	return binary.BigEndian.Uint64(b[:]) >> 1
}

func markOf(key []byte, site, device string, public ed25519.PublicKey, minute uint32) (mark [markBytes]byte) {
	sum := hmac.New(sha256.New, key)
	for _, part := range []string{"hod short link 1", site, device, string(public)} {
		sum.Write([]byte(part))
		sum.Write([]byte{0})
	}
	sum.Write(binary.BigEndian.AppendUint32(nil, minute))
	copy(mark[:], sum.Sum(nil))
	mark[markBytes-1] &^= 1 // of 56 bits 55 are shown
	return mark
}

// ReadShortLink takes a code apart, as people type it: in any case of letters, with or without the hyphens. Whose it is
// shows only when Holds says so.
func ReadShortLink(code string) (ShortLink, error) {
	if len(code) > tokenMost {
		return ShortLink{}, ErrNoLink
	}
	from, letters := len(code), 0
	for from > 0 && letters < shortLetters {
		if from--; code[from] != '-' {
			letters++
		}
	}
	text, err := read(code[from:])
	var b [10]byte
	device := strings.ToLower(strings.TrimRight(code[:from], "-"))
	if err != nil || len(text) != shortLetters || device == "" || !unpack(b[:], text) {
		return ShortLink{}, ErrNoLink
	}
	high, low := binary.BigEndian.Uint64(b[:8]), binary.BigEndian.Uint16(b[8:])
	minute, mark := high>>(64-minuteBits), high<<minuteBits>>minuteBits<<16|uint64(low)
	l := ShortLink{Device: device, Until: shortBegin.Add(time.Duration(minute) * time.Minute)} //nolint:gosec // 25 bits
	var whole [8]byte
	binary.BigEndian.PutUint64(whole[:], mark<<1)
	copy(l.mark[:], whole[1:])
	return l, nil
}

// Holds reports whether the server that has the key made the link, for the device that it names, whose key is given.
func (l ShortLink) Holds(key []byte, site string, public ed25519.PublicKey) bool {
	minute := uint32(l.Until.Sub(shortBegin) / time.Minute)
	want := markOf(key, site, l.Device, public, minute)
	return hmac.Equal(want[:], l.mark[:])
}

// ShortPath is the path of the pages that a short link opens.
func ShortPath(code string) string { return "/s/" + code + "/" }
