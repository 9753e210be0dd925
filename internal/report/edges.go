package report

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// nextCold is the first line of the board: which edge turns cold next, to which neighbours, and when.
func (s *Sheet) nextCold(v daily.Board) {
	n := v.NextCold
	if n == nil {
		if cold := len(v.LiveEdges); cold > 0 {
			s.Para(0, 2, Join(" ", Figure(Count(cold, "edge", "edges")+" turned cold today", Urgent),
				Say("and nothing was written to treat it; no other is live.")))
			return
		}
		s.Para(0, 2, Say("No edge is live."))
		return
	}
	j := view.Joint{
		Kind: "edge", Zone: n.Zone, Face: n.Face, Coat: n.Coat, TurnsAt: &n.TurnsAt,
		TurnsLatest: n.TurnsLatest,
	}
	wait, _ := s.Turns(j)
	edge := CoatName(n.Zone, n.Face, n.Coat)
	if len(n.Others) > 0 {
		edge += " to " + AndList(n.Others)
	} else {
		edge = "the open edge inside " + edge
	}
	at := "at " + s.Clocks(j.TurnsAt, j.TurnsLatest)
	if !n.TurnsAt.After(s.Now) {
		switch latest := n.TurnsLatest; {
		case latest == nil || !latest.After(s.Now):
			s.Para(0, 2, Join(" ", Say("Cold by now:", strong), Say(edge+","), Figure(at, Urgent),
				Figure("("+wait+")")))
		default:
			s.Para(0, 2, Join(" ", Say("Next cold:", strong), Say(edge+","),
				Figure("which may be cold already", Urgent), Sayf("and surely is at %s, in %s.", s.Clock(*latest),
					Minutes(latest.Sub(s.Now)))))
		}
		return
	}
	s.Para(0, 2, Join(" ", Say("Next cold:", strong), Say(edge+","), Figure(at+",", Soon), Figure(wait+".")))
}

// oldEdges is the one line of those that have been cold since before today.
func (s *Sheet) oldEdges(n int32) {
	switch {
	case n == 1:
		s.Para(0, 2, Say("1 old edge waits for treatment before placing: `hod joints --old`"))
	case n > 1:
		s.Para(0, 2, Sayf("%d old edges wait for treatment before placing: `hod joints --old`", n))
	}
}

// OldJoints is the list of a view's joints that have been cold since before its day.
func OldJoints(v view.Joints, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "old edges")
	if len(v.Joints) == 0 {
		s.Blank()
		s.Para(0, 2, Say("No edge has been cold since before today."))
		return s.String()
	}
	s.oldJoints(v.Joints)
	return s.String()
}

// oldJoints are the open ones that have been cold since before the page's day, in a line each.
func (s *Sheet) oldJoints(old []view.Joint) {
	s.Section("COLD SINCE BEFORE TODAY", Say("treat before placing there, `hod treat ZONE METHOD --along OTHER`"))
	t := Table{Columns: []Column{
		{Name: "since", Right: true},
		{Name: "where", Least: 14},
		{Name: "length", Right: true, Drop: 1},
		{Name: "id", Drop: 2},
	}}
	for _, j := range old {
		t.Row(Figure(s.Clock(turned(j))), Say(Where(j)), Figure(s.edge(j)), Figure(j.ID).To("joint", j.ID))
	}
	s.Table(0, t)
}

// turned is when a joint surely was cold.
func turned(j view.Joint) time.Time {
	switch {
	case j.TurnsLatest != nil:
		return *j.TurnsLatest
	case j.TurnsAt != nil:
		return *j.TurnsAt
	}
	return time.Time{}
}

// AndList is names with commas and an and.
func AndList(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

// EdgeWarning is one line of the most urgent of some open edges, the first, with all to which that coat turns cold at
// the same instant, and of how many more there are.
func EdgeWarning(edges []view.Joint, p Page) string {
	if len(edges) == 0 {
		return ""
	}
	s := Open(p, "", p.Now)
	first := edges[0]
	var others []string
	more := 0
	for _, j := range edges {
		same := j.Zone == first.Zone && j.Face == first.Face && j.Coat == first.Coat && j.State == first.State &&
			s.Clocks(j.TurnsAt, nil) == s.Clocks(first.TurnsAt, nil)
		switch {
		case !same:
			more++
		case j.Other != "":
			others = append(others, j.Other)
		}
	}
	where, along := "inside "+CoatName(first.Zone, first.Face, first.Coat), ""
	if len(others) > 0 {
		where, along = CoatName(first.Zone, first.Face, first.Coat)+" to "+AndList(others), " --along "+
			strings.Join(others, ",")
	}
	text := where + " is close to its initial set"
	switch at := first.TurnsAt; {
	case at == nil:
	case first.State == "cold":
		text = fmt.Sprintf("%s turned cold at %s: treat it before placing there, `hod treat %s METHOD%s`", where,
			s.Clock(*at), first.Zone, along)
	case !at.After(s.Now):
		text = fmt.Sprintf("%s may be cold since %s", where, s.Clock(*at))
	default:
		text = fmt.Sprintf("%s turns cold at %s, in %s", where, s.Clock(*at), Minutes(at.Sub(s.Now)))
	}
	if more > 0 {
		text += fmt.Sprintf("; and %s: `hod joints`", Count(more, "more edge", "more edges"))
	}
	return Clean(text)
}
