// Package view answers what a person wants to see of a site at an instant: board, zone, joints, forecast, stock,
// weather, day, log, flag.
//
// A view is a plain struct, computed from the fold at an instant that is an argument. Commands, calls, pages and
// reports render views and compute nothing. Numbers are SI with the unit in the field's name; its JSON is the shape
// that scripts and the wire rely on: add to it, never change it. No I/O. Start at board.go.
//
// # Decisions
//
// A past day is as it ended (day.go, fold.Site.Until): what had happened by the end of that day, whenever it was
// written. A correction belongs to what it corrects. What was written after the day's end, by the time logged in the
// event itself, is marked late. Not what this device had received by then, which no two devices would agree on; nor
// what was logged by then alone, since the reader wants what was forgotten that evening.
//
// Advice is worked out, not stored. The fold cuts what is left into batches, laid behind what is placed where the
// zones' sides are planned, and each edge shared evenly among them where they are not; next_job.go brings that to the
// whole minutes, milliseconds and centimetres of package next; next.go answers. Cells, edges and crews stand in the
// order of plan and names, so that every device gives the same advice. The server gathers under the fold's lock and
// answers outside it (AskNext). Where something is missing there is no advice: half of one would be believed.
// An answer holds to the last proposal that the crew took (event.ProposalTaken), which says what was to follow; where it took
// none there is nothing to hold to. Not a file of the device: two phones of one crew would be told two things.
package view
