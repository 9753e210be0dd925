package setting

import (
	"fmt"
	"math"
	"time"
)

// Ages are the equivalent ages at set.Reference that a material gathers from an instant on, in whole milliseconds at
// each whole minute: the first is 0, and they never fall. They are summed on the grid that Consumed is summed on, so
// that an age over set.Initial is the share that Consumed gives for the same minute, up to the rounding. An error where
// set does not stand, there is no temperature, or one is out of range.
func Ages(set Set, from time.Time, minutes int, temp Temperature) ([]int64, error) {
	if err := set.Check(); err != nil {
		return nil, err
	}
	if temp == nil {
		return nil, fmt.Errorf("no temperature is known of the material")
	}
	ages := make([]int64, 1, max(minutes, 0)+1)
	sum, factor := 0.0, 0.0
	at := from
	var end time.Time // of the cell of the grid that factor holds for
	for i := range minutes {
		until := from.Add(time.Duration(i+1) * time.Minute)
		for at.Before(until) {
			if !at.Before(end) {
				end = at.Truncate(Step).Add(Step)
				t := temp(end.Add(-Step / 2))
				if err := CheckTemperature(t); err != nil {
					return nil, fmt.Errorf("material at %s: %w", end.Add(-Step/2).Format(time.RFC3339), err)
				}
				factor = AgeFactor(t, set.Reference, set.Ea)
			}
			stop := until
			if end.Before(stop) {
				stop = end
			}
			sum += float64(factor * 1000 * stop.Sub(at).Seconds())
			at = stop
		}
		ages = append(ages, int64(math.Round(sum)))
	}
	return ages, nil
}
