// Package bus is how facts travel between the devices and their site: subjects, the stream, publish and read. It is the
// only room that knows JetStream; the broker beside the server decides who may use it.
//
// Publish returns once the segment lies flushed on the site's disk, and at no other time without an error. Read gives
// what the stream holds, in its order, holes shown by their numbers. That is all that is promised: acknowledged is not
// forgotten. A stream can lose or reuse its numbers when its disk is damaged, a read can be stale, and whoever may
// write can write anything, so a reader checks every segment's chain and signature and keeps no number without a hash.
//
// It does not retry, does not dial again and does not know what a segment says. No consumer is ever made: devices and
// host alike read by direct get, in batches, because a consumer takes orders from headers that a stranger may have
// written. For the device's side start at Dial, for the site's at NewHost, for the names at names.go.
//
// # Decisions
//
// Devices and host read by direct get; a position is a number and the hash of what stood there. Not durable
// consumers: a device could leak or steer them, and numbers are used again after damage.
package bus
