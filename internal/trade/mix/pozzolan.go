package mix

import (
	"fmt"
	"math"

	"hod/internal/unit"
)

// PozzolanJudgement holds a batch's pozzolan against a least share. Both bases are given whichever decides.
type PozzolanJudgement struct {
	OfCementitious, OfCement, Least unit.Share
	Basis                           Basis
	Judged                          bool // false when the basis is not said and the two bases disagree
	Met                             bool // only where Judged
	Remark                          string
}

// JudgePozzolan judges on the basis that the mix states. Shares are compared at a step of 0.0001 %.
func (f Figures) JudgePozzolan(least unit.Share, basis Basis) (PozzolanJudgement, error) {
	if err := checkShare("least pozzolan", least); err != nil {
		return PozzolanJudgement{}, err
	}
	if err := checkMass("cement", f.Cement); err != nil {
		return PozzolanJudgement{}, err
	}
	j := PozzolanJudgement{
		OfCementitious: f.PozzolanOfCementitious, OfCement: f.PozzolanOfCement, Least: least,
		Basis: basis,
	}
	onAll, onCement := step(j.OfCementitious) >= step(least), step(j.OfCement) >= step(least)
	switch basis {
	case OfCementitious:
		j.Judged, j.Met = true, onAll
	case OfCement:
		j.Judged, j.Met = true, onCement
	case BasisNotSaid:
		j.Judged, j.Met = onAll == onCement, onAll && onCement
	default:
		return PozzolanJudgement{}, fmt.Errorf("pozzolan basis %d is not known; say of cementitious or of cement",
			basis)
	}
	if onAll != onCement {
		j.Remark = fmt.Sprintf(
			"pozzolan is %.2f %% of cementitious and %.2f %% of cement, either side of %.2f %%: the basis decides",
			100*j.OfCementitious, 100*j.OfCement, 100*least)
	}
	return j, nil
}

// step rounds a share to a millionth. Decisions compare values so rounded, because a phone and a server may differ in a
// float's last bit and must not differ in a verdict.
func step(s unit.Share) float64 { return math.Round(float64(s)*1e6) / 1e6 }
