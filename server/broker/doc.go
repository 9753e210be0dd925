// Package broker is the NATS server inside the process, or the connection to a cluster outside it, and who may connect.
//
// It promises that what it acknowledges is flushed to its disk first; that only who proves to hold an admitted key gets
// in, over TLS by the site's own authority; and that a device can do nothing but put segments on its own subject, read
// the site's log and ask for its heads. Permissions says so in one place.
//
// Two accounts make the last promise hold. A server answers to whatever subject a question names for its answer, and
// checks nobody's right to that subject; in one account, a device allowed to read the stream could have the answer sent
// to where the stream is deleted. So devices live in the account CREW, which has no JetStream, and reach three subjects
// of the account SITE through one export. Through one, because the server breaks a chain that would pass the same export
// twice, and so no answer can be turned into another question. See isolate; a test tries what can be tried.
//
// It does not look into segments, keeps no list of devices (Admit is asked each time), and limits no rates. Dir belongs
// to one process at a time; whoever starts the process sees to that. For a cluster, Connect takes a connection for the
// host, and LetIn answers the cluster's auth callout by the same Admit and the same permissions; deploy/cluster.conf has the
// accounts as isolate makes them. Start at Start.
package broker
