package judge

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/placed"
	"hod/internal/unit"
)

// overfull is the share of the volume needed, loss counted, beyond which a coat is taken to hold what belongs
// elsewhere: a fifth more. Common practice, no source.
const overfull = 1.2

// judgeMixes finds batches of another mix than the coat's.
func (s *Judge) judgeMixes(in *found, c *placed.CoatIs) {
	for _, p := range c.Placed {
		planned := s.Current.CoatAt(c.Coat, p.From).Mix
		if p.Batch.Body.Mix == planned {
			continue
		}
		in.findings = append(in.findings, finding.Finding{
			Code: finding.WrongMix, Grave: true, Key: p.Record.Name.String() + " " + c.Name().String(),
			Subject: c.Name().String(), Since: p.From,
			Text: fmt.Sprintf("batch %s is of mix %s, and %s is planned in %s", p.Batch.ID, p.Batch.Body.Mix,
				c.Name(), planned),
			Basis: finding.Basis{
				Evidence: []finding.Fact{
					{Name: "planned", Value: string(planned)},
					{Name: "placed", Value: string(p.Batch.Body.Mix)},
				},
				Limit:  "the mix of the coat's plan",
				Source: "the plan",
			},

			Events: []event.Name{p.Record.Name, p.Batch.Mixed.Name},
			Reason: finding.Reason{Asks: []event.Name{p.Record.Name}},
		})
	}
}

// JudgeOverfull finds coats that hold over a fifth more than they take. It goes by what the mixes are known to yield,
// which other zones' batches tell, too: so it is asked anew each time.
func (s *Judge) JudgeOverfull() []finding.Finding {
	return s.JudgeOverfullIn(func(event.Zone) bool { return true })
}

// JudgeOverfullIn finds them in some zones.
func (s *Judge) JudgeOverfullIn(in func(event.Zone) bool) []finding.Finding {
	var all []finding.Finding
	for _, name := range s.Current.ZoneNames() {
		if !in(name) {
			continue
		}
		st := s.ByZone[name]
		if st == nil || st.Is == nil {
			continue
		}
		for _, id := range st.Is.Order {
			c := s.Measured(st.Is.Coats[id])
			if n := len(c.Placed); n > 0 { // what it took when the last of it was placed
				c.Needed = s.Current.NeededAt(c.Coat, c.Placed[n-1].From)
			}
			if c.Needed <= 0 || mixed.Rounded(float64(c.Volume/c.Needed)) <= mixed.Rounded(overfull) {
				continue
			}
			f := finding.Finding{
				Code: finding.Overfull, Key: id.String(), Subject: id.String(), Since: c.Last,
				Text: fmt.Sprintf(
					"%s holds %s where it takes %s, %.0f %% more: placed thicker, elsewhere, or written into the wrong zone",
					id, s.Current.System.Volume(c.Volume), s.Current.System.Volume(c.Needed),
					100*(float64(c.Volume/c.Needed)-1)),
				Basis: finding.Basis{
					Evidence: []finding.Fact{
						finding.FactOf("placed", c.Volume, unit.System.Volume, s.Current.System),
						finding.FactOf("needed, loss counted", c.Needed, unit.System.Volume, s.Current.System),
					},
					Limit:   "a fifth over the volume needed",
					Allowed: finding.AtMost(overfull * c.Needed),
					Source:  "common practice, no source",
				},
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
func beyond(c placed.CoatIs) []event.Name {
	order := slices.Clone(c.Placed)
	slices.SortFunc(order, func(a, b *placed.Placed) int { return history.ByLogged(a.Record, b.Record) })
	var sum unit.Volume
	var all []event.Name
	for _, p := range order {
		if sum += p.Volume; mixed.Rounded(float64(sum/c.Needed)) > mixed.Rounded(overfull) {
			all = append(all, p.Record.Name)
		}
	}
	return all
}
