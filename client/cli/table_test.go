package cli

import (
	"errors"
	"strings"
	"testing"

	"hod/client/terminal"
)

// plainRefusal is an error that can be shown on a terminal as it is.
func plainRefusal(t *testing.T, err error) {
	t.Helper()
	var known *terminal.Error
	if err != nil && !errors.As(err, &known) {
		t.Fatalf("an error of no kind: %v", err)
	}
	if err != nil && strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' && r != '\n' || r == 0x7f || r == 0x9b || r == 0x202e }) {
		t.Fatalf("a control character reaches the terminal: %q", err)
	}
}
