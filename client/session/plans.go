package session

import (
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// SamePlan says that two bodies plan the same thing.
func SamePlan(a, b event.Body) bool {
	thing := event.ThingOf(a)
	return thing != "" && thing == event.ThingOf(b)
}

// ReplacedBy are the plans that a new one of the same thing replaces: all that hold or are in conflict now.
func (s *Session) ReplacedBy(body event.Body) []event.Hash {
	var all []event.Hash
	for _, r := range s.Fold.Records() {
		if (r.State == fold.Holds || r.State == fold.Amended || r.State == fold.Disputed || r.State == fold.SetAside) &&
			SamePlan(r.Now, body) {
			all = append(all, r.Hash())
		}
	}
	return all
}

// MovedBy is what an event that puts a plan right moved in the record; empty for any other, and before anything was
// mixed.
func (s *Session) MovedBy(name event.Name) string {
	r, known := s.Fold.Record(name)
	if !known || len(s.Fold.Batches()) == 0 || !view.CorrectsPlan(s.Fold, r) {
		return ""
	}
	return view.Moved(s.Fold, name)
}

// FirstWriting is the event first written that a correction goes back to; itself for any other.
func (s *Session) FirstWriting(r *fold.Record) (*fold.Record, error) {
	if _, ok := r.Body.(event.Settled); ok {
		return r, nil
	}
	if first, ok := s.Fold.FirstWriting(r); ok {
		return first, nil
	}
	return nil, terminal.NotFoundf("what %s corrects has not arrived here yet; `hod sync` may fetch it", r.Name)
}
