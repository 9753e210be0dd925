package spelling_test

import (
	"strings"
	"testing"

	"hod/internal/spelling"
)

func TestTheNearestNameIsOffered(t *testing.T) {
	names := []string{"board", "batch", "break", "place", "A1", "A12", "north"}
	for word, want := range map[string]string{
		"bord": "board", "baord": "board", "BATCH": "batch", "palce": "place", "a1": "A1", "A13": "A1", "nroth": "north", "zzz": "", "": "",
	} {
		if got := spelling.Nearest(word, names); got != want {
			t.Errorf("nearest to %q is %q, not %q", word, got, want)
		}
	}
}

// An edit is a letter put in, left out, changed, or swapped with its neighbour (Damerau): the usual slips of typing.
func TestEachSlipOfTypingIsOneEdit(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"place", "place", 0},
		{"place", "palce", 1},
		{"place", "plac", 1},
		{"place", "placee", 1},
		{"place", "plake", 1},
		{"", "abc", 3},
		{"kitten", "sitting", 3},
		{"Müller", "Muller", 1},
		{"ab", "ba", 1},
		{"abcd", "badc", 2},
	} {
		if got := spelling.Distance(c.a, c.b); got != c.want {
			t.Errorf("from %q to %q are %d edits, want %d", c.a, c.b, got, c.want)
		}
		if got := spelling.Distance(c.b, c.a); got != c.want {
			t.Errorf("from %q to %q are %d edits, want %d", c.b, c.a, got, c.want)
		}
	}
}

// Words of a hostile file's length are like no other, at once.
func TestALongWordIsLikeNoOther(t *testing.T) {
	long := strings.Repeat("x", 65)
	if got := spelling.Nearest(long, []string{long[:64] + "y"}); got != "" {
		t.Errorf("it is like %q", got)
	}
}

func TestWhereNothingIsNearAllAreOffered(t *testing.T) {
	for _, c := range []struct {
		word  string
		names []string
		want  string
	}{
		{"zzz", nil, ""},
		{"zzz", []string{"a1", "b2"}, "; there are a1, b2"},
		{"zzz", []string{"a1", "b2", "c3", "d4"}, "; there are a1, b2, c3 …"},
		{"a2", []string{"a1", "b7"}, "; did you mean a1?"},
	} {
		if got := spelling.Suggest(c.word, c.names, 3); got != c.want {
			t.Errorf("%q among %v: %q, want %q", c.word, c.names, got, c.want)
		}
	}
}
