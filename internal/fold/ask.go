package fold

import (
	"slices"
	"time"

	"hod/internal/air"
	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/unit"
)

// Answer is what was done about a flag.
type Answer struct {
	Record *history.Record
	Text   string
	By     string
	Lines  []string // of a flag of several: those that it covers
}

// Answer that names a flag, or one of its lines, by exactly this id: the last by time; false if there is none.
func (s *Site) Answer(flag string) (Answer, bool) {
	s.Settle()
	list := s.answers[flag]
	if list == nil || len(*list) == 0 {
		return Answer{}, false
	}
	r := slices.MaxFunc(*list, history.ByTime)
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
	if s.Packed != nil {
		for crew, at := range s.Packed.Heard {
			if at.After(now) { // the last one before is among what is packed
				s.Unpack()
				return s.Heard(now)
			}
			all[crew] = at
		}
	}
	for _, r := range s.Arrived() {
		at := r.Logged()
		if r.State != history.SetAside && !at.After(now) && all[r.Crew].Before(at) {
			all[r.Crew] = at
		}
	}
	return all
}

// MethodChanges are the changes of the way in which mortar is placed, by time.
func (s *Site) MethodChanges() []*history.Record {
	s.Settle()
	return sorted(s.methods)
}

// Shifts by time: their starts and ends.
func (s *Site) Shifts() []*history.Record {
	s.LoadShifts()
	s.Settle()
	return sorted(s.shifts)
}

func sorted(of []*history.Record) []*history.Record {
	all := slices.Clone(of)
	slices.SortFunc(all, history.ByTime)
	return all
}

// AsideOf is how many events of a device are set aside.
func (s *Site) AsideOf(d event.Device) int {
	if n, told := s.asideOfFetched(d); told {
		return n
	}
	s.compute()
	n := 0
	for _, r := range s.WrittenBy(d) { // what is packed stands
		if r.Aside != nil {
			n++
		}
	}
	return n
}

// PlanDisputes are plans that two people wrote in two ways, and that nobody has settled.
func (s *Site) PlanDisputes() []*history.Record {
	var all []*history.Record
	for _, r := range s.Loose() {
		if r.State == history.Disputed && event.ThingOf(r.Now) != "" {
			all = append(all, r)
		}
	}
	return all
}

// AirHours is the air on each full hour up to an instant, oldest first; false if one of them lies between no two
// readings near enough to each other.
func (s *Site) AirHours(until time.Time, n int) ([]unit.Celsius, bool) {
	s.compute()
	return s.Timeline().Hours(until, n)
}

// Weather as read and as forecast, each in order of time.
func (s *Site) Weather() (read, told []air.Sky) {
	s.compute()
	t := s.Timeline()
	return t.Read, t.Told
}
