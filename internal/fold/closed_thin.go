package fold

import (
	"fmt"
	"strings"

	"hod/internal/event"
	"hod/internal/unit"
)

// closedThin is the share of the volume needed under which a coat that counts as finished is shown to a foreman. Crews
// place ten per cent thinner or thicker than planned without anybody's doing, and yields scatter beside it. A choice of
// this program, no source.
const closedThin = 0.8

// judgeClosedThin finds coats that count as finished by a cover, by what was placed over them, or because somebody said
// that all of them is complete, and that hold much less mortar than their thickness takes. The foreman's own closing is
// his word; where a gauge was read, that says how thick the coat is. A coat that its crew left, neither covered nor
// placed over, may yet be filled.
func (s *Judge) judgeClosedThin() []Finding {
	var all []Finding
	for _, name := range s.plan.ZoneNames() {
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			if !c.Done() || len(c.Placed) == 0 {
				continue
			}
			last := c.Placed[len(c.Placed)-1] // what it was to be when the last of it was placed
			c.Needed, c.Thickness = s.plan.neededAt(c.Coat, last.From), last.Then.Thickness
			if c.Needed <= 0 {
				continue
			}
			share := round(float64(c.Volume / c.Needed))
			if share >= closedThin || c.closed() || c.gauged() || c.Finish.Went && !z.placedOver(c) {
				continue
			}
			all = append(all, s.foundThin(z, c, unit.Share(share)))
		}
	}
	return all
}

func (s *Judge) foundThin(z ZoneIs, c CoatIs, share unit.Share) Finding {
	sys, id := s.plan.System, c.name()
	last := c.Placed[len(c.Placed)-1]
	how := c.Finish.How
	if c.Finish.Stated {
		how = "all of it was said to be complete"
	}
	f := Finding{
		Code: ClosedThin, Key: id.String() + " " + c.Finish.Record.Name.String(), Subject: id.String(),
		Since: c.Finish.At,
		Group: last.Batch.ID.Day, About: "placed on " + last.Batch.ID.Day,
		Brief: fmt.Sprintf("%s holds %s", id, sys.Share(share)), Amount: 1 - float64(share),
		Text: fmt.Sprintf(
			"%s counts as finished (%s) and holds %s of what the plan says that it needs: %s on the mean, not %s; gauge it, close it as it is, or say how far it is", id, how, sys.Share(share),
			sys.Thickness(c.MeanThickness(z.Zone, s.plan.Loss)), sys.Thickness(c.Thickness.SI)),
		Evidence: []Fact{
			FactOf("placed", c.Volume, unit.System.Volume, sys),
			FactOf("needed, loss counted", c.Needed, unit.System.Volume, sys),
			{Name: "counts as finished", Value: how, At: c.Finish.At},
		},
		Formula: "volume placed, by the yields known now, over area × thickness × (1 + loss)",
		Limit:   fmt.Sprintf("%.0f %% of it", 100*closedThin), Allowed: atLeast(unit.Share(closedThin)),
		Source: "a choice of this program, no source",
		Events: []event.Name{c.Finish.Record.Name},
		Do: []string{
			// it is to stay so
			"hod finish " + string(id.Zone) + s.coatFlags(id),
			// more is to come
			fmt.Sprintf("hod progress %s %s%s", id.Zone, strings.ReplaceAll(sys.Share(share), " ", ""),
				s.coatFlags(id)),
		},
	}
	for _, p := range c.Placed {
		f.Events = append(f.Events, p.Record.Name)
	}
	return f
}

// closed reports whether the foreman closed it.
func (c CoatIs) closed() bool {
	if c.Finish.Record == nil {
		return false
	}
	_, is := c.Finish.Record.Now.(event.CoatFinished)
	return is
}

// gauged reports whether a thickness was read in it.
func (c CoatIs) gauged() bool {
	for _, p := range c.Placed {
		if len(p.Gauges) > 0 {
			return true
		}
	}
	return false
}

// placedOver reports whether a coat that lies on it has mortar.
func (z ZoneIs) placedOver(c CoatIs) bool {
	for _, other := range z.Coats {
		a, b := c.name(), other.name()
		if a.Face == b.Face && b.Number > a.Number && len(other.Placed) > 0 {
			return true
		}
	}
	return false
}
