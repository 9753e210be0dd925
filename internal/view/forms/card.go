package forms

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/mixplan"
	"hod/internal/trade/mix"
	"hod/internal/unit"
	"hod/internal/view"
)

// Card is what to weigh for one batch.
type Card struct {
	Site     string    `json:"site"`
	AsOf     time.Time `json:"as_of"`
	Units    string    `json:"units"`
	Mix      string    `json:"mix"`
	Revision int32     `json:"revision"`
	Scale    float64   `json:"scale"` // of the mix's own batch
	// SandMoisture is the total moisture that sand and water are corrected for; absent where nobody knows it: the sand
	// is then as the mix has it, saturated and surface dry.
	SandMoisture *float64 `json:"sand_moisture,omitempty"`
	// the batch with which it was last written; empty: it was said
	MoistureOf  string   `json:"sand_moisture_of,omitempty"`
	Lines       []Line   `json:"lines"`
	Steps       []Step   `json:"steps"`
	YieldM3     float64  `json:"yield_m3"`
	WCM         float64  `json:"w_cm"`
	WaterLimit  *float64 `json:"water_limit,omitempty"`
	WaterLeftKg *float64 `json:"water_left_kg,omitempty"` // that may be added before the limit
	UnitWeight  float64  `json:"unit_weight_kg_m3"`
	WorkingMin  *float64 `json:"working_min,omitempty"` // how long a batch may be worked
	Cautions    []string `json:"cautions"`
}

// Line is one constituent, by mass or by volume; water that the mix has by volume by both.
type Line struct {
	Constituent string   `json:"constituent"`
	Kind        string   `json:"kind"`
	MassKg      *float64 `json:"mass_kg,omitempty"`
	VolumeM3    *float64 `json:"volume_m3,omitempty"`
}

// Step of the charging order.
type Step struct {
	Constituent string   `json:"constituent,omitempty"`
	Share       *float64 `json:"share,omitempty"` // of the constituent; absent: all of it
	MassKg      *float64 `json:"mass_kg,omitempty"`
	VolumeM3    *float64 `json:"volume_m3,omitempty"`
	WaitMin     *float64 `json:"wait_min,omitempty"`
	LookFor     string   `json:"look_for,omitempty"`
}

// CardOf a mix at a size and a moisture of its sand; without one, at that which was last written of this mix. The error
// says what cannot be.
func CardOf(s *fold.Site, now time.Time, m *fold.Mix, scale float64, moisture *unit.Share) (Card, error) {
	v := Card{
		Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String(), Mix: string(m.MixPlanned.Mix),
		Revision: int32(m.Revision), Scale: scale,
		YieldM3: float64(m.Figures.Yield) * scale, WCM: m.Figures.WaterCementitious,
		UnitWeight: float64(m.Figures.UnitWeight),
		Cautions:   []string{mix.Caution},
	}
	if moisture == nil {
		for _, b := range slices.Backward(s.Batches()) {
			if b.Body.Mix == m.MixPlanned.Mix && b.Body.SandMoisture != nil && !b.From.After(now) {
				moisture, v.MoistureOf = &b.Body.SandMoisture.SI, b.ID.String()
				break
			}
		}
	}
	masses := map[event.Material]unit.Mass{}
	if moisture != nil {
		v.SandMoisture = view.Number(*moisture)
		weighed, err := mixplan.Weighed(m.Mix, scale, *moisture)
		if err != nil {
			return v, err
		}
		for i, c := range m.Constituents {
			if c.Kind == event.Sand || c.Kind == event.Water {
				masses[c.Name] = weighed.Charges[i].Mass
			}
		}
	} else if _, err := m.Mix.Scaled(scale); err != nil {
		return v, err
	}
	for _, c := range m.Constituents {
		l := Line{Constituent: string(c.Name), Kind: c.Kind.String()}
		l.MassKg, l.VolumeM3 = amount(c, scale, masses)
		v.Lines = append(v.Lines, l)
	}
	for _, step := range m.Steps {
		v.Steps = append(v.Steps, v.step(step))
	}
	if m.WaterLimit > 0 {
		v.WaterLimit = view.Number(m.WaterLimit)
		if left, err := m.Figures.WaterLeft(m.WaterLimit); err == nil {
			v.WaterLeftKg = view.Number(left * unit.Mass(scale))
		}
	}
	if m.UnitWeight != nil {
		v.UnitWeight = float64(m.UnitWeight.SI)
	}
	if m.Working > 0 {
		v.WorkingMin = view.Number(m.Working.Minutes())
	}
	return v, nil
}

// amount of a constituent as it is measured: by volume where the mix has it so, else by mass.
func amount(c event.Constituent, scale float64, corrected map[event.Material]unit.Mass) (kg, m3 *float64) {
	if m, ok := corrected[c.Name]; ok {
		if c.Kind == event.Water && c.Amount.ByVolume {
			return view.Number(m), view.Number(unit.WaterDensity.Of(m))
		}
		return view.Number(m), nil
	}
	if c.Amount.ByVolume {
		return nil, view.Number(float64(c.Amount.Volume) * scale)
	}
	return view.Number(float64(c.Amount.Mass) * scale), nil
}

func (v Card) step(step event.Step) Step {
	k := Step{Constituent: string(step.Constituent), LookFor: step.LookFor}
	share := 1.0
	if step.Share != nil {
		share = float64(step.Share.SI)
		k.Share = view.Number(share)
	}
	for _, l := range v.Lines {
		if l.Constituent != k.Constituent {
			continue
		}
		if l.MassKg != nil {
			k.MassKg = view.Number(*l.MassKg * share)
		}
		if l.VolumeM3 != nil {
			k.VolumeM3 = view.Number(*l.VolumeM3 * share)
		}
	}
	if step.Wait > 0 {
		k.WaitMin = view.Number(step.Wait.Minutes())
	}
	return k
}
