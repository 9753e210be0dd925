package session

import (
	"context"

	"hod/client/journal"
)

// warnTaken says on the side, once, that another crew took before this one what it took as its next batch: while the
// two were out of touch neither could know.
func (s *Session) warnTaken(ctx context.Context) {
	if s.Env.Quiet || s.Device.Crew == "" || ctx.Err() != nil {
		return
	}
	for _, k := range s.Fold.Taken(s.Now) {
		if k.Crew != s.Device.Crew || k.Before == nil {
			continue
		}
		said := journal.Warning{Edge: "taken " + k.Record.Name.String(), Stage: "by another"}
		fresh, err := s.Journal.WarnOnce(context.WithoutCancel(ctx), s.Now, said)
		if err == nil && len(fresh) == 0 {
			continue // better twice than not at all
		}
		s.Env.Hintf("warning: crew %s took %s at %s, before you; it is theirs, and `hod next` has another for you",
			k.Before.Crew, k.Coat, s.FormatTime(k.Before.Record.When))
	}
}
