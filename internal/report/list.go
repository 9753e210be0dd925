package report

import (
	"slices"
)

// List is a table of a plan that has no view of its own, such as the mixes: the first column stays, the others are left
// out from the last where the page is narrow. The cells are taken as words, a figure in them stays whole. A row with
// too few cells is filled up; cells beyond the columns are not shown.
func List(title string, names []string, rows [][]string, p Page) string {
	s := Open(p, "", p.Now)
	if title != "" {
		s.Para(0, 2, Say(title, strong))
	}
	if len(rows) == 0 {
		s.Para(0, 2, Say("Nothing is written."))
		s.OwnCopy()
		return s.String()
	}
	var t Table
	for i, name := range names {
		t.Columns = append(t.Columns, Column{Name: Clean(name), Least: 12, Drop: i})
	}
	for _, r := range rows {
		cells := make([]Text, len(names))
		for i, c := range r[:min(len(r), len(names))] {
			cells[i] = Say(c)
		}
		t.Rows = append(t.Rows, slices.Clip(cells))
	}
	s.Table(0, t)
	s.OwnCopy()
	return s.String()
}

// Rows is a table without names over its columns, two columns in: the last holds words and is wrapped where the page is
// narrow. A row has as many cells as the first.
func Rows(rows [][]string, p Page) string {
	if len(rows) == 0 {
		return ""
	}
	s := Open(p, "", p.Now)
	t := Table{Columns: make([]Column, len(rows[0]))}
	t.Columns[len(rows[0])-1].Least = 12
	for _, r := range rows {
		cells := make([]Text, len(t.Columns))
		for i, c := range r[:min(len(r), len(cells))] {
			cells[i] = Say(c)
		}
		t.Row(cells...)
	}
	s.Table(2, t)
	return s.String()
}
