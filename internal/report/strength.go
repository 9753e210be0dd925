package report

import (
	"time"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// strengthCaution stands wherever an age or a strength is shown.
const strengthCaution = "An age from temperatures never permits stripping supports or loading the shell: that is for the responsible licensed engineer and the local code."

func (s *Sheet) strengths(lines []view.Strength) {
	if len(lines) == 0 {
		s.Para(0, 2, Say("No cure readings."))
		return
	}
	s.ages(lines)
	s.Para(0, 2, Say(strengthCaution))
}

// ages are the coats with what their temperatures say of them, without the caution that belongs to it.
func (s *Sheet) ages(lines []view.Strength) {
	t := table{columns: []Column{
		{Name: "coat", least: 10},
		{Name: "probe", drop: 5},
		{Name: "age at reference", Right: true},
		{Name: "maturity", Right: true, drop: 1},
		{Name: "lowest", Right: true, drop: 2},
		{Name: "moist cure", Right: true, drop: 4},
		{Name: "readings", Right: true, drop: 3},
	}}
	for _, l := range lines {
		t.row(Say(CoatName(l.Zone, l.Face, l.Coat)), Say(l.Probe), Figure(ofHours(l.EquivalentAgeH)),
			Figure(Decimal(l.MaturityCH, 0)+" °C·h"),
			Figure(s.Temperature(l.LowestC)), Figure(Decimal(l.MoistH, 0)+" of "+Decimal(l.MoistAskedH, 0)+" h"),
			Figure(Decimal(float64(l.Readings), 0)))
	}
	s.table(0, t)
	for _, l := range lines {
		if l.StrengthPa != nil {
			s.Para(0, 2, Join(": ", Say(CoatName(l.Zone, l.Face, l.Coat)),
				Sayf("%s by the mix's own breaks, %s %s with 95 %% confidence",
					s.pressure(*l.StrengthPa), maybe(l.LowPa, s.pressure), named("to", l.HighPa, s.pressure))))
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

// breaks are strength tests of specimens.
func (s *Sheet) breaks(lines []daily.BreakLine) {
	t := table{columns: []Column{
		{Name: "mix", least: 6},
		{Name: "batch", drop: 3},
		{Name: "age", Right: true},
		{Name: "broken", Right: true, drop: 2},
		{Name: "strength", Right: true},
		{Name: "mean of three", Right: true},
		{Name: "event", drop: 1},
	}}
	for _, l := range lines {
		strength := NotKnown
		if l.StrengthPa != nil {
			strength = s.pressure(*l.StrengthPa)
		}
		t.row(Say(l.Mix), Say(l.Batch), Figure(ofHours(l.AgeH)), Figure(Decimal(float64(l.Specimens), 0)),
			Figure(strength), Figure(maybe(l.OfThreePa, s.pressure)), Say(l.Event))
	}
	s.table(0, t)
	for _, l := range lines {
		if l.Wrong != "" {
			s.Para(0, 2, Join(": ", Say(l.Event), Say(l.Wrong)))
		}
	}
	s.Para(0, 2, Say("The mean of three is with the two tests of that mix and age before it."))
}
