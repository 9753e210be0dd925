package paper

import (
	"fmt"
	"slices"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// kind of a block on paper.
type kind int

const (
	paragraph kind = iota
	title
	heading
	smallHeading
	tabular
	drawn
)

// run is words of one weight.
type run struct {
	words string
	bold  bool
}

// block is what stands on paper as a whole: a heading, a paragraph, a table or a picture.
type block struct {
	kind    kind
	inset   bool
	text    []run
	table   table
	picture *html.Node
}

// table has a head of no cells where it names no columns.
type table struct {
	form  bool // to be written on
	head  [][]run
	right []bool
	rows  [][][]run
}

// blocks of a part of a page.
func blocks(markup string) ([]block, error) {
	body := &html.Node{Type: html.ElementNode, DataAtom: atom.Body, Data: "body"}
	nodes, err := html.ParseFragment(strings.NewReader(markup), body)
	if err != nil {
		return nil, fmt.Errorf("read the report's markup: %w", err)
	}
	var r reader
	for _, n := range nodes {
		r.node(n)
	}
	r.end()
	return r.blocks, nil
}

// reader gathers words until something that stands by itself begins.
type reader struct {
	blocks []block
	open   block
	bold   int
}

func (r *reader) end() {
	if r.open.text = trimmed(r.open.text); len(r.open.text) > 0 {
		r.blocks = append(r.blocks, r.open)
	}
	r.open = block{}
}

// unprinted are elements that lead on, steer a page, or tell in words what is seen on paper.
var unprinted = map[atom.Atom]bool{
	atom.Nav: true, atom.Script: true, atom.Noscript: true, atom.Style: true, atom.Template: true,
}

var headings = map[atom.Atom]kind{
	atom.H1: title, atom.H2: heading, atom.H3: smallHeading, atom.H4: smallHeading, atom.Summary: smallHeading,
	atom.Caption: smallHeading,
}

// apart are elements that begin on a line of their own.
var apart = map[atom.Atom]bool{
	atom.P: true, atom.Div: true, atom.Section: true, atom.Header: true, atom.Footer: true, atom.Main: true,
	atom.Ul: true,
	atom.Ol: true, atom.Li: true, atom.Dl: true, atom.Dt: true, atom.Details: true, atom.Figure: true,
	atom.Figcaption: true,
}

func (r *reader) node(n *html.Node) {
	switch {
	case n.Type == html.TextNode:
		r.say(n.Data)
	case n.Type != html.ElementNode || unprinted[n.DataAtom] || hasClass(n, "vh") || hasClass(n, "face"):
	case n.DataAtom == atom.Svg:
		if !hasClass(n, "key") {
			r.end()
			r.blocks = append(r.blocks, block{kind: drawn, picture: n})
		}
	case n.DataAtom == atom.Table:
		r.end()
		r.table(n)
	case n.DataAtom == atom.B || n.DataAtom == atom.Strong:
		r.bold++
		r.inside(n)
		r.bold--
	case apart[n.DataAtom] || headings[n.DataAtom] != paragraph:
		r.end()
		r.open = block{kind: headings[n.DataAtom], inset: hasClass(n, "in")}
		if n.DataAtom == atom.Dt {
			r.bold++
			r.inside(n)
			r.bold--
			r.say(": ") // what it is of follows on the same line
			return
		}
		r.inside(n)
		r.end()
	default:
		r.inside(n)
	}
}

func (r *reader) inside(n *html.Node) {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		r.node(c)
	}
}

// say adds words; spaces that markup has for itself are one.
func (r *reader) say(s string) {
	r.open.text = grown(r.open.text, s, r.bold > 0)
}

// space is what parts words in markup; the space inside a figure, U+00A0, does not.
func space(c rune) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' || c == '\f' }

func grown(text []run, s string, bold bool) []run {
	var b strings.Builder
	for _, c := range s {
		if space(c) {
			at := b.String()
			if at == "" && len(text) > 0 {
				at = text[len(text)-1].words
			}
			if at == "" || strings.HasSuffix(at, " ") {
				continue
			}
			c = ' '
		}
		b.WriteRune(c)
	}
	if b.Len() == 0 {
		return text
	}
	if n := len(text); n > 0 && text[n-1].bold == bold {
		text[n-1].words += b.String()
		return text
	}
	return append(text, run{b.String(), bold})
}

// trimmed is a text without the space at its end.
func trimmed(text []run) []run {
	for n := len(text); n > 0; n = len(text) {
		text[n-1].words = strings.TrimRight(text[n-1].words, " ")
		if text[n-1].words != "" {
			return text
		}
		text = text[:n-1]
	}
	return nil
}

// table reads the rows; a first row of heads is said again on each page.
func (r *reader) table(n *html.Node) {
	t := table{form: hasClass(n, "form")}
	for row := range n.Descendants() {
		switch {
		case row.DataAtom == atom.Caption && !hasClass(row, "vh"):
			r.open = block{kind: smallHeading}
			r.inside(row)
			r.end()
		case row.DataAtom == atom.Tr:
			t.add(row)
		}
	}
	if len(t.rows) > 0 || len(t.head) > 0 {
		r.blocks = append(r.blocks, block{kind: tabular, table: t})
	}
}

func (t *table) add(row *html.Node) {
	var cells [][]run
	heads := true
	for c := range row.ChildNodes() {
		if c.DataAtom != atom.Td && c.DataAtom != atom.Th {
			continue
		}
		inner := reader{}
		if c.DataAtom == atom.Th {
			inner.bold = 1
		}
		inner.inside(c)
		inner.end()
		var text []run
		for i, b := range inner.blocks {
			if i > 0 {
				text = grown(text, " ", false)
			}
			text = append(text, b.text...)
		}
		heads = heads && (c.DataAtom == atom.Th || len(text) == 0)
		for len(t.right) <= len(cells) {
			t.right = append(t.right, false)
		}
		t.right[len(cells)] = t.right[len(cells)] || hasClass(c, "right")
		cells = append(cells, text)
	}
	if heads && len(t.head) == 0 && len(t.rows) == 0 {
		t.head = cells
		return
	}
	t.rows = append(t.rows, cells)
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func hasClass(n *html.Node, name string) bool {
	return slices.Contains(strings.Fields(attribute(n, "class")), name)
}
