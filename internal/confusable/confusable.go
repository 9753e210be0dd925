// Package confusable tells whether people can tell two names apart, and which letter makes the difference where they
// cannot.
//
// Two names look alike where their skeletons by Unicode Technical Standard 39, Unicode Security Mechanisms (section 4,
// Confusable Detection), are the same: A3 with a Latin A and with a Cyrillic one, Al and A1. The standard's table is
// that of its version 13, in a library that holds nothing else. A name mixes scripts where its letters are of several
// that no language writes together (section 5.2, the level Highly Restrictive, by each letter's own script).
//
// It promises sentences with every letter in doubt spelled out. It refuses nothing by itself: names that stand in a
// record stay. It knows no event and no site. Start at Check for a new name, at Stray for one that was typed.
package confusable

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/mtibben/confusables"
)

// Check says why a new name cannot be told from one of those known, or mixes scripts; nil where it is good, and where
// it is known itself. what is the kind of thing that has the name: zone, crew.
func Check[N ~string](what string, name N, known []N) error {
	if slices.Contains(known, name) {
		return nil
	}
	for _, k := range known {
		if looksLike(string(name), string(k)) {
			return fmt.Errorf(
				"the new %s %s looks like the %s %s, and people would take one for the other: %s; choose a name that differs to the eye",
				what, name, what, k, differences(string(name), string(k)))
		}
	}
	if scripts := scriptsOf(string(name)); !together(scripts) {
		return fmt.Errorf(
			"the new %s %s is written in %s at once, and such letters pass for others: %s; write it in one script",
			what, name, strings.Join(scripts, " and "), spell(string(name)))
	}
	return nil
}

// Stray finds the known name that a typed one looks like and says which letters of it are others; "" where there is
// none.
func Stray[N ~string](typed string, known []N) (name N, which string) {
	for _, k := range known {
		if string(k) != typed && looksLike(typed, string(k)) {
			return k, differences(typed, string(k))
		}
	}
	return "", ""
}

func looksLike(a, b string) bool { return confusables.Confusable(a, b) }

// differences says where two names part, letter by letter where they have as many, and else in full.
func differences(a, b string) string {
	x, y := []rune(a), []rune(b)
	if len(x) != len(y) {
		return fmt.Sprintf("%s is written %s; %s is written %s", a, spell(a), b, spell(b))
	}
	var parts []string
	for i := range x {
		if x[i] != y[i] {
			parts = append(parts, fmt.Sprintf("letter %d of %s is %s, and of %s %s", i+1, a, letter(x[i]), b,
				letter(y[i])))
		}
	}
	return strings.Join(parts, "; ")
}

func spell(s string) string {
	var parts []string
	for _, r := range s {
		parts = append(parts, letter(r))
	}
	return strings.Join(parts, ", ")
}

// letter is a character as it looks, its number, and what it is of.
func letter(r rune) string {
	of := scriptOf(r)
	switch {
	case unicode.IsDigit(r):
		of = "digit"
	case of == "":
		of = "sign"
	}
	return fmt.Sprintf("%c (U+%04X, %s)", r, r, of)
}

// scriptOf is the script that a letter is of; "" for what all share.
func scriptOf(r rune) string {
	if unicode.In(r, unicode.Common, unicode.Inherited) {
		return ""
	}
	if unicode.Is(unicode.Latin, r) {
		return "Latin"
	}
	for name, table := range unicode.Scripts {
		if unicode.Is(table, r) {
			return name
		}
	}
	return ""
}

// scriptsOf are the scripts of a name's letters, in the order of the alphabet.
func scriptsOf(s string) []string {
	var all []string
	for _, r := range s {
		if of := scriptOf(r); of != "" && !slices.Contains(all, of) {
			all = append(all, of)
		}
	}
	slices.Sort(all)
	return all
}

// together are the scripts that languages write side by side, as UTS 39 has them: Japanese, Chinese and Korean, each
// with Latin.
func together(scripts []string) bool {
	if len(scripts) < 2 {
		return true
	}
	for _, set := range [][]string{
		{"Latin", "Han", "Hiragana", "Katakana"}, {"Latin", "Han", "Bopomofo"}, {"Latin", "Han", "Hangul"},
	} {
		if !slices.ContainsFunc(scripts, func(s string) bool { return !slices.Contains(set, s) }) {
			return true
		}
	}
	return false
}
