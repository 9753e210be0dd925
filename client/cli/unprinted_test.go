package cli

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"
)

// full takes no byte, as a disk that is full.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

// Recording is done before the line is printed: a note whose line is lost is kept, and said to be, so that nobody
// writes it twice.
func TestWhatWasKeptIsSaidToBeKeptThoughItsLineIsLost(t *testing.T) {
	dir := joined(t, "n2")
	lost := func(args ...string) (int, string) {
		var side bytes.Buffer
		code := Run(context.Background(), &Env{
			Args: args, Stdin: strings.NewReader(""), Stdout: full{}, Stderr: &side,
			Now: func() time.Time { return tuesday }, Local: time.UTC, Random: zeros{},
			Getenv: func(key string) string { return map[string]string{"HOD_DIR": dir, "HOD_SYNC": "off"}[key] },
		})
		return code, side.String()
	}
	for _, args := range [][]string{{"note", "x"}, {"note", "y", "--json"}} {
		code, side := lost(args...)
		if code != 0 || !strings.Contains(side, "is kept on this disk all the same") ||
			!strings.Contains(side, "no space left") {
			t.Errorf("%v: code %d: %s", args, code, side)
		}
	}
	if _, out, _ := at(dir, tuesday, "log", "--kind", "note"); strings.Count(out, "n2/") != 2 {
		t.Errorf("the log is\n%s", out)
	}
	if code, side := lost("log"); code == 0 || strings.Contains(side, "kept") {
		t.Errorf("a log that could not be printed: code %d: %s", code, side)
	}
}
