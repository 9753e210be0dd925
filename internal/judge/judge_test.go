package judge_test

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

func findingsOf(s *fold.Site, code string) []finding.Finding {
	var all []finding.Finding
	for _, f := range s.Findings() {
		if f.Code == code {
			all = append(all, f)
		}
	}
	return all
}

// Mortar of a section under 12 in is placed at 55 °F (13 °C) or warmer where the air is below 40 °F (4 °C): ACI
// 306R-10, table 3.1, from memory. 4.2 °C are 39.6 °F: cold weather on a US site alone.
func TestMortarPlacedTooColdIsFoundOnceADayInColdWeatherOnly(t *testing.T) {
	for name, k := range map[string]struct {
		us     bool
		air    *unit.Celsius
		mortar *unit.As[unit.Celsius]
		want   string
	}{
		"cold mortar in cold air": {
			false, new(unit.Celsius(2)), foldtest.Ref(unit.Celsius(9)),
			"while the air was 2 °C",
		},
		"warm mortar in cold air":       {false, new(unit.Celsius(2)), foldtest.Ref(unit.Celsius(20)), ""},
		"cold mortar in mild air":       {false, new(unit.Celsius(9)), foldtest.Ref(unit.Celsius(9)), ""},
		"cold mortar, the air not read": {false, nil, foldtest.Ref(unit.Celsius(9)), ""},
		"mortar that nobody measured":   {false, new(unit.Celsius(2)), nil, ""},
		"air at 4.2 °C":                 {false, new(unit.Celsius(4.2)), foldtest.Ref(unit.Celsius(9)), ""},
		"air at 4.2 °C on a site in pounds": {
			true, new(unit.Celsius(4.2)), foldtest.Ref(unit.Celsius(9)),
			"while the air was 39.6 °F",
		},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			if k.us {
				site := d.Planned(func(b event.Body) bool { _, is := b.(event.SitePlanned); return is })
				b := site.Body.(event.SitePlanned)
				b.Units, b.Replaces = event.US, []event.Hash{site.Hash()}
				d.By("f1", 0, b)
			}
			if k.air != nil {
				b := event.WeatherObserved{Station: "crew"}
				for _, minute := range []int{0, 120} {
					b.Samples = append(b.Samples, event.Weather{At: foldtest.Clock(minute), Air: k.air})
				}
				d.By("n1", 0, b)
			}
			for i := range 2 { // two batches of one day: the first is told
				b := foldtest.Mixed(i+1, 20*i+5)
				b.Temperature = k.mortar
				d.By("n1", 20*i+5, b)
				d.By("n1", 20*i+12, foldtest.Share(foldtest.Put(i+1, "A1", 20*i+6, 20*i+12), 0.5))
			}
			all := findingsOf(d.Site(), finding.ColdMix)
			if len(all) > 1 || (len(all) == 1) != (k.want != "") {
				t.Fatalf("%d findings: %+v", len(all), all)
			}
			if len(all) == 1 && (!strings.HasSuffix(all[0].Text, k.want) || !all[0].Since.Equal(foldtest.Clock(6)) ||
				!strings.Contains(all[0].Source, "306R")) {
				t.Errorf("found %q since %s by %q; want %q", all[0].Text, all[0].Since, all[0].Source, k.want)
			}
		})
	}
}

// Nine tenths of the design thickness, on the mean of all gauges: common practice, no source. Of 12 mm that is 10.8 mm.
func TestACoatIsThinByTheMeanOfItsGauges(t *testing.T) {
	for name, k := range map[string]struct {
		gauges [][]unit.Length // of each placement
		want   string
	}{
		"not gauged":                {[][]unit.Length{nil, nil}, ""},
		"at nine tenths":            {[][]unit.Length{{0.0108, 0.0108}}, ""},
		"under it":                  {[][]unit.Length{{0.0107, 0.0106}}, "on the mean of 2"},
		"a thin place, thick round": {[][]unit.Length{{0.008, 0.014, 0.013}}, ""},
		"thin over two placements":  {[][]unit.Length{{0.011}, {0.0105}}, "on the mean of 2"},
		"bare mesh":                 {[][]unit.Length{{0, 0.0215}}, "on the mean of 2"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			var gauged []event.Name
			for i, gauges := range k.gauges {
				d.By("n1", 20*i, foldtest.Mixed(i+1, 20*i))
				p := foldtest.Put(i+1, "A1", 20*i+5, 20*i+10)
				for _, g := range gauges {
					p.Gauges = append(p.Gauges, foldtest.As(g))
				}
				gauged = append(gauged, d.By("n1", 20*i+10, p).Name)
			}
			all := findingsOf(d.Site(), finding.Thin)
			if len(all) > 1 || (len(all) == 1) != (k.want != "") {
				t.Fatalf("%d findings: %+v", len(all), all)
			}
			if len(all) == 1 && (!strings.Contains(all[0].Text, k.want) || len(all[0].Events) != len(gauged)) {
				t.Errorf("found %q of %v; want %q of %v", all[0].Text, all[0].Events, k.want, gauged)
			}
		})
	}
}

// The next layer goes on while the one below is fresh, or after it has set, clean and damp: ACI 506R, from memory. The
// mix sets in 150 min.
func TestACoatOverOneThatHasSetIsFoundUntilTheJointBelowWasTreated(t *testing.T) {
	below := event.Coat{Zone: "A1", Face: event.Outer, Number: 1}
	for name, k := range map[string]struct {
		over    int // when the second coat was begun
		treated int // when the first was treated; 0: never
		found   bool
		settled bool
	}{
		"while it was fresh":              {60, 0, false, false},
		"after it had set":                {400, 0, true, false},
		"after it was treated":            {400, 380, true, true},
		"treated by a word of afterwards": {400, 420, true, true},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
			d.By("n1", k.over-5, foldtest.Mixed(2, k.over-5))
			second := foldtest.Put(2, "A1", k.over, k.over+5)
			second.Coat.Number = 2
			e := d.By("n1", k.over+5, second)
			if k.treated > 0 {
				d.By("n1", k.treated, event.JointTreated{Coat: below, Method: "brushed and damp"})
			}
			all := findingsOf(d.Site(), finding.UntreatedCoat)
			if (len(all) == 1) != k.found || len(all) > 1 {
				t.Fatalf("%d findings: %+v", len(all), all)
			}
			if k.found && ((all[0].Settled != "") != k.settled || all[0].Grave ||
				!strings.Contains(all[0].Text, "A1 outer 2 was placed on ") || all[0].Events[2] != e.Name) {
				t.Errorf("found %q of %v, settled by %q", all[0].Text, all[0].Events, all[0].Settled)
			}
			if cold := findingsOf(d.Site(), finding.ColdJoint); len(cold) != 0 {
				t.Errorf("the joint of two layers is told as a cold joint of one, too: %+v", cold)
			}
		})
	}
}

// 24 h at 20 °C for 3.5 MPa (500 psi): PCA, Design and Control of Concrete Mixtures, chapter 14, after Powers. One
// reading says nothing of what the coat went through; it is taken by the clock.
func TestASingleReadingOfFrostIsJudgedByTheClock(t *testing.T) {
	for name, k := range map[string]struct {
		hour int
		temp unit.Celsius
		want int
	}{
		"freezing after 23 h": {23, -1, 1},
		"at nought":           {23, 0, 1},
		"just above":          {23, 0.5, 0},
		"freezing after 25 h": {25, -1, 0},
	} {
		d := foldtest.NewDesk(t)
		d.By("n1", 0, foldtest.Mixed(1, 0))
		d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
		d.By("p1", 60*k.hour, event.CureReadings{
			Probe: "p7", Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
			Samples: []event.Reading{{
				At:          foldtest.Clock(5).Add(time.Duration(k.hour) * time.Hour),
				Temperature: k.temp,
			}},
		})
		if got := findingsOf(d.Site(), finding.Frost); len(got) != k.want {
			t.Errorf("%s: %d findings, not %d", name, len(got), k.want)
		}
	}
}
