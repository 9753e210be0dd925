package session

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
)

// coldJointsMet says of all cold joints that a placement makes which they are and what to do, in one sentence.
func (s *Session) coldJointsMet(joints []*fold.Contact) string {
	var night, set, treat []string
	for _, k := range joints {
		switch inside := k.Kind == fold.Inside; {
		case s.overnight(k.From.To, k.To.From) && inside:
			night = append(night, "what lies in "+k.Coat.String())
		case s.overnight(k.From.To, k.To.From):
			night = append(night, string(k.Coat.Zone))
		case inside:
			set = append(set, fmt.Sprintf("this makes a cold joint in %s, with %.0f %% of initial set used up", k.Coat,
				100*k.Low))
		default:
			set = append(set, fmt.Sprintf("this makes a cold joint with %s, with %.0f %% of initial set used up",
				k.Coat, 100*k.Low))
		}
		treat = append(treat, "`"+s.Fold.TreatWords(k.Coat, k.Other)+"`")
	}
	var said []string
	if len(night) > 0 {
		said = append(said, terminal.AndList(night)+" lay overnight")
	}
	return fmt.Sprintf("%s: treat first (%s)", strings.Join(append(said, set...), "; "), strings.Join(treat, ", "))
}

// overnight says whether two instants are of two days on the site.
func (s *Session) overnight(a, b time.Time) bool {
	return !terminal.SameDay(a.In(s.Location), b.In(s.Location))
}

// EdgesAhead says of the edges that the material just placed may meet, and that are cold and untreated, what to do
// before it does: the zone that was begun need not touch them yet. It is said once a day and coat.
func (s *Session) EdgesAhead(coat event.Coat, name event.Name) string {
	z, ok := s.Fold.Zone(coat.Zone)
	if !ok {
		return ""
	}
	for _, c := range z.Coats {
		if c.Coat.Coat != coat || len(c.Placed) == 0 {
			continue
		}
		i := slices.IndexFunc(c.Placed, func(p *fold.Placed) bool { return p.Record.Name == name })
		if i < 0 || c.Done() || i > 0 && !s.overnight(c.Placed[i-1].To, c.Placed[i].From) {
			return ""
		}
		return s.coldAhead(coat, c.Placed[i])
	}
	return ""
}

func (s *Session) coldAhead(coat event.Coat, p *fold.Placed) string {
	var night, set, treat []string
	for _, k := range s.Fold.ColdAhead(coat) {
		if s.overnight(k.From.To, p.From) {
			night = append(night, string(k.Coat.Zone))
		} else {
			set = append(set, string(k.Coat.Zone))
		}
		treat = append(treat, "`"+s.Fold.TreatWords(k.Coat, k.Other)+"`")
	}
	var said []string
	if len(night) > 0 {
		said = append(said, terminal.AndList(night)+" lay overnight")
	}
	if len(set) > 0 {
		said = append(said, fmt.Sprintf("%s %s past initial set", terminal.AndList(set), terminal.IsOrAre(len(set))))
	}
	if len(said) == 0 {
		return ""
	}
	return fmt.Sprintf("%s: treat before %s meets %s (%s)", strings.Join(said, "; "), coat.Zone,
		terminal.ItOrThem(len(treat)), strings.Join(treat, ", "))
}
