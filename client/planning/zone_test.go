package planning

import (
	"strings"
	"testing"

	"hod/client/parse/parsetest"
	"hod/client/session/sessiontest"
)

// FuzzCoatAndEdge gives the words of a line to what reads the coats and edges of a plan.
func FuzzCoatAndEdge(f *testing.F) {
	s := sessiontest.Vault(f)
	for _, line := range parsetest.Lines {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		said := func(what string, err error) {
			t.Helper()
			if err != nil && err.Error() == "" {
				t.Fatalf("%s %q is refused without a word", what, line)
			}
		}
		words := strings.Fields(line)
		_, err := readCoat(s, "A1", words)
		said("coat", err)
		_, err = readEdge(s, "A1", line)
		said("edge", err)
	})
}
