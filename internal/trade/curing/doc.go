// Package curing says what a coat's temperatures and water have done for it since it was placed: maturity by Nurse and
// Saul, equivalent age, moist cure credited, frost met too early; and, from the mix's own breaks, what strength that
// history is likely to have made, with its band of uncertainty.
//
// It promises that a gap in the readings is always reported and bridged only in the way asked for, that a figure from a
// code's curve is of another type than one from the mix's own breaks, and that a fit which the breaks do not carry is
// an error and not a number.
//
// It refuses to say that anything may be loaded or stripped; Caution goes wherever a strength is shown. It knows no
// zones or events. Pure: no clock, file or random source. Read next: history.go for the readings, strength.go for the
// fits; package setting for the age factor and for what comes before.
package curing

// Caution belongs beside every strength shown.
const Caution = "A strength estimate never permits stripping supports or loading a shell: that is for the responsible licensed engineer and the local code."

// Scope belongs beside every strength that comes from maturity. Source: the limitations of ASTM C1074 (from memory).
const Scope = "An estimate from maturity holds only for the mix, water/cementitious ratio and air that its breaks had, and only if the coat was kept moist."
