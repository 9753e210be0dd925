package shell

import (
	"errors"
	"fmt"
	"math"

	"hod/internal/unit"
)

func positive[Q ~float64](what string, x Q, show func(unit.System, Q) string) error {
	if !(x > 0 && x <= 1e12) {
		return fmt.Errorf("%s of %s cannot be used; give one above 0", what, both(x, show))
	}
	return nil
}

// both is a quantity in both systems, so that whoever wrote the value finds it as it was written.
func both[Q ~float64](q Q, show func(unit.System, Q) string) string {
	return unit.Both(unit.Metric, unit.Computed(q), show)
}

// Flat is the volume of a layer on a flat area.
func Flat(a unit.Area, thickness unit.Length) (unit.Volume, error) {
	if err := errors.Join(positive("an area", a, unit.System.Area),
		positive("a thickness", thickness, unit.System.Thickness)); err != nil {
		return 0, err
	}
	return unit.Volume(float64(a) * float64(thickness)), nil
}

// Coverage is the area that a volume covers at a thickness.
func Coverage(v unit.Volume, thickness unit.Length) (unit.Area, error) {
	if err := errors.Join(positive("a volume", v, unit.System.Volume),
		positive("a thickness", thickness, unit.System.Thickness)); err != nil {
		return 0, err
	}
	return finite(unit.Area(float64(v) / float64(thickness)))
}

// MeanThickness is that of a volume spread over an area.
func MeanThickness(v unit.Volume, a unit.Area) (unit.Length, error) {
	if err := errors.Join(positive("a volume", v, unit.System.Volume),
		positive("an area", a, unit.System.Area)); err != nil {
		return 0, err
	}
	return finite(unit.Length(float64(v) / float64(a)))
}

func finite[T ~float64](x T) (T, error) {
	if math.IsInf(float64(x), 0) {
		return 0, errors.New("the divisor is too small to divide by; check its unit")
	}
	return x, nil
}

// DeadLoad is the layer's own mass on each square metre.
func DeadLoad(thickness unit.Length, d unit.Density) (unit.AreaMass, error) {
	if err := errors.Join(positive("a thickness", thickness, unit.System.Thickness),
		positive("a density", d, unit.System.Density)); err != nil {
		return 0, err
	}
	return unit.AreaMass(float64(thickness) * float64(d)), nil
}

// Batches is how many whole batches give a volume and the share of it that is wasted (0.08 for 8 %). A need that is a
// whole number of batches, but for the rounding of its arithmetic, counts as that number and not one more.
func Batches(need unit.Volume, waste unit.Share, batch unit.Volume) (int, error) {
	if err := errors.Join(positive("a volume", need, unit.System.Volume),
		positive("a batch", batch, unit.System.Volume)); err != nil {
		return 0, err
	}
	if !(waste >= 0 && waste <= 10) {
		return 0, fmt.Errorf("a waste of %s cannot be used; give 0 or more", unit.Metric.Share(waste))
	}
	n := float64(need) * (1 + float64(waste)) / float64(batch)
	if !(n <= 1e9) {
		return 0, fmt.Errorf("%.4g batches are more than anyone mixes; check the units of the volume and the batch", n)
	}
	whole := math.Round(n)
	if math.Abs(n-whole) > 1e-9*max(1, whole) {
		whole = math.Ceil(n)
	}
	return int(max(whole, 1)), nil
}
