package event

import "encoding/hex"

// ParseHash reads 64 hexadecimal digits.
func ParseHash(s string) (Hash, error) {
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(Hash{}) {
		return Hash{}, cannot("%q is not the hash of an event; one has %d digits, 0-9 and a-f", clip(s), 2*len(Hash{}))
	}
	return Hash(b), nil
}

// MarshalText gives the digits of String; none for the zero hash.
func (h Hash) MarshalText() ([]byte, error) {
	if h.IsZero() {
		return nil, nil
	}
	return []byte(h.String()), nil
}

// UnmarshalText undoes MarshalText.
func (h *Hash) UnmarshalText(text []byte) (err error) {
	*h = Hash{}
	if len(text) > 0 {
		*h, err = ParseHash(string(text))
	}
	return err
}
