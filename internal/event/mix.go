package event

import (
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Constituent of a mix, for one batch as designed; sand saturated and surface dry.
type Constituent struct {
	Name       Material
	Kind       Kind
	Amount     Amount
	Gravity    float64                // specific gravity; 0: not said
	Absorption *unit.As[unit.Share]   // of sand, of its dry mass
	Solids     *unit.As[unit.Share]   // of an admixture or foam, by mass; the rest is water
	Bulk       *unit.As[unit.Density] // of a solid, loose, as it fills a bucket
	Bag        *unit.As[unit.Mass]    // of one bag, where it comes in bags
}

// Step of charging the mixer.
type Step struct {
	Constituent Material // empty: only wait or look
	Share       *unit.As[unit.Share]
	Wait        time.Duration // whole seconds
	LookFor     string
}

// MixPlanned is a proportioned mortar.
type MixPlanned struct {
	Mix                 Mix
	Revision            int
	Constituents        []Constituent
	Air                 *unit.As[unit.Share]
	DesignYield         *unit.As[unit.Volume] // of one batch, where it is stated and not computed
	WaterLimit          float64               // highest w/cm; 0: none
	UnitWeight          *unit.As[unit.Density]
	UnitWeightTolerance *unit.As[unit.Share]
	InitialSet          time.Duration // from water contact, at SetReference; 0: not said
	SetReference        *unit.As[unit.Celsius]
	Activation          float64 // kJ/mol; 0: not said
	Steps               []Step
	Working             time.Duration // whole minutes; 0: not said
	Datum               *unit.As[unit.Celsius]
	Replaces            []Hash
	// Corrects is the earlier revision in which this one mends a mistake, so that the batches that carry that one are
	// judged by this; 0: none.
	Corrects int
}

// Limits of a mix.
const (
	MaxConstituents = 40
	MaxSteps        = 100
)

func (b MixPlanned) check() error {
	return first(
		checkName("mix", b.Mix),
		checkCount("mix revision", b.Revision, 1, 9999),
		b.checkConstituents(),
		maybe("air", b.Air, airShare),
		maybe("yield as designed", b.DesignYield, someVolume),
		orNone("highest w/cm", b.WaterLimit, waterRatio),
		maybe("unit weight", b.UnitWeight, unitWeight),
		maybe("tolerance of the unit weight", b.UnitWeightTolerance, tolerance),
		checkLength("initial set", b.InitialSet, time.Minute, 7*24*time.Hour),
		maybe("temperature of the initial set", b.SetReference, temperature),
		orNone("activation energy", b.Activation, activation),
		b.checkSteps(),
		checkWhole("working time", b.Working, time.Minute, 24*time.Hour),
		maybe("datum of maturity", b.Datum, temperature),
		checkHashes("replaced plan", b.Replaces, 0),
		b.checkCorrects(),
	)
}

func (b MixPlanned) checkCorrects() error {
	if b.Corrects < 0 || b.Corrects >= b.Revision && b.Corrects != 0 {
		return cannot("revision %d cannot correct revision %d; a revision corrects an earlier one", b.Revision,
			b.Corrects)
	}
	return nil
}

func (b MixPlanned) checkConstituents() error {
	if len(b.Constituents) > MaxConstituents {
		return cannot("the mix has %d constituents; it may have %d", len(b.Constituents), MaxConstituents)
	}
	seen := map[Material]bool{}
	return all("constituent", b.Constituents, 1, func(c Constituent) error {
		if seen[c.Name] {
			return cannot("%q is there already; each has one amount", clip(string(c.Name)))
		}
		seen[c.Name] = true
		mass, volume := someMass, someVolume
		if c.Kind == Water {
			mass, volume = waterMass, waterVolume
		}
		return first(
			checkName("constituent", c.Name),
			c.Kind.check(),
			c.Amount.check("amount of "+string(c.Name), mass, volume),
			orNone("specific gravity", c.Gravity, gravity),
			maybe("absorption", c.Absorption, sandMoisture),
			maybe("solids", c.Solids, wholeShare),
			maybe("bulk density", c.Bulk, bulkDensity),
			maybe("mass of a bag", c.Bag, bagMass),
		)
	})
}

// checkSteps also refuses an order of charging that puts in what is not in the mix, or more of it than there is.
func (b MixPlanned) checkSteps() error {
	if len(b.Steps) > MaxSteps {
		return cannot("the charging order has %d steps; it may have %d", len(b.Steps), MaxSteps)
	}
	put := map[Material]float64{} // of those in the mix, the share that is in
	for _, c := range b.Constituents {
		put[c.Name] = 0
	}
	return all("step", b.Steps, 0, func(s Step) error {
		if err := first(
			maybe("share", s.Share, partShare),
			checkWhole("wait", s.Wait, time.Second, 24*time.Hour),
			checkLine("sign to look for", s.LookFor),
		); err != nil {
			return err
		}
		if s.Constituent == "" {
			if s.Share != nil || s.Wait == 0 && s.LookFor == "" {
				return cannot("nothing goes in, nothing is waited or looked for; name a constituent, a wait or a sign")
			}
			return nil
		}
		before, known := put[s.Constituent]
		if !known {
			return cannot("%q is not in the mix; charge what the mix has", clip(string(s.Constituent)))
		}
		share := 1.0
		if s.Share != nil {
			share = float64(s.Share.SI)
		}
		if put[s.Constituent] = before + share; before+share > 1.0005 { // thirds, as people write them
			return cannot("%s%% of the %s would have gone in; the shares of its steps make 100%% at most",
				number((before+share)*100), s.Constituent)
		}
		return nil
	})
}

func (b MixPlanned) about() about { return about{kind: "mix", sort: Planning, by: Foremen} }

// Thing names what is planned.
func (b MixPlanned) Thing() string { return "mix " + string(b.Mix) }

func (b MixPlanned) replaces() []Hash { return b.Replaces }

func (b MixPlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b MixPlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_MixPlanned{MixPlanned: &hodv1.MixPlanned{
		Mix: string(b.Mix), Revision: uint32(b.Revision), Constituents: each(b.Constituents, Constituent.proto),
		Air: shareProto(b.Air), DesignYield: volumeProto(b.DesignYield), WCmLimit: b.WaterLimit,
		UnitWeight: densityProto(b.UnitWeight), UnitWeightTolerance: shareProto(b.UnitWeightTolerance),
		InitialSetMin: units(b.InitialSet, time.Minute), SetReference: celsiusProto(b.SetReference),
		ActivationKjMol: b.Activation, Steps: each(b.Steps, Step.proto), WorkingMin: wholes(b.Working, time.Minute),
		Datum: celsiusProto(b.Datum), Replaces: hashesProto(b.Replaces),
		Corrects: uint32(b.Corrects),
	}}}
}

var _ = reads(func(k *hodv1.Body_MixPlanned) Body { return mixPlannedOf(k.MixPlanned) })

func mixPlannedOf(p *hodv1.MixPlanned) MixPlanned {
	return MixPlanned{
		Mix: Mix(p.GetMix()), Revision: count(p.GetRevision()), Constituents: each(p.GetConstituents(), constituentOf),
		Air: shareOf(p.GetAir()), DesignYield: volumeOf(p.GetDesignYield()), WaterLimit: p.GetWCmLimit(),
		UnitWeight: densityOf(p.GetUnitWeight()), UnitWeightTolerance: shareOf(p.GetUnitWeightTolerance()),
		InitialSet: span(p.GetInitialSetMin(), time.Minute), SetReference: celsiusOf(p.GetSetReference()),
		Activation: p.GetActivationKjMol(), Steps: each(p.GetSteps(), stepOf),
		Working: whole(p.GetWorkingMin(), time.Minute),
		Datum:   celsiusOf(p.GetDatum()), Replaces: hashesOf(p.GetReplaces()),
		Corrects: count(p.GetCorrects()),
	}
}

func (c Constituent) proto() *hodv1.Constituent {
	return &hodv1.Constituent{
		Name: string(c.Name), Kind: hodv1.ConstituentKind(c.Kind), Amount: c.Amount.proto(), Gravity: c.Gravity,
		Absorption: shareProto(c.Absorption), Solids: shareProto(c.Solids), Bulk: densityProto(c.Bulk),
		Bag: massProto(c.Bag),
	}
}

func constituentOf(p *hodv1.Constituent) Constituent {
	return Constituent{
		Name: Material(p.GetName()), Kind: Kind(p.GetKind()), Amount: amountOf(p.GetAmount()), Gravity: p.GetGravity(),
		Absorption: shareOf(p.GetAbsorption()), Solids: shareOf(p.GetSolids()), Bulk: densityOf(p.GetBulk()),
		Bag: massOf(p.GetBag()),
	}
}

func (s Step) proto() *hodv1.ChargeStep {
	return &hodv1.ChargeStep{
		Constituent: string(s.Constituent), Share: shareProto(s.Share), WaitS: wholes(s.Wait, time.Second),
		LookFor: s.LookFor,
	}
}

func stepOf(p *hodv1.ChargeStep) Step {
	return Step{
		Constituent: Material(p.GetConstituent()), Share: shareOf(p.GetShare()), Wait: whole(p.GetWaitS(), time.Second),
		LookFor: p.GetLookFor(),
	}
}
