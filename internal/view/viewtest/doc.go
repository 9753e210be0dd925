// Package viewtest is the small sites that the tests of views look at: events as a crew writes them, put through the
// real fold, and how a figure, an instant or a list is compared with what was reckoned by hand.
//
// For tests alone; nothing that ships imports it. All its instants are of one invented week, in UTC. Start at Site.
package viewtest
