package sheet

import (
	"testing"
)

// A room's refusal names the value in SI; a person reads the one that was typed, once, with the room's beside it.
func TestRefusalsShowWhatWasTyped(t *testing.T) {
	for _, c := range []struct{ text, typed, want string }{
		{"a surface at 86.11 °C cannot be used", "187F", "a surface at 187 F (86.11 °C) cannot be used"},
		{"a surface at 31 °C cannot be used", "31C", "a surface at 31 °C cannot be used"},
		{"wind of 134.1 m/s cannot be used", "300mph", "wind of 300 mph (134.1 m/s) cannot be used"},
		{"a layer 12.19 m thick", "40ft", "a layer 40 ft (12.19 m) thick"},
		{"-86.11 °C is colder", "187F", "-86.11 °C is colder"},
		{"nothing of the kind", "187F", "nothing of the kind"},
		{"86.11 °C", "words", "86.11 °C"},
	} {
		if got := asTyped(c.text, c.typed); got != c.want {
			t.Errorf("%q with %q typed is %q; want %q", c.text, c.typed, got, c.want)
		}
	}
}
