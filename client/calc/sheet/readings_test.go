package sheet

import (
	"strings"
	"testing"

	"hod/client/terminal"
)

// columns reads a file of two columns, a temperature and hours.
func columns(file string) ([][]float64, []string, error) {
	env := &terminal.Streams{Stdin: strings.NewReader(file), Getenv: func(string) string { return "" }}
	return ReadColumns(env, "readings", "-", []string{"hours"}, []string{"temp_c", "temp_f"})
}

func TestColumnsAreFoundByAnyOfTheirNames(t *testing.T) {
	rows, found, err := columns("\xef\xbb\xbfTEMP_F , note , Hours\n68,first,0\n86,,2.5\n")
	if err != nil || len(rows) != 2 || rows[1][0] != 2.5 || rows[1][1] != 86 ||
		!strings.EqualFold(strings.TrimSpace(found[1]), "temp_f") {
		t.Errorf("%v of %q, %v", rows, found, err)
	}
	for file, want := range map[string]string{
		"hours,temp_k\n0,280\n":                        "line 1: no column temp_c or temp_f; the line has",
		"hours,temp_c\n":                               "has no readings below the names of its columns",
		"hours,temp_c\n0,\n":                           "line 2: temp_c is missing; give a number, or leave the line out",
		"hours;temp_c\n0;12,5\n":                       `line 2: temp_c "12,5" has a decimal comma; write a point`,
		"hours,temp_c\n0,warm\n":                       `line 2: temp_c "warm" is not a number`,
		"hours,temp_c\n0,NaN\n":                        `line 2: temp_c "NaN" is not a number`,
		"hours,temp_c\na,1\nb,1\nc,1\nd,1\ne,1\nf,1\n": "and 1 lines more",
	} {
		if _, _, err := columns(file); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want %q", file, err, want)
		}
	}
}
