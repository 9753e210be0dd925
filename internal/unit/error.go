package unit

import (
	"strconv"
	"unicode/utf8"
)

// Error says why words could not be read as a quantity. Its text is safe to print: whatever is quoted from the input
// is escaped and cut to size.
type Error struct {
	Input string // what was written, cut to the length that is read
	Want  string // a sentence with values that would work
	Msg   string // what is wrong, and the nearest reading that would be right
}

func (e *Error) Error() string { return strconv.Quote(e.Input) + ": " + e.Msg + " (" + e.Want + ")" }

// longest is the number of characters that are read: the longest honest entry, a sum with spelled-out units, takes
// half of it.
const longest = 64

// cut shortens s to n characters for a message.
func cut(s string, n int) string {
	if len(s) <= n {
		return s
	}
	i := 0
	for range n {
		_, size := utf8.DecodeRuneInString(s[i:])
		i += size
		if i >= len(s) {
			return s
		}
	}
	return s[:i] + "…"
}

func (k kind) fail(input, msg string) *Error {
	return &Error{Input: cut(input, longest), Want: k.want(), Msg: msg}
}

// quote is for the pieces of the input that a message repeats.
func quote(s string) string {
	b := make([]byte, 0, len(s)+2)
	for _, r := range cut(s, 24) {
		if r == degree {
			r = '°'
		}
		b = utf8.AppendRune(b, r)
	}
	return strconv.Quote(string(b))
}
