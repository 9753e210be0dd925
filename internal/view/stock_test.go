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
)

func received(at time.Time, kg unit.Mass, entered string) sim.Work {
	return wrote(at, event.StockReceived{
		Material: "cement", Amount: event.Amount{Mass: kg, Entered: entered},
		Lot: "L7",
	})
}

func counted(at time.Time, kg unit.Mass) sim.Work {
	return wrote(at, event.StockCounted{Material: "cement", Amount: event.Amount{Mass: kg}})
}

func spoiled(at time.Time, kg unit.Mass) sim.Work {
	return wrote(at, event.StockSpoiled{Material: "cement", Amount: event.Amount{Mass: kg}, Why: "wet", Lot: "L7"})
}

// cement of a stock.
func cement(t testing.TB, v view.Stock) view.MaterialStock {
	t.Helper()
	for _, k := range v.Materials {
		if k.Material == "cement" {
			return k
		}
	}
	t.Fatalf("no cement in %+v", v)
	return view.MaterialStock{}
}

// A batch takes 42 kg of cement.
func TestWhatIsOnHandIsWhatCameLessWhatWent(t *testing.T) {
	b := func(n, hour int) sim.Work { return mixed(batch(n), clock(hour, 0)) }
	for _, c := range []struct {
		name                                          string
		work                                          []sim.Work
		hand, received, used, today, spoiled, counted float64 // counted: the discrepancy
	}{
		{"nothing written", nil, none, 0, 0, 0, 0, none},
		{"batches alone", []sim.Work{b(1, 8)}, none, 0, 42, 42, 0, none},
		{"a delivery", []sim.Work{received(clock(7, 0), 1000, "")}, 1000, 1000, 0, 0, 0, none},
		{
			"a delivery and two batches",
			[]sim.Work{received(clock(7, 0), 1000, ""), b(1, 8), b(2, 9)},
			916, 1000, 84, 84,
			0, none,
		},
		{
			"used before anything came, which is never cut to nought: somebody forgot a delivery",
			[]sim.Work{b(1, 6), received(clock(7, 0), 1000, "")},
			958, 1000, 42, 42, 0, none,
		},
		{"spoiled", []sim.Work{received(clock(7, 0), 1000, ""), spoiled(clock(8, 0), 50)}, 950, 1000, 0, 0, 50, none},
		{"counted less than there should be", []sim.Work{
			received(clock(7, 0), 1000, ""), b(1, 8),
			counted(clock(9, 0), 900),
		}, 900, 1000, 42, 42, 0, -58},
		{"counted more, and a batch since", []sim.Work{
			received(clock(7, 0), 1000, ""), counted(clock(9, 0), 1010),
			b(1, 10),
		}, 968, 1000, 42, 42, 0, 10},
		{
			"a count that opens the ledger is no discrepancy",
			[]sim.Work{counted(clock(7, 0), 500), b(1, 8)},
			458, 0, 42,
			42, 0, none,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := cement(t, view.StockOf(site(t, c.work...), noon, time.UTC))
			maybeIs(t, "on hand", k.OnHandKg, c.hand)
			is(t, "received", k.ReceivedKg, c.received)
			is(t, "used", k.UsedKg, c.used)
			is(t, "used today", k.UsedTodayKg, c.today)
			is(t, "spoiled", k.SpoiledKg, c.spoiled)
			maybeIs(t, "discrepancy", k.DiscrepancyKg, c.counted)
			if said := strings.Contains(k.Note, "nobody has written what there is of it"); said != (k.OnHandKg == nil) {
				t.Errorf("on hand %v, note %q", k.OnHandKg, k.Note)
			}
			maybeIs(t, "a bag", k.BagKg, none) // nobody said what one weighs
			maybeIs(t, "bags on hand", k.OnHandBags, none)
		})
	}
}

func TestWhatWasUsedTodayIsOfToday(t *testing.T) {
	s := site(t, received(clock(7, 0).AddDate(0, 0, -2), 1000, ""),
		mixed(event.Batch{Crew: "north", Day: "2031-05-11", Number: 1}, clock(8, 0).AddDate(0, 0, -1)),
		mixed(batch(1), clock(8, 0)))
	k := cement(t, view.StockOf(s, noon, time.UTC))
	is(t, "used", k.UsedKg, 84)
	is(t, "used today", k.UsedTodayKg, 42)
	maybeIs(t, "on hand", k.OnHandKg, 916)
	k = cement(t, view.StockOf(s, noon.AddDate(0, 0, -1), time.UTC)) // as it stood the day before
	maybeIs(t, "on hand yesterday", k.OnHandKg, 958)
	is(t, "used yesterday", k.UsedTodayKg, 42)
}

// A bag of 40 kg: 1000 kg are 25 bags, a batch takes 1.05.
func TestBagsAreTheKilogramsOverWhatABagWeighs(t *testing.T) {
	for _, c := range []struct {
		name, said string
		bag        sim.Work
	}{
		{
			"said of the material", "as planned",
			wrote(clock(6, 0), event.MaterialPlanned{Material: "cement", Bag: ref(unit.Mass(40))}),
		},
		{"as a delivery was typed", "as written in n1/1", received(clock(6, 0), 0.001, "25x40kg")},
	} {
		k := cement(t, view.StockOf(site(t, c.bag, received(clock(7, 0), 1000, ""), mixed(batch(1), clock(8, 0)),
			spoiled(clock(9, 0), 20), counted(clock(10, 0), 930)), noon, time.UTC))
		maybeIs(t, "bag", k.BagKg, 40)
		same(t, c.name, k.BagSaid, c.said)
		maybeIs(t, "bags on hand", k.OnHandBags, 930.0/40)
		maybeIs(t, "bags used", k.UsedBags, 42.0/40)
		maybeIs(t, "bags used today", k.UsedTodayBags, 42.0/40)
		maybeIs(t, "bags spoiled", k.SpoiledBags, 0.5)
		if d := *k.DiscrepancyBags * 40; d < -8.01 || d > -7.98 { // 930 − (1000 − 42 − 20), and a gram
			t.Errorf("discrepancy of %g kg in bags, want -8", d)
		}
	}
}

func TestALedgerHasALineForEachThingAndOneForADaysBatches(t *testing.T) {
	s := site(t,
		received(clock(7, 0), 1000, "1000 kg"), mixed(batch(1), clock(8, 0)), mixed(batch(2), clock(9, 0)),
		spoiled(clock(9, 30), 20),
		mixed(batch(3), clock(10, 0)), counted(clock(11, 0), 850),
		mixed(event.Batch{Crew: "north", Day: "2031-05-13", Number: 1}, clock(8, 0).AddDate(0, 0, 1)),
	)
	v, ok := view.StockOfMaterial(s, noon, time.UTC, "cement")
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
	list(t, "ledger", got,
		line{clock(7, 0), "received", 1000, 0, 1000, "1000 kg", "L7", "", "n1/1"},
		line{clock(9, 0), "drawn", 84, 2, 916, "", "", "", ""},
		line{clock(9, 30), "spoiled", 20, 0, 896, "", "L7", "wet", "n1/4"},
		line{clock(10, 0), "drawn", 42, 1, 854, "", "", "", ""},
		line{clock(11, 0), "counted", 850, 0, 850, "", "", "", "n1/6"},
	) // what is of tomorrow is not there yet
	maybeIs(t, "discrepancy", v.Materials[0].Ledger[4].DiscrepancyKg, -4)
	maybeIs(t, "of a delivery", v.Materials[0].Ledger[0].DiscrepancyKg, none)
	maybeIs(t, "bags", v.Materials[0].Ledger[0].AmountBags, none)
}

func TestAMaterialThatTheSiteDoesNotHaveIsNotFound(t *testing.T) {
	if _, ok := view.StockOfMaterial(site(t), noon, time.UTC, "straw"); ok {
		t.Error("the site has no straw")
	}
	// what a mix takes is there without anybody's writing, water is no stock
	var names []string
	for _, k := range view.StockOf(site(t), noon, time.UTC).Materials {
		names = append(names, k.Material)
	}
	list(t, "materials", names, "cement", "sand")
}

// Sand is kept as it is weighed, damp: at 4 % moisture of its dry mass and 1 % absorption, 85 kg damp are 85 kg in the
// ledger.
func TestSandIsDrawnAsItWasWeighed(t *testing.T) {
	m := mixed(batch(1), clock(8, 0))
	b := m.Body.(event.BatchMixed)
	b.SandMoisture = ref(unit.Share(0.04))
	m.Body = b
	s := site(t, wrote(clock(7, 0), event.StockReceived{Material: "sand", Amount: event.Amount{Mass: 2000}}), m)
	v, _ := view.StockOfMaterial(s, noon, time.UTC, "sand")
	maybeIs(t, "on hand", v.Materials[0].OnHandKg, 1915)
	is(t, "used", v.Materials[0].UsedKg, 85)
}

// An amount by volume is as heavy as the material's bulk density makes it; without one it is set aside.
func TestAnAmountByVolumeIsWeighedByTheBulkDensity(t *testing.T) {
	heap := wrote(clock(7, 0), event.StockReceived{Material: "sand", Amount: event.Amount{Volume: 2, ByVolume: true}})
	v, _ := view.StockOfMaterial(
		site(t, wrote(clock(6, 0), event.MaterialPlanned{Material: "sand", Bulk: ref(unit.Density(1500))}), heap), noon,
		time.UTC, "sand")
	maybeIs(t, "on hand", v.Materials[0].OnHandKg, 3000)
}

func TestAStockOfWhichNothingStandsIsNotKnown(t *testing.T) {
	heap := wrote(clock(7, 0), event.StockReceived{Material: "sand", Amount: event.Amount{Volume: 2, ByVolume: true}})
	// set aside: nobody knows what a volume of it weighs
	v, ok := view.StockOfMaterial(site(t, heap), noon, time.UTC, "sand")
	if !ok {
		t.Fatal("the site has sand")
	}
	maybeIs(t, "on hand", v.Materials[0].OnHandKg, none)
	same(t, "note", v.Materials[0].Note, "nobody has written what there is of it")
	if d, err := daily.DayOf(site(t, heap), noon, time.UTC, ""); err != nil || len(d.SetAside) != 1 {
		t.Errorf("the day: %v, set aside %+v", err, d.SetAside)
	}
}
