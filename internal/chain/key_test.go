package chain

import (
	"crypto/ed25519"
	"encoding/hex"
	"errors"
	"testing"

	"hod/internal/event"
)

// The eight points of order 1, 2, 4 and 8 on edwards25519, in their canonical encodings (from memory; each is checked
// below to be one: eight times it is the identity).
var smallOrder = []string{
	"0100000000000000000000000000000000000000000000000000000000000000",
	"ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
	"0000000000000000000000000000000000000000000000000000000000000000",
	"0000000000000000000000000000000000000000000000000000000000000080",
	"26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
	"26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
	"c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
	"c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
}

func TestAKeyThatAnybodyCanSignForIsNoKey(t *testing.T) {
	for _, text := range smallOrder {
		key, err := hex.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		if err := CheckKey(key); !errors.Is(err, ErrWeakKey) {
			t.Errorf("%s: %v", text, err)
		}
		ring := NewKeyRing("dune", "site", make([]byte, ed25519.PublicKeySize))
		ring.Learn(event.Event{Name: event.Name{Device: "site", Seq: 1}, Body: event.DeviceEnrolled{
			Device:    "n1",
			PublicKey: key, Role: event.CrewRole,
		}})
		if ring.Key("n1") != nil {
			t.Errorf("%s was learnt", text)
		}
	}
	for seed := range byte(20) {
		key := ed25519.NewKeyFromSeed(append(make([]byte, ed25519.SeedSize-1), seed)).Public().(ed25519.PublicKey)
		if err := CheckKey(key); err != nil {
			t.Errorf("the key of seed %d: %v", seed, err)
		}
	}
	for _, bad := range [][]byte{nil, make([]byte, 31), append([]byte{2}, make([]byte, 31)...)} {
		if err := CheckKey(bad); !errors.Is(err, ErrWeakKey) {
			t.Errorf("%x: %v", bad, err)
		}
	}
}

// Such a key signs for everything, which is why it is refused: the standard library's check holds for it.
func TestASmallOrderKeySignsForAnything(t *testing.T) {
	key, signature := make([]byte, 32), make([]byte, 64)
	key[0], signature[0] = 1, 1 // the identity, as key and as R, with S = 0
	if !ed25519.Verify(key, []byte("any message"), signature) {
		t.Skip("this Go refuses it by itself")
	}
	if CheckKey(key) == nil {
		t.Error("and it would be enrolled")
	}
}
