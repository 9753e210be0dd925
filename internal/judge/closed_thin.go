package judge

import (
	"fmt"
	"strings"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/mixed"
	"hod/internal/placed"
	"hod/internal/unit"
)

// closedThin is the share of the volume needed under which a coat that counts as finished is shown to a foreman. Crews
// place ten per cent thinner or thicker than planned without anybody's doing, and yields scatter beside it. A choice of
// this program, no source.
const closedThin = 0.8

// JudgeClosedThin finds coats that count as finished by a cover, by what was placed over them, or because somebody said
// that all of them is complete, and that hold much less mortar than their thickness takes. The foreman's own closing is
// his word; where a gauge was read, that says how thick the coat is. A coat that its crew left, neither covered nor
// placed over, may yet be filled.
func (s *Judge) JudgeClosedThin() []finding.Finding {
	return s.JudgeClosedThinIn(func(event.Zone) bool { return true })
}

// JudgeClosedThinIn finds them in some zones.
func (s *Judge) JudgeClosedThinIn(in func(event.Zone) bool) []finding.Finding {
	var all []finding.Finding
	for _, name := range s.Current.ZoneNames() {
		if !in(name) {
			continue
		}
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			if !c.Done() || len(c.Placed) == 0 {
				continue
			}
			last := c.Placed[len(c.Placed)-1] // what it was to be when the last of it was placed
			c.Needed, c.Thickness = s.Current.NeededAt(c.Coat, last.From), last.Then.Thickness
			if c.Needed <= 0 {
				continue
			}
			share := mixed.Rounded(float64(c.Volume / c.Needed))
			if share >= closedThin || c.Closed() || c.Gauged() || c.Finish.Went && !z.PlacedOver(c) {
				continue
			}
			all = append(all, s.foundThin(z, c, unit.Share(share)))
		}
	}
	return all
}

func (s *Judge) foundThin(z placed.ZoneIs, c placed.CoatIs, share unit.Share) finding.Finding {
	sys, id := s.Current.System, c.Name()
	last := c.Placed[len(c.Placed)-1]
	how := c.Finish.How
	if c.Finish.Stated {
		how = "all of it was said to be complete"
	}
	f := finding.Finding{
		Code: finding.ClosedThin, Key: id.String() + " " + c.Finish.Record.Name.String(), Subject: id.String(),
		Since: c.Finish.At,
		Grouping: finding.Grouping{
			Group:  last.Batch.ID.Day,
			About:  "placed on " + last.Batch.ID.Day,
			Brief:  fmt.Sprintf("%s holds %s", id, sys.Share(share)),
			Amount: 1 - float64(share),
		},

		Text: fmt.Sprintf(
			"%s counts as finished (%s) and holds %s of what the plan says that it needs: %s on the mean, not %s; gauge it, close it as it is, or say how far it is", id, how, sys.Share(share),
			sys.Thickness(c.MeanThickness(z.Zone, s.Current.Loss)), sys.Thickness(c.Thickness.SI)),
		Basis: finding.Basis{
			Evidence: []finding.Fact{
				finding.FactOf("placed", c.Volume, unit.System.Volume, sys),
				finding.FactOf("needed, loss counted", c.Needed, unit.System.Volume, sys),
				{Name: "counts as finished", Value: how, At: c.Finish.At},
			},
			Formula: "volume placed, by the yields known now, over area × thickness × (1 + loss)",
			Limit:   fmt.Sprintf("%.0f %% of it", 100*closedThin),
			Allowed: finding.AtLeast(unit.Share(closedThin)),
			Source:  "a choice of this program, no source",
		},

		Events: []event.Name{c.Finish.Record.Name},
		Do: []string{
			// it is to stay so
			"hod finish " + string(id.Zone) + s.CoatFlags(id),
			// more is to come
			fmt.Sprintf("hod progress %s %s%s", id.Zone, strings.ReplaceAll(sys.Share(share), " ", ""),
				s.CoatFlags(id)),
		},
	}
	for _, p := range c.Placed {
		f.Events = append(f.Events, p.Record.Name)
	}
	return f
}
