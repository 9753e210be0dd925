package judge

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/joint"
	"hod/internal/placed"
	"hod/internal/trade/setting"
)

// JudgeUnsaid finds a joint along an edge that may be cold and may be live, because the record does not say which
// placements lie along it. It names those that would have to say so, and what to type.
func (s *Judge) JudgeUnsaid(k joint.Contact, a, b *placed.CoatIs) (finding.Finding, bool) {
	if k.IsCold() || setting.Rounded(k.High) < 1 || placed.Ready(k.Treated) || !s.SurelyMet(k) {
		return finding.Finding{}, false
	}
	if k.Metres != nil && k.Metres.Cold < joint.SomeMetres || k.Metres == nil && k.Known {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: finding.UnsaidEdge, Key: k.Key(), Subject: k.Where(), Since: k.At, Joint: k.Name(),
		Text: fmt.Sprintf(
			"joint %s had between %s of its initial set used up when it was met: cold or not, by which placements ran along it, which the record does not say",
			k.Where(), strings.ReplaceAll(joint.Percent(k.Low, k.High), " to ", " and ")),
		Basis: finding.Basis{
			Limit:   "1, initial set (penetration resistance 500 psi, 3.5 MPa)",
			Source:  "ASTM C403, C1074; ACI 309R on cold joints",
			Allowed: finding.AtMost(1.0),
			Formula: "best: where the work went from one zone straight over to the other; worst: where the first piece of one waited for the last of the other",
			Evidence: []finding.Fact{
				{
					Name: "at best", Value: joint.Percent(k.Low, k.Low) + ", " + joint.NamePair(k.From, k.To),
					At:     k.To.From,
					Figure: finding.FigureOf(k.Low),
				},
			},
		},

		Events: eventsOf(k),
	}
	if from, to := s.WorstPair(a, b, k); from != nil {
		f.Evidence = append(f.Evidence,
			finding.Fact{
				Name: "at worst", Value: joint.Percent(k.High, k.High) + ", " + joint.NamePair(from, to),
				At:     to.From,
				Figure: finding.FigureOf(k.High),
			})
	}
	if k.Metres != nil {
		f.Text = fmt.Sprintf(
			"joint %s: %s; where each batch lies follows from the side at which its crew began, and thickness and fronts are not known well enough to be sure",
			k.Where(), k.Metres.Said(s.Current.System))
		f.Evidence = append(f.Evidence, k.Metres.Facts(k.Length, s.Current.System)...)
	}
	f.Group, f.About = k.To.Batch.ID.Day, "on "+k.To.Batch.ID.Day
	f.Brief, f.Amount = fmt.Sprintf("%s %s", k.Where(), joint.Percent(k.Low, k.High)), k.Low
	for _, side := range []struct {
		c     *placed.CoatIs
		other event.Zone
	}{{a, b.Name().Zone}, {b, a.Name().Zone}} {
		unsaid(&f, side.c, side.other, k)
	}
	return f, true
}

// unsaid lists the placements of one side of an edge of which one at least ran along it, and the line that says so of
// the one that the best case takes.
func unsaid(f *finding.Finding, c *placed.CoatIs, other event.Zone, k joint.Contact) {
	candidates, known := joint.Along(c, other)
	if known {
		return
	}
	var names []string
	best := candidates[0]
	for _, p := range candidates {
		names = append(names, fmt.Sprintf("%s (batch %d)", p.Record.Name, p.Batch.ID.Number))
		if p == k.From || p == k.To {
			best = p
		}
	}
	f.Evidence = append(f.Evidence, finding.Fact{
		Name:  fmt.Sprintf("of %s, which ran along %s?", c.Name(), other),
		Value: strings.Join(names, ", "),
	})
	said := append(slices.Clone(best.Along), other)
	var words []string
	for _, z := range said {
		words = append(words, string(z))
	}
	f.Do = append(f.Do, fmt.Sprintf("hod amend %s along=%s", best.Record.Name, strings.Join(words, ",")))
}
