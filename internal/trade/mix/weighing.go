package mix

import (
	"fmt"

	"hod/internal/unit"
)

// Standard is the text whose tolerances a batch is held against.
type Standard uint8

const (
	C94           Standard = iota + 1 // ASTM C94/C94M, weigh-batching, as of the 2021a edition
	C94Before2021                     // its water tolerance before that edition
	C685                              // ASTM C685/C685M, volumetric batching
	ByHand                            // the plan's own tolerance, for batches of about a bag weighed by hand
)

func (s Standard) String() string {
	switch s {
	case C94:
		return "ASTM C94 (2021a)"
	case C94Before2021:
		return "ASTM C94 (before 2021a)"
	case C685:
		return "ASTM C685"
	case ByHand:
		return "the plan's tolerance for weighing by hand"
	default:
		return "standard not said"
	}
}

// Weighing says how a batch is to be judged.
type Weighing struct {
	Standard Standard
	// Scale is the capacity of the scale that weighs cement and pozzolan; 0 is not known. C94 asks ±1 % of a charge
	// that is at least 30 % of it, and allows a smaller one 0 to +4 %.
	Scale unit.Mass
	// Cumulative says that aggregates are weighed one on top of another on one scale; each running sum is then held to
	// ±1 %. Only C94 knows it.
	Cumulative bool
	// Tolerance is the plan's, as a share of the target, up and down; only ByHand knows it.
	Tolerance unit.Share
}

// Judgement is one line of a judged weighing.
type Judgement struct {
	Name      string
	Kind      Kind
	Target    unit.Mass
	Charged   unit.Mass
	Deviation unit.Mass // charged − target
	// Share is the deviation as a share of what the tolerance is a share of: the target, or for added water before 2021
	// the target of all mixing water. 0 when there is no target.
	Share     unit.Share
	Low, High unit.Mass // allowed, where Judged
	Judged    bool      // false: no tolerance is known
	Within    bool      // only where Judged
	Source    string    // of the tolerance, and how it is known; or why there is none
}

// bounds is a tolerance: deviations from low to high, as shares.
type bounds struct {
	low, high unit.Share
	source    string
}

// Judge holds a batch as charged against what it should have been, constituent by constituent; portions of one name are
// summed. The target's moisture must be that of the sand charged, as Mix.AtMoisture gives it. Water added and sprayed
// is one line. A constituent that is missing is out; one that was not asked for has no tolerance and says so.
// Deviations are compared at a step of 0.0001 %.
func (t Weighing) Judge(target, charged Batch) ([]Judgement, error) {
	if t.Standard < C94 || t.Standard > ByHand {
		return nil, fmt.Errorf("say which standard the weighing is judged by: C94, C94 before 2021a, C685, or by hand")
	}
	if t.Standard == ByHand && (t.Tolerance <= 0 || t.Tolerance > 1) {
		return nil, fmt.Errorf("a tolerance for weighing by hand of %g cannot be; it is a share above 0 and up to 1",
			float64(t.Tolerance))
	}
	if t.Scale != 0 {
		if err := checkMass("the scale's capacity", t.Scale); err != nil {
			return nil, err
		}
	}
	wanted, err := target.Balance()
	if err != nil {
		return nil, fmt.Errorf("target: %w", err)
	}
	got, err := charged.Balance()
	if err != nil {
		return nil, fmt.Errorf("charged: %w", err)
	}
	var lines []Judgement
	for _, l := range pair(target, charged) {
		if l.Target == 0 {
			l.Source = "not in the mix"
			lines = append(lines, l)
			continue
		}
		b, known := t.bounds(l.Kind, l.Target)
		lines = append(lines, judge(l, b, known, l.Target))
	}
	if t.Cumulative && t.Standard != C685 && t.Standard != ByHand {
		lines = cumulate(lines)
	}
	return append(lines, t.judgeWater(wanted, got)...), nil
}

// pair gives a line to each name but water's, the target's in its order and then those that only the batch has.
func pair(target, charged Batch) []Judgement {
	var lines []Judgement
	at := map[string]int{}
	line := func(c Charge) *Judgement {
		i, ok := at[c.Name]
		if !ok {
			i = len(lines)
			at[c.Name] = i
			lines = append(lines, Judgement{Name: c.Name, Kind: c.Kind})
		}
		return &lines[i]
	}
	for _, c := range target.Charges {
		if c.Kind != Water {
			line(c).Target += c.Mass
		}
	}
	for _, c := range charged.Charges {
		if c.Kind != Water {
			line(c).Charged += c.Mass
		}
	}
	return lines
}

// judge finishes a line whose target and charge are known; the bounds are shares of whole.
func judge(l Judgement, b bounds, known bool, whole unit.Mass) Judgement {
	l.Deviation = l.Charged - l.Target
	l.Share = unit.Share(l.Deviation / whole)
	l.Source = b.source
	if !known {
		return l
	}
	l.Judged = true
	l.Low, l.High = l.Target+whole*unit.Mass(b.low), l.Target+whole*unit.Mass(b.high)
	l.Within = step(l.Share) >= step(b.low) && step(l.Share) <= step(b.high)
	return l
}

func (t Weighing) bounds(k Kind, target unit.Mass) (bounds, bool) {
	if t.Standard == ByHand {
		return t.byHand(k)
	}
	c685 := t.Standard == C685
	switch k {
	case Cement, Pozzolan:
		switch {
		case c685:
			return bounds{0, 0.04, "ASTM C685: cement 0 to +4 % (from memory)"}, true
		case t.Scale > 0 && step(unit.Share(target/t.Scale)) >= 0.3:
			return bounds{-0.01, 0.01, "ASTM C94: cementitious ±1 % from 30 % of the scale's capacity (from memory)"},
				true
		case t.Scale > 0:
			return bounds{
				0, 0.04,
				"ASTM C94: cementitious of a small batch, below 30 % of the scale's capacity, 0 to +4 % (from memory)",
			}, true
		default:
			return bounds{
				0, 0.04,
				"ASTM C94: cementitious of a small batch 0 to +4 %, the scale's capacity not said (from memory)",
			}, true
		}
	case Sand:
		if c685 {
			return bounds{-0.02, 0.02, "ASTM C685: aggregate ±2 % (from memory)"}, true
		}
		return bounds{-0.02, 0.02, "ASTM C94: aggregate ±2 % (from memory)"}, true
	case Admixture:
		if c685 {
			return bounds{-0.03, 0.03, "ASTM C685: admixture ±3 % (from memory)"}, true
		}
		return bounds{-0.03, 0.03, "ASTM C94: admixture ±3 % (from memory)"}, true
	case Fibre:
		return bounds{source: "no tolerance known: fibre is batched by mass (ASTM C1116), its tolerance not seen"},
			false
	default:
		return bounds{source: fmt.Sprintf("no tolerance known for %s", k)}, false
	}
}

// byHand holds everything that is weighed to one tolerance. The figures of a ready-mix plant are of its scales and its
// loads: one bag on a platform scale, a pail of sand and a dosing cup are not weighed to 1 or 2 %. The default of 5 %
// is common practice, no source; EN 206 asks ±3 % of a plant, ±5 % of admixtures and additions (from memory). Foam is
// metered until the unit weight is right.
func (t Weighing) byHand(k Kind) (bounds, bool) {
	if k == Foam {
		return bounds{source: "no tolerance for foam: it is metered to the unit weight"}, false
	}
	return bounds{
		-t.Tolerance, t.Tolerance,
		fmt.Sprintf("the plan: weighed by hand to ±%.3g %% (5 %% where it says nothing: common practice, no source)",
			100*float64(t.Tolerance)),
	}, true
}

// cumulate judges sands by their running sums in the order of charging.
func cumulate(lines []Judgement) []Judgement {
	var target, charged unit.Mass
	name := ""
	for i, l := range lines {
		if l.Kind != Sand || l.Target == 0 {
			continue
		}
		if name != "" {
			name += " + "
		}
		name += l.Name
		target, charged = target+l.Target, charged+l.Charged
		sum := Judgement{Name: name, Kind: Sand, Target: target, Charged: charged}
		lines[i] = judge(sum, bounds{
			-0.01, 0.01,
			"ASTM C94: aggregates weighed cumulatively ±1 % of the sum so far (from memory)",
		}, true, target)
	}
	return lines
}

func (t Weighing) judgeWater(wanted, got Balance) []Judgement {
	added := Judgement{
		Name: "water added", Kind: Water,
		Target: wanted.From(Added) + wanted.From(Sprayed), Charged: got.From(Added) + got.From(Sprayed),
	}
	if added.Target == 0 {
		added.Source = "the mix adds no water of its own"
		added.Deviation = added.Charged
		return []Judgement{added}
	}
	switch t.Standard {
	case C94Before2021:
		all := Judgement{Name: "all mixing water", Kind: Water, Target: wanted.Total, Charged: got.Total}
		return []Judgement{
			judge(added, bounds{
				-0.01, 0.01,
				"ASTM C94 before 2021a: added water ±1 % of all mixing water (revision notice)",
			}, true, wanted.Total),
			judge(all, bounds{-0.03, 0.03, "ASTM C94 before 2021a: all mixing water ±3 % (revision notice)"}, true,
				wanted.Total),
		}
	case ByHand:
		b, known := t.byHand(Water)
		return []Judgement{judge(added, b, known, added.Target)}
	case C685:
		return []Judgement{judge(added, bounds{-0.01, 0.01, "ASTM C685: water ±1 % (from memory)"}, true, added.Target)}
	default:
		return []Judgement{judge(added,
			bounds{-0.015, 0.015, "ASTM C94-21a: batch water ±1.5 % of target (revision notice)"}, true, added.Target)}
	}
}
