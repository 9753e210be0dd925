package report

import (
	"time"

	"hod/internal/view"
)

// Zone is one zone in full: its shape and edges, each coat with its placements, its joints, and how it was tended.
func Zone(v view.Zone, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "zone "+v.Zone)
	s.Blank()
	s.Para(0, 2, Join(", ", Say(v.Shape), Say(s.area(v.AreaM2))))
	var edges []Text
	for _, e := range v.Edges {
		length := Text(nil)
		if e.LengthM != 0 {
			length = Figure(s.Length(e.LengthM))
		}
		edges = append(edges, Join(" ", Say(e.With).To("zone", e.With), length))
	}
	s.Named(0, 7, "edges", Join(", ", edges...))
	for _, c := range v.Coats {
		s.coat(c)
	}
	s.joints(v.Joints)
	if len(v.Tended) > 0 {
		s.Section("TENDED", nil)
		t := Table{Columns: []Column{
			{Name: "at", Right: true},
			{Name: "what", Least: 8},
			{Name: "face"},
			{Name: "with", Least: 8},
		}}
		for _, l := range v.Tended {
			t.Row(Figure(s.Clock(l.At)), Say(l.What), Say(l.Face), Say(l.With))
		}
		s.Table(0, t)
	}
	return s.String()
}

func (s *Sheet) coat(c view.ZoneCoat) {
	l := c.Progress
	s.Section(CoatName(l.Zone, l.Face, l.Coat), Join(", ", Say(l.State), Sayf("mix %s", l.Mix)))
	s.Para(0, 2, Sayf("Mean %s; placed %s of %s, left %s; %s.",
		Against(s.Thickness(l.MeanThicknessM), s.Thickness(l.DesignM)),
		s.Volume(l.PlacedM3), s.Volume(l.NeededM3), s.Volume(l.LeftM3), Part(l.Batches)))
	if s.Root != "" {
		s.Para(0, 2, Say("Why").To("why", WhyCoat(l.Zone, l.Face, l.Coat)))
	}
	s.finish(l)
	if k := c.Covered; k != nil {
		s.Para(0, 2, coverWords(s.Clock(k.Since), k.With))
	}
	t := Table{Columns: []Column{
		{Name: "placed", Right: true},
		{Name: "batch", Least: 12},
		{Name: "volume", Right: true},
		{Name: "basis", Drop: 3},
		{Name: "age", Right: true, Drop: 2},
		{Name: "gauge", Least: 8, Drop: 4},
		{Name: "along", Least: 6, Drop: 5},
		{Name: "lies", Least: 8, Drop: 3},
		{Name: "event", Least: 6, Drop: 1},
	}}
	for _, p := range c.Placements {
		var gauge []Text
		for _, m := range p.GaugeM {
			gauge = append(gauge, Figure(s.Thickness(m)))
		}
		t.Row(Figure(s.Clocks(&p.From, &p.To)), Say(OfDay(p.Batch, s.AsOf.In(s.In).Format(time.DateOnly))),
			Figure(s.Volume(p.VolumeM3)), Figure(p.Basis), Figure(Maybe(p.AgeMin, OfMinutes)),
			Join(", ", gauge...), Listed(p.Along), s.lies(p.Strip), Say(p.Name).To("event", p.Name))
	}
	s.Table(2, t)
	if c.Untold != "" {
		s.Para(2, 2, Sayf("It is not told where each batch lies: %s.", c.Untold))
	}
	for _, p := range c.Placements {
		if p.Because != "" {
			s.Para(2, 2, Join(" ", Say(p.Name), Say("because:"), Say(p.Because)))
		}
	}
	if c.Strength != nil {
		s.Strengths([]view.Strength{*c.Strength})
	}
}

// lies is where a placement is, from the side at which its crew began.
func (s *Sheet) lies(l *view.StripLine) Text {
	switch {
	case l == nil:
		return nil
	case l.BeginsM != nil && l.ReachesM != nil:
		return Sayf("%s from %s", Between(s.Length(*l.BeginsM), s.Length(*l.ReachesM)), l.Start)
	case l.BeginsDegrees != nil && l.ReachesDegrees != nil:
		return Sayf("%s–%s° from %s", Decimal(*l.BeginsDegrees, 0), Decimal(*l.ReachesDegrees, 0), l.Start)
	}
	return nil
}

// finish says what a coat's state rests on, beside its placements.
func (s *Sheet) finish(l view.CoatLine) {
	if l.FinishedAt != nil {
		s.Para(0, 2, Sayf("Finished at %s: %s.", s.Clock(*l.FinishedAt), l.FinishedBy))
	}
	if l.OpenedAgainAt != nil {
		s.Para(0, 2, Sayf("It was finished, and is open again since %s, when mortar went into it.",
			s.Clock(*l.OpenedAgainAt)))
	}
	if l.Complete != nil && l.CompleteAt != nil {
		s.Para(0, 2, Sayf("Said to be %s complete at %s.", s.Share(*l.Complete), s.Clock(*l.CompleteAt)))
	}
}

func coverWords(since, with string) Text {
	if with == "" {
		return Sayf("Covered since %s.", since)
	}
	return Sayf("Covered since %s with %s.", since, with)
}
