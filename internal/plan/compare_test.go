package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/event/eventtest"
	"hod/internal/unit"
)

// hold is the bodies as they would hold once written by one device, one after the other.
func hold(t testing.TB, from uint64, bodies []event.Body) []Holding {
	t.Helper()
	var all []Holding
	for i, b := range bodies {
		e, err := written(b)
		if err != nil {
			t.Fatal(err)
		}
		e.Name = event.Name{Device: "f1", Seq: from + uint64(i)}
		e, err = event.Write(e)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, Holding{e.Hash(), e.Body})
	}
	return all
}

func TestCompare(t *testing.T) {
	p := read(t, "vault.yaml")
	held := hold(t, 1, p.Events())
	if c := Compare(held, p.Events()); len(c.Write) != 0 || len(c.Gone) != 0 || c.Same != len(held) {
		t.Errorf("the same plan again: %d to write, %d gone, %d same of %d", len(c.Write), len(c.Gone), c.Same,
			len(held))
	}

	changed := p
	changed.Coats = slices.Clone(p.Coats)
	changed.Coats[4].Thickness = unit.As[unit.Length]{SI: 0.009, Entered: "9mm"}
	changed.Edges = slices.Clone(p.Edges[1:])
	turned := &changed.Edges[0]
	turned.A, turned.B, turned.PartA, turned.PartB = turned.B, turned.A, turned.PartB, turned.PartA
	changed.Zones = append(slices.Clone(p.Zones), event.ZonePlanned{Zone: "D1", Area: unit.As[unit.Area]{SI: 3}})
	c := Compare(held, changed.Events())
	var whats []string
	for _, w := range c.Write {
		whats = append(whats, fmt.Sprintf("%s over %d", w.What, len(event.Replaces(w.Body))))
	}
	if got := strings.Join(whats, "; "); got != "zone D1 over 0; coat C1 outer 2 over 1" {
		t.Errorf("to write: %s", got)
	}
	old := slices.IndexFunc(held, func(h Holding) bool { return What(h.Body) == "coat C1 outer 2" })
	if got := event.Replaces(c.Write[1].Body)[0]; got != held[old].Hash {
		t.Errorf("the coat replaces %s, want %s", got, held[old].Hash)
	}
	if len(c.Gone) != 1 || What(c.Gone[0].Body) != "edge A1 to B1" {
		t.Errorf("gone: %+v", c.Gone)
	}
}

func TestCompareConflict(t *testing.T) {
	p := read(t, "vault.yaml")
	one := event.ZonePlanned{Zone: "A1", Area: unit.As[unit.Area]{SI: 11}}
	held := append(hold(t, 1, p.Events()), hold(t, 100, []event.Body{one})...)
	c := Compare(held, p.Events())
	if len(c.Write) != 1 || c.Write[0].What != "zone A1" || len(event.Replaces(c.Write[0].Body)) != 2 {
		t.Errorf("a conflict over A1 is not put an end to: %+v", c.Write)
	}
}

func TestCompareMixUnderItsOldRevision(t *testing.T) {
	p := read(t, "vault.yaml")
	held := hold(t, 1, p.Events())
	p.Mixes = slices.Clone(p.Mixes)
	p.Mixes[0].Constituents = slices.Clone(p.Mixes[0].Constituents)
	p.Mixes[0].Constituents[4].Amount.Volume += 0.001
	if c := Compare(held, p.Events()); len(c.Doubt) != 1 || !strings.Contains(c.Doubt[0], "make it revision 2") {
		t.Errorf("doubts: %q", c.Doubt)
	}
	p.Mixes[0].Revision = 2
	if c := Compare(held, p.Events()); len(c.Doubt) != 0 {
		t.Errorf("doubts about a new revision: %q", c.Doubt)
	}
}

// Whatever holds, once what Compare gives is written the wanted plan holds: nothing is left to write, and nothing is
// replaced that is about something else.
func TestCompareReachesWhatIsWanted(t *testing.T) {
	plans := eventtest.Kinds()[:0]
	for _, k := range eventtest.Kinds() {
		switch k.Name {
		case "site", "zone", "edge", "coat", "mix", "crew":
			plans = append(plans, k)
		}
	}
	draw := func(t *rapid.T, label string) []event.Body {
		return slices.Collect(func(yield func(event.Body) bool) {
			for range rapid.IntRange(0, 12).Draw(t, label) {
				if !yield(event.WithReplaces(plans[rapid.IntRange(0, len(plans)-1).Draw(t, "kind")].Draw(t), nil)) {
					return
				}
			}
		})
	}
	rapid.Check(t, func(rt *rapid.T) {
		held := hold(t, 1, draw(rt, "held"))
		var wanted []event.Body
		seen := map[string]bool{}
		for _, b := range draw(rt, "wanted") {
			if !seen[What(b)] {
				seen[What(b)] = true
				wanted = append(wanted, b)
			}
		}
		for _, h := range held { // some of it as it is
			if !seen[What(h.Body)] && rapid.Bool().Draw(rt, "keep") {
				seen[What(h.Body)] = true
				wanted = append(wanted, h.Body)
			}
		}
		c := Compare(held, wanted)
		var bodies []event.Body
		gone := map[event.Hash]bool{}
		for _, w := range c.Write {
			bodies = append(bodies, w.Body)
			for _, h := range event.Replaces(w.Body) {
				gone[h] = true
			}
		}
		after := slices.DeleteFunc(slices.Clone(held), func(h Holding) bool {
			if gone[h.Hash] && !seen[What(h.Body)] {
				rt.Fatalf("%s is replaced and was not meant", What(h.Body))
			}
			return gone[h.Hash]
		})
		after = append(after, hold(t, 1000, bodies)...)
		if again := Compare(after, wanted); len(again.Write) != 0 || again.Same != len(wanted) {
			rt.Fatalf("%d still to write, %d of %d the same", len(again.Write), again.Same, len(wanted))
		}
	})
}

func TestARevisionCorrectsAnEarlierOne(t *testing.T) {
	const mix = "{name: body, revision: %s, corrects: %s, constituents: [{name: cement, kind: cement, amount: 40kg, gravity: 3.15}, {name: water, kind: water, amount: 16kg}]}"
	for _, k := range []struct{ revision, corrects, wrong string }{
		{"3", "2", ""},
		{"3", "1", ""},
		{"2", "2", "it names the earlier revision in which there was a mistake"},
		{"1", "2", "it names the earlier revision in which there was a mistake"},
	} {
		m, err := Mix("mix.yaml", fmt.Appendf(nil, mix, k.revision, k.corrects))
		switch {
		case k.wrong == "" && (err != nil || fmt.Sprint(m.Corrects) != k.corrects):
			t.Errorf("revision %s that corrects %s: it corrects %d; %v", k.revision, k.corrects, m.Corrects, err)
		case k.wrong != "" && (err == nil || !strings.Contains(err.Error(), k.wrong)):
			t.Errorf("revision %s that corrects %s: %v", k.revision, k.corrects, err)
		}
	}
}
