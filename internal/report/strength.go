package report

import (
	"time"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// strengthCaution stands wherever an age or a strength is shown.
const strengthCaution = "An age from temperatures never permits stripping supports or loading the shell: that is for the responsible licensed engineer and the local code."

func (s *sheet) strengths(lines []view.Strength) {
	if len(lines) == 0 {
		s.para(0, 2, say("No cure readings."))
		return
	}
	s.ages(lines)
	s.para(0, 2, say(strengthCaution))
}

// ages are the coats with what their temperatures say of them, without the caution that belongs to it.
func (s *sheet) ages(lines []view.Strength) {
	t := table{columns: []column{
		{name: "coat", least: 10},
		{name: "probe", drop: 5},
		{name: "age at reference", right: true},
		{name: "maturity", right: true, drop: 1},
		{name: "lowest", right: true, drop: 2},
		{name: "moist cure", right: true, drop: 4},
		{name: "readings", right: true, drop: 3},
	}}
	for _, l := range lines {
		t.row(say(coatName(l.Zone, l.Face, l.Coat)), say(l.Probe), figure(ofHours(l.EquivalentAgeH)),
			figure(decimal(l.MaturityCH, 0)+" °C·h"),
			figure(s.temperature(l.LowestC)), figure(decimal(l.MoistH, 0)+" of "+decimal(l.MoistAskedH, 0)+" h"),
			figure(decimal(float64(l.Readings), 0)))
	}
	s.table(0, t)
	for _, l := range lines {
		if l.StrengthPa != nil {
			s.para(0, 2, join(": ", say(coatName(l.Zone, l.Face, l.Coat)),
				sayf("%s by the mix's own breaks, %s %s with 95 %% confidence",
					s.pressure(*l.StrengthPa), maybe(l.LowPa, s.pressure), named("to", l.HighPa, s.pressure))))
		}
		for _, b := range l.Borrowed {
			is := ratioOf28(b.Share28) + " of the 28-day strength"
			if b.StrengthPa != nil {
				is += ", about " + s.pressure(*b.StrengthPa) + " as scaled to " + count(b.Breaks, "break", "breaks") +
					" of the mix"
			}
			s.para(0, 2, join(": ", say(coatName(l.Zone, l.Face, l.Coat)),
				sayf("NOT BY THIS MIX'S OWN CURVE: %s, by %s", is, b.Curve)))
		}
		if l.Note != "" {
			s.para(0, 2, join(": ", say(coatName(l.Zone, l.Face, l.Coat)), say(l.Note)))
		}
	}
}

// ofHours shows an age in hours, or in days from two.
func ofHours(h float64) string {
	if !(h < mostMinutes/60 && h > -mostMinutes/60) {
		return notKnown
	}
	if h < 48 {
		return hours(h)
	}
	return minutes(time.Duration(h * float64(time.Hour)).Truncate(time.Hour))
}

// ratioOf28 is a share of the 28-day strength, in whole per cent: a general curve is no better known than that.
func ratioOf28(share float64) string { return decimal(100*share, 0) + "%" }

// breaks are strength tests of specimens.
func (s *sheet) breaks(lines []daily.BreakLine) {
	t := table{columns: []column{
		{name: "mix", least: 6},
		{name: "batch", drop: 3},
		{name: "age", right: true},
		{name: "broken", right: true, drop: 2},
		{name: "strength", right: true},
		{name: "mean of three", right: true},
		{name: "event", drop: 1},
	}}
	for _, l := range lines {
		strength := notKnown
		if l.StrengthPa != nil {
			strength = s.pressure(*l.StrengthPa)
		}
		t.row(say(l.Mix), say(l.Batch), figure(ofHours(l.AgeH)), figure(decimal(float64(l.Specimens), 0)),
			figure(strength), figure(maybe(l.OfThreePa, s.pressure)), say(l.Event))
	}
	s.table(0, t)
	for _, l := range lines {
		if l.Wrong != "" {
			s.para(0, 2, join(": ", say(l.Event), say(l.Wrong)))
		}
	}
	s.para(0, 2, say("The mean of three is with the two tests of that mix and age before it."))
}
