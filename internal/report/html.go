package report

import (
	"fmt"
	"html"
	"strings"
)

// mostHTML is how much of a text is shown where a screen would show a line of it.
const mostHTML = 2000

// classes of HTML's own b element, for what colour adds to a word.
var classes = [...]string{strong: "strong", Urgent: "urgent", Soon: "soon"}

// Element writes t as one; a paragraph that stands further in is of class in.
func (s *Sheet) Element(name string, indent int, t Text) {
	if t.Empty() {
		return
	}
	class := ""
	if indent > 0 {
		class = ` class="in"`
	}
	s.Lines = append(s.Lines, fmt.Sprintf("<%s%s>%s</%s>", name, class, t.HTML(s.Root), name))
}

// HTML is t escaped. Every text was made by say, which has passed it through Clean.
// What leads on does so where root is the address under which the pages lie.
func (t Text) HTML(root string) string {
	var b strings.Builder
	for i, s := range t {
		words := html.EscapeString(s.s)
		if trimmed := strings.Trim(words, string(held)); trimmed == "" {
			words = " " // what puts words under each other on a screen
		}
		leads := root != "" && s.To != ""
		if leads && (i == 0 || t[i-1].To != s.To) {
			fmt.Fprintf(&b, `<a href="%s">`, html.EscapeString(root+s.To))
		}
		if s.as == Plain {
			b.WriteString(words)
		} else {
			fmt.Fprintf(&b, `<b class="%s">%s</b>`, classes[s.as], words)
		}
		if leads && (i == len(t)-1 || t[i+1].To != s.To) {
			b.WriteString("</a>")
		}
	}
	return strings.TrimSpace(b.String())
}

// tableHTML is a table under the heading of its part.
func (s *Sheet) tableHTML(t Table) {
	of := WebTable{Caption: s.heading, hidden: true, Columns: t.Columns, Rows: t.Rows}
	s.Lines = append(s.Lines, of.HTML(s.Root))
}
