package terminal

import (
	"errors"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

func TestNamesAreFoundInAnyCaseAndOfferedWhereTheyAreNot(t *testing.T) {
	for _, c := range []struct {
		word  string
		names []string
		want  string
		err   string
	}{
		{"A1", []string{"A1", "a1"}, "A1", ""}, // as it was planned comes first
		{"b1", []string{"A1", "B1"}, "B1", ""},
		{"FACE", []string{"Face", "face "}, "Face", ""},
		{"a1", []string{"A1", "A2"}, "A1", ""},
		{"ab", []string{"Ab", "aB"}, "", `zone "ab" fits Ab, aB; write it as it is planned`},
		{"A3", []string{"A1", "A2"}, "", "did you mean"},
		{"nowhere", []string{"A1", "A2"}, "", "there are A1, A2"},
		{"А1", []string{"A1"}, "", "and it looks like A1"}, // a Cyrillic А
		{"x", nil, "", `no zone "x" is planned`},
	} {
		got, err := PickName("zone", c.word, c.names)
		if got != c.want || (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%s of %v: %q, %v; want %q %q", c.word, c.names, got, err, c.want, c.err)
		}
	}
}

func TestWordsAreJoinedAsPeopleSayThem(t *testing.T) {
	for want, names := range map[string][]string{"W1": {"W1"}, "W1 and W2": {"W1", "W2"}, "W1, W2 and W3": {
		"W1", "W2",
		"W3",
	}} {
		if got := AndList(names); got != want {
			t.Errorf("%v: %q", names, got)
		}
	}
	for word, want := range map[string]string{
		"A3": "A3", "north/7": "north/7", "4%": "4%", "": "''", "wet burlap": "'wet burlap'", "it's": `'it'\''s'`, "$HOME": "'$HOME'", "ü": "ü",
	} {
		if got := ShellQuote(word); got != want {
			t.Errorf("%q is quoted %s; want %s", word, got, want)
		}
	}
	for word, want := range map[string]string{
		"joint good": "Joint good", "w/cm 0.4": "w/cm 0.4", "": "\uFFFD", "über": "Über",
	} {
		if got := Capitalise(word); got != want && word != "" {
			t.Errorf("%q begins %q; want %q", word, got, want)
		}
	}
	if Plural(1, "zone", "zones") != "1 zone" || Plural(2, "zone", "zones") != "2 zones" || IsOrAre(1) != "is" ||
		IsOrAre(0) != "are" ||
		ItOrThem(1) != "it" || ItOrThem(3) != "them" {
		t.Error("one and many are told wrong")
	}
}

func TestEachKindOfFailureHasItsExitCode(t *testing.T) {
	for kind, want := range map[Kind]int{
		Internal: 1, Usage: 2, Refused: 3, NotFound: 4, Disk: 5, Offline: 6, Closing: 10, Cold: 11,
		Interrupted: 130, Terminated: 143,
		Kind(-1): 1, Kind(99): 1,
	} {
		if got := kind.Code(); got != want {
			t.Errorf("kind %d ends with %d; want %d", kind, got, want)
		}
	}
	seen := map[int]bool{}
	for _, c := range exitCodesDoc().Codes {
		if seen[c.Code] || c.Says == "" {
			t.Errorf("the code %d is told twice, or not at all: %q", c.Code, c.Says)
		}
		seen[c.Code] = true
	}
}

func TestARoomsErrorIsOneOfUsage(t *testing.T) {
	var e *Error
	if err := AsUsage(errors.New("a mass of -1 kg\ncannot be")); !errors.As(err, &e) || e.Kind != Usage ||
		e.Msg != "a mass of -1 kg; cannot be" {
		t.Errorf("%v", err)
	}
	known := NotFoundf("none")
	if err := AsUsage(known); err != known {
		t.Errorf("one that has a kind is %v", err)
	}
	if AsUsage(nil) != nil {
		t.Error("no error is one")
	}
}

func TestArgumentsAreCountedAndTheExampleIsShown(t *testing.T) {
	env := &Streams{}
	c := env.NewCommand("place ZONE", "Place", "hod place A3", "hod place 7 A3")
	for _, x := range []struct {
		rule cobra.PositionalArgs
		args string
		want string
	}{
		{ExactArgs(1, "a zone"), "A3", ""},
		{ExactArgs(1, "a zone"), "", `needs a zone, as in "hod place A3"`},
		{ExactArgs(1, "a zone"), "A3 A4", `"A4" is too much`},
		{RangeArgs(1, 2, "a zone"), "A3 A4", ""},
		{MinimumArgs(1, "a zone"), "A3 A4 A5 A6", ""},
		{MinimumArgs(2, "two zones"), "A3", "needs two zones"},
		{NoArgs, "", ""},
		{NoArgs, "A3", "A3"},
	} {
		err := x.rule(c, strings.Fields(x.args))
		if (err == nil) != (x.want == "") || err != nil && !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: %v; want %q", x.args, err, x.want)
		}
	}
	if got := FirstExample("hod place A3 --at 10:42   # a comment\nhod place 7 A3"); !strings.HasPrefix(got,
		"hod place A3 --at 10:42") || strings.Contains(got, "\n") {
		t.Errorf("the first example is %q", got)
	}
}

func TestAHelpPageBeginsWithAnExampleAndFitsItsColumns(t *testing.T) {
	var out strings.Builder
	env := &Streams{Stdout: &out}
	c := env.NewCommand("place ZONE",
		"Write down that a batch was placed in a zone of the shell, wherever on its faces that may have been",
		"hod place A3")
	c.Run = func(*cobra.Command, []string) {}
	c.Flags().String("from", "", strings.Repeat("when placing began ", 9))
	c.Flags().Int("coat", 2, "number of the coat")
	top := &cobra.Command{Use: "hod"}
	top.AddCommand(c)
	env.Help(c, nil)
	text := out.String()
	if !strings.HasPrefix(text, "  hod place A3\n\nWrite down") || !strings.Contains(text, "Usage: hod place ZONE") ||
		!strings.Contains(text, "number of the coat (default: 2)") {
		t.Errorf("the page is\n%s", text)
	}
	for line := range strings.Lines(text) {
		if len([]rune(strings.TrimRight(line, "\n"))) > 79 {
			t.Errorf("wider than 79: %q", line)
		}
	}
}

func TestATextIsBrokenBetweenItsWords(t *testing.T) {
	for _, c := range []struct {
		text string
		most int
		want string
	}{
		{"a bb ccc", 4, "a bb|ccc"},
		{"a bb ccc", 3, "a|bb|ccc"},
		{"muchlonger a", 4, "muchlonger|a"},
		{"  a   b  ", 9, "a b"},
		{"", 9, ""},
		{"ää bb", 5, "ää bb"},
	} {
		if got := strings.Join(wrap(c.text, c.most), "|"); got != c.want {
			t.Errorf("%q at %d: %q; want %q", c.text, c.most, got, c.want)
		}
	}
}

func TestAHeaderGivesItsNameAndItsUnit(t *testing.T) {
	for header, want := range map[string][2]string{
		"Temp (°C)": {"temp", "°C"}, "wind [m/s]": {"wind", "m/s"}, "Air": {"air", ""},
		"temp_c": {"temp_c", "c"}, " time ": {"time", ""},
	} {
		name, in := HeaderName(header), HeaderUnit(header)
		if name != want[0] || !strings.EqualFold(in, want[1]) {
			t.Errorf("%q: %q in %q; want %q in %q", header, name, in, want[0], want[1])
		}
	}
	for cell, absent := range map[string]bool{
		"": true, "NA": true, "-": true, "n/a": true, "null": true, "0": false,
		"1.5": false,
	} {
		if IsAbsent(cell) != absent {
			t.Errorf("%q: absent is %t", cell, !absent)
		}
	}
	if got := unformula("=HYPERLINK(1)"); strings.HasPrefix(got, "=") {
		t.Errorf("a formula goes into a table as %q", got)
	}
}
