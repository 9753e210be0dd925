package confusable

import (
	"strings"
	"testing"
)

func TestANameThatLooksLikeAnotherIsRefusedWithBothSpelledOut(t *testing.T) {
	for _, c := range []struct {
		name, known string
		says        []string // nil: it is good
	}{
		// UTS 39, confusables.txt: 0410 ; 0041
		{"А3", "A3", []string{"letter 1 of А3 is А (U+0410, Cyrillic)", "A (U+0041, Latin)"}},
		{"nоrth", "north", []string{"letter 2 of nоrth is о (U+043E, Cyrillic)", "o (U+006F, Latin)"}},
		{"Al", "A1", []string{"l (U+006C, Latin)", "1 (U+0031, digit)"}},
		{"A1O", "A10", []string{"O (U+004F, Latin)", "0 (U+0030, digit)"}},
		{"n\u0303andu", "\u00f1andu", []string{"n (U+006E, Latin)", "U+0303"}},  // one letter, and a letter with a mark
		{"corner", "comer", []string{"corner is written c (U+0063, Latin), o"}}, // 006D ; 0072 006E
		{"A3", "A3", nil},
		{"A2", "A3", nil},
		{"A-3", "A3", nil},
		{"a3", "A3", nil},
		{"южный", "north", nil},
		{"屋根A", "north", nil},
		{"nоrd", "south", []string{"Cyrillic and Latin", "о (U+043E, Cyrillic)"}},
		{"βeta", "south", []string{"Greek and Latin"}},
	} {
		err := Check("zone", c.name, []string{c.known})
		if (err == nil) != (c.says == nil) {
			t.Errorf("%q beside %q: %v", c.name, c.known, err)
			continue
		}
		for _, want := range c.says {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%q beside %q: %q does not say %q", c.name, c.known, err, want)
			}
		}
	}
}

func TestANameTypedWithAStrayLetterIsToldWhichLetter(t *testing.T) {
	name, which := Stray("А3", []string{"B3", "A3"})
	if name != "A3" || !strings.Contains(which, "letter 1 of А3 is А (U+0410, Cyrillic)") {
		t.Errorf("it is taken for %q: %s", name, which)
	}
	if name, _ := Stray("A4", []string{"B3", "A3"}); name != "" {
		t.Errorf("A4 is taken for %s", name)
	}
}
