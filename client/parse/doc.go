// Package parse reads the words of a line into what an event or a calculation holds: amounts, shares and parts of a
// batch, constituents and steps of a mix, loads, the sun. The same words mean the same to a command that records and to
// hod calc.
//
// It looks into no record: what a name stands for on a site is found by package session. A refusal says what would have
// been right. Quantities themselves are read by internal/unit.
package parse
