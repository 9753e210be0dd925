// Package ahead is what is still to be done: batches left, the days that they take, and the materials that they need.
//
// It gathers from the fold what package forecast reckons with (job.go), and puts its answer into views (forecast.go,
// material.go, fan.go). An Outlook is gathered once and serves all views that say something of what is left, so that
// they agree. Where something is missing it says what, and gives no number. It computes no chances of its own: read on
// in package forecast. No I/O.
package ahead
