// Package advice is where a crew's next batch goes, and which plans there are for the next day.
//
// It never says anything of stripping, loading or strength, nor that a joint is sound. Where something is missing there
// is no advice: half of one would be believed. No I/O. Start at next.go; what the record says to it is gathered in
// next_job.go; the plans of a day are in day_plans.go.
//
// # Decisions
//
// Advice is worked out, not stored. The fold cuts what is left into batches, laid behind what is placed where the
// zones' sides are planned, and each edge shared evenly among them where they are not; next_job.go brings that to the
// whole minutes, milliseconds and centimetres of package next; next.go answers. Cells, edges and crews stand in the
// order of plan and names, so that every device gives the same advice. The server gathers under the fold's lock and
// answers outside it (AskNext).
//
// An answer holds to the last proposal that the crew took (event.ProposalTaken), which says what was to follow; where
// it took none there is nothing to hold to. Not a file of the device: two phones of one crew would be told two things.
package advice
