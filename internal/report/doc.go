// Package report writes a view down for a person: as text for a terminal, a message or a sheet of paper.
//
// It promises that no line is wider than the page (Page.Width, at least 40), that a number stays beside its unit, that
// every state is a word and colour only an addition to it, and that no text from an event reaches a terminal before it
// went through Clean. It refuses to compute: besides units and layout, every figure is the view's own, and an order
// that it shows is the view's order. It reads no clock: the instant and the time zone are in Page.
//
// Each view has its file. Those of a day and of the whole record are in package summary, pages for a browser in package
// leaf, pictures in package picture. To add one, start at Sheet in page.go; columns are in table.go, wrapping in
// text.go, what may pass of a stranger's text in clean.go.
package report
