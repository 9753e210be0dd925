package terminal

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/unit"
)

// streams are those of a person at a terminal who answers with the words of in.
func streams(in string) (s *Streams, out, side *bytes.Buffer) {
	out, side = &bytes.Buffer{}, &bytes.Buffer{}
	return &Streams{
		Stdin: strings.NewReader(in), Stdout: out, Stderr: side, Getenv: func(string) string { return "" },
		StdinTerminal: true, StdoutTerminal: true, ColourMode: "auto",
	}, out, side
}

func TestResultsGoToStdoutAndAllElseToStderr(t *testing.T) {
	s, out, side := streams("")
	s.Hintf("a hint of %d", 1)
	s.Tellf("what must not be missed\x1b[2J")
	err := s.Print("thing", struct{}{}, func(w io.Writer) { _, _ = io.WriteString(w, "the result\n") })
	if err != nil || out.String() != "the result\n" ||
		side.String() != "a hint of 1\nwhat must not be missed\ufffd[2J\n" {
		t.Errorf("out %q, side %q, %v", out, side, err)
	}
	s.Quiet = true
	side.Reset()
	s.Hintf("silenced")
	s.Tellf("not silenced")
	if side.String() != "not silenced\n" {
		t.Errorf("with --quiet it says %q", side)
	}
}

func TestADocumentNamesItsShapeAndGoesAlone(t *testing.T) {
	s, out, _ := streams("")
	s.JSON = true
	doc := struct {
		N int `json:"n"`
	}{3}
	if err := s.Print("thing", doc, func(io.Writer) { t.Error("words beside a document") }); err != nil {
		t.Fatal(err)
	}
	if out.String() != `{"schema":"hod.thing.v1","n":3}`+"\n" {
		t.Errorf("%s", out)
	}
	out.Reset()
	if err := WriteJSON(out, "thing", doc, Member{Name: "age", Value: 7}); err != nil ||
		out.String() != `{"schema":"hod.thing.v1","n":3,"age":7}`+"\n" {
		t.Errorf("with a member more: %s, %v", out, err)
	}
	if err := WriteJSON(io.Discard, "thing", []int{1}); err == nil {
		t.Error("a list is a document")
	}
}

// A question is put only to a person at a terminal who did not say that there is to be none.
func TestNobodyIsAskedWhoCannotAnswer(t *testing.T) {
	for name, turn := range map[string]func(*Streams){
		"no terminal": func(s *Streams) { s.StdinTerminal = false }, "--no-input": func(s *Streams) {
			s.NoInput = true
		},
		"--json": func(s *Streams) { s.JSON = true },
	} {
		s, _, _ := streams("y\n")
		if !s.CanAsk() {
			t.Fatal("a person at a terminal cannot be asked")
		}
		if turn(s); s.CanAsk() {
			t.Errorf("with %s somebody is asked", name)
		}
	}
}

func TestAnAnswerIsOneLineAndNoMore(t *testing.T) {
	s, _, _ := streams("first\nsecond\r\n")
	if a, b, c := s.ReadLine(), s.ReadLine(), s.ReadLine(); a != "first" || b != "second" || c != "" {
		t.Errorf("%q, %q, %q", a, b, c)
	}
}

func TestColourIsForTerminalsThatShowIt(t *testing.T) {
	for _, c := range []struct {
		mode, term, none string
		terminal, json   bool
		want             bool
	}{
		{"auto", "xterm", "", true, false, true},
		{"auto", "xterm", "", false, false, false},
		{"auto", "dumb", "", true, false, false},
		{"auto", "xterm", "1", true, false, false},
		{"always", "dumb", "1", false, false, true},
		{"always", "", "", true, true, false},
		{"never", "xterm", "", true, false, false},
	} {
		s, _, _ := streams("")
		s.ColourMode, s.StdoutTerminal, s.JSON = c.mode, c.terminal, c.json
		s.Getenv = func(key string) string { return map[string]string{"TERM": c.term, "NO_COLOR": c.none}[key] }
		if got := s.Colour(); got != c.want {
			t.Errorf("%+v: colour is %v", c, got)
		}
	}
}

func TestAnErrorKeepsItsKindAndSaysWhichFlag(t *testing.T) {
	var e *Error
	if err := InFlag("scale", Usagef("%d is too much", 30)); !errors.As(err, &e) || e.Kind != Usage ||
		err.Error() != "--scale: 30 is too much" {
		t.Errorf("%v", err)
	}
	if InFlag("scale", nil) != nil || AsUsage(nil) != nil {
		t.Error("no error is one")
	}
	if err := AsUsage(errors.New("a\nb")); !errors.As(err, &e) || e.Kind != Usage || e.Msg != "a; b" {
		t.Errorf("%v", err)
	}
	if known := NotFoundf("x"); AsUsage(known) != known {
		t.Error("an error of a kind gets another")
	}
	for kind, code := range map[Kind]int{
		Internal: 1, Usage: 2, Refused: 3, NotFound: 4, Disk: 5, Offline: 6, Kind(-1): 1,
	} {
		if kind.Code() != code {
			t.Errorf("kind %d ends with %d, want %d", kind, kind.Code(), code)
		}
	}
}

// tree is hod with one command that takes one word and a flag.
func tree() (root, board *cobra.Command) {
	s, _, _ := streams("")
	board = s.NewCommand("board ZONE", "Show the board", "hod board A3")
	board.Args, board.RunE = ExactArgs(1, "a zone"), func(*cobra.Command, []string) error { return nil }
	board.Flags().String("crew", "", "")
	root = s.NewGroup("hod", "", "hod board A3", board)
	root.SilenceErrors, root.SilenceUsage = true, true
	root.SetFlagErrorFunc(FlagError)
	return root, board
}

func TestWordsThatAreNoneAreRefusedWithWhatIsNear(t *testing.T) {
	for line, want := range map[string]string{
		"bord A3": "did you mean `hod board`?", "zzz": "it has board", "board": `hod board needs a zone, as in "hod board A3"`,
		"board A3 A4": `"A4" is too much`, "board A3 --crwe north": "did you mean --crew?", "board A3 --crew": "--crew needs a value",
		"": "hod hod does nothing by itself; say one of board",
	} {
		root, _ := tree()
		root.SetArgs(strings.Fields(line))
		err := root.Execute()
		var e *Error
		if !errors.As(err, &e) || e.Kind != Usage || !strings.Contains(e.Msg, want) {
			t.Errorf("hod %s: %v; want %q", line, err, want)
		}
	}
	root, _ := tree()
	root.SetArgs([]string{"board", "A3", "--crew", "north"})
	if err := root.Execute(); err != nil {
		t.Error(err)
	}
}

func TestNamesAreJoinedAndPickedAsPeopleSayThem(t *testing.T) {
	if got := AndList([]string{"W1", "W3", "W4"}); got != "W1, W3 and W4" {
		t.Error(got)
	}
	if got := JoinNames([]string{"a", "b"}); got != "a, b" {
		t.Error(got)
	}
	if got, err := PickName("zone", "a3", []string{"A1", "A3"}); err != nil || got != "A3" {
		t.Errorf("a3 is %q, %v", got, err)
	}
	if got, err := PickName("zone", "A3", []string{"a3", "A3"}); err != nil || got != "A3" {
		t.Errorf("A3 beside a3 is %q, %v", got, err)
	}
	if _, err := PickName("zone", "A3", []string{"a3", "à3", "a3"}); err == nil {
		t.Error("what fits two is one of them")
	}
	if Plural(1, "row", "rows")+Plural(2, "row", "rows")+Plural(0, "row", "rows") != "1 row2 rows0 rows" {
		t.Error("a count does not go with its noun")
	}
	for word, want := range map[string]string{"A3": "A3", "": "''", "two words": "'two words'", "it's": `'it'\''s'`} {
		if got := ShellQuote(word); got != want {
			t.Errorf("%q is quoted %s, want %s", word, got, want)
		}
	}
}

func TestNumbersAndInstantsInDocuments(t *testing.T) {
	at := time.Date(2031, 5, 12, 9, 30, 0, 125e6, time.FixedZone("", 7200))
	text, err := json.Marshal([]any{Stamp(at), Stamp{}, QuantityOf(unit.As[unit.Mass]{SI: 0.1 + 0.2, Entered: "300g"},
		"kg")})
	if want := `["2031-05-12T07:30:00.125Z",null,{"entered":"300g","si":0.3,"unit":"kg"}]`; err != nil ||
		string(text) != want {
		t.Errorf("%s, %v; want %s", text, err, want)
	}
}
