package weather

import (
	"math"

	"hod/internal/unit"
)

// Threshold is an evaporation rate from which precautions are called for. Standards print it in both systems with
// rounded figures that are not each other's conversion, so both are held and an estimate is compared in the unit in
// which its own form was published. A site may set its own figures.
type Threshold struct {
	Name   string
	SI     unit.Evaporation // kg/m²/h as printed
	US     float64          // lb/ft²/h as printed
	Source Source
}

// The published thresholds. LowBleed is the one for rich, stiff, fibre-reinforced shell mortar.
var (
	Ordinary = Threshold{Name: "ordinary mixes", SI: 1.0, US: 0.2, Source: Source{
		Name:      "precautions against plastic shrinkage cracking",
		Text:      "0.2 lb/ft²/h, printed as 1.0 kg/m²/h (0.976 exactly)",
		Published: "ACI 305R; ACI 308R; Concrete International Q&A",
	}}
	LowBleed = Threshold{Name: "mixes that bleed little", SI: 0.5, US: 0.1, Source: Source{
		Name:      "mixes with silica fume, fibres or low w/cm",
		Text:      "0.1 lb/ft²/h, printed as 0.5 kg/m²/h (0.488 exactly)",
		Published: "ACI 305R family; bridge-deck specifications", FromMemory: true,
	}}
	// Strictest has no metric figure of its own that we know: 0.25 follows the rounding of the other two.
	Strictest = Threshold{Name: "some bridge decks", SI: 0.25, US: 0.05, Source: Source{
		Name:      "some high-performance deck specifications",
		Text:      "0.05 lb/ft²/h; 0.25 kg/m²/h by the rounding of the others",
		Published: "state specifications; low confidence", FromMemory: true,
	}}
)

// Steps to which a rate is rounded before it is compared, so that a phone and a server cannot disagree on a last bit.
const (
	stepSI = 1e-4 // kg/m²/h
	stepUS = 1e-5 // lb/ft²/h
)

func rounded(x, step float64) float64 { return math.Round(x/step) * step }

// limits is the threshold in both systems.
func (h Threshold) limits() unit.Threshold[unit.Evaporation] {
	return unit.EvaporationLimits(float64(h.SI), h.US, stepSI, stepUS)
}

// Reached says that the estimate is at or over the threshold: a reason to cover, shade or fog, not a failure.
func (h Threshold) Reached(e Estimate) bool {
	if e.Form.US() {
		return h.limits().Reached(unit.US, e.Rate)
	}
	return h.limits().Reached(unit.Metric, e.Rate)
}
