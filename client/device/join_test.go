package device

import (
	"strings"
	"testing"

	"hod/client/session"
)

func TestASecondTryToJoinHasTheKeyOfTheFirst(t *testing.T) {
	dir := t.TempDir()
	first, err := joiningKey((&session.Env{Random: strings.NewReader(strings.Repeat("one source", 10))}), dir)
	if err != nil {
		t.Fatal(err)
	}
	again, err := joiningKey((&session.Env{Random: strings.NewReader(strings.Repeat("another source", 10))}), dir)
	if err != nil || !first.Equal(again) {
		t.Errorf("the second try has another key (%v): a code whose answer was lost would be used up", err)
	}
}
