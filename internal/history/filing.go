package history

import (
	"slices"

	"hod/internal/event"
)

// file puts a record into the lists of all that it concerns and has that computed anew.
func (s *Log) file(r *Record) {
	for _, list := range s.index.Lists(r.Now) {
		*list = append(*list, r)
		r.in = append(r.in, list)
	}
	s.index.Invalidate(r)
}

// unfile takes a record out of all lists that hold it and marks stale what it concerned.
func (s *Log) unfile(r *Record) {
	for _, list := range r.in {
		if i := slices.Index(*list, r); i >= 0 {
			*list = slices.Delete(*list, i, i+1)
		}
	}
	r.in = nil
	s.index.Invalidate(r)
}

// unfileAll takes records out of all that they are indexed under, each list once.
func (s *Log) unfileAll(records []*Record) {
	lists := map[*[]*Record]bool{}
	for _, r := range records {
		if IsDevice(r.Body) {
			continue
		}
		for _, list := range r.in {
			lists[list] = true
		}
		r.leaving = len(r.in) > 0
	}
	for list := range lists { // in any order: each by itself
		*list = slices.DeleteFunc(*list, func(r *Record) bool { return r.leaving })
	}
	for _, r := range records {
		if !IsDevice(r.Body) {
			r.in, r.leaving = nil, false
			s.index.Invalidate(r)
		}
	}
}

// Member is what the log says of a device, for the lists that hold it.
func (s *Log) Member(d event.Device) *device {
	if s.Members[d] == nil {
		s.Members[d] = &device{}
	}
	return s.Members[d]
}
