// Package fold turns a site's events into what they say: its plan, batches, zones, joints, stock, and what needs a
// person to look at it.
//
// The same set of events gives the same Site, whatever order they came in and however often. An event that cannot stand
// is set aside with a reason, never refused: it stands again by itself when what it lacked arrives. A late event costs
// what its own batch and zone cost, not the whole record. No I/O, no clock; an instant is an argument.
//
// A Site answers one caller at a time, reading included: it computes what is stale when it is asked. To follow one event
// start at Add; to add a body start at index.
package fold
