package mix

import (
	"fmt"
	"time"

	"hod/internal/unit"
)

// Spray is water added by a wand, metered by time.
type Spray struct {
	Rate unit.Flow // as calibrated on the day
	For  time.Duration
}

// Calibrate is the rate of a wand that filled a measured volume in the time taken.
func Calibrate(filled unit.Volume, in time.Duration) (unit.Flow, error) {
	if err := checkVolume("water caught", filled); err != nil {
		return 0, err
	}
	if in < 100*time.Millisecond || in > 24*time.Hour {
		return 0, fmt.Errorf("calibration took %s; it must be at least 0.1 s and at most a day", unit.Duration(in))
	}
	rate := unit.Flow(float64(filled) / in.Seconds())
	return rate, checkRate(rate)
}

func checkRate(r unit.Flow) error {
	return within("spray rate", r, 1e-9, 0.1, unit.System.Flow,
		"it must be above 0 and at most {high}; 15 L/min (4 gal/min) is usual")
}

// Volume of the water sprayed.
func (s Spray) Volume() (unit.Volume, error) {
	if err := checkRate(s.Rate); err != nil {
		return 0, err
	}
	if s.For <= 0 || s.For > time.Hour {
		return 0, fmt.Errorf("spray lasted %s; it must be above 0 and at most an hour", unit.Duration(s.For))
	}
	return unit.Volume(float64(s.Rate) * s.For.Seconds()), nil
}

// Mass of the water sprayed, at unit.WaterDensity.
func (s Spray) Mass() (unit.Mass, error) {
	v, err := s.Volume()
	return unit.WaterDensity.Mass(v), err
}

// Source is the way by which water came into a batch.
type Source uint8

const (
	Added Source = iota + 1
	InSand
	InAdmixture
	InFoam
	Sprayed
)

func (s Source) String() string {
	switch s {
	case Added:
		return "added"
	case InSand:
		return "free in sand"
	case InAdmixture:
		return "in admixture"
	case InFoam:
		return "in foam"
	case Sprayed:
		return "sprayed"
	default:
		return "source not said"
	}
}

// WaterPart is one source of a batch's water.
type WaterPart struct {
	Source Source
	Name   string    // of the constituent
	Mass   unit.Mass // negative: sand drier than SSD takes water up
}

// Balance is all the water of a batch that is free to mix with the cement.
type Balance struct {
	Parts []WaterPart // in the order charged, sprays last
	Total unit.Mass   // their sum
}

// From is the sum of the parts of one source.
func (w Balance) From(s Source) unit.Mass {
	var sum unit.Mass
	for _, p := range w.Parts {
		if p.Source == s {
			sum += p.Mass
		}
	}
	return sum
}

// Balance counts the water of a batch: added + free in sand + in admixtures + in foam + sprayed. It is an error when
// none remains: dry sand that takes up more than was added.
func (b Batch) Balance() (Balance, error) {
	if err := b.Check(); err != nil {
		return Balance{}, err
	}
	var w Balance
	for _, c := range b.Charges {
		switch c.Kind {
		case Water:
			w.Parts = append(w.Parts, WaterPart{Added, c.Name, c.Mass})
		case Sand:
			w.Parts = append(w.Parts, WaterPart{InSand, c.Name, c.sand().Free})
		case Admixture:
			w.Parts = append(w.Parts, WaterPart{InAdmixture, c.Name, c.water()})
		case Foam:
			w.Parts = append(w.Parts, WaterPart{InFoam, c.Name, c.water()})
		}
	}
	for _, s := range b.Sprays {
		m, _ := s.Mass() // checked above
		w.Parts = append(w.Parts, WaterPart{Sprayed, "spray", m})
	}
	for _, p := range w.Parts {
		w.Total += p.Mass
	}
	if w.Total < leastMass {
		return w, fmt.Errorf("the batch holds no mixing water: %s was added in all and the sand takes up %s",
			both(w.Total-w.From(InSand), unit.System.Mass), both(-w.From(InSand), unit.System.Mass))
	}
	return w, nil
}

// WaterLeft is the water that may still be added before w/cm passes the limit: limit × cementitious − water. Negative:
// the batch is past it by so much.
func (f Figures) WaterLeft(limit float64) (unit.Mass, error) {
	if err := checkLimit(limit); err != nil {
		return 0, err
	}
	if err := checkMass("cementitious material", f.Cementitious); err != nil {
		return 0, err
	}
	return unit.Mass(limit)*f.Cementitious - f.Water.Total, nil
}
