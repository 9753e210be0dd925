// Package picture draws views as SVG: the map of the shell, the weather's drying, what is left, stock, cure, strips,
// charts.
//
// Each picture is a pure function of a view and a frame: the same view gives the same bytes, on a page, in print and in
// a PDF. It promises a title and a description in words, that every state is told by a word and by a pattern beside its
// tone, that text of the record is escaped, and that a figure which is no number is left out and never drawn. Tones
// come from classes that a page's style gives meaning to, with Style for a picture that stands alone; no element needs
// a script.
//
// It computes nothing of the trade: it lays numbers of a view out on paper. It refuses to reach outside: no fonts, no
// links but those of Frame. The numbers stand beneath each picture as a table, which package report writes. Start at
// svg.go.
package picture
