package renewal

import (
	"fmt"
	"math"

	"hod/internal/unit"
)

// Prior is what is known of a mix's yield before any batch of it was weighed.
type Prior struct {
	Yield  unit.Volume // of one batch, by the mix design
	Weight float64     // how many weighed batches the design is worth; 0 for no prior, and then two yields are needed
	Spread unit.Share  // standard deviation from batch to batch as a share of Yield
}

// DesignPrior is the prior that hod uses: the design yield, worth two weighed batches, with batches 5 % apart. The two
// figures are a choice of this program, not a published value; calibration_test.go shows how they fare.
func DesignPrior(yield unit.Volume) Prior { return Prior{Yield: yield, Weight: 2, Spread: 0.05} }

// Posterior is what is known of a mix's yield once batches were weighed.
type Posterior struct {
	Weighed int         // batches that it was learned from
	Mean    unit.Volume // expected yield of a batch
	Scale   unit.Volume // spread from batch to batch (scale of Student's distribution, near the standard deviation)
	Weight  float64     // batches that Mean rests on, prior included
	Freedom float64     // degrees of freedom of Scale
}

// Learn joins the prior with the yields weighed so far: normal yields with unknown mean and spread, conjugate
// normal-inverse-gamma. Each yield must be above 0.
func Learn(prior Prior, yields []unit.Volume) (Posterior, error) {
	if !(prior.Weight >= 0) || !finite(prior.Weight) {
		return Posterior{}, fmt.Errorf("the prior's weight %v must be 0 or more batches", prior.Weight)
	}
	b := belief{}
	if prior.Weight > 0 {
		if !(prior.Yield > 0) || !finite(float64(prior.Yield)) {
			return Posterior{}, fmt.Errorf("design yield %s of a batch must be above 0", both(prior.Yield))
		}
		if !(prior.Spread >= 0 && prior.Spread <= 0.5) {
			return Posterior{}, fmt.Errorf(
				"the prior's spread %v must lie between 0 and 0.5 of the yield, such as 0.05", float64(prior.Spread))
		}
		sd := float64(prior.Yield) * float64(prior.Spread)
		b = belief{mean: float64(prior.Yield), weight: prior.Weight, freedom: prior.Weight, square: sd * sd}
	}
	ys, err := cubicMetres(yields)
	if err != nil {
		return Posterior{}, err
	}
	if prior.Weight == 0 && len(ys) < 2 {
		return Posterior{}, fmt.Errorf(
			"%d yield(s) and no prior: two weighed batches, or the mix design's yield, are needed", len(ys))
	}
	if b, err = b.learn(ys); err != nil {
		return Posterior{}, fmt.Errorf("learn the yield: %w", err)
	}
	return Posterior{
		Weighed: len(ys), Mean: unit.Volume(b.mean), Scale: unit.Volume(math.Sqrt(b.square)), Weight: b.weight,
		Freedom: b.freedom,
	}, nil
}

// Next is the range that holds the yield of the next batch with the given confidence (0.9 for 90 %).
func (p Posterior) Next(confidence float64) (low, high unit.Volume, err error) {
	if err := p.valid(); err != nil {
		return 0, 0, err
	}
	r, err := about(float64(p.Mean), p.belief().next(), p.Freedom, confidence)
	return unit.Volume(r.Low), unit.Volume(r.High), err
}

// LongRun is the range that holds the mean yield of all batches to come with the given confidence.
func (p Posterior) LongRun(confidence float64) (low, high unit.Volume, err error) {
	if err := p.valid(); err != nil {
		return 0, 0, err
	}
	r, err := about(float64(p.Mean), float64(p.Scale)/math.Sqrt(p.Weight), p.Freedom, confidence)
	return unit.Volume(r.Low), unit.Volume(r.High), err
}

func (p Posterior) belief() belief {
	return belief{
		mean: float64(p.Mean), weight: p.Weight, freedom: p.Freedom,
		square: float64(p.Scale) * float64(p.Scale),
	}
}

// valid refuses what Learn cannot have made, or made of yields that no mixer has.
func (p Posterior) valid() error {
	switch {
	case !(p.Mean > 0) || !finite(float64(p.Mean)):
		return fmt.Errorf("mean yield %s of a batch must be above 0", both(p.Mean))
	case !(p.Weight > 0) || !(p.Freedom > 0) || !finite(p.Weight) || !finite(p.Freedom):
		return fmt.Errorf("nothing is known of the yield: it rests on %v batches; learn it first", p.Weight)
	case !(p.Scale >= 0):
		return fmt.Errorf("spread %s of the yields must be 0 or more", both(p.Scale))
	case p.Scale > p.Mean:
		return fmt.Errorf(
			"yields spread by %s about a mean of %s: that is no one mix; check the yields and their units",
			both(p.Scale), both(p.Mean))
	}
	return nil
}

func cubicMetres(yields []unit.Volume) ([]float64, error) {
	ys := make([]float64, len(yields))
	for i, y := range yields {
		if !(y > 0) || !finite(float64(y)) {
			return nil, fmt.Errorf("yield %d of %d is %s: a batch yields more than 0", i+1, len(yields), both(y))
		}
		ys[i] = float64(y)
	}
	return ys, nil
}
