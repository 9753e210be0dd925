package chain

import (
	"crypto/ed25519"
	"errors"
	"fmt"

	"filippo.io/edwards25519"
)

// ErrWeakKey is returned for bytes that are no point of the curve, or a point of small order: for such a key signatures
// can be made that hold for any message, by anybody. RFC 8032 leaves the check to those who enrol keys.
var ErrWeakKey = errors.New("not a key that only its owner can sign for")

// CheckKey reports what is wrong with a public key that is to be enrolled. It wraps ErrWeakKey.
func CheckKey(key []byte) error {
	if len(key) != ed25519.PublicKeySize {
		return fmt.Errorf("the key has %d bytes; an Ed25519 key has %d: %w", len(key), ed25519.PublicKeySize,
			ErrWeakKey)
	}
	p, err := new(edwards25519.Point).SetBytes(key)
	if err != nil {
		return fmt.Errorf("the key is no point of the curve: %w", ErrWeakKey)
	}
	if new(edwards25519.Point).MultByCofactor(p).Equal(edwards25519.NewIdentityPoint()) == 1 {
		return fmt.Errorf("the key is a point of small order: %w", ErrWeakKey)
	}
	return nil
}
