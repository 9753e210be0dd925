package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hod/client/journal"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// said is a run of hod on a device that has joined nothing.
func said(t *testing.T, args ...string) (code int, out, side string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code = Run(t.Context(), &Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &stdout, Stderr: &stderr, Random: zeros{}, Local: time.UTC,
		Now:    func() time.Time { return time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC) },
		Getenv: func(key string) string { return map[string]string{"HOD_DIR": t.TempDir(), "HOD_SYNC": "off"}[key] },
	})
	return code, stdout.String(), stderr.String()
}

func walk(c *cobra.Command, each func(*cobra.Command)) {
	each(c)
	for _, m := range c.Commands() {
		walk(m, each)
	}
}

func path(c *cobra.Command) []string { return strings.Fields(c.CommandPath())[1:] }

// A mistyped command is wrong usage at every level of the tree, never the help and success.
func TestATypoAnywhereIsWrongUsage(t *testing.T) {
	walk(newRoot((&Env{}).device(), ""), func(c *cobra.Command) {
		for _, m := range c.Commands() {
			typo := append(path(c), m.Name()+"x")
			code, out, side := said(t, typo...)
			if code != 2 || out != "" || !strings.Contains(side, m.Name()) {
				t.Errorf("hod %s: code %d, printed %q, said %q; want code 2, nothing printed, and the offer of %s",
					strings.Join(typo, " "), code, out, side, m.Name())
			}
		}
	})
}

// Words beyond what a command takes are wrong usage.
func TestTooManyWords(t *testing.T) {
	for _, args := range [][]string{{"version", "x"}, {"undo", "n2/1", "x"}, {"zone", "list", "x"}, {
		"place", "7", "A3",
		"1/2", "x",
	}, {"board", "x"}, {"stock", "show", "a", "b"}} {
		if code, out, side := said(t, args...); code != 2 || out != "" || !strings.Contains(side, "is too much") {
			t.Errorf("hod %s: code %d, printed %q, said %q; want code 2 and what is too much", strings.Join(args, " "),
				code, out, side)
		}
	}
}

func TestAGroupAloneSaysWhatItHas(t *testing.T) {
	code, out, side := said(t, "stock")
	if code != 2 || out != "" || !strings.Contains(side, "receive") {
		t.Errorf("hod stock: code %d, printed %q, said %q; want code 2 and what it has on the side", code, out, side)
	}
}

func TestEveryFlagTypoIsOfferedTheNearest(t *testing.T) {
	code, _, side := said(t, "place", "A3", "--thicknes", "12mm")
	if code != 2 || !strings.Contains(side, "did you mean --thickness?") {
		t.Errorf("code %d, said %q; want code 2 and the offer of --thickness", code, side)
	}
}

// The help of every command begins with an example, fits 80 columns, and goes to stdout with success.
func TestHelpOfEveryCommand(t *testing.T) {
	walk(newRoot((&Env{}).device(), ""), func(c *cobra.Command) {
		name := c.CommandPath()
		for _, args := range [][]string{append(path(c), "--help"), append([]string{"help"}, path(c)...)} {
			code, out, side := said(t, args...)
			if code != 0 || side != "" {
				t.Errorf("hod %s: code %d, said %q on the side; want 0 and nothing", strings.Join(args, " "), code,
					side)
			}
			if c.HasParent() && !strings.HasPrefix(out, "  "+name) {
				first, _, _ := strings.Cut(out, "\n")
				t.Errorf("the help of %s begins with %q, not with an example", name, first)
			}
			for line := range strings.SplitSeq(out, "\n") {
				// an example is never broken
				if utf8.RuneCountInString(line) > 79 && !strings.HasPrefix(line, "  hod ") {
					t.Errorf("the help of %s has a line of %d columns: %s", name, utf8.RuneCountInString(line), line)
				}
			}
		}
	})
}

// Every example parses: its words and flags are those of the command it explains.
func TestExamplesAreReal(t *testing.T) {
	root := newRoot((&Env{}).device(), "")
	walk(root, func(c *cobra.Command) {
		for line := range strings.SplitSeq(c.Example, "\n") {
			words := shellWords(line)
			if len(words) == 0 {
				continue
			}
			found, rest, err := newRoot((&Env{}).device(), "").Find(shield(words[1:]))
			if err != nil || found.CommandPath() != c.CommandPath() && c.Runnable() && !c.HasSubCommands() {
				t.Errorf("the example %q of %s runs %s (%v)", line, c.CommandPath(), found.CommandPath(), err)
				continue
			}
			if err := found.ParseFlags(rest); err != nil {
				t.Errorf("the example %q: %v", line, err)
				continue
			}
			if err := found.ValidateArgs(found.Flags().Args()); err != nil {
				t.Errorf("the example %q: %v", line, err)
			}
		}
	})
}

// shellWords splits a line as a shell would; what follows # or > is not for hod.
func shellWords(line string) []string {
	var words []string
	word, in, quoted := "", false, rune(0)
	for _, r := range line {
		switch {
		case quoted != 0 && r == quoted:
			quoted = 0
		case quoted == 0 && (r == '"' || r == '\''):
			quoted, in = r, true
		case quoted == 0 && (r == '#' || r == '>') && !in:
			return words
		case quoted == 0 && r == ' ':
			if in {
				words = append(words, word)
			}
			word, in = "", false
		default:
			word, in = word+string(r), true
		}
	}
	if in {
		words = append(words, word)
	}
	return words
}

// The table of exit codes is a promise to scripts.
func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		err  error
		code int
	}{
		{errors.New("nobody classified this"), 1},
		{terminal.Usagef("x"), 2},
		{fmt.Errorf("--to: %w", terminal.Usagef("x")), 2},
		{&unit.Error{}, 2},
		{event.CannotBe("x"), 2},
		{terminal.Refusedf("x"), 3},
		{terminal.NotFoundf("x"), 4},
		{&journal.Error{Kind: journal.Full}, 5},
		{&terminal.Error{Kind: terminal.Offline}, 6},
		{&terminal.Error{Kind: terminal.Closing}, 10},
		{&terminal.Error{Kind: terminal.Cold}, 11},
		{context.Canceled, 130},
		{&terminal.Error{Kind: terminal.Terminated}, 143},
		{&terminal.Error{Kind: terminal.Kind(99)}, 1},
	} {
		if got := session.Classify(t.Context(), c.err).Kind.Code(); got != c.code {
			t.Errorf("%v ends with %d, not %d", c.err, got, c.code)
		}
	}
}

// A wrapped error of a room below keeps what was put before it.
func TestWhatIsSaidOfAValueNamesItsFlag(t *testing.T) {
	_, err := unit.ParseMass("4gal")
	if got := session.Classify(t.Context(), terminal.InFlag("gross", err)).Msg; !strings.HasPrefix(got, "--gross: ") {
		t.Errorf("said %q; want it to begin with --gross", got)
	}
}

// A report of a fault begins with what `hod --version` prints, as `hod version` does.
func TestTheVersionIsPrintedByFlagAndByCommand(t *testing.T) {
	_, want, _ := said(t, "version")
	if !strings.HasPrefix(want, "hod not released") || strings.Count(want, "\n") != 1 {
		t.Fatalf("hod version prints %q; want one line", want)
	}
	for _, args := range [][]string{{"--version"}, {"-v"}} {
		if code, out, side := said(t, args...); code != 0 || out != want || side != "" {
			t.Errorf("hod %s: code %d, printed %q, said %q; want %q", strings.Join(args, " "), code, out, side, want)
		}
	}
}
