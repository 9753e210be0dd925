package terminal

import (
	"testing"
)

func TestNearest(t *testing.T) {
	names := []string{"board", "batch", "break", "place", "A1", "A12", "north"}
	for word, want := range map[string]string{
		"bord": "board", "baord": "board", "BATCH": "batch", "palce": "place", "a1": "A1", "A13": "A1", "nroth": "north", "zzz": "", "": "",
	} {
		if got := Nearest(word, names); got != want {
			t.Errorf("nearest to %q is %q, not %q", word, got, want)
		}
	}
}
