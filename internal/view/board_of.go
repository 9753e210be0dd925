package view

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// BoardOf the site at an instant, in the site's place.
func BoardOf(s *fold.Site, now time.Time, in *time.Location) Board {
	p := s.Plan()
	v := Board{Site: siteName(s), AsOf: now, Units: p.System.String(), Zones: coatLines(s)}
	for _, j := range openJoints(s, now) {
		if j.State != "cold" {
			v.LiveEdges = append(v.LiveEdges, j)
		}
	}
	v.Flags = FlagsOf(s, now, in, false).Flags
	v.BatchesLeft = ForecastOf(s, now, in).Batches
	if c, ok := conditions(s, now, in); ok {
		v.Weather = &c
	}
	v.Crews = crewLines(s, now, in)
	return v
}

func siteName(s *fold.Site) string {
	if n := s.Plan().Name; n != "" {
		return n
	}
	return s.ID
}

func coatLines(s *fold.Site) []CoatLine {
	var all []CoatLine
	for _, name := range s.Plan().ZoneNames() {
		z, ok := s.Zone(name)
		if !ok {
			continue
		}
		for _, c := range z.Coats {
			all = append(all, coatLine(s, z.Zone, c))
		}
	}
	return all
}

func coatLine(s *fold.Site, z *fold.Zone, c fold.CoatIs) CoatLine {
	id := c.CoatPlanned.Coat
	v := CoatLine{
		Zone: string(id.Zone), Face: face(id.Face), Coat: int32(id.Number), Mix: string(c.Mix), State: "waiting",
		AreaM2: float64(z.Area.SI), DesignM: float64(c.Thickness.SI), MeanThicknessM: float64(c.MeanThickness(z, s.Plan().Loss)),
		NeededM3: float64(c.Needed), PlacedM3: float64(c.Volume), LeftM3: float64(c.Left()), Batches: c.Batches, LastPlacedAt: at(c.Last),
	}
	switch {
	case c.Done():
		v.State, v.LeftM3 = "done", 0
	case len(c.Placed) > 0:
		v.State = "under way"
	}
	return v
}

func crewLines(s *fold.Site, now time.Time, in *time.Location) []CrewLine {
	today := now.In(in).Format(time.DateOnly)
	var all []CrewLine
	for _, c := range crewDays(s, today, in) {
		l := CrewLine{Crew: c.Crew, Batches: c.Batches, MixedM3: c.MixedM3, PlacedM3: c.PlacedM3}
		if heard, ok := s.Heard(event.Crew(c.Crew)); ok {
			l.LastEventAt = at(heard)
		}
		all = append(all, l)
	}
	slices.SortFunc(all, func(a, b CrewLine) int { return cmp.Compare(a.Crew, b.Crew) })
	return all
}
