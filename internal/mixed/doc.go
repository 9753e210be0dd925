// Package mixed is what was mixed: each batch with its figures, held against its mix, dealt out to the placements and
// discards that name it, and what the mixes are known to yield by that.
//
// A batch is judged by the revision of the mix that it carries. What cannot have happened in that order, and what takes
// more than was mixed, is set aside with the reason. Values that the trade does not know are in doubt.go. Where a part
// of a batch lies is for package placed.
package mixed
