package fold_test

import (
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/trade/mix"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

func received(m event.Material, kg float64, entered, lot string) event.StockReceived {
	return event.StockReceived{Material: m, Amount: event.Amount{Mass: unit.Mass(kg), Entered: entered}, Lot: lot}
}

// 500 kg of damp sand came; two batches took 85 kg each as weighed, with 5 % water in it: 330 kg of damp sand are left,
// not 500 less what is sand in it.
func TestSandLeavesThePileAsDampAsItIsWeighed(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, received("sand", 500, "", ""))
	for n := 1; n <= 2; n++ {
		b := foldtest.Mixed(n, 10*n)
		b.SandMoisture = foldtest.Ref(unit.Share(0.05))
		d.By("n1", 10*n, b)
	}
	s := d.Site()
	l, err := s.Ledger("sand")
	if err != nil || !foldtest.Near(float64(l.Latest().OnHand), 330) {
		t.Errorf("%v kg on hand, %v", l.Latest().OnHand, err)
	}
	damp := s.DampOf("sand")
	want, _ := mix.SandFromWeighed(85, 0.01, 0.05)
	if !foldtest.Near(damp.Factor, float64(want.Weighed/want.SSD)) || damp.Factor < 1.03 ||
		!strings.Contains(damp.Said, "5%") {
		t.Errorf("a mix's sand weighs %v times as much on the pile (%s)", damp.Factor, damp.Said)
	}
	if c := s.DampOf("cement"); c.Factor != 1 || c.Said != "" {
		t.Errorf("cement is damp: %+v", c)
	}
	if dry := foldtest.NewDesk(t).Site().DampOf("sand"); dry.Factor != 1 ||
		!strings.Contains(dry.Said, "no batch recorded its moisture") {
		t.Errorf("without a moisture: %+v", dry)
	}
}

func TestABagIsWhatWasSaidOfItAndNothingElse(t *testing.T) {
	d := foldtest.NewDesk(t)
	if b := d.Site().BagOf("cement"); b != (fold.Bag{}) {
		t.Errorf("nobody said what a bag of cement weighs, and it is %+v", b)
	}
	e := d.By("n1", 1, received("cement", 40*50, "40x50kg", ""))
	if b := d.Site().BagOf("cement"); b.Mass != 50 || !strings.Contains(b.Said, e.Name.String()) {
		t.Errorf("as delivered: %+v", b)
	}
	d.By("n1", 2, event.MaterialPlanned{Material: "cement", Bag: foldtest.Ref(unit.Mass(40))})
	if b := d.Site().BagOf("cement"); b.Mass != 40 || b.Said != "as planned" {
		t.Errorf("as planned: %+v", b)
	}
}

// A delivery by volume stands aside until somebody says what a volume weighs: whoever it is, and in whatever order it
// comes.
func TestAVolumeOfSandStandsOnceItsBulkDensityIsKnown(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 1, event.StockReceived{Material: "sand", Amount: event.Amount{Volume: 2, ByVolume: true}})
	if got := foldtest.Aside(d.Site()); got != "n1/1:no-bulk-density" {
		t.Errorf("set aside: %s", got)
	}
	d.By("s1", 9, event.MaterialPlanned{Material: "sand", Bulk: foldtest.Ref(unit.Density(1500))})
	s := d.Site()
	if l, err := s.Ledger("sand"); foldtest.Aside(s) != "" || err != nil || l.Latest().OnHand != 3000 {
		t.Errorf("set aside %q, on hand %v", foldtest.Aside(s), l.Latest().OnHand)
	}
}

func TestALedgerTellsDeliveriesCountsAndWhatWasDrawnByDay(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, received("cement", 1000, "40x25kg", "L7"))
	d.By("n1", 10, foldtest.Mixed(1, 10))
	d.By("n1", 30, foldtest.Mixed(2, 30))
	d.By("n1", 40, event.StockCounted{Material: "cement", Amount: event.Amount{Mass: 900}})
	d.By("n1", 50, foldtest.Mixed(3, 50))
	next := foldtest.Mixed(1, 24*60)
	next.Batch.Day = foldtest.Clock(24 * 60).In(foldtest.Place).Format("2006-01-02")
	d.By("n1", 24*60, next)
	v, ok := view.StockOfMaterial(d.Site(), foldtest.Clock(30*60), foldtest.Place, "cement")
	if !ok || len(v.Materials) != 1 {
		t.Fatalf("%v materials", len(v.Materials))
	}
	type line struct {
		what         string
		kg, balance  float64
		batches      int32
		lot, entered string
	}
	want := []line{
		{"received", 1000, 1000, 0, "L7", "40x25kg"},
		{"drawn", 84, 916, 2, "", ""},
		{"counted", 900, 900, 0, "", ""},
		{"drawn", 42, 858, 1, "", ""},
		{"drawn", 42, 816, 1, "", ""},
	}
	for i, l := range v.Materials[0].Ledger {
		if i >= len(want) || (line{l.What, l.AmountKg, l.BalanceKg, l.Batches, l.Lot, l.Entered}) != want[i] {
			t.Errorf("line %d: %+v", i, l)
		}
		if l.What == "counted" && (l.DiscrepancyKg == nil || *l.DiscrepancyKg != -16) {
			t.Errorf("the count is off by %v", l.DiscrepancyKg)
		}
	}
	if n := len(v.Materials[0].Ledger); n != len(want) {
		t.Errorf("%d lines", n)
	}
	if k := v.Materials[0]; k.OnHandBags == nil || !foldtest.Near(*k.OnHandBags, 816.0/25) {
		t.Errorf("bags on hand: %v", k.OnHandBags)
	}
	if _, ok := view.StockOfMaterial(d.Site(), foldtest.Clock(0), foldtest.Place, "glue"); ok {
		t.Error("glue is stocked")
	}
}

// A clock that was set back to before the first delivery knows of no stock: it is unknown, not nought.
func TestBeforeTheFirstDeliveryTheStockIsUnknownAndNotNought(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 100, received("cement", 1000, "40x25kg", "L7"))
	s := d.Site()
	for minute, known := range map[int]bool{50: false, 150: true} {
		for _, k := range view.StockOf(s, foldtest.Clock(minute), foldtest.Place).Materials {
			if k.Material == "cement" && (k.OnHandKg != nil) != known || k.Material == "cement" &&
				(k.Note == "") != known {
				t.Errorf("after %d min: on hand %v, %q", minute, k.OnHandKg, k.Note)
			}
		}
		for _, m := range ahead.ForecastOf(s, foldtest.Clock(minute), foldtest.Place).Materials {
			if m.Material == "cement" && (m.OnHandKg != nil || m.ShortKg != nil || m.Counted) != known {
				t.Errorf("after %d min the forecast has %v on hand", minute, m.OnHandKg)
			}
		}
	}
}
