package report

import (
	"strings"
	"testing"
)

// On a phone a wide table is read without moving it sideways: its rows are stacked, each figure with its name.
func TestATableWiderThanAPhoneIsStackedThereWithTheNamesOfItsFigures(t *testing.T) {
	wide := webTable{columns: []column{
		{name: "coat"},
		{name: "placed", right: true},
		{name: "left", right: true},
		{name: "kind", plain: true},
	}}
	wide.rows = [][]text{{say("A1 outer 1"), figure("123.45 L"), nil, say("the rest of a batch in a zone")}}
	got := wide.html("")
	for _, want := range []string{
		`class="wide stack"`, `<td class="right" data-of="placed">`, `<td>A1 outer 1</td>`, `<td class="words">the rest`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%s is not in\n%s", want, got)
		}
	}
	if strings.Contains(got, "left") {
		t.Errorf("a column that says nothing is shown:\n%s", got)
	}
	narrow := webTable{
		columns: []column{{name: "at"}, {name: "rate", right: true}},
		rows:    [][]text{{say("12:00"), figure("0.5")}},
	}
	if got := narrow.html(""); strings.Contains(got, "stack") || strings.Contains(got, "data-of") {
		t.Errorf("a table that fits a phone is stacked:\n%s", got)
	}
}
