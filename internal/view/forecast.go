package view

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/forecast"
	"hod/internal/mix"
	"hod/internal/unit"
)

// Forecast is what is left to do and whether it can be done: a distribution, not a number.
type Forecast struct {
	Site        string         `json:"site"`
	AsOf        time.Time      `json:"as_of"`
	Units       string         `json:"units"`
	VolumeM3    float64        `json:"volume_m3"`
	Batches     BatchesLeft    `json:"batches"`
	Mixes       []MixForecast  `json:"mixes"`
	Materials   []MaterialNeed `json:"materials"`
	Pace        *float64       `json:"pace_batches_per_hour,omitempty"` // all crews together; nil: not known yet
	PaceNote    string         `json:"pace_note,omitempty"`
	WorkHours50 *float64       `json:"work_hours_p50,omitempty"`
	WorkHours90 *float64       `json:"work_hours_p90,omitempty"`
	Finish50    *time.Time     `json:"finish_p50,omitempty"`
	Finish90    *time.Time     `json:"finish_p90,omitempty"`
	Tomorrow    Tomorrow       `json:"tomorrow"`
}

// MixForecast is the batches that one mix still takes.
type MixForecast struct {
	Mix          string   `json:"mix"`
	VolumeM3     float64  `json:"volume_m3"`
	YieldMeanM3  *float64 `json:"yield_mean_m3,omitempty"` // nil: the mix has no figures
	YieldSDM3    *float64 `json:"yield_sd_m3,omitempty"`
	Tested       int32    `json:"tested"` // batches weighed, from which yield is learned
	P50          int32    `json:"p50"`
	P90          int32    `json:"p90"`
	Distribution []Count  `json:"distribution"`
}

// Count is the chance that at most so many batches do.
type Count struct {
	Batches    int32   `json:"batches"`
	Cumulative float64 `json:"cumulative"`
}

// MaterialNeed is one material against what is left to mix.
type MaterialNeed struct {
	Material     string   `json:"material"`
	PerBatchKg   float64  `json:"per_batch_kg"`
	OnHandKg     *float64 `json:"on_hand_kg,omitempty"` // nil, as what follows from it, where no stock of it was ever written
	Need50Kg     float64  `json:"need_p50_kg"`
	Need90Kg     float64  `json:"need_p90_kg"`
	ShortKg      *float64 `json:"short_kg,omitempty"`      // of the 90 % figure
	LastsBatches *int32   `json:"lasts_batches,omitempty"` // whole batches that the stock makes
	RunsOut      string   `json:"runs_out,omitempty"`
	Counted      bool     `json:"counted"` // false where no stock of it was ever written
}

// Tomorrow is what the next working day takes at the present pace.
type Tomorrow struct {
	Date      string         `json:"date"`
	Hours     float64        `json:"hours"`             // workable by the forecast weather
	Batches   *int32         `json:"batches,omitempty"` // nil: not known yet
	Suffices  bool           `json:"suffices"`
	Materials []MaterialNeed `json:"materials"`
	Note      string         `json:"note,omitempty"`
}

// lookAhead is how many days of work are laid out to find the day on which it is done.
const lookAhead = 120

// need is what is left to mix, by mix and in all.
type need struct {
	mixes   []MixForecast
	volume  unit.Volume
	batches forecast.Distribution
	mean    map[event.Mix]float64
	wrong   []string
}

func needOf(s *fold.Site) need {
	left := map[event.Mix]unit.Volume{}
	for _, name := range s.Plan().ZoneNames() {
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			if !c.Done() {
				left[c.Mix] += c.Left()
			}
		}
	}
	n := need{mean: map[event.Mix]float64{}}
	for _, m := range slices.Sorted(maps.Keys(left)) {
		y := s.Yield(m)
		v := MixForecast{Mix: string(m), VolumeM3: float64(left[m]), YieldMeanM3: some(y.Mean), YieldSDM3: some(y.Scale), Tested: int32(y.Weighed)}
		n.volume += left[m]
		d, err := forecast.Batches(y.Posterior, left[m])
		if err != nil || y.Wrong != "" {
			n.wrong = append(n.wrong, fmt.Sprintf("mix %s: %s", m, cmp.Or(y.Wrong, fmt.Sprint(err))))
			n.mixes = append(n.mixes, v)
			continue
		}
		v.P50, v.P90 = int32(d.P50()), int32(d.P90())
		for count, chance := range d.All() {
			v.Distribution = append(v.Distribution, Count{int32(count), chance})
		}
		n.mean[m] = d.Mean()
		n.batches = n.batches.Plus(d)
		n.mixes = append(n.mixes, v)
	}
	return n
}

func (n need) left() BatchesLeft {
	return BatchesLeft{P50: int32(n.batches.P50()), P90: int32(n.batches.P90())}
}

// ForecastOf the site at an instant.
func ForecastOf(s *fold.Site, now time.Time, in *time.Location) Forecast {
	n := needOf(s)
	v := Forecast{Site: siteName(s), AsOf: now, Units: s.Plan().System.String(), VolumeM3: float64(n.volume), Batches: n.left(), Mixes: n.mixes}
	for _, w := range n.wrong {
		v.PaceNote = join(v.PaceNote, w)
	}
	pace, paceKnown := paceOf(s)
	hours := workHours(s, now, in, lookAhead)
	var finish forecast.Finish
	if paceKnown {
		v.Pace = float(pace.PerHour())
		v.PaceNote = join(v.PaceNote, fmt.Sprintf("learned from %d intervals between batches, all crews together", pace.Intervals))
		v.WorkHours50, v.WorkHours90 = float(float64(v.Batches.P50)*pace.PerBatch.Hours()), float(float64(v.Batches.P90)*pace.PerBatch.Hours())
		var err error
		if finish, err = forecast.Finishes(n.batches, pace, hours); err == nil {
			v.Finish50, v.Finish90 = moment(finish.P50), moment(finish.P90)
			if finish.P50.Reached && finish.P50.Assumed {
				v.PaceNote = join(v.PaceNote, "beyond the forecast weather every working hour is taken as fit")
			}
		}
	} else {
		v.PaceNote = join(v.PaceNote, "the pace is not known before three batches have followed one another")
	}
	v.Materials = materials(s, n, now, in, pace, paceKnown, hours)
	v.Tomorrow = tomorrow(s, n, now, in, pace, paceKnown)
	return v
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

func moment(m forecast.Moment) *time.Time {
	if !m.Reached {
		return nil
	}
	return at(m.At)
}

func paceOf(s *fold.Site) (forecast.Pace, bool) {
	p, err := forecast.LearnPace(forecast.PacePrior{}, s.Intervals())
	return p, err == nil && p.PerBatch > 0
}

// workHours from now, by the site's working day and the forecast weather.
func workHours(s *fold.Site, now time.Time, in *time.Location, days int) []forecast.Hour {
	local := now.In(in)
	return hoursBetween(s, local, startOfDay(local).AddDate(0, 0, days))
}

func hoursBetween(s *fold.Site, from, until time.Time) []forecast.Hour {
	p := s.Plan()
	_, told := s.Weather()
	fit := map[int64]forecast.Weather{}
	for _, k := range told {
		fit[k.At.Unix()/3600] = forecast.Unfit
		if ok, _ := workable(p, k); ok {
			fit[k.At.Unix()/3600] = forecast.Fit
		}
	}
	hours, err := forecast.WorkHours(forecast.EveryDay(forecast.Shift{From: p.WorkFrom, To: p.WorkTo}), from, until,
		func(hour time.Time) forecast.Weather { return fit[hour.Unix()/3600] })
	if err != nil {
		return nil
	}
	return hours
}

// perBatch is what one batch takes of each material, by the mixes that are left in the proportion in which they are.
func perBatch(s *fold.Site, n need) map[string]unit.Mass {
	total := 0.0
	for _, mean := range n.mean {
		total += mean
	}
	all := map[string]unit.Mass{}
	for _, m := range slices.Sorted(maps.Keys(n.mean)) {
		if total <= 0 {
			break
		}
		for _, c := range s.Plan().Mixes[m].Mix.Constituents {
			if c.Kind != mix.Water {
				all[c.Name] += c.Mass * unit.Mass(n.mean[m]/total)
			}
		}
	}
	return all
}

func stocks(s *fold.Site, n need, now time.Time) []forecast.Stock {
	takes := perBatch(s, n)
	var all []forecast.Stock
	for _, name := range slices.Sorted(maps.Keys(takes)) {
		if takes[name] <= 0 {
			continue
		}
		k := forecast.Stock{Material: name, PerBatch: takes[name]}
		if l, err := s.Ledger(event.Material(name)); err == nil {
			k.OnHand = l.At(now).OnHand
		}
		all = append(all, k)
	}
	return all
}

func materials(s *fold.Site, n need, now time.Time, in *time.Location, pace forecast.Pace, paceKnown bool, hours []forecast.Hour) []MaterialNeed {
	supplies, err := forecast.Supplies(n.batches, stocks(s, n, now))
	if err != nil {
		return nil
	}
	var all []MaterialNeed
	for _, k := range supplies {
		v := materialNeed(s, k)
		if paceKnown && v.Counted && k.ShortP90 > 0 {
			if f, err := k.RunsOut(pace, hours); err == nil && f.P50.Reached {
				v.RunsOut = f.P50.At.In(in).Format("Mon 2 Jan 15:04")
			}
		}
		all = append(all, v)
	}
	return all
}

func materialNeed(s *fold.Site, k forecast.Supply) MaterialNeed {
	v := MaterialNeed{
		Material: k.Material, PerBatchKg: float64(k.PerBatch), Need50Kg: float64(k.NeedP50), Need90Kg: float64(k.NeedP90),
		Counted: s.Stocked(event.Material(k.Material)),
	}
	if v.Counted {
		v.OnHandKg, v.ShortKg, v.LastsBatches = float(k.OnHand), float(k.ShortP90), new(int32(max(0, k.Batches)))
	}
	return v
}

// tomorrow is the next local day: what it takes, and whether the stock does for it.
func tomorrow(s *fold.Site, n need, now time.Time, in *time.Location, pace forecast.Pace, paceKnown bool) Tomorrow {
	from := startOfDay(now.In(in)).AddDate(0, 0, 1)
	hours := hoursBetween(s, from, from.AddDate(0, 0, 1))
	worked := forecast.Worked(hours)
	v := Tomorrow{Date: from.Format(time.DateOnly), Hours: worked.Hours(), Suffices: true}
	if !paceKnown {
		v.Suffices, v.Note = false, "the pace is not known yet"
		return v
	}
	d, supplies, err := forecast.Tomorrow(n.batches, pace, worked, stocks(s, n, now))
	if err != nil {
		v.Suffices, v.Note = false, err.Error()
		return v
	}
	v.Batches = new(int32(d.P90()))
	for _, k := range supplies {
		m := materialNeed(s, k)
		v.Materials = append(v.Materials, m)
		if !m.Counted {
			v.Note = join(v.Note, fmt.Sprintf("nobody has written what there is of %s", m.Material))
		} else if *m.ShortKg > 0 {
			v.Suffices = false
		}
	}
	if *v.Batches > 0 && v.Note != "" {
		v.Suffices = false
	}
	return v
}

// shortOfStock finds materials that will not do for tomorrow.
func shortOfStock(s *fold.Site, now time.Time, in *time.Location) []fold.Finding {
	pace, ok := paceOf(s)
	if !ok {
		return nil
	}
	n := needOf(s)
	sys := s.Plan().System
	t := tomorrow(s, n, now, in, pace, ok)
	var all []fold.Finding
	for _, m := range t.Materials {
		if !m.Counted || *m.ShortKg <= 0 {
			continue
		}
		all = append(all, fold.Finding{
			Code: fold.StockShort, Grave: true, Key: m.Material + " " + t.Date, Subject: m.Material, Since: now,
			Text: fmt.Sprintf("%s lasts %d batches; tomorrow may take %d, %s more than there is", m.Material, *m.LastsBatches, *t.Batches, sys.Mass(unit.Mass(*m.ShortKg))),
			Evidence: []fold.Fact{
				{Name: "on hand", Value: sys.Mass(unit.Mass(*m.OnHandKg))},
				{Name: "a batch takes", Value: sys.Mass(unit.Mass(m.PerBatchKg))},
				{Name: "tomorrow, nine times in ten at most", Value: fmt.Sprintf("%d batches", *t.Batches)},
			},
			Formula: "batches that the pace allows in tomorrow's fit hours, no more than are left", Limit: "the stock on hand",
			Source: "arithmetic of this record, no standard", Events: s.StockEvents(event.Material(m.Material)),
		})
	}
	return all
}
