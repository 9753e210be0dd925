package setting

import (
	"math"
	"slices"
	"time"
)

// Course is how one material uses up its initial set: Consumed and Turns from its water contact on, to the bit, with
// each cell of the clock's grid worked out once however often it is asked. Not for several goroutines.
type Course struct {
	set  Set
	from time.Time
	temp Temperature
	sums []float64 // by the end of each whole cell
}

// NewCourse begins at water contact.
func NewCourse(set Set, from time.Time, temp Temperature) *Course {
	return &Course{set: set, from: from, temp: temp}
}

// Consumed until an instant.
func (c *Course) Consumed(to time.Time) (float64, error) {
	if err := c.set.Check(); err != nil {
		return 0, err
	}
	sum, _, _, err := c.walk(to, Saturated)
	return sum, err
}

// Turns is when a share will have been used up, and whether within the horizon.
func (c *Course) Turns(share float64, horizon time.Duration) (time.Time, bool) {
	if c.set.Check() != nil || !(share > 0) || math.IsInf(share, 1) || horizon < 0 {
		return Turns(c.set, c.from, c.temp, share, horizon)
	}
	_, at, reached, err := c.walk(c.from.Add(min(horizon, Longest)), share)
	return at, reached && err == nil
}

// walk goes on from the last whole cell before an instant that is known, or from the one before share is used up.
func (c *Course) walk(to time.Time, stop float64) (sum float64, at time.Time, reached bool, err error) {
	last := c.from.Add(Longest)
	if to.Before(last) {
		last = to
	}
	n := min(max(0, int(last.Sub(c.from.Truncate(Step))/Step)), len(c.sums)) // whole cells before it
	n, _ = slices.BinarySearch(c.sums[:n], stop)
	if n > 0 {
		sum = c.sums[n-1]
	}
	return walkOn(c.set, c.from, n, sum, to, c.temp, stop, func(cell int, sum float64) {
		if cell == len(c.sums) {
			c.sums = append(c.sums, sum)
		}
	})
}
