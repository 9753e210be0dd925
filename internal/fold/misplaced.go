package fold

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/unit"
)

// overfull is the share of the volume needed, loss counted, beyond which a coat is taken to hold what belongs
// elsewhere: a fifth more. Common practice, no source.
const overfull = 1.2

// judgeMixes finds batches of another mix than the coat's.
func (s *Judge) judgeMixes(in *found, c *CoatIs) {
	for _, p := range c.Placed {
		planned := s.plan.CoatAt(c.Coat, p.From).Mix
		if p.Batch.Body.Mix == planned {
			continue
		}
		in.findings = append(in.findings, Finding{
			Code: WrongMix, Grave: true, Key: p.Record.Name.String() + " " + c.name().String(),
			Subject: c.name().String(), Since: p.From,
			Text: fmt.Sprintf("batch %s is of mix %s, and %s is planned in %s", p.Batch.ID, p.Batch.Body.Mix,
				c.name(), planned),
			Evidence: []Fact{{Name: "planned", Value: string(planned)},
				{Name: "placed", Value: string(p.Batch.Body.Mix)}},
			Limit: "the mix of the coat's plan", Source: "the plan",
			Events: []event.Name{p.Record.Name, p.Batch.Mixed.Name},
			Asks:   []event.Name{p.Record.Name},
		})
	}
}

// judgeOverfull finds coats that hold over a fifth more than they take. It goes by what the mixes are known to yield,
// which other zones' batches tell, too: so it is asked anew each time.
func (s *Judge) judgeOverfull() []Finding {
	var all []Finding
	for _, name := range s.plan.ZoneNames() {
		st := s.zones[name]
		if st == nil || st.is == nil {
			continue
		}
		for _, id := range st.is.order {
			c := s.measured(st.is.coats[id])
			if n := len(c.Placed); n > 0 { // what it took when the last of it was placed
				c.Needed = s.plan.neededAt(c.Coat, c.Placed[n-1].From)
			}
			if c.Needed <= 0 || round(float64(c.Volume/c.Needed)) <= round(overfull) {
				continue
			}
			f := Finding{
				Code: Overfull, Key: id.String(), Subject: id.String(), Since: c.Last,
				Text: fmt.Sprintf(
					"%s holds %s where it takes %s, %.0f %% more: placed thicker, elsewhere, or written into the wrong zone",
					id, s.plan.System.Volume(c.Volume), s.plan.System.Volume(c.Needed),
					100*(float64(c.Volume/c.Needed)-1)),
				Evidence: []Fact{FactOf("placed", c.Volume, unit.System.Volume, s.plan.System),
					FactOf("needed, loss counted", c.Needed, unit.System.Volume, s.plan.System)},
				Limit: "a fifth over the volume needed", Allowed: atMost(overfull * c.Needed),
				Source: "common practice, no source",
			}
			for _, p := range c.Placed {
				f.Events = append(f.Events, p.Record.Name)
			}
			f.Asks = beyond(c)
			all = append(all, f)
		}
	}
	return all
}

// beyond are the placements that brought a coat over what it may hold: those written last.
func beyond(c CoatIs) []event.Name {
	order := slices.Clone(c.Placed)
	slices.SortFunc(order, func(a, b *Placed) int { return byLogged(a.Record, b.Record) })
	var sum unit.Volume
	var all []event.Name
	for _, p := range order {
		if sum += p.Volume; round(float64(sum/c.Needed)) > round(overfull) {
			all = append(all, p.Record.Name)
		}
	}
	return all
}
