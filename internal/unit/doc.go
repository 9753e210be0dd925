// Package unit holds the quantities that a site writes and reads: their types, their exact factors, how people write
// them and how they are shown.
//
// Inside hod everything is SI; what a person wrote is kept beside it (As) and never converted back, so 2.5gal stays
// 2.5 gal for as long as the record is kept. A limit that a standard prints in two systems is held in both (Threshold)
// and compared in one of them after rounding, so that a phone and the server decide alike.
//
// Every Parse function returns a finite value or an *Error that says what was wrong and shows a value that would work.
// It refuses what can be read in two ways: a decimal comma, a number without a unit, a ton, an ounce where a volume is
// wanted. What is absurd for a field (2500 gal of water) is for that field to judge. No I/O, no state.
//
// To read what people write start at ParseAmount in parse.go, to add a unit at table.go, to show a quantity at System.
//
// # Decisions
//
// A limit that is printed in two systems is held in both and compared in the site's (Threshold). Not one converted
// figure: printed pairs are rounded and disagree at the edge.
package unit
