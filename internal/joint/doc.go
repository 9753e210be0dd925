// Package joint is where later material meets earlier, inside coats, along the edges of zones and coat on coat: joints
// that are made, fronts that are open, and the batches that are still to come.
//
// A joint is a range until the record says what lies along it; where sides and areas are known, strips say it metre by
// metre, see strips.go. It says how much of its set the earlier side had used up, and judges nothing.
package joint
