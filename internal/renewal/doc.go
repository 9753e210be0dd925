// Package renewal counts batches until a volume is reached, where the yield of one batch is all that is unknown: what
// `hod calc batches` and `hod calc chart` do without a site. A site's own forecast, in which coats, crews and their
// days are unknown too, is package forecast.
//
// It learns the yield beside a prior (Learn: normal with unknown mean and spread, conjugate normal-inverse-gamma,
// Student predictions), and counts by exact sums and renewal sums (Batches, BatchesNormal, BatchesEmpirical,
// BatchesForGood). Statistics of a sample, a fitted line and the limits of an individuals chart go with it.
//
// It refuses amounts that are not numbers, and yields and spreads that cannot be a mixer's, with an error that says
// what would be right; no figure it hands out is infinite or not a number. It reads no clock and keeps no state.
package renewal
