package view

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"hod/internal/curing"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// DayOf the site: the summary of a local date (2006-01-02; today if empty).
func DayOf(s *fold.Site, now time.Time, in *time.Location, date string) (Day, error) {
	from, err := time.ParseInLocation(time.DateOnly, cmp.Or(date, now.In(in).Format(time.DateOnly)), in)
	if err != nil {
		return Day{}, fmt.Errorf("%q is not a date; one looks like 2026-07-18", date)
	}
	until := from.AddDate(0, 0, 1)
	date = from.Format(time.DateOnly)
	p := s.Plan()
	on := func(t time.Time) bool { return !t.Before(from) && t.Before(until) }
	v := Day{
		Site: siteName(s), Place: p.Place, Date: date, AsOf: now, Units: p.System.String(), Crews: crewDays(s, date, in), Zones: coatDays(s, on),
		Tests: tests(s, date), Weather: weatherDay(s, on), Left: left(s), BatchesLeft: needOf(s).left(), Strength: strengths(s, minTime(now, until)),
		Stock: stockUntil(s, now, from, minTime(now, until)), Record: record(s),
		Cautions: []string{fold.Caution, curing.Caution},
	}
	for _, f := range flags(s, now, in) {
		if on(f.Since) {
			v.Flags = append(v.Flags, f)
		}
	}
	for _, j := range madeJoints(s) {
		if on(*j.MadeAt) && j.State != "live" {
			v.Joints = append(v.Joints, j)
		}
	}
	for _, j := range openJoints(s, minTime(now, until)) {
		v.Joints = append(v.Joints, j)
	}
	v.Changes = entries(s, in, func(r *fold.Record) bool {
		switch r.Body.(type) {
		case event.Amended, event.Voided, event.Settled:
			return on(r.At()) && r.State != fold.SetAside
		}
		return false
	})
	v.SetAside = entries(s, in, func(r *fold.Record) bool { return r.State == fold.SetAside && on(r.At()) })
	v.Notes = entries(s, in, func(r *fold.Record) bool {
		_, note := r.Now.(event.Noted)
		return note && on(r.When)
	})
	n := needOf(s)
	pace, known := paceOf(s)
	v.Tomorrow = tomorrow(s, n, minTime(now, until.Add(-time.Second)), in, pace, known)
	v.Provisional = provisional(s, now, until, on)
	return v, nil
}

func minTime(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// provisional says why the day may still change: it is not over, or a crew that worked has not been heard since.
func provisional(s *fold.Site, now, until time.Time, on func(time.Time) bool) string {
	if now.Before(until) {
		return "the day is not over"
	}
	var silent []string
	for _, d := range s.Devices() {
		if d.Role != event.CrewRole || d.Revoked {
			continue
		}
		if heard, ok := s.Heard(d.Crew); ok && heard.Before(until) && !slices.Contains(silent, string(d.Crew)) {
			silent = append(silent, string(d.Crew))
		}
	}
	if len(silent) > 0 {
		return "nothing has come since from crew " + strings.Join(silent, ", ")
	}
	return ""
}

func crewDays(s *fold.Site, date string, in *time.Location) []CrewDay {
	byCrew := map[event.Crew]*CrewDay{}
	get := func(c event.Crew) *CrewDay {
		if byCrew[c] == nil {
			plan := s.Plan().Crews[c]
			byCrew[c] = &CrewDay{Crew: string(c), Name: plan.Name, People: int32(plan.People)}
		}
		return byCrew[c]
	}
	for c := range s.Plan().Crews {
		get(c)
	}
	for _, r := range s.Shifts() {
		if r.When.In(in).Format(time.DateOnly) != date {
			continue
		}
		d := get(r.Crew)
		switch b := r.Now.(type) {
		case event.ShiftStarted:
			d.From = at(r.When)
			if b.People > 0 {
				d.People = int32(b.People)
			}
		case event.ShiftEnded:
			d.To = at(r.When)
		}
	}
	sums := map[event.Crew]float64{}
	for _, b := range s.Batches() {
		if b.ID.Day != date {
			continue
		}
		d := get(b.ID.Crew)
		ratio := s.Yield(b.Body.Mix).Ratio
		d.Batches++
		d.MixedM3 += float64(b.Volume(1, ratio))
		d.DiscardedM3 += float64(b.Volume(b.Discarded, ratio))
		d.UnplacedM3 += float64(b.Volume(b.Left, ratio))
		for _, p := range b.Parts {
			d.PlacedM3 += partVolume(b, p, ratio)
		}
		if b.Wrong == "" {
			sums[b.ID.Crew] += b.Figures.WaterCementitious
			d.WCMMean = sums[b.ID.Crew] / float64(d.Batches)
			d.WCMMax = max(d.WCMMax, b.Figures.WaterCementitious)
		}
	}
	var all []CrewDay
	for _, c := range slices.Sorted(maps.Keys(byCrew)) {
		all = append(all, *byCrew[c])
	}
	return all
}

func partVolume(b *fold.Batch, p fold.Part, ratio float64) float64 {
	if p.Stated > 0 {
		return float64(p.Stated)
	}
	return float64(b.Volume(p.Share, ratio))
}

func coatDays(s *fold.Site, on func(time.Time) bool) []CoatDay {
	var all []CoatDay
	for _, name := range s.Plan().ZoneNames() {
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			id := c.CoatPlanned.Coat
			d := CoatDay{Zone: string(id.Zone), Face: face(id.Face), Coat: int32(id.Number), LeftM3: float64(c.Left())}
			if c.Done() {
				d.LeftM3 = 0
			}
			for _, p := range c.Placed {
				if on(p.From) {
					d.Batches += float64(p.Share)
					d.PlacedM3 += float64(p.Volume)
				}
			}
			if d.Batches == 0 {
				continue
			}
			grown := c
			grown.Volume = unit.Volume(d.PlacedM3)
			d.ThicknessM = float64(grown.MeanThickness(z.Zone, s.Plan().Loss))
			all = append(all, d)
		}
	}
	return all
}

func left(s *fold.Site) []CoatLine {
	var all []CoatLine
	for _, l := range coatLines(s) {
		if l.State != "done" {
			all = append(all, l)
		}
	}
	return all
}

func tests(s *fold.Site, date string) []Test {
	var all []Test
	for _, b := range s.Batches() {
		if b.ID.Day != date {
			continue
		}
		for _, t := range b.Tests {
			v := Test{
				Batch: b.ID.String(), At: t.Record.When.UTC(), UnitWeight: float64(t.UnitWeight), YieldM3: float64(t.Yield), RelativeYield: t.Relative,
				Air: float64(t.Air), Judgement: t.Judgement,
			}
			if t.Body.Temperature != nil {
				c := float64(t.Body.Temperature.SI)
				v.TemperatureC = &c
			}
			if t.Body.Flow != nil {
				f := float64(t.Body.Flow.SI)
				v.Flow = &f
			}
			if b.Wrong == "" {
				v.WCM = b.Figures.WaterCementitious
			}
			all = append(all, v)
		}
	}
	return all
}

func weatherDay(s *fold.Site, on func(time.Time) bool) WeatherDay {
	read, _ := s.Weather()
	var v WeatherDay
	for _, k := range read {
		if !on(k.At) {
			continue
		}
		if k.RainMillimetres != nil {
			v.RainMM += *k.RainMillimetres
		}
		if k.Air == nil {
			continue
		}
		air := float64(*k.Air)
		if v.Readings == 0 {
			v.AirLowC, v.AirHighC, v.HumidityLow = air, air, 1
		}
		v.Readings++
		v.AirLowC, v.AirHighC = min(v.AirLowC, air), max(v.AirHighC, air)
		if k.Wind != nil {
			v.WindHighMPS = max(v.WindHighMPS, float64(*k.Wind))
		}
		if moist, err := k.Moist(); err == nil {
			v.HumidityLow = min(v.HumidityLow, float64(moist.Humidity))
		}
		// by the air's own temperature, so that it speaks of the weather; flags speak of surfaces
		if rate, err := s.Plan().DryingAt(k, unit.Celsius(air)); err == nil && float64(rate.SI.Rate) > v.EvaporationMax {
			v.EvaporationMax, v.EvaporationAt = float64(rate.SI.Rate), at(k.At)
		}
	}
	return v
}

// record is how far each device's record reaches, so that a figure can be told from a later one.
func record(s *fold.Site) []DeviceEnd {
	ends := map[event.Device]*DeviceEnd{}
	for _, r := range s.Records() {
		e := ends[r.Device]
		if e == nil {
			e = &DeviceEnd{Device: string(r.Device), Crew: string(s.CrewOf(r.Device))}
			ends[r.Device] = e
		}
		if int32(r.Seq) > e.Seq {
			e.Seq = int32(r.Seq)
		}
		if r.LoggedAt.After(e.LastAt) {
			e.LastAt = r.LoggedAt.UTC()
		}
	}
	var all []DeviceEnd
	for _, d := range slices.Sorted(maps.Keys(ends)) {
		all = append(all, *ends[d])
	}
	return all
}
