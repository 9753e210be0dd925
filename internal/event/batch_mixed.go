package event

import (
	"strings"
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Charge is one constituent going into the mixer, as weighed: sand with the water in it.
type Charge struct {
	Constituent Material
	Amount      Amount    // 0 where it was left out
	At          time.Time // zero: not kept
}

// BatchMixed is one mixer load.
type BatchMixed struct {
	Batch        Batch
	Mix          Mix
	Revision     int // 0: not known to the author
	Charges      []Charge
	SandMoisture *unit.As[unit.Share]  // total moisture, of the sand's dry mass
	Spray        time.Duration         // of spraying water in
	SprayPerS    *unit.As[unit.Volume] // what the wand delivers in a second
	MixedFrom    time.Time
	MixedTo      time.Time
	WaterAt      time.Time // when water met cement
	CutShort     []string  // waits of the charging order that were cut short
	Because      string    // why a rule of the job was passed over
	Temperature  *unit.As[unit.Celsius]
}

func (b BatchMixed) check() error {
	if !b.WaterAt.IsZero() && !b.MixedTo.IsZero() && milli(b.MixedTo).Before(milli(b.WaterAt)) {
		return cannot("water cannot meet cement at %s, after the batch was ready at %s", clock(b.WaterAt),
			clock(b.MixedTo))
	}
	return first(
		b.Batch.check(),
		checkName("mix", b.Mix),
		checkCount("mix revision", b.Revision, 0, 9999),
		all("charge", b.Charges, 1, Charge.check),
		maybe("sand moisture", b.SandMoisture, sandMoisture),
		checkLength("spraying", b.Spray, 0, time.Hour),
		maybe("delivery of the wand", b.SprayPerS, sprayPerSecond),
		checkSpan("mixing", b.MixedFrom, b.MixedTo),
		checkTime("water contact", b.WaterAt),
		all("cut wait", b.CutShort, 0, func(s string) error { return checkLabel("wait", s) }),
		checkText("reason", b.Because),
		maybe("temperature of the mortar", b.Temperature, temperature),
	)
}

// check knows water by its name only, since the mix is another event.
func (c Charge) check() error {
	mass, volume := chargeMass, chargeVolume
	if strings.EqualFold(string(c.Constituent), "water") {
		mass, volume = waterMass, waterVolume
	}
	if err := checkName("constituent", c.Constituent); err != nil {
		return err
	}
	return first(
		c.Amount.check("amount of "+string(c.Constituent), mass, volume),
		checkTime("the charge", c.At),
	)
}

func (b BatchMixed) about() about { return about{kind: "batch", sort: Work, by: Crews} }

func (b BatchMixed) batches() []Batch { return []Batch{b.Batch} }

func (b BatchMixed) owner() Crew { return b.Batch.Crew }

func (b BatchMixed) because() string { return b.Because }

func (b BatchMixed) shifted(shift func(time.Time) time.Time) Body {
	b.MixedFrom, b.MixedTo, b.WaterAt = shift(b.MixedFrom), shift(b.MixedTo), shift(b.WaterAt)
	b.Charges = each(b.Charges, func(c Charge) Charge { c.At = shift(c.At); return c })
	return b
}

func (b BatchMixed) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_BatchMixed{BatchMixed: &hodv1.BatchMixed{
		Batch: b.Batch.proto(), Mix: string(b.Mix), MixRevision: uint32(b.Revision),
		Charges:      each(b.Charges, Charge.proto),
		SandMoisture: shareProto(b.SandMoisture), SprayS: units(b.Spray, time.Second),
		SprayPerS: volumeProto(b.SprayPerS),
		MixedFrom: stamp(b.MixedFrom), MixedTo: stamp(b.MixedTo), WaterAt: stamp(b.WaterAt),
		CutShort: texts[string](b.CutShort), Because: b.Because, Temperature: celsiusProto(b.Temperature),
	}}}
}

var _ = reads(func(k *hodv1.Body_BatchMixed) Body { return batchMixedOf(k.BatchMixed) })

func batchMixedOf(p *hodv1.BatchMixed) BatchMixed {
	return BatchMixed{
		Batch: batchOf(p.GetBatch()), Mix: Mix(p.GetMix()), Revision: count(p.GetMixRevision()),
		Charges:      each(p.GetCharges(), chargeOf),
		SandMoisture: shareOf(p.GetSandMoisture()), Spray: span(p.GetSprayS(), time.Second),
		SprayPerS: volumeOf(p.GetSprayPerS()),
		MixedFrom: instant(p.GetMixedFrom()), MixedTo: instant(p.GetMixedTo()), WaterAt: instant(p.GetWaterAt()),
		CutShort: texts[string](p.GetCutShort()), Because: p.GetBecause(), Temperature: celsiusOf(p.GetTemperature()),
	}
}

func (c Charge) proto() *hodv1.Charge {
	return &hodv1.Charge{Constituent: string(c.Constituent), Amount: c.Amount.proto(), At: stamp(c.At)}
}

func chargeOf(p *hodv1.Charge) Charge {
	return Charge{Constituent: Material(p.GetConstituent()), Amount: amountOf(p.GetAmount()), At: instant(p.GetAt())}
}
