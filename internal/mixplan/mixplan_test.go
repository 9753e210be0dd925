package mixplan_test

import (
	"math"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/mixplan"
	"hod/internal/trade/mix"
	"hod/internal/unit"
)

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// A bag of cement is a cubic foot and weighs 94 lb (PCA, Design and Control of Concrete Mixtures: the bag of 94 lb,
// 42.6 kg); a litre of water weighs a kilogram; grains weigh by their loose bulk density.
func TestAVolumeWeighsByWhatItIsOf(t *testing.T) {
	bulk := unit.As[unit.Density]{SI: 1520}
	foot := event.Amount{ByVolume: true, Volume: unit.Volume(0.3048 * 0.3048 * 0.3048)}
	litre := event.Amount{ByVolume: true, Volume: 0.001}
	for _, c := range []struct {
		what   string
		amount event.Amount
		of     event.Constituent
		kg     float64
	}{
		{"a mass as it is", event.Amount{Mass: 7}, event.Constituent{Kind: event.Other}, 7},
		{"a bag of cement", foot, event.Constituent{Kind: event.Cement}, 94 * 0.45359237},
		{"cement with a bulk density of its own", litre, event.Constituent{Kind: event.Cement, Bulk: &bulk}, 1.52},
		{"sand, loose", litre, event.Constituent{Kind: event.Sand, Bulk: &bulk}, 1.52},
		{"water", litre, event.Constituent{Kind: event.Water}, 0.998},
		{"a liquid admixture", litre, event.Constituent{Kind: event.Admixture, Gravity: 1.2}, 1.2 * 0.998},
	} {
		got, err := mixplan.Mass(c.amount, c.of)
		if err != nil || !near(float64(got), c.kg, 0.003) {
			t.Errorf("%s: %v kg, %v; want %.3f", c.what, float64(got), err, c.kg)
		}
	}
}

func TestAVolumeOfUnknownWeightIsRefusedWithWhatWouldDo(t *testing.T) {
	_, err := mixplan.Mass(event.Amount{ByVolume: true, Volume: 0.001},
		event.Constituent{Name: "grit", Kind: event.Sand})
	if err == nil || !strings.Contains(err.Error(), "grit") || !strings.Contains(err.Error(), "bulk density") {
		t.Errorf("it says %v; want which and what to say of it", err)
	}
}

// small is one batch: 40 kg of cement, 16 kg of water, sand.
func small(sand float64) event.MixPlanned {
	air, yield := unit.As[unit.Share]{SI: 0.05}, unit.As[unit.Volume]{SI: 0.06}
	return event.MixPlanned{
		Mix: "small", Air: &air, DesignYield: &yield,
		Constituents: []event.Constituent{
			{Name: "cement", Kind: event.Cement, Gravity: 3.15, Amount: event.Amount{Mass: 40}},
			{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}},
			{Name: "sand", Kind: event.Sand, Gravity: 2.65, Amount: event.Amount{Mass: unit.Mass(sand)}},
		},
	}
}

// Absolute volumes (ACI 211.1): of 60 L with 5 % air, 57 L are to be filled; cement takes 12.70 L and water 16.0 L, so
// 28.3 L are left, which is 75 kg of sand of specific gravity 2.65.
func TestTheSandThatTakesTheRestFillsTheYieldByAbsoluteVolumes(t *testing.T) {
	rest, err := mixplan.Rest(small(1), 2)
	if err != nil || !near(float64(rest), (57-40/3.15-16)*2.65, 0.2) {
		t.Errorf("the rest is %.2f kg, %v; want %.2f", float64(rest), err, (57-40/3.15-16)*2.65)
	}
	none := small(1)
	none.DesignYield = nil
	if _, err := mixplan.Rest(none, 2); err == nil || !strings.Contains(err.Error(), "states no yield") {
		t.Errorf("without a yield it says %v", err)
	}
}

func TestThePlannedMixIsReckonedAsItWasWritten(t *testing.T) {
	planned := small(75)
	weight, share := unit.As[unit.Density]{SI: 2180}, unit.As[unit.Share]{SI: 0.03}
	planned.UnitWeight, planned.Constituents[2].Absorption = &weight, &share
	m, figures, err := mixplan.Figures(planned)
	if err != nil {
		t.Fatal(err)
	}
	if k := m.Constituents; k[0].Kind != mix.Cement || k[1].Kind != mix.Water || k[2].Kind != mix.Sand ||
		k[1].Gravity != 1 || k[2].Absorption != 0.03 {
		t.Errorf("the constituents are %+v", k)
	}
	if !near(figures.WaterCementitious, 0.4, 1e-9) {
		t.Errorf("w/cm is %v; want 16/40", figures.WaterCementitious)
	}
	if want := 0.02 * 2180; !near(float64(m.UnitWeightTolerance), want, 1e-9) {
		t.Errorf("the unit weight may be off by %v; want %v, as nothing was said", m.UnitWeightTolerance, want)
	}
	planned.UnitWeightTolerance = &share
	if m, _ := mixplan.Mix(planned); !near(float64(m.UnitWeightTolerance), 0.03*2180, 1e-9) {
		t.Errorf("the unit weight may be off by %v; want 3 %%", m.UnitWeightTolerance)
	}
}
