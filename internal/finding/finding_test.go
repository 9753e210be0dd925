package finding_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/unit"
)

// say is a figure in one line; a number that is none is a dash.
func say(f finding.Figure) string {
	show := func(x *float64) string {
		if x == nil {
			return "-"
		}
		return fmt.Sprint(*x)
	}
	return show(f.Number) + " [" + show(f.Low) + " " + show(f.High) + "] " + f.Unit
}

func TestAFigureIsInSIUnitsAndAbsentLimitsAreAbsent(t *testing.T) {
	for name, k := range map[string]struct {
		got  finding.Figure
		want string
	}{
		"a mass":                {finding.FigureOf(unit.Mass(42)), "42 [- -] kg"},
		"a volume":              {finding.FigureOf(unit.Volume(0.066)), "0.066 [- -] m3"},
		"a temperature of zero": {finding.FigureOf(unit.Celsius(0)), "0 [- -] c"},
		"a speed":               {finding.FigureOf(unit.Speed(3)), "3 [- -] mps"},
		"a unit weight":         {finding.FigureOf(unit.Density(2100)), "2100 [- -] kg_m3"},
		"a rate of drying":      {finding.FigureOf(unit.Evaporation(0.5)), "0.5 [- -] kg_m2_h"},
		"a pressure":            {finding.FigureOf(unit.Pressure(3.5e6)), "3.5e+06 [- -] pa"},
		"a share":               {finding.FigureOf(unit.Share(0.05)), "0.05 [- -] share"},
		"a ratio of no unit":    {finding.FigureOf(0.42), "0.42 [- -] share"},
		"at most":               {finding.AtMost(unit.Length(0.03)), "- [- 0.03] m"},
		"at least":              {finding.AtLeast(unit.Area(2)), "- [2 -] m2"},
		"between":               {finding.Between(unit.Density(2050), unit.Density(2150)), "- [2050 2150] kg_m3"},
		"a number in its range": {finding.FigureOf(unit.Mass(40)).Within(41, 43), "40 [41 43] kg"},
		"a time, in minutes":    {finding.Minutes(90 * time.Second), "1.5 [- -] min"},
		"how many":              {finding.CountOf(3), "3 [- -] count"},
	} {
		if got := say(k.got); got != k.want {
			t.Errorf("%s: %s, not %s", name, got, k.want)
		}
	}
}

func TestTheRangeOfAFigureLeavesTheFigureItIsOfAsItWas(t *testing.T) {
	f := finding.FigureOf(unit.Mass(40))
	f.Within(41, 43)
	if got := say(f); got != "40 [- -] kg" {
		t.Errorf("the figure is %s by now", got)
	}
}

// What a finding says may change with what is known; what it is about does not, and answers name that.
func TestTheIDOfAFindingIsOfItsCodeAndKeyAlone(t *testing.T) {
	f := finding.Finding{Code: finding.Thin, Key: "A1 outer 1"}
	same := f
	same.Text, same.Grave, same.Amount = "gauged anew", true, 3
	if f.ID() != same.ID() || len(f.ID()) != finding.IDLetters {
		t.Errorf("%s and %s", f.ID(), same.ID())
	}
	for name, other := range map[string]finding.Finding{
		"another code": {Code: finding.Overfull, Key: f.Key},
		"another key":  {Code: f.Code, Key: "A1 outer 2"},
		// the border between the two is part of it
		"the same letters, parted elsewhere": {Code: f.Code + "A", Key: "1 outer 1"},
	} {
		if other.ID() == f.ID() {
			t.Errorf("%s has the id %s, too", name, f.ID())
		}
	}
}

func TestAFlagKeepsItsIDWhenAnotherLineJoins(t *testing.T) {
	one := finding.Finding{Code: finding.Drying, Key: "A1", Grouping: finding.Grouping{Group: "2031-05-12"}}
	two := finding.Finding{Code: finding.Drying, Key: "A2", Grouping: finding.Grouping{Group: "2031-05-12"}}
	next := finding.Finding{Code: finding.Drying, Key: "A1", Grouping: finding.Grouping{Group: "2031-05-13"}}
	if one.GroupID() != two.GroupID() || one.GroupID() == next.GroupID() || one.GroupID() == one.ID() {
		t.Errorf("%s, %s, of the next day %s", one.GroupID(), two.GroupID(), next.GroupID())
	}
	if alone := (finding.Finding{Code: finding.Thin, Key: "A1"}); alone.GroupID() != "" {
		t.Errorf("what stands alone is of group %s", alone.GroupID())
	}
}

func TestOldIDsAreEachNameOnceByWhichAnswersOnDiskMayCallIt(t *testing.T) {
	f := finding.Finding{Code: finding.Weighing, Key: "7", Formerly: []finding.Former{
		{Code: "ticket", Key: "7"}, {Code: finding.Weighing, Key: "7"},
	}}
	want := []string{
		finding.Hashed(finding.OldIDLetters, finding.Weighing, "7"), finding.Hashed(finding.OldIDLetters, "ticket",
			"7"),
	}
	if got := f.OldIDs(); !slices.Equal(got, want) {
		t.Errorf("%v, not %v", got, want)
	}
}

func TestAFindingConcernsTheEventsThatBroughtItAboutAndNoOther(t *testing.T) {
	a, b := event.Name{Device: "n1", Seq: 3}, event.Name{Device: "n1", Seq: 4}
	f := finding.Finding{Events: []event.Name{a, b}, Reason: finding.Reason{Asks: []event.Name{a}}}
	if !f.Concerns(a) || f.Concerns(b) {
		t.Errorf("concerns %s: %v, %s: %v", a, f.Concerns(a), b, f.Concerns(b))
	}
}
