// Package wire turns views into the messages that mirror them and back, by the names that both have in JSON.
//
// It promises that no field is lost: a view with a field that its message lacks is an error, and a test fills every
// field. What a newer server adds is passed over. No I/O. The messages are in proto/hod/v1/query.proto.
//
// # Decisions
//
// Views are mirrored by messages through their JSON names, which stand once, beside the fields. Not by hand-written
// conversion: a forgotten field would be a silent zero; here it is an error, and one test fills every field. How two
// kinds go into each other is worked out once (mirror.go), and values go over as they are. Not as JSON text, which took
// two thirds of a large answer's time; a test holds the one against the other.
package wire
