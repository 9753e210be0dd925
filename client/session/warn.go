package session

import (
	"context"
	"slices"
	"strings"

	"hod/client/journal"
	"hod/internal/report"
	"hod/internal/view"
)

// warnEdges says on the side, after a command's own answer, that edges of this device's crew came to their warning time
// or turned cold: in one line, and of each edge and stage once. A crew that writes down batch after batch looks at no
// board.
func (s *Session) warnEdges(ctx context.Context) {
	if s.Env.Quiet || s.Device.Crew == "" || ctx.Err() != nil {
		return
	}
	edges := view.EdgesOf(s.Fold, s.Now, s.Location, s.Device.Crew)
	var warnings []journal.Warning
	for _, j := range edges {
		warnings = append(warnings, warningOf(j))
	}
	fresh, err := s.Journal.WarnOnce(context.WithoutCancel(ctx), s.Now, warnings...)
	if err != nil { // better twice than not at all
		fresh = warnings
	}
	edges = slices.DeleteFunc(edges, func(j view.Joint) bool { return !slices.Contains(fresh, warningOf(j)) })
	if len(edges) == 0 {
		return
	}
	s.Env.Hintf("warning: %s", report.EdgeWarning(edges, s.Page()))
}

// warningOf is what is remembered of a warning: the joint, the oldest material that waits there, and how far it has
// come.
func warningOf(j view.Joint) journal.Warning {
	return journal.Warning{
		Edge:  strings.Join(append([]string{j.ID}, j.Earlier[:min(1, len(j.Earlier))]...), " "),
		Stage: j.State,
	}
}
