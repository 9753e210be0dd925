package planned

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"hod/internal/event"
)

// YieldKey names the mortars whose yields teach each other: the revisions of one mix that state the same air, yield and
// properties of their constituents. How much of each goes in does not matter, since what is learned is a ratio to the
// design; a revision of air or gravities is another design, and neither learns from the other.
type YieldKey struct {
	Mix  event.Mix
	Sums string
}

// Compare orders keys by mix, then by what it states.
func (k YieldKey) Compare(o YieldKey) int {
	return cmp.Or(cmp.Compare(k.Mix, o.Mix), cmp.Compare(k.Sums, o.Sums))
}

func yieldKeyOf(b event.MixPlanned) YieldKey {
	var all strings.Builder
	say := func(name string, q float64, said bool) {
		if said {
			fmt.Fprintf(&all, "%s %g;", name, q)
		}
	}
	if b.Air != nil {
		say("air", float64(b.Air.SI), true)
	}
	if b.DesignYield != nil {
		say("yield", float64(b.DesignYield.SI), true)
	}
	for _, c := range slices.SortedFunc(slices.Values(b.Constituents), func(x, y event.Constituent) int {
		return cmp.Compare(x.Name, y.Name)
	}) {
		fmt.Fprintf(&all, "%s %d;", c.Name, c.Kind)
		say("gravity", c.Gravity, c.Gravity > 0)
		if c.Absorption != nil {
			say("absorption", float64(c.Absorption.SI), true)
		}
		if c.Solids != nil {
			say("solids", float64(c.Solids.SI), true)
		}
		if c.Bulk != nil {
			say("bulk", float64(c.Bulk.SI), true)
		}
	}
	return YieldKey{b.Mix, all.String()}
}
