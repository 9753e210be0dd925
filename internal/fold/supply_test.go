package fold_test

import (
	"math"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

// Every zone's first coat takes sand, its second, of another mix, none. 340 kg of sand are there, four batches' worth
// at 85 kg.
func twoMixes(t *testing.T) *foldtest.Desk {
	d := foldtest.NewDesk(t)
	d.By("f1", 0, event.MixPlanned{
		Mix: "skim", Revision: 1, Constituents: []event.Constituent{
			{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 40}, Gravity: 3.15},
			{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}, Gravity: 1},
		},
	})
	d.By("f1", 0, event.MixPlanned{
		Mix: "spare", Revision: 1, Constituents: []event.Constituent{
			{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 40}, Gravity: 3.15},
			{Name: "pumice", Kind: event.Sand, Amount: event.Amount{Mass: 30}, Gravity: 1.1},
			{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}, Gravity: 1},
		},
	})
	for _, z := range []event.Zone{"A1", "A2", "A3", "A4"} {
		id := event.Coat{Zone: z, Face: event.Outer, Number: 2}
		var was event.Event
		for _, e := range d.Events {
			if c, ok := e.Body.(event.CoatPlanned); ok && c.Coat == id {
				was = e
			}
		}
		d.By("f1", 0, event.CoatPlanned{
			Coat: id, Thickness: foldtest.As(unit.Length(0.012)), Mix: "skim",
			Replaces: []event.Hash{was.Hash()},
		})
	}
	d.By("n1", 0, received("sand", 340+85, "", ""))
	d.By("n1", 0, received("cement", 2000, "80x25kg", ""))
	for n := 1; n <= 4; n++ {
		b := foldtest.Mixed(n, 20*n)
		if n == 1 {
			d.By("n1", 20, b)
			d.By("n1", 30, foldtest.Put(1, "A1", 25, 30))
		}
	}
	return d
}

func materialOf(t *testing.T, of []ahead.MaterialNeed, name string) ahead.MaterialNeed {
	t.Helper()
	for _, m := range of {
		if m.Material == name {
			return m
		}
	}
	t.Fatalf("no %s among %+v", name, of)
	return ahead.MaterialNeed{}
}

// A mean batch of both mixes takes some 40 kg of sand, and 340 kg would be said to last 8 of them: the coats that come
// take 85 kg each, so it lasts 4.
func TestSandLastsForTheBatchesThatTakeIt(t *testing.T) {
	s := twoMixes(t).Site()
	v := ahead.ForecastOf(s, foldtest.Clock(60), foldtest.Place)
	sand := materialOf(t, v.Materials, "sand")
	if sand.PerBatchKg != 85 || sand.LastsBatches == nil || *sand.LastsBatches != 4 {
		t.Errorf("a batch takes %v kg and it lasts %v", sand.PerBatchKg, sand.LastsBatches)
	}
	if sand.ShortKg == nil || *sand.ShortKg <= 0 || math.Abs(math.Mod(*sand.ShortKg, 85)) > 1e-6 ||
		sand.SufficesShare == nil || *sand.SufficesShare > 0.5 {
		t.Errorf("short by %v, suffices with chance %v", sand.ShortKg, sand.SufficesShare)
	}
	if !strings.Contains(sand.Damp, "no batch recorded its moisture") {
		t.Errorf("damp: %q", sand.Damp)
	}
	cement := materialOf(t, v.Materials, "cement")
	if cement.LastsBatches != nil || *cement.SufficesShare < 0.99 || cement.BagKg == nil || *cement.BagKg != 25 ||
		cement.ShortBags != nil || *cement.OnHandBags != (2000-42)/25.0 {
		t.Errorf("cement %+v", cement)
	}
	for _, m := range v.Materials {
		if m.Material == "pumice" {
			t.Error("a material of a mix that nobody planned any coat with is needed")
		}
	}
}

// Sand at 5 % moisture, absorption 1 %: a batch designed for 85 kg of it takes 85 × 1.05/1.01 kg from the pile.
func TestSandIsNeededAsDampAsItWasLast(t *testing.T) {
	d := twoMixes(t)
	b := foldtest.Mixed(2, 40)
	b.SandMoisture = foldtest.Ref(unit.Share(0.05))
	d.By("n1", 40, b)
	sand := materialOf(t, ahead.ForecastOf(d.Site(), foldtest.Clock(60), foldtest.Place).Materials, "sand")
	if want := 85 * 1.05 / 1.01; math.Abs(sand.PerBatchKg-want) > 1e-6 || !strings.Contains(sand.Damp, "5%") {
		t.Errorf("a batch takes %v kg, not %v (%s)", sand.PerBatchKg, want, sand.Damp)
	}
}

// The days and hours at which the sand runs out are in order, and none before now.
func TestTheInstantAtWhichAMaterialRunsOutIsADistribution(t *testing.T) {
	d := twoMixes(t)
	for n := 2; n <= 4; n++ {
		d.By("n1", 20*n, foldtest.Mixed(n, 20*n))
		d.By("n1", 20*n+10, foldtest.Put(n, "A1", 20*n+5, 20*n+10))
	}
	now := foldtest.Clock(100)
	sand := materialOf(t, ahead.ForecastOf(d.Site(), now, foldtest.Place).Materials, "sand")
	a, b, c := sand.RunsOut10, sand.RunsOut50, sand.RunsOut90
	if a == nil || b == nil || c == nil || a.Before(now.Truncate(0).Add(-1)) || b.Before(*a) || c.Before(*b) {
		t.Fatalf("it runs out at %v, %v, %v", a, b, c)
	}
	if want := b.In(foldtest.Place).Format("Mon 2 Jan 15:04"); sand.RunsOut != want {
		t.Errorf("in words %q, not %q", sand.RunsOut, want)
	}
}

// A batch takes 42 or 40 kg of cement, 25 kg a bag.
func TestBagsStandBesideKilogramsWhereverABagIsKnown(t *testing.T) {
	d := twoMixes(t)
	for n := 2; n <= 4; n++ {
		d.By("n1", 20*n, foldtest.Mixed(n, 20*n))
		d.By("n1", 20*n+10, foldtest.Put(n, "A1", 20*n+5, 20*n+10))
	}
	d.By("n1", 91, event.StockSpoiled{Material: "cement", Amount: event.Amount{Mass: 50}, Why: "wet"})
	d.By("n1", 92, event.StockCounted{Material: "cement", Amount: event.Amount{Mass: 1700}})
	s := d.Site()
	same := func(what string, bags *float64, kg float64) {
		t.Helper()
		if bags == nil || math.Abs(*bags-kg/25) > 1e-9 {
			t.Errorf("%s: %v bags of 25 kg in %v kg", what, bags, kg)
		}
	}
	v, _ := view.StockOfMaterial(s, foldtest.Clock(100), foldtest.Place, "cement")
	m := v.Materials[0]
	if m.OnHandKg == nil || *m.OnHandKg != 1700 || m.DiscrepancyKg == nil || m.SpoiledKg != 50 ||
		m.UsedTodayKg != 4*42 || m.ReceivedKg != 2000 {
		t.Fatalf("%+v", m)
	}
	same("on hand", m.OnHandBags, 1700)
	same("received", m.ReceivedBags, 2000)
	same("used", m.UsedBags, 168)
	same("used today", m.UsedTodayBags, 168)
	same("spoiled", m.SpoiledBags, 50)
	same("found less", m.DiscrepancyBags, *m.DiscrepancyKg)
	for _, l := range m.Ledger {
		same(l.What, l.AmountBags, l.AmountKg)
		same("balance", l.BalanceBags, l.BalanceKg)
		if l.DiscrepancyKg != nil {
			same("found less", l.DiscrepancyBags, *l.DiscrepancyKg)
		}
	}
	evening := foldtest.Clock(10 * 60)
	f := ahead.ForecastOf(s, evening, foldtest.Place)
	for _, needs := range [][]ahead.MaterialNeed{f.Materials, f.Tomorrow.Materials} {
		n := materialOf(t, needs, "cement")
		same("a batch", n.PerBatchBags, n.PerBatchKg)
		same("on hand", n.OnHandBags, 1700)
		same("need", n.Need50Bags, n.Need50Kg)
		same("need", n.Need90Bags, n.Need90Kg)
	}
	n := materialOf(t, f.Tomorrow.Materials, "cement")
	if n.Left50Kg == nil || *n.Left50Kg > *n.OnHandKg || *n.Left50Kg <= 0 {
		t.Fatalf("left for tomorrow: %v of %v kg", n.Left50Kg, *n.OnHandKg)
	}
	same("left for tomorrow", n.Left50Bags, *n.Left50Kg)
	for _, x := range f.Mixes {
		kg := map[string]float64{"face": 42, "skim": 40}[x.Mix]
		if len(x.Bags) != 1 || x.Bags[0].Material != "cement" || x.Bags[0].BagKg != 25 {
			t.Fatalf("bags of mix %s: %+v", x.Mix, x.Bags)
		}
		b := x.Bags[0]
		same("a batch of "+x.Mix, &b.PerBatch, kg)
		same("at least, of "+x.Mix, &b.P05, kg*float64(x.P05))
		same("as likely as not, of "+x.Mix, &b.P50, kg*float64(x.P50))
		same("at most, of "+x.Mix, &b.P95, kg*float64(x.P95))
	}
}

// Sand lies in a pile: nobody said what a bag of it weighs, so there is no word of bags.
func TestWhereNoBagIsKnownThereAreKilogramsAlone(t *testing.T) {
	s := twoMixes(t).Site()
	v, _ := view.StockOfMaterial(s, foldtest.Clock(100), foldtest.Place, "sand")
	m := v.Materials[0]
	if m.OnHandKg == nil || m.BagKg != nil || m.OnHandBags != nil || m.ReceivedBags != nil || m.UsedBags != nil ||
		m.UsedTodayBags != nil || m.Ledger[0].AmountBags != nil || m.Ledger[0].BalanceBags != nil {
		t.Errorf("%+v", m)
	}
	f := ahead.ForecastOf(s, foldtest.Clock(100), foldtest.Place)
	n := materialOf(t, f.Materials, "sand")
	if n.ShortKg == nil || n.PerBatchBags != nil || n.Need50Bags != nil || n.Need90Bags != nil || n.ShortBags != nil ||
		n.Left50Bags != nil {
		t.Errorf("%+v", n)
	}
}
