package report

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// nextCold is the first line of the board: which edge turns cold next, to which neighbours, and when.
func (s *sheet) nextCold(v daily.Board) {
	n := v.NextCold
	if n == nil {
		if cold := len(v.LiveEdges); cold > 0 {
			s.para(0, 2, join(" ", figure(count(cold, "edge", "edges")+" turned cold today", urgent),
				say("and nothing was written to treat it; no other is live.")))
			return
		}
		s.para(0, 2, say("No edge is live."))
		return
	}
	j := view.Joint{
		Kind: "edge", Zone: n.Zone, Face: n.Face, Coat: n.Coat, TurnsAt: &n.TurnsAt,
		TurnsLatest: n.TurnsLatest,
	}
	wait, _ := s.turns(j)
	edge := coatName(n.Zone, n.Face, n.Coat)
	if len(n.Others) > 0 {
		edge += " to " + andList(n.Others)
	} else {
		edge = "the open edge inside " + edge
	}
	at := "at " + s.clocks(j.TurnsAt, j.TurnsLatest)
	if !n.TurnsAt.After(s.now) {
		switch latest := n.TurnsLatest; {
		case latest == nil || !latest.After(s.now):
			s.para(0, 2, join(" ", say("Cold by now:", strong), say(edge+","), figure(at, urgent),
				figure("("+wait+")")))
		default:
			s.para(0, 2, join(" ", say("Next cold:", strong), say(edge+","),
				figure("which may be cold already", urgent), sayf("and surely is at %s, in %s.", s.clock(*latest),
					minutes(latest.Sub(s.now)))))
		}
		return
	}
	s.para(0, 2, join(" ", say("Next cold:", strong), say(edge+","), figure(at+",", soon), figure(wait+".")))
}

// oldEdges is the one line of those that have been cold since before today.
func (s *sheet) oldEdges(n int32) {
	switch {
	case n == 1:
		s.para(0, 2, say("1 old edge waits for treatment before placing: `hod joints --old`"))
	case n > 1:
		s.para(0, 2, sayf("%d old edges wait for treatment before placing: `hod joints --old`", n))
	}
}

// OldJoints is the list of a view's joints that have been cold since before its day.
func OldJoints(v view.Joints, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "old edges")
	if len(v.Joints) == 0 {
		s.blank()
		s.para(0, 2, say("No edge has been cold since before today."))
		return s.String()
	}
	s.oldJoints(v.Joints)
	return s.String()
}

// oldJoints are the open ones that have been cold since before the page's day, in a line each.
func (s *sheet) oldJoints(old []view.Joint) {
	s.section("COLD SINCE BEFORE TODAY", say("treat before placing there, `hod treat ZONE METHOD --along OTHER`"))
	t := table{columns: []column{
		{name: "since", right: true},
		{name: "where", least: 14},
		{name: "length", right: true, drop: 1},
		{name: "id", drop: 2},
	}}
	for _, j := range old {
		t.row(figure(s.clock(turned(j))), say(where(j)), figure(s.edge(j)), figure(j.ID).to("joint", j.ID))
	}
	s.table(0, t)
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

// andList is names with commas and an and.
func andList(names []string) string {
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
	s := open(p, "", p.Now)
	first := edges[0]
	var others []string
	more := 0
	for _, j := range edges {
		same := j.Zone == first.Zone && j.Face == first.Face && j.Coat == first.Coat && j.State == first.State &&
			s.clocks(j.TurnsAt, nil) == s.clocks(first.TurnsAt, nil)
		switch {
		case !same:
			more++
		case j.Other != "":
			others = append(others, j.Other)
		}
	}
	where, along := "inside "+coatName(first.Zone, first.Face, first.Coat), ""
	if len(others) > 0 {
		where, along = coatName(first.Zone, first.Face, first.Coat)+" to "+andList(others), " --along "+
			strings.Join(others, ",")
	}
	text := where + " is close to its initial set"
	switch at := first.TurnsAt; {
	case at == nil:
	case first.State == "cold":
		text = fmt.Sprintf("%s turned cold at %s: treat it before placing there, `hod treat %s METHOD%s`", where,
			s.clock(*at), first.Zone, along)
	case !at.After(s.now):
		text = fmt.Sprintf("%s may be cold since %s", where, s.clock(*at))
	default:
		text = fmt.Sprintf("%s turns cold at %s, in %s", where, s.clock(*at), minutes(at.Sub(s.now)))
	}
	if more > 0 {
		text += fmt.Sprintf("; and %s: `hod joints`", count(more, "more edge", "more edges"))
	}
	return Clean(text)
}
