// Package report writes a view down for a person: today as text for a terminal, a message or a sheet of paper.
//
// It promises that no line is wider than the page (Page.Width, at least 40), that a number stays beside its unit, that
// every state is a word and colour only an addition to it, and that no text from an event reaches a terminal before it
// went through Clean. It refuses to compute: besides units and layout, every figure is the view's own, and an order
// that it shows is the view's order. It reads no clock: the instant and the time zone are in Page.
//
// Each view has its file; pages for a browser are in package leaf. To add one, start at Sheet in page.go; columns are
// in table.go, wrapping in text.go, what may pass of a stranger's text in clean.go.
//
// # Decisions
//
// A day's report is two printed pages (day_short.go): 120 lines, exceptions first. The roomiest of a few layouts that
// fits is taken, and each list that is cut says how many more there are. All of it is DayAll, behind --all, and on
// web pages, which scroll. Not a cut at line 120: what is cut must not be the stock or the next day.
package report
