package fold

import (
	"slices"
	"strings"

	"hod/internal/event"
)

// Concerns says whether an event brought the finding about, so that whoever writes it is asked first.
func (f Finding) Concerns(name event.Name) bool { return slices.Contains(f.Asks, name) }

// giveReasons puts beside each finding why a person passed the rule over, where one said so.
func (s *Site) giveReasons(all []Finding) {
	for i := range all {
		var reasons []string
		for _, n := range all[i].Asks {
			r := s.records[n]
			if r == nil || BecauseOf(r.Now) == "" {
				continue
			}
			by := n.String()
			if r.Person != "" {
				by = r.Person + ", " + by
			}
			reasons = append(reasons, BecauseOf(r.Now)+" ("+by+")")
		}
		all[i].Because = strings.Join(reasons, "; ")
	}
}

// BecauseOf is the reason that a body gives for passing a rule over; empty if it gives none.
func BecauseOf(b event.Body) string {
	switch b := b.(type) {
	case event.BatchMixed:
		return b.Because
	case event.Placement:
		return b.Because
	}
	return ""
}
