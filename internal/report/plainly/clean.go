// Package plainly makes a text from an event fit to be shown: nothing in it moves a cursor, turns the direction of
// writing, hides, or reaches over its neighbours. It escapes nothing for a form of its own: HTML and SVG do that
// besides.
package plainly

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// mostMarks is how many combining marks may stand on one letter. Written languages use three; more grow over the lines
// above and below.
const mostMarks = 4

// Clean makes a text from an event fit to be shown on one line: nothing in it moves a cursor, turns the direction of
// writing, hides, or reaches over its neighbours. Line breaks, tabs and every kind of space become a space. Controls
// (C0, DEL, C1), bidirectional and other invisible characters, private ones, broken UTF-8, and marks that have no
// letter to stand on become U+FFFD, so that it can be seen that something was there. Five that honest text carries and
// that change nothing here are dropped: the soft hyphen, the two joiners and the two selectors of emoji style.
//
// Clean of a clean text is that text. Letters written from right to left are kept: they are somebody's name.
func Clean(s string) string {
	var b strings.Builder
	b.Grow(len(s))
	marks := mostMarks // at the start there is no letter
	for _, r := range s {
		switch {
		case r == 0xAD, r == 0x200C, r == 0x200D, r == 0xFE0E, r == 0xFE0F:
		case unicode.IsSpace(r), unicode.In(r, unicode.Z):
			b.WriteByte(' ')
			marks = mostMarks
		case unicode.In(r, unicode.Mn, unicode.Me) && marks < mostMarks && !ignorable(r):
			b.WriteRune(r)
			marks++
		case r == utf8.RuneError, !unicode.IsGraphic(r), ignorable(r), unicode.In(r, unicode.Mn, unicode.Me):
			b.WriteRune(utf8.RuneError)
			marks = 0
		default:
			b.WriteRune(r)
			marks = 0
		}
	}
	return b.String()
}

// ignorable characters count as graphic in Unicode's categories and show nothing.
func ignorable(r rune) bool {
	return unicode.In(r, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}
