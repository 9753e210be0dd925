package terminal

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"hod/internal/unit"
)

// ItOrThem is the pronoun for n things.
func ItOrThem(n int) string {
	if n == 1 {
		return "it"
	}
	return "them"
}

// AndList joins names as people say them: W1, W3 and W4.
func AndList(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return names[0]
}

// ShellQuote quotes a word that a shell would take apart.
func ShellQuote(w string) string {
	if w != "" && strings.IndexFunc(w, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_./=+:,%@", r)
	}) < 0 {
		return w
	}
	return "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
}

// IsOrAre is the verb for n things.
func IsOrAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// Capitalise begins a sentence; a symbol such as w/cm stays as it is written.
func Capitalise(s string) string {
	if strings.HasPrefix(s, "w/cm") {
		return s
	}
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// MinusSign is the true minus sign.
const MinusSign = "\u2212"

// Plural is a number with its noun.
func Plural(n int, one, many string) string { return unit.Count(n, one, many) }
