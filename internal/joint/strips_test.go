package joint_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
	"hod/internal/view/daily"
)

// vaultOfTwo are two zones of 8 m by 6 m side by side, one coat of 10 mm, a mix that sets in 270 min at 23 °C.
func vaultOfTwo(d *foldtest.Desk) {
	var slow event.MixPlanned
	for _, b := range foldtest.SmallPlan() {
		if m, ok := b.(event.MixPlanned); ok && m.Mix == "face" {
			slow = m
		}
	}
	slow.Mix, slow.InitialSet, slow.Replaces = "slow", 270*time.Minute, nil
	d.By("f1", 0, slow)
	square := func(x float64) *event.Form {
		return &event.Form{
			Outline: []event.Corner{{X: x, Y: 0}, {X: x + 8, Y: 0}, {X: x + 8, Y: 6}, {X: x, Y: 6}},
			Sides:   []event.Side{{Name: "south"}, {Name: "east"}, {Name: "north"}, {Name: "west"}},
		}
	}
	for i, zone := range []event.Zone{"V1", "V2"} {
		d.By("f1", 0, event.ZonePlanned{Zone: zone, Area: unit.As[unit.Area]{SI: 48}, Form: square(8 * float64(i))})
		d.By("f1", 0, event.CoatPlanned{
			Coat:      event.Coat{Zone: zone, Face: event.Outer, Number: 1},
			Thickness: unit.As[unit.Length]{SI: 0.01}, Mix: "slow",
		})
	}
	d.By("f1", 0, event.EdgePlanned{
		A: "V1", B: "V2", Length: unit.As[unit.Length]{SI: 6},
		PartA: &event.EdgePart{Side: "east"}, PartB: &event.EdgePart{Side: "west"},
	})
}

// lay puts batch n into a zone from a minute on, 6 m2 of it at 10 mm by its gauge; water ten minutes before.
func lay(d *foldtest.Desk, n int, zone event.Zone, from int, start string, change ...func(*event.Placement)) {
	b := foldtest.Mixed(n, from-1)
	b.Mix, b.WaterAt = "slow", foldtest.Clock(from-10)
	d.By("n1", from-1, b)
	p := foldtest.Volume(foldtest.Put(n, zone, from, from+4), 60*1.08)
	p.Gauges = []unit.As[unit.Length]{{SI: 0.01}}
	p.Start = start
	for _, c := range change {
		c(&p)
	}
	d.By("n1", from+4, p)
}

func edgeOf(t *testing.T, s *fold.Site) fold.Contact {
	t.Helper()
	for _, k := range s.Contacts() {
		if k.Kind == fold.AlongEdge && (k.Coat.Zone == "V1" || k.Coat.Zone == "V2") {
			return k
		}
	}
	t.Fatal("the edge of V1 and V2 has not met")
	return fold.Contact{}
}

// V1 from the south in 200 min, V2 from the north after it: without knowing where batches lie the share is 13 to 143 %,
// none of 6 m surely cold. By hand: strips of 0.75 m; batch i of V1 has water at 25 (i−1) − 10, the one opposite of V2
// is placed at 375 − 25 (i−1), so 385, 335 and 285 min are beyond 270 and 235 is not: 2.25 m. With each batch 10 %
// thicker or thinner the third wait of V1 surely ends beyond 1.364 m, which is 2 strips of 6 m2 / 1.1 over 8 m.
func TestAnEdgeIsToldByTheMetreWhereTheSidesAreKnown(t *testing.T) {
	d := foldtest.NewDesk(t)
	vaultOfTwo(d)
	for i := range 8 {
		lay(d, i+1, "V1", 25*i, map[int]string{0: "south"}[i])
	}
	for i := range 8 {
		lay(d, i+9, "V2", 200+25*i, map[int]string{0: "north"}[i])
	}
	if open := edgeOf(t, d.Site()); open.Metres == nil || open.Metres.Surely != 0 || open.IsCold() {
		t.Errorf("while nobody says that V2 is finished, the far end may be bare: %+v", open.Metres)
	}
	d.By("f1", 390, event.CoatFinished{Coat: event.Coat{Zone: "V2", Face: event.Outer, Number: 1}})
	k := edgeOf(t, d.Site())
	if k.Metres == nil {
		t.Fatalf("no metres: %s", k.Untold)
	}
	for what, pair := range map[string][2]float64{
		"surely cold": {k.Metres.Surely, 12.0 / 1.1 / 8}, "cold": {
			k.Metres.Cold,
			2.25,
		}, "possibly cold": {k.Metres.Possibly, 3.2727},
		"open": {k.Metres.Open, 0}, "bare": {k.Metres.Bare, 0}, "closing": {
			k.Metres.Closing,
			0.75,
		}, "live": {k.Metres.Live, 3},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-3 {
			t.Errorf("%s: %v m, not %v", what, pair[0], pair[1])
		}
	}
	if !k.IsCold() {
		t.Error("not called cold, though 1.36 m surely are")
	}
	flags := daily.FlagsOf(d.Site(), foldtest.Clock(500), foldtest.Place, true)
	found := false
	for _, f := range flags.Flags {
		found = found || f.Code == fold.ColdJoint &&
			strings.Contains(f.Text, "1.36 m cold for certain, 2.25 m by where the batches lie, 3.27 m at worst")
	}
	if !found {
		t.Errorf("no flag says how many metres are cold: %+v", flags.Flags)
	}
}

// The same, but nobody said where a crew began, or a batch number is left out: then the range is that of the whole
// edge.
func TestWithoutASideToBeginFromOrWithABatchMissingTheRangeIsThatOfTheWholeEdge(t *testing.T) {
	for why, c := range map[string]struct {
		start string
		skip  int
	}{"at which side": {"", 0}, "is not in the log": {"south", 1}} {
		d := foldtest.NewDesk(t)
		vaultOfTwo(d)
		for i := range 4 {
			lay(d, 1+i+c.skip, "V1", 25*i, c.start)
		}
		for i := range 4 {
			lay(d, 5+i+c.skip, "V2", 100+25*i, "west")
		}
		k := edgeOf(t, d.Site())
		if k.Metres != nil || !strings.Contains(k.Untold, why) || k.Known {
			t.Errorf("%s: metres %+v, untold %q, known %v", why, k.Metres, k.Untold, k.Known)
		}
	}
}

// A cold joint is flagged for metres that are surely cold, never for those that only may be.
func TestNoFlagOfAColdJointRestsOnAGuess(t *testing.T) {
	d := foldtest.NewDesk(t)
	vaultOfTwo(d)
	for i := range 8 {
		lay(d, i+1, "V1", 25*i, map[int]string{0: "south"}[i])
	}
	// the same way: the wait is 200 + 10 min everywhere, and at worst 260 with the fronts a strip off
	for i := range 8 {
		lay(d, i+9, "V2", 200+30*i, map[int]string{0: "south"}[i])
	}
	k := edgeOf(t, d.Site())
	if k.Metres == nil || k.Metres.Surely != 0 || k.Metres.Possibly == 0 {
		t.Fatalf("metres %+v, untold %q", k.Metres, k.Untold)
	}
	for _, f := range daily.FlagsOf(d.Site(), foldtest.Clock(600), foldtest.Place, true).Flags {
		if f.Code == fold.ColdJoint {
			t.Errorf("flagged: %s", f.Text)
		}
	}
}

// The side follows from the edge that the first placement ran along, and from the only live neighbour.
func TestTheSideFollowsFromTheEdgeOrTheLiveNeighbour(t *testing.T) {
	for name, change := range map[string]func(*event.Placement){
		"along": func(p *event.Placement) { p.Along = []event.Zone{"V1"} },
		"live":  func(*event.Placement) {},
	} {
		d := foldtest.NewDesk(t)
		vaultOfTwo(d)
		lay(d, 1, "V1", 0, "east")
		lay(d, 2, "V2", 30, "", change)
		k := edgeOf(t, d.Site())
		if k.Metres == nil || math.Abs(k.Metres.Live-6) > 1e-9 {
			t.Errorf("%s: %+v, %q", name, k.Metres, k.Untold)
		}
	}
}

// Of a front whose neighbour is still to come, only what lies along the edge waits: here the last of three strips from
// the west, and one beside it since fronts are not straight.
func TestOnlyWhatLiesAlongAnOpenEdgeWaits(t *testing.T) {
	d := foldtest.NewDesk(t)
	vaultOfTwo(d)
	for i := range 8 {
		lay(d, i+1, "V1", 25*i, map[int]string{0: "west"}[i])
	}
	d.By("f1", 210, event.CoatFinished{Coat: event.Coat{Zone: "V1", Face: event.Outer, Number: 1}})
	for _, f := range d.Site().Fronts() {
		if f.Kind != fold.AlongEdge || f.Other != "V2" {
			continue
		}
		if f.First.Batch.ID.Number != 7 || f.Last.Batch.ID.Number != 8 || !f.Known || f.Metres == nil ||
			math.Abs(f.Metres.Open-6) > 1e-9 {
			t.Errorf("from batch %d to %d, %+v", f.First.Batch.ID.Number, f.Last.Batch.ID.Number, f.Metres)
		}
		return
	}
	t.Error("no front towards V2")
}
