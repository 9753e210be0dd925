package report

import "slices"

// List is a table of a plan that has no view of its own, such as the mixes: the first column stays, the others are left
// out from the last where the page is narrow. The cells are taken as words, a figure in them stays whole. A row with
// too few cells is filled up; cells beyond the columns are not shown.
func List(title string, names []string, rows [][]string, p Page) string {
	s := open(p, "", p.Now)
	if title != "" {
		s.para(0, 2, say(title, strong))
	}
	if len(rows) == 0 {
		s.para(0, 2, say("Nothing is written."))
		s.ownCopy()
		return s.String()
	}
	var t table
	for i, name := range names {
		t.columns = append(t.columns, column{name: Clean(name), least: 12, drop: i})
	}
	for _, r := range rows {
		cells := make([]text, len(names))
		for i, c := range r[:min(len(r), len(names))] {
			cells[i] = say(c)
		}
		t.rows = append(t.rows, slices.Clip(cells))
	}
	s.table(0, t)
	s.ownCopy()
	return s.String()
}
