package auth

import (
	"crypto/sha256"
	"encoding/base32"
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

var base = base32.NewEncoding(alphabet).WithPadding(base32.NoPadding)

const example = "hod.example:7411/4GQ0-…-9ZTR"

// String is the code as it is shown.
func (c Code) String() string {
	return c.Address + "/" + c.Secret.String() + "-" + c.Fingerprint.String()
}

// ParseCode reads a code as people type it. The error says which part is wrong.
func ParseCode(s string) (Code, error) {
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
	letters, err := read(rest)
	if err != nil {
		return Code{}, err
	}
	if len(letters) != secretLetters+fingerprintLetters {
		return Code{}, fmt.Errorf(
			"the code has %d letters and digits after the /, not %d: compare it with the one shown", len(letters),
			secretLetters+fingerprintLetters)
	}
	if !unpack(c.Secret[:], letters[:secretLetters]) || !unpack(c.Fingerprint[:], letters[secretLetters:]) {
		return Code{}, fmt.Errorf("the code's last letter or digit cannot be: compare it with the one shown")
	}
	return c, nil
}

func checkAddress(address string) error {
	host, port, err := net.SplitHostPort(address)
	n, wrong := strconv.ParseUint(port, 10, 16)
	if err != nil || wrong != nil || n == 0 || host == "" ||
		net.JoinHostPort(host, strconv.FormatUint(n, 10)) != address {
		return fmt.Errorf("the server's address in the code is not host:port; it looks like %s", example)
	}
	for _, r := range host {
		if r != '.' && r != '-' && r != ':' && r != '%' && (r >= utf8.RuneSelf || !unicode.IsLetter(r) &&
			!unicode.IsDigit(r)) {
			return fmt.Errorf("the server's address in the code holds %q; it looks like %s", r, example)
		}
	}
	return nil
}

// read gives the letters as they are shown, hyphens and spaces left out.
func read(s string) (string, error) {
	var letters strings.Builder
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
		if !strings.ContainsRune(alphabet, r) {
			return "", fmt.Errorf("%q is no letter of a code: compare it with the one shown", r)
		}
		letters.WriteRune(r)
	}
	return letters.String(), nil
}

// unpack fills to; false if the bits left over in the last letter are not zero.
func unpack(to []byte, letters string) bool {
	b, err := base.DecodeString(letters)
	return err == nil && copy(to, b) == len(to) && base.EncodeToString(b) == letters
}

// groups writes bytes as letters, four to a group.
func groups(b []byte) string {
	var s strings.Builder
	for i, r := range base.EncodeToString(b) {
		if i > 0 && i%4 == 0 {
			s.WriteByte('-')
		}
		s.WriteRune(r)
	}
	return s.String()
}
