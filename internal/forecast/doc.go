// Package forecast says how many batches, how much material and how many days a job still needs, as distributions: a
// figure that holds half the time and one that holds nine times in ten, never a single number.
//
// It learns the yield of a batch and the time a batch takes from what was recorded, beside a prior from the mix design
// and the plan (Learn, LearnPace: normal with unknown mean and spread, conjugate normal-inverse-gamma, Student
// predictions); counts batches until a volume is reached (Batches, BatchesNormal, BatchesEmpirical: exact sums and
// renewal sums, no random draws, so that phone and server agree); and carries that count through spoiled batches, stock,
// pace, working hours and the forecast weather (BatchesForGood, Supplies, Finishes, Tomorrow).
//
// Calibrated: over simulated jobs the 90 % figure holds about 90 % of the time (calibration_test.go states the counts).
//
// It refuses amounts that are not numbers, and yields and spreads that cannot be a mixer's, with an error that says
// what would be right; no figure it hands out is infinite or not a number. It reads no clock and keeps no state. To read
// on, start at Distribution and Batches.
package forecast
