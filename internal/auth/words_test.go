package auth

import (
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/sethvargo/go-diceware/diceware"
	"pgregory.net/rapid"
)

func TestTheWordsOfAFingerprintAreThoseOfThePublishedList(t *testing.T) {
	// The first and the last line of eff_large_wordlist.txt are "11111 abacus" and "66666 zoom"; "11112 abdomen"
	// follows.
	for _, c := range []struct {
		of   Fingerprint
		want string
	}{
		{Fingerprint{}, strings.TrimSpace(strings.Repeat("abacus ", 10))},
		{Fingerprint{15: 1}, strings.Repeat("abacus ", 9) + "abdomen"},
		{Fingerprint{14: 7775 >> 8, 15: 7775 & 0xff}, strings.Repeat("abacus ", 9) + "zoom"},
		{Fingerprint{14: 7776 >> 8, 15: 7776 & 0xff}, strings.Repeat("abacus ", 8) + "abdomen abacus"},
	} {
		if got := strings.Join(c.of.Words(), " "); got != c.want {
			t.Errorf("%v is %q, want %q", c.of, got, c.want)
		}
	}
}

// Two certificates that differ have words that differ: all that the fingerprint says is in them.
func TestTheWordsCarryTheWholeFingerprint(t *testing.T) {
	places := map[string]int64{}
	list := diceware.WordListEffLarge()
	for i := range 7776 {
		places[list.WordAt(thrown(i))] = int64(i)
	}
	if len(places) != 7776 || places[""] != 0 {
		t.Fatalf("the list has %d words", len(places))
	}
	rapid.Check(t, func(t *rapid.T) {
		var f Fingerprint
		copy(f[:], rapid.SliceOfN(rapid.Byte(), FingerprintBytes, FingerprintBytes).Draw(t, "bytes"))
		back := new(big.Int)
		for _, w := range f.Words() {
			at, is := places[w]
			if !is {
				t.Fatalf("%q is no word of the list", w)
			}
			back.Add(back.Mul(back, big.NewInt(7776)), big.NewInt(at))
		}
		if !slices.Equal(back.FillBytes(make([]byte, FingerprintBytes)), f[:]) {
			t.Fatalf("%x is said as %v, which is %x", f, f.Words(), back)
		}
	})
}
