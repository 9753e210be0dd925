// Package view answers what a person wants to see of a site at an instant: zones, coats, joints, stock, weather, log.
// What rests on these stands in rooms of their own: ahead (how many batches are left, and when the job is done), advice
// (the next batch, tomorrow's plans), daily (the board, a day, its flags) and drawing (the map, charts, and the pages
// that show them).
//
// A view is a plain struct, computed from the fold at an instant that is an argument. Commands, calls, pages and
// reports render views and compute nothing. Numbers are SI with the unit in the field's name; its JSON is the shape
// that scripts and the wire rely on: add to it, never change it. No I/O. Start at coat.go, and above it at
// daily/board.go; what all views need to say that something is absent is in known.go.
package view
