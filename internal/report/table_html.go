package report

import (
	"fmt"
	"strings"
)

// A phone in the hand shows about phoneLetters in a line. A table that needs more is stacked there: each row is a short
// paragraph, in which a cell that does not speak for itself has the name of its column before it.
const (
	phoneLetters = 36
	// A tablet held upright shows about tabletLetters; a table that needs more is stacked there, too.
	tabletLetters = 72
	// wordsLeast is how narrow a column of words becomes before a table is said not to fit.
	wordsLeast = 16
)

// WebTable is a table as a web page has it.
type WebTable struct {
	Caption string
	hidden  bool // the caption is for who hears the page: a heading says it already
	Headed  bool // the first cell of a row names it
	Columns []Column
	Rows    [][]Text
}

// shown are the columns that have anything to say, and about how many letters each is wide.
func (t WebTable) shown() (show, letters []int) {
	letters = make([]int, len(t.Columns))
	for i, c := range t.Columns {
		said := false
		letters[i] = columns(c.Name)
		for _, r := range t.Rows {
			said = said || !r[i].Empty()
			letters[i] = max(letters[i], r[i].columns())
		}
		if said {
			show = append(show, i)
		}
	}
	return show, letters
}

// HTML is the table. It is wide enough for its page, or is moved sideways there, or stacked on a phone.
func (t WebTable) HTML(root string) string {
	show, letters := t.shown()
	need, named := 0, false
	for _, i := range show {
		named = named || t.Columns[i].Name != ""
		if !t.Columns[i].Right {
			letters[i] = min(letters[i], wordsLeast)
		}
		need += letters[i] + 1
	}
	class := "wide"
	stacked := need > phoneLetters
	if stacked {
		class = "wide stack"
	}
	if need > tabletLetters {
		class = "wide stack far"
	}
	var b strings.Builder
	label, caption := "", ""
	if t.Caption != "" {
		words := Say(t.Caption).HTML("")
		if t.hidden { // two tables under one heading are no two regions of one name
			caption = `<caption class="vh">` + words + "</caption>"
		} else {
			label = fmt.Sprintf(` role="region" aria-label="%s"`, words)
			caption = "<caption>" + words + "</caption>"
		}
	}
	fmt.Fprintf(&b, "<div class=\"%s\"%s tabindex=\"0\"><table>%s\n", class, label, caption)
	if named {
		b.WriteString("<thead><tr>")
		for _, i := range show {
			b.WriteString(t.Columns[i].head())
		}
		b.WriteString("</tr></thead>\n")
	}
	b.WriteString("<tbody>")
	for _, r := range t.Rows {
		b.WriteString("<tr>")
		for n, i := range show {
			plain := t.Columns[i].plain || n == 0 && !t.Columns[i].Right // what a row begins with is what it is of
			b.WriteString(t.cell(r[i], i, n == 0 && t.Headed, stacked && !plain, letters[i] >= wordsLeast, root))
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>")
	return b.String()
}

// head of a column.
func (c Column) head() string {
	switch {
	case c.Name == "":
		return "<td></td>"
	case c.Right:
		return fmt.Sprintf(`<th scope="col" class="right">%s</th>`, Say(c.Name).HTML(""))
	}
	return fmt.Sprintf(`<th scope="col">%s</th>`, Say(c.Name).HTML(""))
}

// cell of a column; named says that it has the column's name before it on a phone, long that the column holds
// sentences.
func (t WebTable) cell(is Text, column int, head, named, long bool, root string) string {
	c := t.Columns[column]
	said, name, more := is.HTML(root), "td", ""
	switch {
	case head:
		name, more = "th", ` scope="row"`
	case c.Right:
		more = ` class="right"`
	case long:
		more = ` class="words"`
	}
	if named && said != "" && c.Name != "" && !head {
		more += fmt.Sprintf(` data-of="%s"`, Say(c.Name).HTML(""))
	}
	return fmt.Sprintf("<%s%s>%s</%s>", name, more, said, name)
}
