package report

import (
	"fmt"
	"strings"
)

// A phone in the hand shows about phoneLetters in a line. A table that needs more is stacked there: each row is a short
// paragraph, in which a cell that does not speak for itself has the name of its column before it.
const (
	phoneLetters = 36
	// wordsLeast is how narrow a column of words becomes before a table is said not to fit.
	wordsLeast = 16
)

// webTable is a table as a web page has it.
type webTable struct {
	caption string
	hidden  bool // the caption is for who hears the page: a heading says it already
	headed  bool // the first cell of a row names it
	columns []column
	rows    [][]text
}

// shown are the columns that have anything to say, and about how many letters each is wide.
func (t webTable) shown() (show, letters []int) {
	letters = make([]int, len(t.columns))
	for i, c := range t.columns {
		said := false
		letters[i] = columns(c.name)
		for _, r := range t.rows {
			said = said || !r[i].empty()
			letters[i] = max(letters[i], r[i].columns())
		}
		if said {
			show = append(show, i)
		}
	}
	return show, letters
}

// html is the table. It is wide enough for its page, or is moved sideways there, or stacked on a phone.
func (t webTable) html(root string) string {
	show, letters := t.shown()
	need, named := 0, false
	for _, i := range show {
		named = named || t.columns[i].name != ""
		if !t.columns[i].right {
			letters[i] = min(letters[i], wordsLeast)
		}
		need += letters[i] + 1
	}
	class := "wide"
	stacked := need > phoneLetters
	if stacked {
		class = "wide stack"
	}
	var b strings.Builder
	label, caption := "", ""
	if t.caption != "" {
		words := say(t.caption).html("")
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
			b.WriteString(t.columns[i].head())
		}
		b.WriteString("</tr></thead>\n")
	}
	b.WriteString("<tbody>")
	for _, r := range t.rows {
		b.WriteString("<tr>")
		for n, i := range show {
			plain := t.columns[i].plain || n == 0 && !t.columns[i].right // what a row begins with is what it is of
			b.WriteString(t.cell(r[i], i, n == 0 && t.headed, stacked && !plain, letters[i] >= wordsLeast, root))
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>")
	return b.String()
}

// head of a column.
func (c column) head() string {
	switch {
	case c.name == "":
		return "<td></td>"
	case c.right:
		return fmt.Sprintf(`<th scope="col" class="right">%s</th>`, say(c.name).html(""))
	}
	return fmt.Sprintf(`<th scope="col">%s</th>`, say(c.name).html(""))
}

// cell of a column; named says that it has the column's name before it on a phone, long that the column holds
// sentences.
func (t webTable) cell(is text, column int, head, named, long bool, root string) string {
	c := t.columns[column]
	said, name, more := is.html(root), "td", ""
	switch {
	case head:
		name, more = "th", ` scope="row"`
	case c.right:
		more = ` class="right"`
	case long:
		more = ` class="words"`
	}
	if named && said != "" && c.name != "" && !head {
		more += fmt.Sprintf(` data-of="%s"`, say(c.name).html(""))
	}
	return fmt.Sprintf("<%s%s>%s</%s>", name, more, said, name)
}
