// Package view answers what a person wants to see of a site at an instant: board, zone, joints, forecast, stock,
// weather, day, log, flag.
//
// A view is a plain struct, computed from the fold at an instant that is an argument. Commands, calls, pages and reports
// render views and compute nothing. Numbers are SI with the unit in the field's name; its JSON is the shape that
// scripts and the wire rely on: add to it, never change it. No I/O. Start at board.go.
package view
