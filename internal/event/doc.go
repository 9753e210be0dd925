// Package event is what happens on a site, one thing at a time: batches, placements, weather, plans and their corrections,
// each written by one device and never changed afterwards.
//
// Write checks what is to be said and makes the bytes that are kept, hashed and signed from then on; Read gives back
// what bytes say. Bytes from a disk, a peer or a newer version never cause a panic, and a body of a kind that this
// version does not know is kept as bytes with a nil Body. How events are chained, signed and travel is internal/chain's.
// Compare is the one order of events.
//
// The package refuses what cannot be, whoever wrote it: a negative amount, an end before its beginning, a number that
// is not one. It says so in a sentence (CannotBe) and never mends or guesses. It does not know other events: whether a
// zone exists, or a batch has that much left, is for the fold. It reads no clock, file, socket or random source.
//
// One file holds one event: its struct, its check, its way to bytes and back. To read on, start at placement.go; to add
// an event, see body.go. What is absurd for a quantity stands in limit.go, who may be called what in names.go.
package event
