// Package setting says how far fresh mortar has gone towards initial set, and when it will be there: the age factor
// that makes minutes at one temperature comparable with minutes at another, set times by penetration and by needle, the
// temperature of a thin layer that follows the air, and the words live, closing and cold for a joint.
//
// It promises that a hotter history never sets later, that an interval may be split anywhere without changing the sum,
// and that the instant which Turns gives is the one at which Consumed has the share asked for. What it cannot compute
// is an error that says why; no figure is ever not a number. Heat that the cement itself makes is not counted: a layer
// of a few centimetres gives it off as it comes.
//
// It refuses to judge a joint by a fixed clock: the limits in minutes that codes print are kept in Intervals to be
// shown beside the share consumed, not instead of it. It knows no batches, zones or events. Pure: no clock, file or
// random source. Read next: age.go for the formula, consumed.go for the sum over time; package curing for what follows
// set.
package setting
