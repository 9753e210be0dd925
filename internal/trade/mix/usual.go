package mix

import (
	"fmt"
	"time"
)

// How long mortar may be used after mixing, by the standards of neighbouring trades. None of them was written for a
// thin shell: initial set decides there.
const (
	UseConcrete = 90 * time.Minute  // discharge, unless the purchaser allows otherwise: ASTM C94 (from memory)
	UseMasonry  = 150 * time.Minute // retempering inside it: ASTM C270
	UsePlaster  = 90 * time.Minute  // commonly used; the clause of ASTM C926 not seen
)

// Ferrocement mortar by mass, ACI 549.1R (from memory).
const (
	LeastSandCement = 1.4
	MostSandCement  = 2.5
	LeastWater      = 0.30 // w/cm; 0.35 to 0.50 is typical
	MostWater       = 0.50
)

// Unusual says where a batch lies outside the proportions that ACI 549.1R gives for ferrocement mortar. These are
// remarks, not verdicts: a foamed or a superplasticized mortar may lie outside on purpose.
func (f Figures) Unusual() []string {
	var out []string
	if sc := f.SandCementitious; sc < LeastSandCement || sc > MostSandCement {
		out = append(out, fmt.Sprintf(
			"sand/cementitious %.2f is outside the %.1f to %.1f usual for ferrocement (ACI 549.1R, from memory)", sc,
			LeastSandCement, MostSandCement))
	}
	if wc := f.WaterCementitious; wc < LeastWater || wc > MostWater {
		out = append(out, fmt.Sprintf(
			"w/cm %.3f is outside the %.2f to %.2f usual for ferrocement (ACI 549.1R, from memory)", wc, LeastWater,
			MostWater))
	}
	return out
}

// Caution that goes with work in wet cement and dry dust.
const Caution = "Wet cement burns skin and eyes: gloves and eye protection, wash at once, eyes 15 minutes. Dry mix and cut mortar give off respirable silica."
