// Package sheettest runs calculations for tests: a line, and the figures or the refusal that it comes to. Only tests
// import it.
package sheettest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"hod/client/terminal"
)

// Figures are values of a calculation's document by their path in it, "amounts.0.mass_kg": a number, a text, a truth,
// or nil for one that is left out.
type Figures map[string]any

// Line is a calculation as somebody types it, without hod calc before it, and what is to come of it.
type Line struct {
	Line string
	File string // what lies at "-"
	Want Figures
	Says string // is in what is printed in words
	Err  string // is in the refusal; empty: there is a result
}

// Check runs each line twice, for its document and for its words.
func Check(t *testing.T, command func(*terminal.Streams) *cobra.Command, lines ...Line) {
	t.Helper()
	for _, l := range lines {
		t.Run(l.Line, func(t *testing.T) {
			t.Helper()
			l.check(t, command)
		})
	}
}

func (l Line) check(t *testing.T, command func(*terminal.Streams) *cobra.Command) {
	t.Helper()
	words, err := l.run(command, false)
	if l.Err != "" {
		if err == nil || !strings.Contains(err.Error(), l.Err) {
			t.Errorf("hod calc %s: the error is %v; want %q", l.Line, err, l.Err)
		}
		return
	}
	if err != nil {
		t.Errorf("hod calc %s: %v", l.Line, err)
		return
	}
	if !strings.Contains(words, l.Says) {
		t.Errorf("hod calc %s prints\n%s\nwant %q", l.Line, words, l.Says)
	}
	text, err := l.run(command, true)
	if err != nil {
		t.Errorf("hod calc %s --json: %v", l.Line, err)
		return
	}
	var doc any
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatalf("hod calc %s: %v:\n%s", l.Line, err, text)
	}
	for path, want := range l.Want {
		if got := at(doc, path); !alike(got, want) {
			t.Errorf("hod calc %s: %s is %v; want %v", l.Line, path, got, want)
		}
	}
}

func (l Line) run(command func(*terminal.Streams) *cobra.Command, asJSON bool) (string, error) {
	var out, side bytes.Buffer
	env := &terminal.Streams{
		Stdin: strings.NewReader(l.File), Stdout: &out, Stderr: &side, Getenv: func(string) string { return "" },
		JSON: asJSON,
	}
	top := &cobra.Command{Use: "hod calc", SilenceErrors: true, SilenceUsage: true}
	top.SetFlagErrorFunc(terminal.FlagError)
	top.AddCommand(command(env))
	var args []string
	for i, piece := range strings.Split(l.Line, "'") {
		if i%2 == 1 {
			args = append(args, piece)
		} else {
			args = append(args, strings.Fields(piece)...)
		}
	}
	top.SetArgs(args)
	err := top.ExecuteContext(context.Background())
	return out.String(), err
}

// at is the value at a path of names and numbers of lists; nil where there is none.
func at(doc any, path string) any {
	for name := range strings.SplitSeq(path, ".") {
		switch here := doc.(type) {
		case map[string]any:
			doc = here[name]
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i >= len(here) {
				return nil
			}
			doc = here[i]
		default:
			return nil
		}
	}
	return doc
}

// alike holds figures to a ten-thousandth, which is what a hand calculation with four digits gives.
func alike(got, want any) bool {
	var w float64
	switch v := want.(type) {
	case nil:
		return got == nil
	case float64:
		w = v
	case int:
		w = float64(v)
	default:
		return fmt.Sprint(got) == fmt.Sprint(want)
	}
	g, ok := got.(float64)
	return ok && math.Abs(g-w) <= 1e-4*math.Abs(w)+1e-12
}
