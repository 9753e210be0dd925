// Package chain is how events travel and how their reader knows that they are what their devices wrote: each device's
// events form a chain of hashes, go in segments that the device signs once, and are verified by the key ring of the
// site.
//
// A segment is judged here and nowhere else: on the server, in a device's journal, at a contact, at the import of a
// file and at the check of an archive. The verdicts have names (Verdict); what waits is held by Pending or tried again
// by Settle. The layouts that are hashed and signed never change.
//
// It reads no clock, file or network; bytes from a peer cause no panic. What events mean is not its concern. Start at
// Judge and KeyRing; Log holds the chains of a site in memory.
package chain
