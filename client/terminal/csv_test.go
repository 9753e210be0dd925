package terminal

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/internal/unit"
)

// table reads a text as a file at standard input.
func table(text string) (Table, error) {
	return (&Streams{Stdin: strings.NewReader(text)}).ReadTable("-")
}

func TestATableIsReadWithWhateverPartsIt(t *testing.T) {
	for _, text := range []string{
		"time,temp\n10:00,29\n11:00,30\n", "\xef\xbb\xbftime;temp\r\n10:00;29\r\n11:00;30", "time\ttemp\r10:00\t29\r11:00\t30\r",
		" time , temp \n\"10:00\", 29\n11:00,\"30\"\n",
	} {
		got, err := table(text)
		if err != nil || len(got.Header) != 2 || got.Header[1] != "temp" || len(got.Rows) != 2 ||
			got.Rows[1].Cells[1] != "30" || got.Rows[1].Line != 3 {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for text, want := range map[string]string{
		"":                        "is empty; it needs a line that names its columns",
		"\xff\xfet\x00":           "is written in UTF-16; save it as UTF-8",
		"temp\n29\xb0C\n":         "is not a text in UTF-8",
		"\"time,temp\n10:00,29\n": "this is no CSV: a quote (\") is not closed",
		"ti\"me,temp\n10:00,29\n": "a quote (\") stands inside a cell",
	} {
		if _, err := table(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want %q", text, err, want)
		}
	}
	short, err := table("time,temp\n10:00\n11:00,30\n")
	if err != nil || short.Rows[0].Wrong != "it has 1 columns, the header has 2" || short.Rows[1].Wrong != "" {
		t.Errorf("a short row: %+v, %v", short.Rows, err)
	}
	open, err := table("time,temp\n\"10:00,29\n11:00,30\n")
	if err != nil || len(open.Rows) != 1 || !strings.Contains(open.Rows[0].Wrong, "were taken to be inside it") {
		t.Errorf("a quote that nobody closed: %+v, %v", open.Rows, err)
	}
	if _, err := (&Streams{}).ReadTable(filepath.Join(t.TempDir(), "none.csv")); err == nil ||
		!strings.Contains(err.Error(), "there is no file") {
		t.Errorf("no file: %v", err)
	}
}

func TestAColumnIsFoundByItsNameOrByTheUsualOnes(t *testing.T) {
	in, err := table("Stamp,Temp (°C),rh\n")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		said  string
		usual []string
		want  int
		err   string
	}{
		{"STAMP", nil, 0, ""},
		{"stmap", nil, -1, `--x: - has no column "stmap"; did you mean Stamp?`},
		{"", []string{"humidity", "rh"}, 2, ""},
		{"", []string{"temp"}, 1, ""},
		{"", []string{"wind"}, -1, ""},
	} {
		got, err := in.Column("x", c.said, c.usual...)
		if got != c.want || (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%q or %v: %d, %v; want %d %s", c.said, c.usual, got, err, c.want, c.err)
		}
	}
}

func TestBadRowsAreToldByLineAndWrittenAside(t *testing.T) {
	in := Table{Path: "log.csv", Header: []string{"time", "temp"}}
	var bad []BadRow
	for i := range 7 {
		bad = append(bad, BadRow{Line: i + 2, Cells: []string{"=1+1", "-5"}, Why: "it is none"})
	}
	text := in.Refuse(bad).Error()
	if !strings.HasPrefix(text,
		"7 rows of log.csv cannot be taken, and nothing was recorded: line 2: it is none; line 3") ||
		!strings.Contains(text, "and 2 more") {
		t.Errorf("it says %s", text)
	}
	path := filepath.Join(t.TempDir(), "bad.csv")
	if err := in.WriteSkipped(path, bad[:1]); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(path); string(got) != "line,why,time,temp\n2,it is none,'=1+1,-5\n" {
		t.Errorf("aside lies %q", got) // a cell that a spreadsheet would work out is not one any more, a number stays
	}
	for cell, want := range map[string]string{
		"=1": "'=1", "@sum": "'@sum", "-5C": "-5C", "+1e-3": "+1e-3", "-1+1": "'-1+1", "-": "'-", "+1|cmd": "'+1|cmd", "A1": "A1", "": "",
	} {
		if got := unformula(cell); got != want {
			t.Errorf("%q goes into a table as %q; want %q", cell, got, want)
		}
	}
	if err := in.WriteSkipped(path, bad); err == nil ||
		!strings.Contains(err.Error(), "is there already; name a new file") {
		t.Errorf("over another: %v", err)
	}
	in.RemoveSkipped(path, bad)
	if _, err := os.Stat(path); err == nil {
		t.Error("it stays though nothing was recorded")
	}
}

func TestATimeOfATableIsWrittenWithItsYearFirst(t *testing.T) {
	r := TimeColumn{In: time.UTC}
	for _, cell := range []string{"10:00", "25.10.2026 01:30", "10/25/2026 01:30", "2026-13-01 00:00", ""} {
		if at, err := r.Read(cell); err == nil ||
			!strings.Contains(err.Error(), "day and month the other way round cannot be told apart") {
			t.Errorf("%q is %v, %v", cell, at, err)
		}
	}
	for _, cell := range []string{
		"2026-10-25 01:30", "2026-10-25T01:30:00Z", "2026/10/25 01:30", "2026-10-25T02:30:00+01:00",
	} {
		if at, err := r.Read(cell); err != nil || at.UTC().Format("02T15:04") != "25T01:30" {
			t.Errorf("%q is %v, %v", cell, at, err)
		}
	}
}

func TestANumberOfAFileHasAPointAndIsOne(t *testing.T) {
	for cell, want := range map[string]float64{"29": 29, "-1.5": -1.5, "1e3": 1000, ".5": 0.5} {
		if got, err := ParseNumber(cell); err != nil || got != want {
			t.Errorf("%q: %g, %v", cell, got, err)
		}
	}
	for cell, want := range map[string]string{
		"29,5": "write the decimals behind a point, 29.5", "x": "is not a number", "NaN": "is not a number", "0x1p3": "is not a number", "": "is not a number",
	} {
		if got, err := ParseNumber(cell); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %g, %v; want %q", cell, got, err, want)
		}
	}
	for _, c := range []struct {
		cell, in string
		want     unit.Celsius
	}{{"20", "C", 20}, {"68", "F", unit.Fahrenheit(68)}, {"68F", "C", unit.Fahrenheit(68)}, {"-5", "C", -5}} {
		if got, err := TemperatureIn(c.cell, c.in); err != nil || got != c.want {
			t.Errorf("%q in %s: %g, %v; want %g", c.cell, c.in, got, err, c.want)
		}
	}
	if _, err := TemperatureIn("warm", "C"); err == nil {
		t.Error("warm is a temperature")
	}
}
