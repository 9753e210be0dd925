// Package invite writes and reads the code with which a device joins a site:
//
//	HOST:PORT/SECRET-FINGERPRINT
//
// SECRET is ten random bytes that the server takes once; FINGERPRINT is the first sixteen bytes of the SHA-256 of the
// site's certificate authority (its certificate, DER), so that a device knows the server it speaks to before it trusts
// it. Both are written in Crockford's base32, in groups of four, as people read them out and type them: upper and lower
// case are one, I and L are read as 1, O as 0, and a space may stand for a hyphen.
//
// A code that Parse takes is one that String gives again. The package draws no secret and opens no connection: who makes
// a code gives it all three parts. Start at Code.
package invite

import (
	"crypto/sha256"
	"fmt"
	"net"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Lengths of the parts, in bytes.
const (
	SecretBytes      = 10
	FingerprintBytes = 16
)

// Secret is what the server takes once.
type Secret [SecretBytes]byte

// Fingerprint is the beginning of the SHA-256 of the certificate of the site's authority.
type Fingerprint [FingerprintBytes]byte

// FingerprintOf a certificate, DER.
func FingerprintOf(certificate []byte) Fingerprint {
	sum := sha256.Sum256(certificate)
	return Fingerprint(sum[:FingerprintBytes])
}

func (s Secret) String() string { return groups(s[:]) }

func (f Fingerprint) String() string { return groups(f[:]) }

// Code is an invitation.
type Code struct {
	Address     string // host:port of the server; an IPv6 host in brackets
	Secret      Secret
	Fingerprint Fingerprint
}

// letters of a secret and of a fingerprint: 5 bits each, the last filled up with zeros.
const (
	secretLetters      = (SecretBytes*8 + 4) / 5
	fingerprintLetters = (FingerprintBytes*8 + 4) / 5
	maxCode            = 400 // characters, spaces and all
)

const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

const example = "hod.example:7411/4GQ0-…-9ZTR"

// String is the code as it is shown.
func (c Code) String() string {
	return c.Address + "/" + c.Secret.String() + "-" + c.Fingerprint.String()
}

// Parse reads a code as people type it. The error says which part is wrong.
func Parse(s string) (Code, error) {
	if len(s) > maxCode {
		return Code{}, fmt.Errorf("this is too long to be a code to join with; one looks like %s", example)
	}
	address, rest, ok := strings.Cut(strings.TrimSpace(s), "/")
	if !ok {
		return Code{}, fmt.Errorf("a code to join with has the server's address before a /; it looks like %s", example)
	}
	c := Code{Address: strings.ToLower(address)}
	if err := checkAddress(c.Address); err != nil {
		return Code{}, err
	}
	values, err := read(rest)
	if err != nil {
		return Code{}, err
	}
	if len(values) != secretLetters+fingerprintLetters {
		return Code{}, fmt.Errorf("the code has %d letters and digits after the /, not %d: compare it with the one shown", len(values), secretLetters+fingerprintLetters)
	}
	if !unpack(c.Secret[:], values[:secretLetters]) || !unpack(c.Fingerprint[:], values[secretLetters:]) {
		return Code{}, fmt.Errorf("the code's last letter or digit cannot be: compare it with the one shown")
	}
	return c, nil
}

func checkAddress(address string) error {
	host, port, err := net.SplitHostPort(address)
	n, wrong := strconv.ParseUint(port, 10, 16)
	if err != nil || wrong != nil || n == 0 || host == "" || net.JoinHostPort(host, strconv.FormatUint(n, 10)) != address {
		return fmt.Errorf("the server's address in the code is not host:port; it looks like %s", example)
	}
	for _, r := range host {
		if r != '.' && r != '-' && r != ':' && r != '%' && (r >= utf8.RuneSelf || !unicode.IsLetter(r) && !unicode.IsDigit(r)) {
			return fmt.Errorf("the server's address in the code holds %q; it looks like %s", r, example)
		}
	}
	return nil
}

// read gives the values of the letters, hyphens and spaces left out.
func read(s string) ([]byte, error) {
	var values []byte
	for _, r := range s {
		switch {
		case r == '-' || r == ' ':
			continue
		case r == 'o' || r == 'O':
			r = '0'
		case strings.ContainsRune("iIlL", r):
			r = '1'
		case r >= 'a' && r <= 'z':
			r += 'A' - 'a'
		}
		v := strings.IndexRune(alphabet, r)
		if v < 0 {
			return nil, fmt.Errorf("%q is no letter of a code: compare it with the one shown", r)
		}
		values = append(values, byte(v))
	}
	return values, nil
}

// unpack fills to from 5 bits a value; false if the bits left over are not zero.
func unpack(to, values []byte) bool {
	buffer, bits, at := 0, 0, 0
	for _, v := range values {
		buffer = buffer<<5 | int(v)
		if bits += 5; bits >= 8 {
			bits -= 8
			to[at] = byte(buffer >> bits)
			buffer &= 1<<bits - 1
			at++
		}
	}
	return buffer == 0
}

// groups writes bytes as letters, four to a group.
func groups(b []byte) string {
	var s strings.Builder
	buffer, bits, n := 0, 0, 0
	put := func(v int) {
		if n > 0 && n%4 == 0 {
			s.WriteByte('-')
		}
		s.WriteByte(alphabet[v])
		n++
	}
	for _, x := range b {
		buffer = buffer<<8 | int(x)
		for bits += 8; bits >= 5; {
			bits -= 5
			put(buffer >> bits)
			buffer &= 1<<bits - 1
		}
	}
	if bits > 0 {
		put(buffer << (5 - bits))
	}
	return s.String()
}
