package report

import (
	"fmt"
	"html"
	"strings"
)

// mostHTML is how much of a text is shown where a screen would show a line of it.
const mostHTML = 2000

// classes of HTML's own b element, for what colour adds to a word.
var classes = [...]string{strong: "strong", urgent: "urgent", soon: "soon"}

// element writes t as one; a paragraph that stands further in is of class in.
func (s *sheet) element(name string, indent int, t text) {
	if t.empty() {
		return
	}
	class := ""
	if indent > 0 {
		class = ` class="in"`
	}
	s.lines = append(s.lines, fmt.Sprintf("<%s%s>%s</%s>", name, class, t.html(), name))
}

// html is t escaped. Every text was made by say, which has passed it through printable.Line.
func (t text) html() string {
	var b strings.Builder
	for _, s := range t {
		words := html.EscapeString(s.s)
		if trimmed := strings.Trim(words, string(held)); trimmed == "" {
			words = " " // what puts words under each other on a screen
		}
		if s.as == plain {
			b.WriteString(words)
		} else {
			fmt.Fprintf(&b, `<b class="%s">%s</b>`, classes[s.as], words)
		}
	}
	return strings.TrimSpace(b.String())
}

// tableHTML is a table without the columns that have nothing to say. A page is wide enough, or is moved sideways.
func (s *sheet) tableHTML(t table) {
	var show []int
	for i := range t.columns {
		for _, r := range t.rows {
			if !r[i].empty() {
				show = append(show, i)
				break
			}
		}
	}
	var b strings.Builder
	b.WriteString("<div class=\"wide\"><table>\n<tr>")
	side := func(i int) string {
		if t.columns[i].right {
			return ` class="right"`
		}
		return ""
	}
	for _, i := range show {
		fmt.Fprintf(&b, "<th%s>%s</th>", side(i), say(t.columns[i].name).html())
	}
	b.WriteString("</tr>\n")
	for _, r := range t.rows {
		b.WriteString("<tr>")
		for _, i := range show {
			fmt.Fprintf(&b, "<td%s>%s</td>", side(i), r[i].html())
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</table></div>")
	s.lines = append(s.lines, b.String())
}
