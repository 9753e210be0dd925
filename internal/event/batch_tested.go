package event

import (
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// BatchTested is a fresh test of a batch; nil is not tested.
type BatchTested struct {
	Batch       Batch
	Gross, Tare *unit.As[unit.Mass]    // measure and mortar; the empty measure, 0 if the scale was set so
	Measure     *unit.As[unit.Volume]  // of the measure
	UnitWeight  *unit.As[unit.Density] // where it was read and not computed from a measure
	Temperature *unit.As[unit.Celsius]
	Flow, Air   *unit.As[unit.Share] // flow: of the original base diameter; air as a meter read it
	// whole minutes from water contact to 500 psi (3.5 MPa), by the clock; 0: not tested
	InitialSet time.Duration
}

func (b BatchTested) check() error {
	if b.Gross == nil && b.UnitWeight == nil && b.Temperature == nil && b.Flow == nil && b.Air == nil &&
		b.InitialSet == 0 {
		return cannot(
			"nothing was tested; give the filled measure, a unit weight, a temperature, the flow, the air or the initial set")
	}
	return first(
		b.Batch.check(),
		maybe("filled measure", b.Gross, measureMass),
		maybe("empty measure", b.Tare, emptyMass),
		maybe("volume of the measure", b.Measure, measureVolume),
		b.checkMeasure(),
		maybe("unit weight", b.UnitWeight, unitWeight),
		maybe("temperature of the mortar", b.Temperature, temperature),
		maybe("flow", b.Flow, flowShare),
		maybe("air", b.Air, airShare),
		checkWhole("initial set", b.InitialSet, time.Minute, longestSet),
	)
}

const longestSet = 7 * 24 * time.Hour

// checkMeasure refuses a filled measure from which no unit weight of mortar follows.
func (b BatchTested) checkMeasure() error {
	if b.Gross == nil {
		if b.Tare != nil {
			return cannot("the empty measure is weighed and the filled one is not; give both")
		}
		return nil
	}
	if b.Measure == nil {
		return cannot("the measure is weighed but its volume is not said; without it there is no unit weight")
	}
	net := float64(b.Gross.SI)
	if b.Tare != nil {
		if net -= float64(b.Tare.SI); net <= 0 {
			return cannot("the filled measure, %s kg, cannot weigh less than the empty one, %s kg",
				number(float64(b.Gross.SI)), number(float64(b.Tare.SI)))
		}
	}
	return unitWeight.check("unit weight that follows from the measure", net/float64(b.Measure.SI), "")
}

func (b BatchTested) about() about { return about{kind: "test", sort: Work, by: Crews} }

func (b BatchTested) batches() []Batch { return []Batch{b.Batch} }

func (b BatchTested) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_BatchTested{BatchTested: &hodv1.BatchTested{
		Batch: b.Batch.proto(), Gross: massProto(b.Gross), Tare: massProto(b.Tare), Measure: volumeProto(b.Measure),
		UnitWeight: densityProto(b.UnitWeight), Temperature: celsiusProto(b.Temperature), Flow: shareProto(b.Flow),
		Air:           shareProto(b.Air),
		InitialSetMin: wholes(b.InitialSet, time.Minute),
	}}}
}

var _ = reads(func(k *hodv1.Body_BatchTested) Body { return batchTestedOf(k.BatchTested) })

func batchTestedOf(p *hodv1.BatchTested) BatchTested {
	return BatchTested{
		Batch: batchOf(p.GetBatch()), Gross: massOf(p.GetGross()), Tare: massOf(p.GetTare()),
		Measure:    volumeOf(p.GetMeasure()),
		UnitWeight: densityOf(p.GetUnitWeight()), Temperature: celsiusOf(p.GetTemperature()),
		Flow: shareOf(p.GetFlow()), Air: shareOf(p.GetAir()),
		InitialSet: whole(p.GetInitialSetMin(), time.Minute),
	}
}
