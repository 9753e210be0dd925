package paper

import (
	"cmp"
	"math"
	"slices"
)

const (
	columnGap = 3.0
	rowGap    = 0.7
)

// set is a table with its columns' widths.
type set struct {
	table
	size   float64
	widths []float64
}

// shrunk are by how much letters become smaller in a table that is too wide for its page.
var shrunk = []float64{1, 0.9, 0.8, 0.7}

// sampled is how many rows tell how high a table becomes.
const sampled = 40

// fitted finds widths for the columns. Where each cell cannot have a line, letters are as small as makes the table
// lowest.
func (s *sheet) fitted(t table) set {
	n := len(t.head)
	for _, r := range t.rows {
		n = max(n, len(r))
	}
	for len(t.right) < n {
		t.right = append(t.right, false)
	}
	room := s.width - columnGap*float64(max(n-1, 0))
	var best set
	lowest := math.Inf(1)
	for _, by := range shrunk {
		most, least := s.columns(t, n, s.size*by)
		widths, words := spread(most, least, room)
		f := set{t, s.size * by, widths}
		all := 0.0
		for i := range most {
			all += most[i]
		}
		if all <= room {
			if by == 1 || lowest > s.high(f) {
				best = f
			}
			break
		}
		high := s.high(f)
		if !words { // words are cut
			high *= 2
		}
		if high < lowest {
			best, lowest = f, high
		}
	}
	return best
}

// high is about how high a table becomes.
func (s *sheet) high(f set) float64 {
	sum := s.rowHigh(f, f.head)
	for _, row := range f.rows[:min(len(f.rows), sampled)] {
		sum += s.rowHigh(f, row)
	}
	return sum
}

// columns are how wide each is at most, with each cell on one line, and at least, with a word a line.
func (s *sheet) columns(t table, n int, size float64) (most, least []float64) {
	most, least = make([]float64, n), make([]float64, n)
	for _, row := range append([][][]run{t.head}, t.rows...) {
		for i, cell := range row {
			all := 0.0
			for k, w := range pieces(cell) {
				one := 0.0
				for _, r := range w {
					one += s.wide(r.words, r.bold, size)
				}
				if least[i] = max(least[i], min(one, s.width/3)); k > 0 {
					all += s.wide(" ", false, size)
				}
				all += one
			}
			most[i] = max(most[i], all+0.01)
		}
	}
	return most, least
}

// spread gives each column its longest word, and of what is left first what the columns want that want least: a
// figure's head stays on one line, and a note takes the rest.
func spread(most, least []float64, room float64) ([]float64, bool) {
	widths := slices.Clone(least)
	has, order := room, make([]int, len(most))
	for i := range most {
		has -= least[i]
		order[i] = i
	}
	if has < 0 { // not even the words: all are narrowed alike, and words are cut
		for i := range widths {
			widths[i] *= room / (room - has)
		}
		return widths, false
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(most[a]-least[a], most[b]-least[b]) })
	for at, i := range order {
		more := min(most[i]-least[i], has/float64(len(order)-at))
		widths[i] += more
		has -= more
	}
	return widths, true
}

func (s *sheet) firstRow(t table) float64 {
	f := s.fitted(t)
	high := s.rowHigh(f, f.head)
	if len(f.rows) > 0 {
		high += s.rowHigh(f, f.rows[0])
	}
	return high
}

func (s *sheet) cells(f set, row [][]run) (cells [][][]run, high int) {
	cells = make([][][]run, len(row))
	for i, c := range row {
		cells[i] = s.lines(c, f.widths[i]+0.02, f.size)
		high = max(high, len(cells[i]))
	}
	return cells, high
}

func (s *sheet) rowHigh(f set, row [][]run) float64 {
	if len(row) == 0 {
		return 0
	}
	_, n := s.cells(f, row)
	return float64(max(n, 1))*f.size*point*lineHigh + rowGap
}

// table sets the head on each page anew, and breaks no row that a page can hold.
func (s *sheet) table(t table) {
	if t.form {
		s.form(t)
		return
	}
	f := s.fitted(t)
	head := s.rowHigh(f, f.head)
	page := s.foot - above
	if len(f.rows) > 0 {
		s.room(min(head+s.rowHigh(f, f.rows[0]), page))
	}
	s.head(f)
	for _, row := range f.rows {
		high := s.rowHigh(f, row)
		if s.y+high > s.foot && s.onPage && high+head <= page {
			s.page()
			s.head(f)
		}
		s.row(f, row, true)
		s.under(f, 150, 0.08)
	}
	s.y += 1
}

func (s *sheet) head(f set) {
	if len(f.head) == 0 {
		return
	}
	s.row(f, f.head, false)
	s.under(f, 0, 0.25)
}

// under is the line beneath a row, as wide as the table.
func (s *sheet) under(f set, grey int, thick float64) {
	wide := columnGap * float64(max(len(f.widths)-1, 0))
	for _, w := range f.widths {
		wide += w
	}
	s.pdf.SetDrawColor(grey, grey, grey)
	s.pdf.SetDashPattern(nil, 0)
	s.pdf.SetLineWidth(thick)
	s.pdf.Line(side, s.y-rowGap/2, side+wide, s.y-rowGap/2)
}

// row sets the lines of its cells; one that is higher than a page goes on on the next.
func (s *sheet) row(f set, row [][]run, mayBreak bool) {
	cells, high := s.cells(f, row)
	for n := range high {
		line := f.size * point * lineHigh
		if mayBreak && s.y+line > s.foot {
			s.page()
			s.head(f)
		}
		x := side
		for i, c := range cells {
			if n < len(c) {
				at := x
				if f.right[i] {
					at += f.widths[i] - s.lineWide(c[n], f.size)
				}
				s.write(c[n], at, s.y+f.size*point, f.size)
			}
			x += f.widths[i] + columnGap
		}
		s.y += line
		s.onPage = true
	}
	s.y += rowGap
}

func (s *sheet) lineWide(l []run, size float64) float64 {
	wide := 0.0
	for _, r := range l {
		wide += s.wide(r.words, r.bold, size)
	}
	return wide
}

// boxHigh is how high a box is that is written in by hand, with a pencil that is none too sharp.
const boxHigh = 9.0

// form is a table of boxes over the whole width, each as wide as its head asks for and the same again.
func (s *sheet) form(t table) {
	widths, sum := make([]float64, len(t.head)), 0.0
	for i, c := range t.head {
		widths[i] = max(s.lineWide(c, s.size), 8) + 6
		sum += widths[i]
	}
	f := set{table: t, size: s.size}
	for i, c := range t.head {
		widths[i] *= s.width / sum
		f.widths = append(f.widths, widths[i]-columnGap)
		for _, w := range pieces(c) { // a word of a head is not cut
			f.size = min(f.size, s.size*(widths[i]-columnGap)/s.lineWide(w, s.size))
		}
	}
	head := s.rowHigh(f, t.head)
	s.room(head + 2*boxHigh)
	s.row(f, t.head, false)
	for _, row := range t.rows {
		if s.y+boxHigh > s.foot {
			s.page()
			s.row(f, t.head, false)
		}
		s.pdf.SetDrawColor(0, 0, 0)
		s.pdf.SetDashPattern(nil, 0)
		s.pdf.SetLineWidth(0.2)
		x := side
		for i, w := range widths {
			s.pdf.Rect(x, s.y, w, boxHigh, "D")
			if i < len(row) {
				s.write(row[i], x+2, s.y+boxHigh-3, s.size)
			}
			x += w
		}
		s.y += boxHigh
		s.onPage = true
	}
	s.y += 2
}
