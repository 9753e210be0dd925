package report

import (
	"time"

	"hod/internal/view"
)

// Zone is one zone in full: its shape and edges, each coat with its placements, its joints, and how it was tended.
func Zone(v view.Zone, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "zone "+v.Zone)
	s.blank()
	s.para(0, 2, join(", ", say(v.Shape), say(s.area(v.AreaM2))))
	var edges []text
	for _, e := range v.Edges {
		length := text(nil)
		if e.LengthM != 0 {
			length = figure(s.length(e.LengthM))
		}
		edges = append(edges, join(" ", say(e.With).to("zone", e.With), length))
	}
	s.named(0, 7, "edges", join(", ", edges...))
	for _, c := range v.Coats {
		s.coat(c)
	}
	s.joints(v.Joints)
	if len(v.Tended) > 0 {
		s.section("TENDED", nil)
		t := table{columns: []column{
			{name: "at", right: true},
			{name: "what", least: 8},
			{name: "face"},
			{name: "with", least: 8},
		}}
		for _, l := range v.Tended {
			t.row(figure(s.clock(l.At)), say(l.What), say(l.Face), say(l.With))
		}
		s.table(0, t)
	}
	return s.String()
}

func (s *sheet) coat(c view.ZoneCoat) {
	l := c.Progress
	s.section(coatName(l.Zone, l.Face, l.Coat), join(", ", say(l.State), sayf("mix %s", l.Mix)))
	s.para(0, 2, sayf("Mean %s; placed %s of %s, left %s; %s.",
		against(s.thickness(l.MeanThicknessM), s.thickness(l.DesignM)),
		s.volume(l.PlacedM3), s.volume(l.NeededM3), s.volume(l.LeftM3), part(l.Batches)))
	s.finish(l)
	if k := c.Covered; k != nil {
		s.para(0, 2, coverWords(s.clock(k.Since), k.With))
	}
	t := table{columns: []column{
		{name: "placed", right: true},
		{name: "batch", least: 12},
		{name: "volume", right: true},
		{name: "basis", drop: 3},
		{name: "age", right: true, drop: 2},
		{name: "gauge", least: 8, drop: 4},
		{name: "along", least: 6, drop: 5},
		{name: "lies", least: 8, drop: 3},
		{name: "event", least: 6, drop: 1},
	}}
	for _, p := range c.Placements {
		var gauge []text
		for _, m := range p.GaugeM {
			gauge = append(gauge, figure(s.thickness(m)))
		}
		t.row(figure(s.clocks(&p.From, &p.To)), say(ofDay(p.Batch, s.asOf.In(s.in).Format(time.DateOnly))),
			figure(s.volume(p.VolumeM3)), figure(p.Basis), figure(maybe(p.AgeMin, ofMinutes)),
			join(", ", gauge...), list(p.Along), s.lies(p.Strip), say(p.Name).to("event", p.Name))
	}
	s.table(2, t)
	if c.Untold != "" {
		s.para(2, 2, sayf("It is not told where each batch lies: %s.", c.Untold))
	}
	for _, p := range c.Placements {
		if p.Because != "" {
			s.para(2, 2, join(" ", say(p.Name), say("because:"), say(p.Because)))
		}
	}
	if c.Strength != nil {
		s.strengths([]view.Strength{*c.Strength})
	}
}

// lies is where a placement is, from the side at which its crew began.
func (s *sheet) lies(l *view.StripLine) text {
	switch {
	case l == nil:
		return nil
	case l.BeginsM != nil && l.ReachesM != nil:
		return sayf("%s from %s", between(s.length(*l.BeginsM), s.length(*l.ReachesM)), l.Start)
	case l.BeginsDegrees != nil && l.ReachesDegrees != nil:
		return sayf("%s–%s° from %s", decimal(*l.BeginsDegrees, 0), decimal(*l.ReachesDegrees, 0), l.Start)
	}
	return nil
}

// finish says what a coat's state rests on, beside its placements.
func (s *sheet) finish(l view.CoatLine) {
	if l.FinishedAt != nil {
		s.para(0, 2, sayf("Finished at %s: %s.", s.clock(*l.FinishedAt), l.FinishedBy))
	}
	if l.OpenedAgainAt != nil {
		s.para(0, 2, sayf("It was finished, and is open again since %s, when mortar went into it.",
			s.clock(*l.OpenedAgainAt)))
	}
	if l.Complete != nil && l.CompleteAt != nil {
		s.para(0, 2, sayf("Said to be %s complete at %s.", s.share(*l.Complete), s.clock(*l.CompleteAt)))
	}
}

func coverWords(since, with string) text {
	if with == "" {
		return sayf("Covered since %s.", since)
	}
	return sayf("Covered since %s with %s.", since, with)
}
