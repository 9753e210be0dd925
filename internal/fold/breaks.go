package fold

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// Break is one set of specimens with its mean strength.
type Break struct {
	Record   *Record
	Body     event.SpecimensBroken
	Strength unit.Pressure
	Maturity float64       // °C·h; from the age at 20 °C where it was not written
	OfThree  unit.Pressure // mean with the two tests of the same age before it; 0 where there are fewer
	Wrong    string
}

// Breaks of a mix, by time.
func (s *Zones) Breaks(mix event.Mix) []Break {
	s.computeZones()
	list := s.breaks.of[mix]
	if list == nil {
		return nil
	}
	sorted := slices.Clone(*list)
	slices.SortFunc(sorted, ByTime)
	var all []Break
	byAge := map[time.Duration][]unit.Pressure{}
	for _, r := range sorted {
		if r.State == SetAside {
			continue
		}
		b := Break{Record: r, Body: r.Now.(event.SpecimensBroken)}
		b.Maturity = b.Body.MaturityCH
		if b.Maturity == 0 {
			b.Maturity = b.Body.Age.Hours() * float64(curing.Reference-curing.DatumC1074)
		}
		var sum unit.Pressure
		for _, load := range b.Body.Loads {
			p, err := strengthOf(b.Body, load)
			if err != nil {
				b.Wrong = err.Error()
				break
			}
			sum += p
		}
		if b.Wrong == "" && len(b.Body.Loads) > 0 {
			b.Strength = sum / unit.Pressure(len(b.Body.Loads))
			byAge[b.Body.Age] = append(byAge[b.Body.Age], b.Strength)
			if of := curing.RunningAverages(byAge[b.Body.Age]); len(of) > 0 {
				b.OfThree = of[len(of)-1]
			}
		}
		all = append(all, b)
	}
	return all
}

// dayCounted is by how much specimens may be younger than their age says, up to half of it: "7 days" counts days of the
// calendar, so that it is wider than the 6 h that ASTM C39 allows at 7 days (from memory).
const dayCounted = 24 * time.Hour

// judgeBreaks sets aside breaks of specimens that say an age which their batch has not reached.
func (s *Zones) judgeBreaks() {
	for _, list := range s.breaks.of {
		for _, r := range *list {
			if aside := s.tooYoung(r, r.Now.(event.SpecimensBroken)); aside != nil {
				r.lacks(aside)
			} else {
				r.stands()
			}
		}
	}
}

func (s *Zones) tooYoung(r *Record, b event.SpecimensBroken) *Aside {
	if b.Batch == nil {
		return nil
	}
	st := s.batches[*b.Batch]
	if st == nil || st.is == nil || st.is.Mixed == nil {
		return nil
	}
	is := r.When.Sub(st.is.Water)
	if is+max(min(dayCounted, b.Age/2), slack(st.is.Mixed, r)) >= b.Age {
		return nil
	}
	old := unit.Duration(max(0, is).Round(time.Hour))
	if is < time.Hour {
		old = "not an hour"
	}
	return &Aside{BreakBeforeAge,
		fmt.Sprintf(
			"specimens of batch %s cannot be %s old: the batch was %s old when they were broken; the age, the batch or the time of the break is wrong",
			*b.Batch, unit.Duration(b.Age), old)}
}
