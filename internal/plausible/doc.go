// Package plausible holds in one table what a quantity of the trade is on any site where a shell is placed by hand, and
// says of a value beyond it what is wrong and in which other unit the same number would fit.
//
// It promises no verdict: a value may be as odd as it is written, and whoever wrote it may say so. What cannot be at
// all, whatever the trade, is refused elsewhere (internal/event/limit.go); whether a value is wise is for the rooms
// that compute with it. Ranges of one quantity alone are Range; those of a quantity against what was designed are
// Ratio.
//
// Numbers in, sentences out; no I/O. The table is in table.go, the units that are mistaken for one another in slip.go.
package plausible
