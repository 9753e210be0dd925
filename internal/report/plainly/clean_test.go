package plainly_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"hod/internal/report/plainly"
	"hod/internal/report/reporttest"
)

func TestClean(t *testing.T) {
	for _, c := range []struct{ what, in, want string }{
		{"plain words", "28.4 L in A3", "28.4 L in A3"},
		{"a colour", "a\x1b[31mred", "a�[31mred"},
		{"a window title", "\x1b]0;owned\x07", "�]0;owned�"},
		{"an escape in one byte", "a\u009b2Jb", "a�2Jb"},
		{"that byte without its encoding", "a\x9b2Jb", "a�2Jb"},
		{"backspaces", "no\b\byes", "no��yes"},
		{"nul and delete", "\x00\x7f", "��"},
		{"lines", "one\ntwo\r\nthree\vfour\ffive", "one two  three four five"},
		{"Unicode's lines", "one\u0085two\u2028three\u2029four", "one two three four"},
		{"a tab", "a\tb", "a b"},
		{"spaces of every width", "a\u00a0b\u2003c\u3000d\u202fe", "a b c d e"},
		{"right to left override", "A3\u202e3A\u202c", "A3�3A�"},
		{"isolates and marks of direction", "\u2066a\u2069\u200e\u200f\u061c", "�a����"},
		{"zero width", "A\u200b3\u2060\ufeff", "A�3��"},
		{"what honest text carries", "co\u00adop\u200c\u200d☀\ufe0f", "coop☀"},
		{"a hidden message in tags", "A3\U000e0041\U000e0042", "A3��"},
		{"fillers that show nothing", "\u115f\u3164\uffa0\u034f", "����"},
		{"private characters", "\ue000", "�"},
		{"an accent", "Zoe\u0308", "Zoe\u0308"},
		{"an accent without its letter", "\u0308a", "�a"},
		{"an accent on a space", "a \u0308", "a �"},
		{"a tower of accents", "a" + strings.Repeat("\u0301", 6), "a" + strings.Repeat("\u0301", 4) + "�\u0301"},
		{"a name from right to left", "שלמה", "שלמה"},
		{"a wide name", "佐藤", "佐藤"},
		{"a surrogate", "\xed\xa0\x80", "���"},
	} {
		if got := plainly.Clean(c.in); got != c.want {
			t.Errorf("%s: Clean(%q) = %q, want %q", c.what, c.in, got, c.want)
		}
	}
}

func TestCleanTwiceIsCleanOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		once := plainly.Clean(reporttest.Hostile().Draw(t, "text"))
		if twice := plainly.Clean(once); twice != once {
			t.Fatalf("Clean changed what was clean:\n once %q\ntwice %q", once, twice)
		}
		if bad := strings.IndexFunc(once, reporttest.Unsafe); bad >= 0 || !utf8.ValidString(once) {
			t.Fatalf("%q is not clean at byte %d", once, bad)
		}
	})
}
