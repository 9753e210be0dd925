package fold

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
)

// Answer is what was done about a flag.
type Answer struct {
	Record *Record
	Text   string
	By     string
	Lines  []string // of a flag of several: those that it covers
}

// Answer that names a flag, or one of its lines, by exactly this id: the last by time; false if there is none.
func (s *Site) Answer(flag string) (Answer, bool) {
	s.settle()
	list := s.answers[flag]
	if list == nil || len(*list) == 0 {
		return Answer{}, false
	}
	r := slices.MaxFunc(*list, ByTime)
	by := r.Person
	if by == "" {
		by = string(r.Crew)
	}
	if by == "" {
		by = "device " + string(r.Device)
	}
	body := r.Now.(event.FlagAnswered)
	return Answer{r, body.Answer, by, body.Lines}, true
}

// Heard is when each crew last wrote, by the site's clock, until an instant and as far as the record goes.
func (s *Site) Heard(now time.Time) map[event.Crew]time.Time {
	s.compute()
	all := map[event.Crew]time.Time{}
	if s.packed != nil {
		for crew, at := range s.packed.heard {
			if at.After(now) { // the last one before is among what is packed
				s.unpack()
				return s.Heard(now)
			}
			all[crew] = at
		}
	}
	for _, r := range s.arrival {
		at := r.Logged()
		if r.State != SetAside && !at.After(now) && all[r.Crew].Before(at) {
			all[r.Crew] = at
		}
	}
	return all
}

// Shifts by time: their starts and ends.
func (s *Site) Shifts() []*Record {
	s.settle()
	return sorted(s.shifts)
}

func sorted(of []*Record) []*Record {
	all := slices.Clone(of)
	slices.SortFunc(all, ByTime)
	return all
}

// FreshSurface is the temperature of the warmest fresh surface that lies uncovered at an instant, where that is from
// (empty if there is none), and the coats that lie so.
func (s *Site) FreshSurface(now time.Time) (surface unit.Celsius, source string, coats []string) {
	s.compute()
	for _, name := range s.plan.ZoneNames() {
		st := s.zones[name]
		if st == nil || st.is == nil {
			continue
		}
		for _, id := range st.is.order {
			c := st.is.coats[id]
			before := until(c.Placed, now)
			if len(before) == 0 || st.is.covered(id.Face, now) {
				continue
			}
			last := before[len(before)-1]
			if s.consumedBy(c, last, now) >= 1 {
				continue
			}
			coats = append(coats, id.String())
			if t, from := s.materialAt(c, last, now); source == "" || t > surface {
				surface, source = t, fmt.Sprintf("%s: %s", id, from)
			}
		}
	}
	return surface, source, coats
}
