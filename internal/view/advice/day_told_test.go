package advice

import (
	"encoding/json"
	"regexp"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// A number may come to stand for another plan; a key does not.
func TestThePlansKeySaysAllThatItsOrderSays(t *testing.T) {
	day := time.Date(2026, 7, 19, 7, 0, 0, 0, time.UTC)
	plan := func() DayPlan {
		return DayPlan{
			Number: 1, Start: day, Crews: []string{"north"}, Batches: 4, Trials: 100, Cold: 3, Done: 97,
			OnPurposeM: 2.4,
			Bays:       []DayBay{{Zones: []string{"A1"}, Batches: 4, Begins: day, BeginBy: day.Add(time.Hour)}},
			Takes:      []NextTake{{Crew: "north", Zone: "A1", Coat: 1, From: day, To: day.Add(20 * time.Minute)}},
		}
	}
	key := keyOf(day, plan())
	if !regexp.MustCompile(`^[a-z]{4}$`).MatchString(key) {
		t.Errorf("key %q is not four letters", key)
	}
	second := plan()
	second.Number, second.Needs = 2, []DayNeed{{Material: "sand", Kg: 10}}
	if got := keyOf(day, second); got != key {
		t.Errorf("under another number, with other needs, it is %q, not %q", got, key)
	}
	for what, change := range map[string]func(p *DayPlan){
		"start":     func(p *DayPlan) { p.Start = day.Add(time.Hour) },
		"crews":     func(p *DayPlan) { p.Crews = []string{"south"} },
		"mixes":     func(p *DayPlan) { p.Mixes = []string{"face=face-slow"} },
		"zones":     func(p *DayPlan) { p.Bays[0].Zones = []string{"A2"} },
		"begin by":  func(p *DayPlan) { p.Bays[0].BeginBy = day.Add(2 * time.Hour) },
		"batches":   func(p *DayPlan) { p.Batches = 5 },
		"cold":      func(p *DayPlan) { p.Cold = 4 },
		"done":      func(p *DayPlan) { p.Done = 96 },
		"purpose":   func(p *DayPlan) { p.OnPurposeM = 2.6 },
		"the order": func(p *DayPlan) { p.Takes[0].To = day.Add(25 * time.Minute) },
	} {
		p := plan()
		if change(&p); keyOf(day, p) == key {
			t.Errorf("with another %s it has the same key", what)
		}
	}
	if keyOf(day.AddDate(0, 0, 1), plan()) == key {
		t.Error("on another day it has the same key")
	}
}

// An order says of a bay which zones it has and when it is begun at the latest: what it does not say is absent.
func TestABayOfAnOrderSaysNothingOfBatchesAndBeginningsThatTheOrderDoesNotSay(t *testing.T) {
	o := orderOf(&fold.Ordered{
		DayOrdered: event.DayOrdered{Batches: 3, Bays: []event.DayBay{{Zones: []event.Zone{"A1"}}}},
		Record:     &fold.Record{},
	})
	got, err := json.Marshal(o.Bays)
	if want := `[{"zones":["A1"]}]`; err != nil || string(got) != want || o.Batches != 3 {
		t.Errorf("%s, %v, of %d batches", got, err, o.Batches)
	}
}
