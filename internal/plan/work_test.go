package plan

import (
	"fmt"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/unit"
)

func withSite(words string) string { return strings.Replace(small, "name: s", "name: s, "+words, 1) }

func TestWorkingDaysAreReadByWeekdayAndDate(t *testing.T) {
	say := func(b event.SitePlanned) string {
		var all []string
		for _, w := range b.Week {
			var days []string
			for _, d := range w.Days {
				days = append(days, d.String()[:2])
			}
			all = append(all, strings.Join(days, "")+" "+w.From.String()+" "+w.To.String())
		}
		for _, x := range b.Except {
			all = append(all, fmt.Sprintf("%s %s %s", x.Date, x.From, x.To))
		}
		return strings.Join(all, "; ")
	}
	for text, want := range map[string]string{
		"work: 07:00-17:00":                                          "",
		"work: Mon-Sat 07:00-17:00":                                  "MoTuWeThFrSa 7h0m0s 17h0m0s",
		"work: Monday to Friday 07:00 to 17:00":                      "MoTuWeThFr 7h0m0s 17h0m0s",
		"work: 'Mon, Wed, Fri 07:00–17:00'":                          "MoWeFr 7h0m0s 17h0m0s",
		"work: Sat-Mon 08:00-12:00":                                  "SaSuMo 8h0m0s 12h0m0s",
		"work: [Mon-Fri 07:00-17:00, Sat 07:00-12:00]":               "MoTuWeThFr 7h0m0s 17h0m0s; Sa 7h0m0s 12h0m0s",
		"work: Mon-Fri 07:00-17:00, except: [2026-12-25]":            "MoTuWeThFr 7h0m0s 17h0m0s; 2026-12-25 0s 0s",
		"except: [2026-12-24 07:00-12:00, 2026-12-30 to 2027-01-01]": "2026-12-24 7h0m0s 12h0m0s; 2026-12-30 0s 0s; 2026-12-31 0s 0s; 2027-01-01 0s 0s",
		"except: [2026-12-30 to 2026-12-31 08:00-10:00]":             "2026-12-30 8h0m0s 10h0m0s; 2026-12-31 8h0m0s 10h0m0s",
	} {
		p, err := Read("p.yaml", []byte(withSite(text)), nil)
		if err != nil {
			t.Errorf("%s is refused: %v", text, err)
			continue
		}
		if got := say(p.Site); got != want {
			t.Errorf("%s: %q, not %q", text, got, want)
		}
		if strings.HasPrefix(text, "work: ") && p.Site.WorkTo == 0 {
			t.Errorf("%s: no hours are left for a version that knows no weekdays", text)
		}
	}
}

func TestMistakesInWorkingDaysCrewsAndMaterials(t *testing.T) {
	crews := func(words string) string { return "crews: [" + words + "]\n" + small }
	for text, want := range map[string]string{
		withSite("work: Mon-Smt 07:00-17:00"): "begins with what is no day of the week",
		withSite(
			"work: Mon-Sat"): "is not the hours of a day; it looks like 07:00-17:00, or Mon-Sat 07:00-17:00",
		withSite("work: Mon-Sat 17:00-07:00"):                          "ends before it begins",
		withSite("work: [Mon-Fri 07:00-17:00, Fri 08:00-12:00]"):       "Friday has its hours in an earlier line",
		withSite("work: [07:00-17:00, Sat 08:00-12:00]"):               "names no days",
		withSite("except: [Christmas]"):                                "is no date",
		withSite("except: [2026-13-01]"):                               "is no date",
		withSite("except: [2026-12-31 to 2026-12-30]"):                 "is no date, or no run of dates",
		withSite("except: [2026-01-01 to 2028-01-01]"):                 "no run of dates",
		withSite("except: [2026-12-25, 2026-12-25]"):                   "2026-12-25 is there already",
		crews("{name: north, zones: [A1, B7]}"):                        "crew north: zone B7 is not planned",
		crews("{name: north, zones: [A1, A1]}"):                        "zone A1 is named twice",
		crews("{name: north, zones: all}"):                             "neither a list of zones",
		crews("{name: north, zones: []}, {name: south, zones: [A1]}"):  "",
		crews("{name: north, zones: any}, {name: south, zones: [A1]}"): "",
		strings.Replace(crews("{name: north, zones: [A1]}"), "zones:\n",
			"zones:\n  - {name: A2, area: 5m2, like: A1}\n", 1): "zone A2 is no crew's",
		"materials: [{name: sand}]\n" + small:                                "material sand: nothing is said of it",
		"materials: [{name: sand, bulk: 1500kg}]\n" + small:                  "material sand: bulk",
		"materials: [{name: sand, bag: 9000kg}]\n" + small:                   "the mass of a bag",
		"materials: [{name: sand, bag: 25kg, bulk: 93lb/ft3}]\n" + small:     "",
		strings.Replace(small, "amount: 40kg", "amount: 40kg, bag: 94lb", 1): "",
		strings.Replace(small, "amount: 16kg", "amount: 16kg, bag: 94lb", 1): "bag",
	} {
		_, err := Read("p.yaml", []byte(text), nil)
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s\ngives %v\nnot a mistake with %q", text, err, want)
		}
	}
}

func TestCrewsAndMaterialsAreRead(t *testing.T) {
	text := "crews: [{name: north, zones: [A1]}, {name: south, zones: any}]\nmaterials: [{name: cement, bag: 94lb}]\n" +
		small
	p, err := Read("p.yaml", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := p.Crews[0], p.Crews[1]; len(a.Zones) != 1 || a.Zones[0] != "A1" || a.FromList || len(b.Zones) != 0 ||
		!b.FromList {
		t.Errorf("crews %+v", p.Crews)
	}
	if m := p.Materials[0]; m.Material != "cement" || m.Bag.SI != 94*unit.Pound || m.Bulk != nil {
		t.Errorf("materials %+v", p.Materials)
	}
}
