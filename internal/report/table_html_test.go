package report

import (
	"strings"
	"testing"
)

// On a phone a wide table is read without moving it sideways: its rows are stacked, each figure with its name.
func TestATableWiderThanAPhoneIsStackedThereWithTheNamesOfItsFigures(t *testing.T) {
	wide := WebTable{Columns: []Column{
		{Name: "coat"},
		{Name: "placed", Right: true},
		{Name: "left", Right: true},
		{Name: "kind", plain: true},
	}}
	wide.Rows = [][]Text{{Say("A1 outer 1"), Figure("123.45 L"), nil, Say("the rest of a batch in a zone")}}
	got := wide.HTML("")
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
	wide.Columns = append(wide.Columns, wide.Columns[1:]...)
	wide.Rows[0] = append(wide.Rows[0], wide.Rows[0][1:]...)
	wide.Columns = append(wide.Columns, wide.Columns[1:]...)
	wide.Rows[0] = append(wide.Rows[0], wide.Rows[0][1:]...)
	if got := wide.HTML(""); !strings.Contains(got, `class="wide stack far"`) {
		t.Errorf("a table wider than a tablet is not stacked there:\n%s", got)
	}
	narrow := WebTable{
		Columns: []Column{{Name: "at"}, {Name: "rate", Right: true}},
		Rows:    [][]Text{{Say("12:00"), Figure("0.5")}},
	}
	if got := narrow.HTML(""); strings.Contains(got, "stack") || strings.Contains(got, "data-of") {
		t.Errorf("a table that fits a phone is stacked:\n%s", got)
	}
}
