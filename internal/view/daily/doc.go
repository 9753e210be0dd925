// Package daily is what is looked at every day: the board of a site, the summary of a day, and the flags.
//
// The board is the site at an instant (board.go); a day that is over is as it ended (day.go), of all crews or of one
// (day_crew.go); a flag is what the fold found, with its evidence, open until it is answered (flags.go). It judges
// nothing that the fold does not: a flag's code and weight are the finding's. No I/O.
//
// # Decisions
//
// A past day is as it ended (fold.Site.Until): what had happened by the end of that day, whenever it was
// written. A correction belongs to what it corrects. What was written after the day's end, by the time logged in the
// event itself, is marked late. Not what this device had received by then, which no two devices would agree on; nor
// what was logged by then alone, since the reader wants what was forgotten that evening.
package daily
