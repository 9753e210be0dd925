package next

import "math/bits"

// Learned is how much of its expected set mortar of the day has, as tests of set tell: a factor in millionths, and the
// spreads that are left. Each ratio is the tested set of one batch over the expected one, in per mille. What is
// expected beforehand and what a batch shows are weighed by their variances (normal in the logarithm), so one test
// moves the day little and many move it all the way.
func (s Spreads) Learned(ratios []int) (int64, Spreads) {
	n, sum := int64(0), int64(0)
	for _, r := range ratios {
		if r > 0 {
			sum += log(int64(r) * 1000)
			n++
		}
	}
	day, one := int64(s.Day)*int64(s.Day), int64(s.Set)*int64(s.Set)
	if n == 0 || day == 0 {
		return million, s
	}
	// The day's mean is sum/n weighed by day/(day + one/n), and its variance day·one/(n·day + one).
	s.Day = root(day * one / (n*day + one))
	return exp(sum * day / (n*day + one)), s
}

// log of a number in millionths, in millionths, by halving between bounds of exp.
func log(x int64) int64 {
	low, high := int64(-4*million), int64(4*million)
	for high-low > 1 {
		if mid := low + (high-low)/2; exp(mid) <= x {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// root is the whole part of a square root.
func root(v int64) int {
	r := int64(1) << (bits.Len64(uint64(v))/2 + 1)
	for r*r > v {
		r = (r + v/r) / 2
	}
	return int(r)
}
