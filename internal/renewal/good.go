package renewal

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"

	"hod/internal/unit"
)

// BatchesForGood is the number of batches to mix until that many of them are good, where each is good with the given
// share (above 0, at most 1) whatever became of the others: negative binomial.
func BatchesForGood(good int, share unit.Share) (Distribution, error) {
	if good < 0 {
		return Distribution{}, fmt.Errorf("%d good batches: must be 0 or more", good)
	}
	return Certain(good).Mixed(share)
}

// Mixed is the number of batches to mix for a need of good ones that is itself uncertain. It takes d as the need and
// the share of mixed batches that turn out good as in BatchesForGood.
func (d Distribution) Mixed(share unit.Share) (Distribution, error) {
	p := float64(share)
	if !(p >= 0.01 && p <= 1) {
		return Distribution{}, fmt.Errorf("share of good batches %s must lie between 1%% and 100%%",
			unit.Metric.Share(share))
	}
	if d.Last() > mostBatches/10 {
		return Distribution{}, fmt.Errorf("%d good batches are more than %d: check the units", d.Last(), mostBatches/10)
	}
	if p == 1 {
		return d, nil
	}
	return grown(func(n int) float64 {
		sum := 0.0
		for good, chance := range d.chances() {
			if good > n {
				break
			}
			reached := 1.0
			if good > 0 {
				// P(at least good of n) as the incomplete beta function.
				reached = mathext.RegIncBeta(float64(good), float64(n-good+1), p)
			}
			sum += chance * reached
		}
		return sum
	})
}

// GoodShare is the share of mixed batches that turn out good, learned from good ones among those mixed beside a prior
// share that is worth so many batches: the mean of a beta posterior.
func GoodShare(prior unit.Share, weight float64, good, mixed int) (unit.Share, error) {
	switch {
	case !(prior >= 0 && prior <= 1):
		return 0, fmt.Errorf("prior share %s must lie between 0 and 100%%", unit.Metric.Share(prior))
	case !(weight >= 0) || !finite(weight):
		return 0, fmt.Errorf("the prior's weight %v must be 0 or more batches", weight)
	case good < 0 || good > mixed:
		return 0, fmt.Errorf("%d good batches among %d mixed: must lie between 0 and the number mixed", good, mixed)
	case weight == 0 && mixed == 0:
		return 0, fmt.Errorf("no batch mixed and no prior: nothing to learn the share of good batches from")
	}
	return unit.Share((float64(prior)*weight + float64(good)) / (weight + float64(mixed))), nil
}
