package judge

import (
	"fmt"
	"strings"

	"hod/internal/event"
	"hod/internal/finding"
)

// GiveReasons puts beside each finding why a person passed the rule over, where one said so.
func (s *Judge) GiveReasons(all []finding.Finding) {
	for i := range all {
		var reasons []string
		for _, n := range all[i].Asks {
			r, known := s.Find(n)
			if !known || event.BecauseOf(r.Now) == "" {
				continue
			}
			by := n.String()
			if r.Person != "" {
				by = r.Person + ", " + by
			}
			reasons = append(reasons, event.BecauseOf(r.Now)+" ("+by+")")
		}
		all[i].Because = strings.Join(reasons, "; ")
	}
}

// PassedOver finds placements with a reason that belongs to none of some findings: what was passed over is not a
// finding, or not yet, such as an edge that lay overnight and is not met before the coat is finished.
func (s *Judge) PassedOver(all []finding.Finding) []finding.Finding {
	told := map[event.Name]bool{}
	for _, f := range all {
		for _, n := range f.Asks {
			told[n] = true
		}
	}
	var more []finding.Finding
	for _, b := range s.Batches() {
		for _, p := range b.Parts {
			if why := event.BecauseOf(p.Record.Now); why == "" || told[p.Record.Name] {
				continue
			}
			more = append(more, finding.Finding{
				Code: finding.PassedOver, Key: p.Record.Name.String(), Subject: p.Coat.String(), Since: p.From,
				Events:   []event.Name{p.Record.Name},
				Text:     fmt.Sprintf("a rule was passed over when batch %s was placed in %s", b.ID, p.Coat),
				Reason:   finding.Reason{Asks: []event.Name{p.Record.Name}},
				Grouping: finding.Grouping{Group: b.ID.Day, About: "on " + b.ID.Day, Brief: p.Coat.String()},
			})
		}
	}
	return more
}
