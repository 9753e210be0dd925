// Package drawing is what a drawing shows, and a page with one: the shell's map, charts over the days, the course of a
// coat's temperature, and the pages that lead from the whole to one zone, joint or event.
//
// Where a zone lies on the map follows from its cell in the plan, or from its neighbours where none is planned
// (layout.go), never from who looks. It draws nothing: package picture of report does.
// A long course is thinned to what can be told apart. No I/O. Start at overview.go and map.go.
package drawing
