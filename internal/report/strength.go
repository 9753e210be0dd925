package report

import (
	"time"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// strengthCaution stands wherever an age or a strength is shown.
const strengthCaution = "An age from temperatures never permits stripping supports or loading the shell: that is for the responsible licensed engineer and the local code."

// Strengths writes what the coats' temperatures say of their age.
func (s *Sheet) Strengths(lines []view.Strength) {
	if len(lines) == 0 {
		s.Para(0, 2, Say("No cure readings."))
		return
	}
	s.Ages(lines)
	s.Para(0, 2, Say(strengthCaution))
}

// Ages are the coats with what their temperatures say of them, without the caution that belongs to it.
func (s *Sheet) Ages(lines []view.Strength) {
	t := Table{Columns: []Column{
		{Name: "coat", Least: 10},
		{Name: "probe", Drop: 5},
		{Name: "age at reference", Right: true},
		{Name: "maturity", Right: true, Drop: 1},
		{Name: "lowest", Right: true, Drop: 2},
		{Name: "moist cure", Right: true, Drop: 4},
		{Name: "readings", Right: true, Drop: 3},
	}}
	for _, l := range lines {
		t.Row(Say(CoatName(l.Zone, l.Face, l.Coat)), Say(l.Probe), Figure(ofHours(l.EquivalentAgeH)),
			Figure(Decimal(l.MaturityCH, 0)+" °C·h"),
			Figure(s.Temperature(l.LowestC)), Figure(Decimal(l.MoistH, 0)+" of "+Decimal(l.MoistAskedH, 0)+" h"),
			Figure(Decimal(float64(l.Readings), 0)))
	}
	s.Table(0, t)
	for _, l := range lines {
		if l.StrengthPa != nil {
			s.Para(0, 2, Join(": ", Say(CoatName(l.Zone, l.Face, l.Coat)),
				Sayf("%s by the mix's own breaks, %s %s with 95 %% confidence",
					s.pressure(*l.StrengthPa), Maybe(l.LowPa, s.pressure), Named("to", l.HighPa, s.pressure))))
		}
		for _, b := range l.Borrowed {
			is := ratioOf28(b.Share28) + " of the 28-day strength"
			if b.StrengthPa != nil {
				is += ", about " + s.pressure(*b.StrengthPa) + " as scaled to " + Count(b.Breaks, "break", "breaks") +
					" of the mix"
			}
			s.Para(0, 2, Join(": ", Say(CoatName(l.Zone, l.Face, l.Coat)),
				Sayf("NOT BY THIS MIX'S OWN CURVE: %s, by %s", is, b.Curve)))
		}
		if l.Note != "" {
			s.Para(0, 2, Join(": ", Say(CoatName(l.Zone, l.Face, l.Coat)), Say(l.Note)))
		}
	}
}

// ofHours shows an age in hours, or in days from two.
func ofHours(h float64) string {
	if !(h < mostMinutes/60 && h > -mostMinutes/60) {
		return NotKnown
	}
	if h < 48 {
		return hours(h)
	}
	return Minutes(time.Duration(h * float64(time.Hour)).Truncate(time.Hour))
}

// ratioOf28 is a share of the 28-day strength, in whole per cent: a general curve is no better known than that.
func ratioOf28(share float64) string { return Decimal(100*share, 0) + "%" }

// Breaks are strength tests of specimens.
func (s *Sheet) Breaks(lines []daily.BreakLine) {
	t := Table{Columns: []Column{
		{Name: "mix", Least: 6},
		{Name: "batch", Drop: 3},
		{Name: "age", Right: true},
		{Name: "broken", Right: true, Drop: 2},
		{Name: "strength", Right: true},
		{Name: "mean of three", Right: true},
		{Name: "event", Drop: 1},
	}}
	for _, l := range lines {
		strength := NotKnown
		if l.StrengthPa != nil {
			strength = s.pressure(*l.StrengthPa)
		}
		t.Row(Say(l.Mix), Say(l.Batch), Figure(ofHours(l.AgeH)), Figure(Decimal(float64(l.Specimens), 0)),
			Figure(strength), Figure(Maybe(l.OfThreePa, s.pressure)), Say(l.Event))
	}
	s.Table(0, t)
	for _, l := range lines {
		if l.Wrong != "" {
			s.Para(0, 2, Join(": ", Say(l.Event), Say(l.Wrong)))
		}
	}
	s.Para(0, 2, Say("The mean of three is with the two tests of that mix and age before it."))
}
