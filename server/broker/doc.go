// Package broker is the NATS server inside the process, or the connection to a cluster outside it, and who may connect.
//
// It promises that what it acknowledges is flushed to its disk first; that only who proves to hold an admitted key gets
// in, over TLS by the site's own authority; and that a device can do nothing but put segments on its own subject, read
// the site's log and ask for its heads. Permissions says so in one place.
//
// Accounts make the last promise hold. A server answers to whatever subject a question names for its answer, and checks
// nobody's right to that subject; in one account, a device allowed to read the stream could have the answer sent to
// where the stream is deleted, or to another device. So each device lives in an account of its own, which has no
// JetStream, and reaches three subjects of the account SITE through one export. Through one, because the server breaks
// a chain that would pass the same export twice, and so no answer can be turned into another question. See isolate; a
// test tries what can be tried. In a cluster all devices share the account CREW, so there one can have answers sent to
// another.
//
// It does not look into segments, keeps no list of devices (Admit is asked each time), and limits no rates; limits.go
// has how many connections and waiting bytes there may be. Dir belongs to one process at a time; whoever starts the
// process sees to that. For a cluster, Connect takes a connection for the host, and ServeAuthCallout answers the
// cluster's auth callout by the same Admit and the same permissions; deploy/cluster.conf has the accounts. Start at
// Start.
package broker
