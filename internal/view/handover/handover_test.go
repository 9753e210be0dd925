package handover_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/handover"
	vt "hod/internal/view/viewtest"
)

// A batch is told with what went into it, what it yielded and where it went; half of one that went nowhere is left.
func TestABatchIsToldWithWhereItWent(t *testing.T) {
	work := append(vt.Whole(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0)),
		vt.Mixed(vt.Batch(2), vt.Clock(9, 0)),
		vt.Placed(vt.Batch(2), vt.CoatA2, vt.Clock(9, 5), vt.Clock(9, 10), 0.5),
		vt.Wrote(vt.Clock(9, 30), event.BatchDiscarded{Batch: vt.Batch(2), Part: event.Part{
			Share: vt.Ref(unit.Share(0.25)),
		}, Why: "stiff"}))
	v := handover.Of(vt.Site(t, work...), vt.Noon, time.UTC)
	if len(v.Batches) != 2 {
		t.Fatalf("batches %+v", v.Batches)
	}
	one, two := v.Batches[0], v.Batches[1]
	vt.Same(t, "batch", one.Batch, vt.Batch(1).String())
	vt.Same(t, "mix", one.Mix, "face")
	vt.Same(t, "revision", one.Revision, int32(1))
	vt.At(t, "ready", one.Ready, vt.Clock(8, 0))
	vt.List(t, "charges", one.Charges, handover.Charge{Constituent: "cement", MassKg: 42},
		handover.Charge{Constituent: "sand", MassKg: 85}, handover.Charge{Constituent: "water", MassKg: 16})
	vt.MaybeIs(t, "w/cm", one.WCM, vt.Ratio)
	vt.MaybeIs(t, "yield, weighed", one.YieldM3, vt.BatchM3)
	vt.MaybeIs(t, "by design", one.DesignM3, vt.DesignedM3)
	vt.Is(t, "left of it", one.Left, 0)
	vt.MaybeIs(t, "yield of one that nobody weighed", two.YieldM3, vt.None)
	vt.Is(t, "thrown away", two.Discarded, 0.25)
	vt.Is(t, "of which nothing is said", two.Left, 0.25)
	if len(two.Into) != 1 || two.Into[0].Zone != "A2" || two.Into[0].Coat != 1 {
		t.Fatalf("into %+v", two.Into)
	}
	vt.Is(t, "share in A2", two.Into[0].Share, 0.5)
}

// A lot can be in the first batch that was begun after it had come, and in later ones; in none where there is none.
// Without a name a delivery is no lot.
func TestALotCanBeInTheBatchesAfterIt(t *testing.T) {
	lot := func(at time.Time, name string, kg unit.Mass) sim.Work {
		return vt.Wrote(at, event.StockReceived{Material: "cement", Amount: event.Amount{Mass: kg}, Lot: name})
	}
	work := vt.All([]sim.Work{
		lot(vt.Clock(7, 0), "L7", 500), lot(vt.Clock(8, 30), "L8", 250), lot(vt.Clock(8, 40), "", 100),
		lot(vt.Clock(11, 0), "L9", 25),
	}, vt.Whole(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0)), vt.Whole(vt.Batch(2), vt.CoatA1, vt.Clock(9, 0)))
	s := vt.Site(t, work...)
	v := handover.Of(s, vt.Noon, time.UTC)
	want := []handover.Lot{
		{Lot: "L7", MassKg: 500, At: vt.Clock(7, 0), FirstBatch: vt.Batch(1).String()},
		{Lot: "L8", MassKg: 250, At: vt.Clock(8, 30), FirstBatch: vt.Batch(2).String()},
		{Lot: "L9", MassKg: 25, At: vt.Clock(11, 0)},
	}
	if len(v.Lots) != len(want) {
		t.Fatalf("lots %+v", v.Lots)
	}
	for i, w := range want {
		got := v.Lots[i]
		vt.Same(t, "lot", got.Lot, w.Lot)
		vt.Is(t, w.Lot+": mass", got.MassKg, w.MassKg)
		vt.At(t, w.Lot+": came", &got.At, w.At)
		vt.Same(t, w.Lot+": first batch", got.FirstBatch, w.FirstBatch)
	}
	vt.Same(t, "lots that had come by nine", len(handover.Of(s, vt.Clock(9, 0), time.UTC).Lots), 2)
}

// The record has each zone, coat and event of the site, what was put right, and its cautions; of an empty site it has
// nothing that nobody wrote.
func TestTheRecordHasAllThatWasWritten(t *testing.T) {
	s := vt.Site(t, vt.Whole(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0))...)
	v := handover.Of(s, vt.Noon, time.UTC)
	vt.Same(t, "site", v.Site, "Tarn vault")
	vt.Same(t, "events", v.Events, s.Len())
	vt.Same(t, "coats", len(v.Lines), 2)
	vt.Same(t, "zones", len(v.Zones), 2)
	vt.Same(t, "tests", len(v.Tests), 1)
	vt.Same(t, "breaks", len(v.Breaks), 0)
	vt.Same(t, "cautions", len(v.Cautions), 2)
	if v.LastAt.IsZero() || v.LastAt.After(vt.Noon.AddDate(0, 0, 1)) {
		t.Errorf("its newest event was written at %s", v.LastAt)
	}
	empty := handover.Of(vt.Site(t), vt.Noon, time.UTC)
	if len(empty.Batches)+len(empty.Lots)+len(empty.Tests)+len(empty.SetAside) != 0 {
		t.Errorf("a site at which nothing was done hands over %+v", empty)
	}
}
