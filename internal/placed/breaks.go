package placed

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// Break is one set of specimens with its mean strength.
type Break struct {
	Record   *history.Record
	Body     event.SpecimensBroken
	Strength unit.Pressure
	Maturity float64       // °C·h; from the age at 20 °C where it was not written
	OfThree  unit.Pressure // mean with the two tests of the same age before it; 0 where there are fewer
	Wrong    string
}

// Breaks of a mix, by time.
func (s *Zones) Breaks(mix event.Mix) []Break {
	s.ComputeZones()
	list := s.Broken.Of[mix]
	if list == nil {
		return nil
	}
	sorted := slices.Clone(*list)
	slices.SortFunc(sorted, history.ByTime)
	var all []Break
	byAge := map[time.Duration][]unit.Pressure{}
	for _, r := range sorted {
		if r.State == history.SetAside {
			continue
		}
		b := Break{Record: r, Body: r.Now.(event.SpecimensBroken)}
		b.Maturity = b.Body.MaturityCH
		if b.Maturity == 0 {
			b.Maturity = b.Body.Age.Hours() * float64(curing.Reference-curing.DatumC1074)
		}
		var sum unit.Pressure
		for _, load := range b.Body.Loads {
			p, err := mixed.StrengthOf(b.Body, load)
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
	for _, list := range s.Broken.Of {
		for _, r := range *list {
			if aside := s.tooYoung(r, r.Now.(event.SpecimensBroken)); aside != nil {
				r.Lacks(aside)
			} else {
				r.Stands()
			}
		}
	}
}

func (s *Zones) tooYoung(r *history.Record, b event.SpecimensBroken) *history.Aside {
	if b.Batch == nil {
		return nil
	}
	st := s.ByBatch[*b.Batch]
	if st == nil || st.Is == nil || st.Is.Mixed == nil {
		return nil
	}
	is := r.When.Sub(st.Is.Water)
	if is+max(min(dayCounted, b.Age/2), history.Slack(st.Is.Mixed, r)) >= b.Age {
		return nil
	}
	old := unit.Duration(max(0, is).Round(time.Hour))
	if is < time.Hour {
		old = "not an hour"
	}
	return &history.Aside{
		Code: history.BreakBeforeAge,
		Why: fmt.Sprintf(
			"specimens of batch %s cannot be %s old: the batch was %s old when they were broken; the age, the batch or the time of the break is wrong",
			*b.Batch, unit.Duration(b.Age), old),
	}
}
