package view_test

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

func spoiled(at time.Time, kg unit.Mass) sim.Work {
	return viewtest.Wrote(at, event.StockSpoiled{
		Material: "cement", Amount: event.Amount{Mass: kg}, Why: "wet",
		Lot: "L7",
	})
}

// A batch takes 42 kg of cement.
func TestWhatIsOnHandIsWhatCameLessWhatWent(t *testing.T) {
	b := func(n, hour int) sim.Work { return viewtest.Mixed(viewtest.Batch(n), viewtest.Clock(hour, 0)) }
	for _, c := range []struct {
		name                                          string
		work                                          []sim.Work
		hand, received, used, today, spoiled, counted float64 // counted: the discrepancy
	}{
		{"nothing written", nil, viewtest.None, 0, 0, 0, 0, viewtest.None},
		{"batches alone", []sim.Work{b(1, 8)}, viewtest.None, 0, 42, 42, 0, viewtest.None},
		{
			"a delivery",
			[]sim.Work{viewtest.Received(viewtest.Clock(7, 0), 1000, "")},
			1000, 1000, 0, 0, 0,
			viewtest.None,
		},
		{
			"a delivery and two batches",
			[]sim.Work{viewtest.Received(viewtest.Clock(7, 0), 1000, ""), b(1, 8), b(2, 9)},
			916, 1000, 84, 84,
			0, viewtest.None,
		},
		{
			"used before anything came, which is never cut to nought: somebody forgot a delivery",
			[]sim.Work{b(1, 6), viewtest.Received(viewtest.Clock(7, 0), 1000, "")},
			958, 1000, 42, 42, 0, viewtest.None,
		},
		{
			"spoiled",
			[]sim.Work{viewtest.Received(viewtest.Clock(7, 0), 1000, ""), spoiled(viewtest.Clock(8, 0), 50)},
			950, 1000, 0, 0, 50, viewtest.None,
		},
		{"counted less than there should be", []sim.Work{
			viewtest.Received(viewtest.Clock(7, 0), 1000, ""), b(1, 8),
			viewtest.Counted(viewtest.Clock(9, 0), 900),
		}, 900, 1000, 42, 42, 0, -58},
		{"counted more, and a batch since", []sim.Work{
			viewtest.Received(viewtest.Clock(7, 0), 1000, ""), viewtest.Counted(viewtest.Clock(9, 0), 1010),
			b(1, 10),
		}, 968, 1000, 42, 42, 0, 10},
		{
			"a count that opens the ledger is no discrepancy",
			[]sim.Work{viewtest.Counted(viewtest.Clock(7, 0), 500), b(1, 8)},
			458, 0, 42,
			42, 0, viewtest.None,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := viewtest.Cement(t, view.StockOf(viewtest.Site(t, c.work...), viewtest.Noon, time.UTC))
			viewtest.MaybeIs(t, "on hand", k.OnHandKg, c.hand)
			viewtest.Is(t, "received", k.ReceivedKg, c.received)
			viewtest.Is(t, "used", k.UsedKg, c.used)
			viewtest.Is(t, "used today", k.UsedTodayKg, c.today)
			viewtest.Is(t, "spoiled", k.SpoiledKg, c.spoiled)
			viewtest.MaybeIs(t, "discrepancy", k.DiscrepancyKg, c.counted)
			if said := strings.Contains(k.Note, "nobody has written what there is of it"); said != (k.OnHandKg == nil) {
				t.Errorf("on hand %v, note %q", k.OnHandKg, k.Note)
			}
			viewtest.MaybeIs(t, "a bag", k.BagKg, viewtest.None) // nobody said what one weighs
			viewtest.MaybeIs(t, "bags on hand", k.OnHandBags, viewtest.None)
		})
	}
}

func TestWhatWasUsedTodayIsOfToday(t *testing.T) {
	s := viewtest.Site(t, viewtest.Received(viewtest.Clock(7, 0).AddDate(0, 0, -2), 1000, ""),
		viewtest.Mixed(event.Batch{Crew: "north", Day: "2031-05-11", Number: 1},
			viewtest.Clock(8, 0).AddDate(0, 0, -1)),
		viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)))
	k := viewtest.Cement(t, view.StockOf(s, viewtest.Noon, time.UTC))
	viewtest.Is(t, "used", k.UsedKg, 84)
	viewtest.Is(t, "used today", k.UsedTodayKg, 42)
	viewtest.MaybeIs(t, "on hand", k.OnHandKg, 916)
	k = viewtest.Cement(t, view.StockOf(s, viewtest.Noon.AddDate(0, 0, -1), time.UTC)) // as it stood the day before
	viewtest.MaybeIs(t, "on hand yesterday", k.OnHandKg, 958)
	viewtest.Is(t, "used yesterday", k.UsedTodayKg, 42)
}

// A bag of 40 kg: 1000 kg are 25 bags, a batch takes 1.05.
func TestBagsAreTheKilogramsOverWhatABagWeighs(t *testing.T) {
	for _, c := range []struct {
		name, said string
		bag        sim.Work
	}{
		{
			"said of the material", "as planned",
			viewtest.Wrote(viewtest.Clock(6, 0), event.MaterialPlanned{
				Material: "cement",
				Bag:      viewtest.Ref(unit.Mass(40)),
			}),
		},
		{"as a delivery was typed", "as written in n1/1", viewtest.Received(viewtest.Clock(6, 0), 0.001, "25x40kg")},
	} {
		k := viewtest.Cement(t, view.StockOf(viewtest.Site(t, c.bag, viewtest.Received(viewtest.Clock(7, 0), 1000, ""),
			viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
			spoiled(viewtest.Clock(9, 0), 20), viewtest.Counted(viewtest.Clock(10, 0), 930)), viewtest.Noon, time.UTC))
		viewtest.MaybeIs(t, "bag", k.BagKg, 40)
		viewtest.Same(t, c.name, k.BagSaid, c.said)
		viewtest.MaybeIs(t, "bags on hand", k.OnHandBags, 930.0/40)
		viewtest.MaybeIs(t, "bags used", k.UsedBags, 42.0/40)
		viewtest.MaybeIs(t, "bags used today", k.UsedTodayBags, 42.0/40)
		viewtest.MaybeIs(t, "bags spoiled", k.SpoiledBags, 0.5)
		if d := *k.DiscrepancyBags * 40; d < -8.01 || d > -7.98 { // 930 − (1000 − 42 − 20), and a gram
			t.Errorf("discrepancy of %g kg in bags, want -8", d)
		}
	}
}

func TestALedgerHasALineForEachThingAndOneForADaysBatches(t *testing.T) {
	s := viewtest.Site(t,
		viewtest.Received(viewtest.Clock(7, 0), 1000, "1000 kg"),
		viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
		viewtest.Mixed(viewtest.Batch(2), viewtest.Clock(9, 0)),
		spoiled(viewtest.Clock(9, 30), 20),
		viewtest.Mixed(viewtest.Batch(3), viewtest.Clock(10, 0)), viewtest.Counted(viewtest.Clock(11, 0), 850),
		viewtest.Mixed(event.Batch{Crew: "north", Day: "2031-05-13", Number: 1}, viewtest.Clock(8, 0).AddDate(0, 0, 1)),
	)
	v, ok := view.StockOfMaterial(s, viewtest.Noon, time.UTC, "cement")
	if !ok || len(v.Materials) != 1 {
		t.Fatalf("known %t, %d materials", ok, len(v.Materials))
	}
	type line struct {
		at       time.Time
		what     string
		amount   float64
		batches  int32
		balance  float64
		entered  string
		lot, why string
		event    string
	}
	var got []line
	for _, l := range v.Materials[0].Ledger {
		got = append(got, line{l.At, l.What, l.AmountKg, l.Batches, l.BalanceKg, l.Entered, l.Lot, l.Why, l.Event})
	}
	viewtest.List(t, "ledger", got,
		line{viewtest.Clock(7, 0), "received", 1000, 0, 1000, "1000 kg", "L7", "", "n1/1"},
		line{viewtest.Clock(9, 0), "drawn", 84, 2, 916, "", "", "", ""},
		line{viewtest.Clock(9, 30), "spoiled", 20, 0, 896, "", "L7", "wet", "n1/4"},
		line{viewtest.Clock(10, 0), "drawn", 42, 1, 854, "", "", "", ""},
		line{viewtest.Clock(11, 0), "counted", 850, 0, 850, "", "", "", "n1/6"},
	) // what is of tomorrow is not there yet
	viewtest.MaybeIs(t, "discrepancy", v.Materials[0].Ledger[4].DiscrepancyKg, -4)
	viewtest.MaybeIs(t, "of a delivery", v.Materials[0].Ledger[0].DiscrepancyKg, viewtest.None)
	viewtest.MaybeIs(t, "bags", v.Materials[0].Ledger[0].AmountBags, viewtest.None)
}

func TestAMaterialThatTheSiteDoesNotHaveIsNotFound(t *testing.T) {
	if _, ok := view.StockOfMaterial(viewtest.Site(t), viewtest.Noon, time.UTC, "straw"); ok {
		t.Error("the site has no straw")
	}
	// what a mix takes is there without anybody's writing, water is no stock
	var names []string
	for _, k := range view.StockOf(viewtest.Site(t), viewtest.Noon, time.UTC).Materials {
		names = append(names, k.Material)
	}
	viewtest.List(t, "materials", names, "cement", "sand")
}

// Sand is kept as it is weighed, damp: at 4 % moisture of its dry mass and 1 % absorption, 85 kg damp are 85 kg in the
// ledger.
func TestSandIsDrawnAsItWasWeighed(t *testing.T) {
	m := viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0))
	b := m.Body.(event.BatchMixed)
	b.SandMoisture = viewtest.Ref(unit.Share(0.04))
	m.Body = b
	s := viewtest.Site(t, viewtest.Wrote(viewtest.Clock(7, 0),
		event.StockReceived{Material: "sand", Amount: event.Amount{Mass: 2000}}), m)
	v, _ := view.StockOfMaterial(s, viewtest.Noon, time.UTC, "sand")
	viewtest.MaybeIs(t, "on hand", v.Materials[0].OnHandKg, 1915)
	viewtest.Is(t, "used", v.Materials[0].UsedKg, 85)
}

// An amount by volume is as heavy as the material's bulk density makes it; without one it is set aside.
func TestAnAmountByVolumeIsWeighedByTheBulkDensity(t *testing.T) {
	heap := viewtest.Wrote(viewtest.Clock(7, 0),
		event.StockReceived{Material: "sand", Amount: event.Amount{Volume: 2, ByVolume: true}})
	v, _ := view.StockOfMaterial(
		viewtest.Site(t, viewtest.Wrote(viewtest.Clock(6, 0),
			event.MaterialPlanned{Material: "sand", Bulk: viewtest.Ref(unit.Density(1500))}), heap), viewtest.Noon,
		time.UTC, "sand")
	viewtest.MaybeIs(t, "on hand", v.Materials[0].OnHandKg, 3000)
}

func TestAStockOfWhichNothingStandsIsNotKnown(t *testing.T) {
	heap := viewtest.Wrote(viewtest.Clock(7, 0),
		event.StockReceived{Material: "sand", Amount: event.Amount{Volume: 2, ByVolume: true}})
	// set aside: nobody knows what a volume of it weighs
	v, ok := view.StockOfMaterial(viewtest.Site(t, heap), viewtest.Noon, time.UTC, "sand")
	if !ok {
		t.Fatal("the site has sand")
	}
	viewtest.MaybeIs(t, "on hand", v.Materials[0].OnHandKg, viewtest.None)
	viewtest.Same(t, "note", v.Materials[0].Note, "nobody has written what there is of it")
	if d, err := daily.DayOf(viewtest.Site(t, heap), viewtest.Noon, time.UTC, ""); err != nil || len(d.SetAside) != 1 {
		t.Errorf("the day: %v, set aside %+v", err, d.SetAside)
	}
}
