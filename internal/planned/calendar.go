package planned

import (
	"maps"
	"slices"

	"hod/internal/event"
)

// CrewsOf are the crews that the plan has work in a zone: those whose zone it is, and those that work from one list.
// None where the plan is silent.
func (p *Plan) CrewsOf(zone event.Zone) []event.Crew {
	var all []event.Crew
	for _, name := range slices.Sorted(maps.Keys(p.Crews)) {
		if c := p.Crews[name]; c.FromList || slices.Contains(c.Zones, zone) {
			all = append(all, name)
		}
	}
	return all
}
