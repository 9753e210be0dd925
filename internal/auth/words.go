package auth

import (
	"math/big"

	"github.com/sethvargo/go-diceware/diceware"
)

// FingerprintWords is how many words a fingerprint has: ten of 7776 carry its 128 bits.
const FingerprintWords = 10

// Words are the fingerprint in words, to be read out and compared by ear: its number in base 7776, the highest place
// first, each place a word of the Electronic Frontier Foundation's long list for passphrases. The list was chosen so
// that words are well known and are not taken for each other.
//
// Source: EFF, "New Wordlists for Random Passphrases", 2016, eff_large_wordlist.txt (CC BY 3.0 US), as the library has
// it.
func (f Fingerprint) Words() []string {
	list := diceware.WordListEffLarge()
	left, place, size := new(big.Int).SetBytes(f[:]), new(big.Int), big.NewInt(6*6*6*6*6)
	words := make([]string, FingerprintWords)
	for i := range words {
		left.DivMod(left, size, place)
		words[FingerprintWords-1-i] = list.WordAt(thrown(int(place.Int64())))
	}
	return words
}

// thrown is the number of a place in the list as five dice show it, 11111 to 66666.
func thrown(place int) int {
	dice := 0
	for tens := 1; tens < 100_000; tens *= 10 {
		dice += (1 + place%6) * tens
		place /= 6
	}
	return dice
}
