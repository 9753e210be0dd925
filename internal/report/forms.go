package report

import (
	"fmt"
	"strings"

	"hod/internal/unit"
	"hod/internal/view/forms"
)

// MixCard is what to weigh for one batch, in both systems.
func MixCard(v forms.Card, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	title := fmt.Sprintf("%s revision %d", v.Mix, v.Revision)
	if s.HTML {
		s.Element("h1", 0, Say(title))
		s.Element("p", 0, Join(", ", Say(v.Site), Say(s.Day(v.AsOf))))
	} else {
		s.Head(v.Site, "mix "+title)
	}
	size := Say("one batch")
	if v.Scale != 1 {
		size = Sayf("a batch of %s of the mix's", s.Share(v.Scale))
	}
	switch {
	case v.SandMoisture == nil:
		s.Para(0, 2, Join(", ", size,
			Say("SAND SATURATED AND SURFACE DRY: nobody said its moisture; `hod mix sheet "+v.Mix+" --moisture 4%`",
				strong)))
	case v.MoistureOf != "":
		s.Para(0, 2, Join(", ", size, Sayf("sand at %s moisture, as with batch %s", s.Share(*v.SandMoisture),
			v.MoistureOf)))
	default:
		s.Para(0, 2, Join(", ", size, Say("sand at "+s.Share(*v.SandMoisture)+" moisture", strong)))
	}
	s.Blank()
	other := *s
	other.System = s.System.Other()
	t := Table{Columns: []Column{
		{Name: "weigh", Least: 10},
		{Name: systemName(s.System), Right: true},
		{Name: systemName(other.System), Right: true},
	}}
	for _, l := range v.Lines {
		t.Row(Say(l.Constituent, strong), Figure(s.massOrVolume(l.MassKg, l.VolumeM3), strong),
			Figure(other.massOrVolume(l.MassKg, l.VolumeM3)))
	}
	s.Table(0, t)
	if len(v.Steps) > 0 {
		s.Section("IN THIS ORDER", nil)
	}
	for i, k := range v.Steps {
		s.Para(0, 3, Join(" ", Sayf("%d.", i+1), s.cardStep(&other, k)))
	}
	s.Section("CHECKS", nil)
	s.Para(0, 2, Sayf("Yields %s; unit weight %s; w/cm %s.",
		s.both(&other, func(s *Sheet) string { return s.Volume(v.YieldM3) }),
		s.both(&other, func(s *Sheet) string { return s.Density(v.UnitWeight) }), Thousandths(v.WCM)))
	if v.WaterLimit != nil && v.WaterLeftKg != nil {
		s.Para(0, 2, Sayf("No more than %s of water on top: w/cm %s is the limit.",
			s.both(&other, func(s *Sheet) string {
				return s.liquid(max(*v.WaterLeftKg, 0) / float64(unit.WaterDensity))
			}), Thousandths(*v.WaterLimit)))
	}
	if v.WorkingMin != nil {
		s.Para(0, 2, Sayf("To be placed within %s of the water.", OfMinutes(*v.WorkingMin)))
	}
	s.Blank()
	for _, c := range v.Cautions {
		s.Para(0, 2, Say(c, strong))
	}
	return s.String()
}

func systemName(system unit.System) string {
	if system == unit.US {
		return "lb, gal"
	}
	return "kg, L"
}

// both is a figure in the site's system and in the other.
func (s *Sheet) both(other *Sheet, show func(*Sheet) string) string {
	return show(s) + " (" + show(other) + ")"
}

func (s *Sheet) liquid(m3 float64) string { return s.System.Liquid(unit.Volume(m3)) }

func (s *Sheet) massOrVolume(kg, m3 *float64) string {
	if m3 != nil {
		return s.liquid(*m3)
	}
	return Maybe(kg, s.Mass)
}

func (s *Sheet) cardStep(other *Sheet, k forms.Step) Text {
	var parts []Text
	if k.Constituent != "" {
		share := Text(nil)
		if k.Share != nil {
			share = Say(s.Share(*k.Share) + " of it,")
		}
		parts = append(parts, Join(" ", Say(k.Constituent, strong), share,
			Figure(s.both(other, func(s *Sheet) string { return s.massOrVolume(k.MassKg, k.VolumeM3) }))))
	}
	if k.WaitMin != nil {
		parts = append(parts, Sayf("wait %s", OfMinutes(*k.WaitMin)))
	}
	if k.LookFor != "" {
		parts = append(parts, Sayf("go on when: %s", k.LookFor))
	}
	return Join("; ", parts...)
}

// Blank is the forms of a day without a phone, as lines to be written on.
func Blank(v forms.Blank, p Page) string {
	s := Open(p, v.Units, p.Now)
	for i, f := range v.Forms {
		if i > 0 {
			s.Blank()
		}
		s.Para(0, 2, Join(", ", Say(f.Title, strong), Say(v.Site)))
		s.Para(0, 2, blankHead(v))
		s.Para(0, 2, Join(" ", Say("Typed in later:"), Say(f.Command)))
		for _, n := range f.Notes {
			s.Para(0, 2, Say(n))
		}
		t := Table{}
		for _, c := range f.Columns {
			t.Columns = append(t.Columns, Column{Name: Clean(c), Least: 8})
		}
		for n := range f.Rows {
			cells := make([]Text, len(f.Columns))
			for k, c := range f.Columns {
				cells[k] = Say(strings.Repeat("_", min(max(len([]rune(c)), 6), 14)))
			}
			if f.First > 0 {
				cells[0] = Sayf("%d", f.First+n)
			}
			t.Row(cells...)
		}
		s.Table(0, t)
	}
	return s.String()
}

// blankHead is what is filled in once on a form.
func blankHead(v forms.Blank) Text {
	crew := Say("crew ____________")
	if v.Crew != "" {
		crew = Sayf("crew %s", v.Crew)
	}
	return Join("  ", crew, Say("date ____________"), Say("written by ________________"))
}
