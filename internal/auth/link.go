package auth

import (
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"strconv"
	"strings"
	"time"
)

// Link opens a site's pages to whoever holds it, until it runs out: a foreman's device made it by its own signature, so
// it needs no place to be kept in, and ends with the device that made it.
type Link struct {
	Device string    // that made it
	Until  time.Time // to the second
	signed []byte
}

// ErrNoLink is returned when a text is not a link's token.
var ErrNoLink = errors.New("not the token of a link")

// LinkMost is how long a link may hold from when it is made or used: one that never runs out is a key that cannot be
// taken back from who left the job.
const LinkMost = 31 * 24 * time.Hour

// tokenMost is more than a token can be long.
const tokenMost = 256

// linkWords are what a device signs for a link, so that no other signature passes for one.
func linkWords(site, device string, until time.Time) []byte {
	return []byte("hod link 1\x00" + site + "\x00" + device + "\x00" + strconv.FormatInt(until.Unix(), 10))
}

// NewLink is the token of a link to a site's pages, as it stands in an address.
func NewLink(site, device string, until time.Time, key ed25519.PrivateKey) string {
	return strings.Join([]string{
		base64.RawURLEncoding.EncodeToString([]byte(device)), strconv.FormatInt(until.Unix(), 36),
		base64.RawURLEncoding.EncodeToString(ed25519.Sign(key, linkWords(site, device, until))),
	}, ".")
}

// ReadLink takes a token apart. Whose it is shows only when Holds says that its signature is that device's.
func ReadLink(token string) (Link, error) {
	parts := strings.Split(token, ".")
	if len(token) > tokenMost || len(parts) != 3 {
		return Link{}, ErrNoLink
	}
	device, err := base64.RawURLEncoding.Strict().DecodeString(parts[0])
	if err != nil {
		return Link{}, ErrNoLink
	}
	until, err := strconv.ParseInt(parts[1], 36, 64)
	if err != nil || until < 0 || until > 1<<40 {
		return Link{}, ErrNoLink
	}
	signature, err := base64.RawURLEncoding.Strict().DecodeString(parts[2])
	if err != nil || len(signature) != ed25519.SignatureSize {
		return Link{}, ErrNoLink
	}
	return Link{string(device), time.Unix(until, 0).UTC(), signature}, nil
}

// Holds reports whether the link was made for the site by the device that it names, whose key is given.
func (l Link) Holds(site string, key ed25519.PublicKey) bool {
	return len(key) == ed25519.PublicKeySize && ed25519.Verify(key, linkWords(site, l.Device, l.Until), l.signed)
}

// LinkPath is the path of the pages that a token opens.
func LinkPath(token string) string { return "/see/" + token + "/" }
