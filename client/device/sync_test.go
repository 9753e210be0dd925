package device

import (
	"fmt"
	"strings"
	"testing"

	"hod/client/sync"
)

// One device that fills the stream with what is no segment does not fill every other's screen.
func TestSyncTellsOfAFewRefusedMessagesAndCountsTheRest(t *testing.T) {
	var out sync.Outcome
	for i := range 20 {
		out.Refused = append(out.Refused, fmt.Sprintf("message %d is not what it should be", i+1))
	}
	for n, want := range map[int]string{
		0: "0 sent, 0 fetched.\n", 1: "message 1 is", 3: "message 3 is not what it should be\n", 4: "message 3 is not what it should be\n… and at least 1 more",
		20: "at least 17 more",
	} {
		var text strings.Builder
		sayOutcome(&text, sync.Outcome{Refused: out.Refused[:n]})
		if lines := strings.Count(text.String(), "\n"); !strings.Contains(text.String(), want) || lines != 1+min(n, 4) {
			t.Errorf("of %d refused it says\n%s", n, text.String())
		}
	}
}
