// Package packed holds readings of probes in columns, a few bytes each, in place of their events, and as bytes for a
// file.
//
// It says which events are packed and gives back their samples. Whether a reading may be packed, and when its event
// must be fetched after all, is for package fold and for the log in package history. Bytes of another form, or torn
// ones, are an error and no panic.
package packed
