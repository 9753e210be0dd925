package event

import (
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// SpecimensBroken is a strength test of cubes or cylinders.
type SpecimensBroken struct {
	Mix   Mix
	Batch *Batch // nil: not known
	Shape Specimen
	// side of the cube or diameter of the cylinder; height of the cylinder, nil: not said
	Size, Height *unit.As[unit.Length]
	Age          time.Duration // at the break
	Loads        []unit.Force  // at the break of each, N
	MaturityCH   float64       // °C·h over the mix's datum; 0: not known
	Laboratory   string
}

func (b SpecimensBroken) check() error {
	if b.Size == nil {
		return cannot("the size of the specimens is missing; strength is load over area")
	}
	if b.Age <= 0 {
		return cannot("the age of %s at the break cannot be; it must be above 0, 168h for seven days", sane(b.Age))
	}
	if b.Batch != nil {
		if err := b.Batch.check(); err != nil {
			return err
		}
	}
	return first(
		checkName("mix", b.Mix),
		b.Shape.check(),
		maybe("size of the specimens", b.Size, specimenSize),
		maybe("height of the cylinders", b.Height, specimenSize),
		checkLength("age at the break", b.Age, time.Millisecond, 100*365*24*time.Hour),
		all("load", b.Loads, 1, func(f unit.Force) error { return breakLoad.check("load", float64(f), "") }),
		orNone("maturity", b.MaturityCH, maturity),
		checkLine("laboratory", b.Laboratory),
	)
}

func (b SpecimensBroken) about() about { return about{kind: "break", sort: Work, by: Crews} }

func (b SpecimensBroken) batches() []Batch {
	if b.Batch == nil {
		return nil
	}
	return []Batch{*b.Batch}
}

func (b SpecimensBroken) wrap() *hodv1.Body {
	p := &hodv1.SpecimensBroken{
		Mix: string(b.Mix), Shape: hodv1.SpecimensBroken_Shape(b.Shape), Size: lengthProto(b.Size),
		Height: lengthProto(b.Height),
		AgeH:   units(b.Age, time.Hour), LoadsN: each(b.Loads, func(f unit.Force) float64 { return float64(f) }),
		MaturityCH: b.MaturityCH, Laboratory: b.Laboratory,
	}
	if b.Batch != nil {
		p.Batch = b.Batch.proto()
	}
	return &hodv1.Body{Kind: &hodv1.Body_SpecimensBroken{SpecimensBroken: p}}
}

var _ = reads(func(k *hodv1.Body_SpecimensBroken) Body { return specimensBrokenOf(k.SpecimensBroken) })

func specimensBrokenOf(p *hodv1.SpecimensBroken) SpecimensBroken {
	b := SpecimensBroken{
		Mix: Mix(p.GetMix()), Shape: Specimen(p.GetShape()), Size: lengthOf(p.GetSize()),
		Height:     lengthOf(p.GetHeight()),
		Age:        span(p.GetAgeH(), time.Hour),
		Loads:      each(p.GetLoadsN(), func(n float64) unit.Force { return unit.Force(n) }),
		MaturityCH: p.GetMaturityCH(), Laboratory: p.GetLaboratory(),
	}
	if p.GetBatch() != nil {
		batch := batchOf(p.GetBatch())
		b.Batch = &batch
	}
	return b
}
