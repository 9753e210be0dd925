// Package session is a device's open record while one command runs: Open reads the journal into a fold.Site, and the
// Session finds what a person names in it (find.go), keeps what a person writes (record.go), shows a view of it or asks
// the server for the same (look.go), and offers to the server what was kept (send.go).
//
// It promises that what Keep returned is on this device's disk, and was judged by the rules that judge it everywhere;
// that recording never waits for the network; and that a value which the trade does not know is asked about before it
// is kept (doubt.go). It computes no figure and has no command of its own.
//
// A command calls Run with what it does; the shortest example is package crew, note.go.
package session
