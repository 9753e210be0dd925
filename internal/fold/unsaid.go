package fold

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/event"
	"hod/internal/trade/setting"
)

// judgeUnsaid finds a joint along an edge that may be cold and may be live, because the record does not say which
// placements lie along it. It names those that would have to say so, and what to type.
func (s *Judge) judgeUnsaid(k Contact, a, b *CoatIs) (Finding, bool) {
	if k.IsCold() || setting.Rounded(k.High) < 1 || Ready(k.Treated) || !s.surelyMet(k) {
		return Finding{}, false
	}
	if k.Metres != nil && k.Metres.Cold < someMetres || k.Metres == nil && k.Known {
		return Finding{}, false
	}
	f := Finding{
		Code: UnsaidEdge, Key: k.key(), Subject: k.where(), Since: k.At, Joint: k.name(),
		Text: fmt.Sprintf(
			"joint %s had between %s of its initial set used up when it was met: cold or not, by which placements ran along it, which the record does not say",
			k.where(), strings.ReplaceAll(percent(k.Low, k.High), " to ", " and ")),
		Limit:  "1, initial set (penetration resistance 500 psi, 3.5 MPa)",
		Source: "ASTM C403, C1074; ACI 309R on cold joints", Allowed: atMost(1.0),
		Formula: "best: where the work went from one zone straight over to the other; worst: where the first piece of one waited for the last of the other",
		Evidence: []Fact{
			{Name: "at best", Value: percent(k.Low, k.Low) + ", " + namePair(k.From, k.To), At: k.To.From,
				Figure: figure(k.Low)},
		},
		Events: eventsOf(k),
	}
	if from, to := s.worstPair(a, b, k); from != nil {
		f.Evidence = append(f.Evidence,
			Fact{Name: "at worst", Value: percent(k.High, k.High) + ", " + namePair(from, to), At: to.From,
				Figure: figure(k.High)})
	}
	if k.Metres != nil {
		f.Text = fmt.Sprintf(
			"joint %s: %s; where each batch lies follows from the side at which its crew began, and thickness and fronts are not known well enough to be sure",
			k.where(), k.Metres.said(s.plan.System))
		f.Evidence = append(f.Evidence, k.Metres.facts(k.Length, s.plan.System)...)
	}
	f.Group, f.About = k.To.Batch.ID.Day, "on "+k.To.Batch.ID.Day
	f.Brief, f.Amount = fmt.Sprintf("%s %s", k.where(), percent(k.Low, k.High)), k.Low
	for _, side := range []struct {
		c     *CoatIs
		other event.Zone
	}{{a, b.name().Zone}, {b, a.name().Zone}} {
		unsaid(&f, side.c, side.other, k)
	}
	return f, true
}

// unsaid lists the placements of one side of an edge of which one at least ran along it, and the line that says so of
// the one that the best case takes.
func unsaid(f *Finding, c *CoatIs, other event.Zone, k Contact) {
	candidates, known := along(c, other)
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
	f.Evidence = append(f.Evidence, Fact{Name: fmt.Sprintf("of %s, which ran along %s?", c.name(), other),
		Value: strings.Join(names, ", ")})
	said := append(slices.Clone(best.Along), other)
	var words []string
	for _, z := range said {
		words = append(words, string(z))
	}
	f.Do = append(f.Do, fmt.Sprintf("hod amend %s along=%s", best.Record.Name, strings.Join(words, ",")))
}
