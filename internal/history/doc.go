// Package history says which of a site's events count, and how each is read now: a Log of records, each an event with
// what corrections, settlements and other writings of it make of it.
//
// The same set of events gives the same readings, whatever order they came in and however often. What arrives is only
// marked; it is read when somebody asks, each event once. The log judges what lies in an event and its author: whether
// the device is enrolled and may write it, whether it was excluded, forked, written again, corrected. Whether an event
// stands that names a zone or a batch is for the rooms above, which say so by Lacks and Stands.
//
// It knows nothing of plans, batches and zones: what a record concerns is told to it by an Index. To follow one event
// start at Log.Add; corrections are in correction.go, rights in standing.go, what a fork had written again in again.go.
package history
