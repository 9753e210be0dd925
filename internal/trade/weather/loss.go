package weather

import (
	"errors"
	"fmt"
	"math"
	"time"

	"hod/internal/unit"
)

// Layer is what a coat holds of its mixing water: the water of one batch, what the batch yielded and how thick it lies.
type Layer struct {
	Water     unit.Mass
	Yield     unit.Volume
	Thickness unit.Length
}

// WaterPerArea is the mixing water under each square metre of the layer.
func (l Layer) WaterPerArea() (unit.AreaMass, error) {
	switch {
	case !(l.Water > 0 && l.Water <= 1e6):
		return 0, fmt.Errorf("%.4g kg of mixing water cannot be used; give the batch's water, above 0",
			float64(l.Water))
	case !(l.Yield >= 1e-9 && l.Yield <= 1e6):
		return 0, fmt.Errorf("a yield of %.4g m³ cannot be used; give what the batch filled, above 0", float64(l.Yield))
	case !(l.Thickness > 0 && l.Thickness <= 10):
		return 0, fmt.Errorf("a layer %.4g m thick cannot be used; give its thickness, above 0 and at most 10 m",
			float64(l.Thickness))
	}
	return unit.AreaMass(float64(l.Water) * float64(l.Thickness) / float64(l.Yield)), nil
}

// Span is a time at one rate: zero while the surface is covered or wetted.
type Span struct {
	Time time.Duration
	Rate unit.Evaporation
}

// Loss is what has evaporated of a layer's mixing water.
type Loss struct {
	Mass  unit.AreaMass // evaporated by the estimate, kg/m²
	Share unit.Share    // of the mixing water; can pass 1 only in the estimate, where it says that the layer is dry
	Dry   bool          // the estimate would take more than there was; Share is then held at 1
}

// Lost adds up what evaporates from a layer over a run of spans, each at its own steady rate. It takes no account of
// bleeding, nor of the slower drying of a surface that is no longer wet: it is what the air could take, and as rough as
// its rates (Caution).
func Lost(l Layer, spans []Span) (Loss, error) {
	held, err := l.WaterPerArea()
	if err != nil {
		return Loss{}, err
	}
	if !(held > 0) {
		return Loss{}, errors.New(
			"the layer holds too little water to reckon with; check the batch's water, yield and thickness")
	}
	var gone float64
	for i, s := range spans {
		if s.Time < 0 {
			return Loss{}, fmt.Errorf("span %d ends before it begins; give times in order", i+1)
		}
		if !(s.Rate >= 0 && s.Rate <= 1e3) {
			return Loss{}, fmt.Errorf("span %d has a rate of %.4g kg/m²/h; give 0 or more, and 0 where dew settles",
				i+1, float64(s.Rate))
		}
		gone += float64(s.Rate) * s.Time.Hours()
	}
	share := gone / float64(held)
	if math.IsInf(share, 0) {
		share = 2
	}
	return Loss{Mass: unit.AreaMass(gone), Share: unit.Share(min(share, 1)), Dry: share > 1}, nil
}
