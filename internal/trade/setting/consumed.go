package setting

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/unit"
)

// Temperature is that of the material, as a function of the instant; past and forecast alike.
type Temperature func(time.Time) unit.Celsius

// Step is the grid of the sum over time: the temperature is read once in each two minutes of the clock, in the middle.
// The grid is the clock's own and not each batch's, so that a span may be split anywhere and the parts add up.
const Step = 2 * time.Minute

// Saturated is the share at which Consumed stops counting: four times initial set is set, and the sum would cost more
// the longer ago the batch was mixed.
const Saturated = 4.0

// Constant is a material that stays at t.
func Constant(t unit.Celsius) Temperature { return func(time.Time) unit.Celsius { return t } }

// Sample is one reading of a thermometer.
type Sample struct {
	At   time.Time
	Temp unit.Celsius
}

// Through is the temperature that passes through samples, straight between two and held before the first and after the
// last. The samples need no order; those of one instant are averaged. An error where there are none or one is out of
// range.
func Through(samples []Sample) (Temperature, error) {
	if len(samples) == 0 {
		return nil, fmt.Errorf("no temperature was read: one reading at least is needed")
	}
	sorted := slices.Clone(samples)
	slices.SortStableFunc(sorted, func(a, b Sample) int { return a.At.Compare(b.At) })
	points, same := sorted[:0], 1
	for _, s := range sorted {
		if err := CheckTemperature(s.Temp); err != nil {
			return nil, fmt.Errorf("reading of %s: %w", s.At.Format(time.RFC3339), err)
		}
		if n := len(points); n > 0 && points[n-1].At.Equal(s.At) {
			same++
			points[n-1].Temp += (s.Temp - points[n-1].Temp) / unit.Celsius(same)
			continue
		}
		points, same = append(points, s), 1
	}
	return func(at time.Time) unit.Celsius {
		i, found := slices.BinarySearchFunc(points, at, func(s Sample, at time.Time) int { return s.At.Compare(at) })
		switch {
		case found:
			return points[i].Temp
		case i == 0:
			return points[0].Temp
		case i == len(points):
			return points[i-1].Temp
		}
		a, b := points[i-1], points[i]
		part := float64(at.Sub(a.At)) / float64(b.At.Sub(a.At))
		return a.Temp + unit.Celsius(part)*(b.Temp-a.Temp)
	}, nil
}

// Consumed is the share of initial set that the material has used up between two instants: its equivalent age at
// set.Reference over set.Initial. 1 is initial set; 0 where to is not after from. It stops at Saturated and, for
// material that cold keeps from setting, after Longest. An error where set does not stand or a temperature is out of
// range.
func Consumed(set Set, from, to time.Time, temp Temperature) (float64, error) {
	if err := set.Check(); err != nil {
		return 0, err
	}
	share, _, _, err := walk(set, from, to, temp, Saturated)
	return share, err
}

// Turns is the instant at which share of initial set will have been used up, counted from from, and whether that comes
// within horizon (at most Longest is looked at). False also where the inputs do not stand; Consumed over the same span
// says why. Consumed up to the instant given is share.
func Turns(set Set, from time.Time, temp Temperature, share float64, horizon time.Duration) (time.Time, bool) {
	if set.Check() != nil || !(share >= 0) || math.IsInf(share, 1) || horizon < 0 {
		return time.Time{}, false
	}
	if share == 0 {
		return from, true
	}
	_, at, reached, err := walk(set, from, from.Add(min(horizon, Longest)), temp, share)
	return at, reached && err == nil
}

// walk adds up shares from from to to, cell by cell of the clock's grid, and stops where the sum comes to stop.
func walk(set Set, from, to time.Time, temp Temperature, stop float64) (sum float64, at time.Time, reached bool,
	err error,
) {
	return walkOn(set, from, 0, 0, to, temp, stop, func(int, float64) {})
}

// walkOn is walk from the end of the whole cells before one, by which sum was used up. It tells each whole cell that it
// adds.
func walkOn(set Set, from time.Time, cell int, sum float64, to time.Time, temp Temperature, stop float64,
	tell func(cell int, sum float64),
) (float64, time.Time, bool, error) {
	if temp == nil {
		return 0, from, false, fmt.Errorf("no temperature is known of the material")
	}
	if last := from.Add(Longest); to.After(last) {
		to = last
	}
	whole := set.Initial.Seconds()
	start, end := from, from.Truncate(Step).Add(time.Duration(cell+1)*Step)
	if cell > 0 {
		start = end.Add(-Step)
	}
	for ; start.Before(to); start, end, cell = end, end.Add(Step), cell+1 {
		t := temp(end.Add(-Step / 2))
		if err := CheckTemperature(t); err != nil {
			return sum, start, false, fmt.Errorf("material at %s: %w", end.Add(-Step/2).Format(time.RFC3339), err)
		}
		// share a second; held for the cell, so that the sum can only rise
		rate := AgeFactor(t, set.Reference, set.Ea) / whole
		until := end
		if until.After(to) {
			until = to
		}
		gain := rate * until.Sub(start).Seconds()
		if sum+gain >= stop {
			// Up to the next whole nanosecond, so that at the instant named the share is there.
			need := time.Duration(math.Ceil((stop - sum) / rate * float64(time.Second)))
			return stop, start.Add(min(need, until.Sub(start))), true, nil
		}
		if sum += gain; until.Equal(end) {
			tell(cell, sum)
		}
	}
	return sum, to, false, nil
}

// Piece is a time at one temperature, as a history in a file has it.
type Piece struct {
	For time.Duration
	At  unit.Celsius
}

// EquivalentOver is the equivalent age of a history at ref: the time at ref that does the same (ASTM C1074).
// An error where a piece has no length or a temperature is out of range.
func EquivalentOver(history []Piece, ref unit.Celsius, ea ActivationEnergy) (time.Duration, error) {
	if err := ea.Check(); err != nil {
		return 0, err
	}
	if err := CheckTemperature(ref); err != nil {
		return 0, fmt.Errorf("reference: %w", err)
	}
	seconds := 0.0
	for i, p := range history {
		if p.For < 0 {
			return 0, fmt.Errorf("piece %d of the history lasts %v: a duration cannot be below 0", i+1, p.For)
		}
		if err := CheckTemperature(p.At); err != nil {
			return 0, fmt.Errorf("piece %d of the history: %w", i+1, err)
		}
		seconds += p.For.Seconds() * AgeFactor(p.At, ref, ea)
	}
	if seconds > float64(math.MaxInt64)/float64(time.Second) {
		return 0, fmt.Errorf("the history is longer than can be counted")
	}
	return duration(seconds), nil
}

// ConsumedOver is the share of initial set that a history uses up, without the stop that Consumed has. 1 is initial
// set.
func ConsumedOver(set Set, history []Piece) (float64, error) {
	if err := set.Check(); err != nil {
		return 0, err
	}
	age, err := EquivalentOver(history, set.Reference, set.Ea)
	if err != nil {
		return 0, err
	}
	return age.Seconds() / set.Initial.Seconds(), nil
}
