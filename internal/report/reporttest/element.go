package reporttest

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"
)

// Element of a page or a picture: what it is, and all the words inside it.
type Element struct {
	Name   string
	Attr   map[string]string
	Words  string
	Inside []*Element
}

// Read takes a part of a page or a picture apart; it must be well formed.
func Read(t testing.TB, part string) *Element {
	t.Helper()
	top := &Element{Attr: map[string]string{}}
	open := []*Element{top}
	d := xml.NewDecoder(strings.NewReader("<part>" + strings.ReplaceAll(part, "<br>", "<br/>") + "</part>"))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return top
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, part)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := &Element{Name: token.Name.Local, Attr: map[string]string{}}
			for _, a := range token.Attr {
				e.Attr[a.Name.Local] = a.Value
			}
			last := open[len(open)-1]
			last.Inside, open = append(last.Inside, e), append(open, e)
		case xml.CharData:
			for _, e := range open {
				e.Words += strings.ReplaceAll(string(token), "\u00a0", " ")
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
}

// All elements inside of a name, in their order, that have these attributes: name, value, name, value.
func (e *Element) All(name string, attributes ...string) []*Element {
	var found []*Element
	for _, in := range e.Inside {
		is := in.Name == name
		for i := 0; i+1 < len(attributes); i += 2 {
			is = is && in.Attr[attributes[i]] == attributes[i+1]
		}
		if is {
			found = append(found, in)
		}
		found = append(found, in.All(name, attributes...)...)
	}
	return found
}

// Each is one attribute of some elements.
func Each(of []*Element, attribute string) []string {
	var all []string
	for _, e := range of {
		all = append(all, e.Attr[attribute])
	}
	return all
}

// Said is the words of some elements.
func Said(of []*Element) []string {
	var all []string
	for _, e := range of {
		all = append(all, strings.TrimSpace(e.Words))
	}
	return all
}

// Rows are the words in the cells of the table with a caption, row by row; nil where there is no such table.
func (e *Element) Rows(caption string) [][]string {
	for _, table := range e.All("table") {
		if is := table.All("caption"); len(is) == 0 || strings.TrimSpace(is[0].Words) != caption {
			continue
		}
		var rows [][]string
		for _, body := range table.All("tr") {
			var cells []string
			for _, c := range body.Inside {
				cells = append(cells, strings.TrimSpace(c.Words))
			}
			rows = append(rows, cells)
		}
		return rows
	}
	return nil
}
