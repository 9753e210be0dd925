package report

import (
	"strings"
)

// Column of a table. Columns of numbers are never cut or wrapped; those of words may be.
type Column struct {
	Name  string
	Right bool // to the right, as numbers are
	Drop  int  // the highest is left out first where the page is narrow; 0 stays
	Least int  // a column of words may be wrapped down to this width; 0 is a column of numbers
	plain bool // what its cells hold speaks for itself, without the column's name
}

// Table is rows under columns; a column that has nothing to say is left out, and one that does not fit is dropped.
type Table struct {
	Columns []Column
	Rows    [][]Text
}

// Row adds one, a text for each column.
func (t *Table) Row(cells ...Text) { t.Rows = append(t.Rows, cells) }

// tightest is the width of a column of words before a table is given up for sentences.
const tightest = 8

// Table writes t from column indent, without the columns that have nothing to say, and without those that there is no
// room for. What fits in no way is written as sentences.
func (s *Sheet) Table(indent int, t Table) {
	if len(t.Rows) == 0 {
		return
	}
	if s.HTML {
		s.tableHTML(t)
		return
	}
	gap := 2
	if s.width < narrow {
		gap = 1
	}
	var show []int
	natural := make([]int, len(t.Columns))
	for i, c := range t.Columns {
		said := false
		natural[i] = columns(c.Name)
		for _, r := range t.Rows {
			said = said || !r[i].Empty()
			natural[i] = max(natural[i], r[i].columns())
		}
		if said {
			show = append(show, i)
		}
	}
	for {
		widths, ok := fit(t.Columns, natural, show, s.width-indent-gap*(len(show)-1), false)
		if ok {
			s.rows(indent, gap, t, show, widths)
			return
		}
		out := -1
		for at, i := range show {
			if d := t.Columns[i].Drop; d > 0 && (out < 0 || d > t.Columns[show[out]].Drop) {
				out = at
			}
		}
		if out < 0 {
			break
		}
		show = append(show[:out:out], show[out+1:]...)
	}
	if widths, ok := fit(t.Columns, natural, show, s.width-indent-gap*(len(show)-1), true); ok {
		s.rows(indent, gap, t, show, widths)
		return
	}
	for _, r := range t.Rows {
		var parts []Text
		for _, i := range show {
			if !r[i].Empty() {
				parts = append(parts, Join(" ", Say(t.Columns[i].Name), r[i]))
			}
		}
		s.Para(indent, 2, Join(", ", parts...))
	}
}

// fit narrows the columns of words, the widest first, until all fit into room.
func fit(cs []Column, natural, show []int, room int, hard bool) (widths []int, ok bool) {
	widths = make([]int, len(cs))
	for _, i := range show {
		widths[i] = natural[i]
		room -= natural[i]
	}
	for room < 0 {
		widest := -1
		for _, i := range show {
			least := cs[i].Least
			if hard {
				least = min(least, tightest)
			}
			if least > 0 && widths[i] > least && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			return nil, false
		}
		// All of a long note at once: it is the widest column until it is as wide as the page.
		by := min(-room, widths[widest]-max(cs[widest].Least, tightest))
		if by < 1 {
			by = 1
		}
		by = min(by, max(widths[widest]/2, 1))
		widths[widest] -= by
		room += by
	}
	return widths, true
}

func (s *Sheet) rows(indent, gap int, t Table, show, widths []int) {
	line := func(cells map[int]Text) {
		l := Text{{s: strings.Repeat(" ", indent), as: Plain}}
		for at, i := range show {
			if at > 0 {
				l = append(l, span{s: strings.Repeat(" ", gap), as: Plain})
			}
			pad := span{s: strings.Repeat(" ", max(widths[i]-cells[i].columns(), 0)), as: Plain}
			if t.Columns[i].Right {
				l = append(append(l, pad), cells[i]...)
			} else {
				l = append(append(l, cells[i]...), pad)
			}
		}
		s.put(l)
	}
	write := func(cells []Text) {
		wrapped := make(map[int][]Text, len(show))
		high := 1
		for _, i := range show {
			wrapped[i] = cells[i].wrap(widths[i], widths[i])
			high = max(high, len(wrapped[i]))
		}
		for n := range high {
			at := make(map[int]Text, len(show))
			for _, i := range show {
				if n < len(wrapped[i]) {
					at[i] = wrapped[i][n]
				}
			}
			line(at)
		}
	}
	heads, named := make([]Text, len(t.Columns)), false
	for i, c := range t.Columns {
		heads[i] = Say(c.Name, strong)
		named = named || c.Name != ""
	}
	if named {
		write(heads)
	}
	for _, r := range t.Rows {
		write(r)
	}
}
