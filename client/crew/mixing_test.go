package crew

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"hod/client/session/sessiontest"
	"hod/internal/event"
)

// chargesOf are the charges of a batch by their constituent, added up: kg, or m³ where it was measured by volume.
func chargesOf(b event.Body) map[event.Material]float64 {
	all := map[event.Material]float64{}
	for _, c := range b.(event.BatchMixed).Charges {
		if c.Amount.ByVolume {
			all[c.Constituent] += float64(c.Amount.Volume)
		} else {
			all[c.Constituent] += float64(c.Amount.Mass)
		}
	}
	return all
}

// The sand of body is 80 kg saturated and surface dry, at 1.2 % absorption: 79.0514 kg dry. Water is 18 L of 62.4
// lb/ft³.
const (
	drySand = 80 / 1.012
	water   = 18 * 0.999552
)

func TestWhatIsWeighedFollowsTheSandsMoisture(t *testing.T) {
	for _, c := range []struct {
		line        string
		sand, water float64 // kg
	}{
		{"batch body --moisture 1.2%", 80, water},
		{"batch body --moisture 4%", drySand * 1.04, water - drySand*(1.04-1.012)},
		{"batch body --moisture 0%", drySand, water + drySand*0.012},
		{"batch body --moisture 4% --scale 1/2", drySand * 1.04 / 2, (water - drySand*(1.04-1.012)) / 2},
		{"batch body --moisture 4% sand=79kg", 79, water - drySand*(1.04-1.012)},
		{"batch body --moisture 1.2% +water=1l", 80, water + 0.001}, // what went in on top is kept by its volume
	} {
		d := sessiontest.NewDevice(t, "n2")
		got := chargesOf(d.Must(NewBatch, c.line).Wrote[0].Body)
		if math.Abs(got["sand"]-c.sand) > 1e-3 || math.Abs(got["water"]-c.water) > 1e-3 || got["cement"] != 40 &&
			!strings.Contains(c.line, "scale") {
			t.Errorf("hod %s: sand %.4f, water %.4f, cement %g; want %.4f and %.4f", c.line, got["sand"], got["water"],
				got["cement"], c.sand, c.water)
		}
	}
}

func TestABatchIsWrittenWithWhatWasSaidOfIt(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	ran := d.Must(NewBatch,
		"batch body --moisture 4% --spray 10s --spray-rate 0.2l/s --from 12:30 --water-at 12:33 --to 12:42 --temp 24C --number 4")
	b := ran.Wrote[0].Body.(event.BatchMixed)
	if b.Batch != sessiontest.North(4) || b.Mix != "body" || b.Revision != 1 || b.Spray != 10*time.Second ||
		!sessiontest.Near(float64(b.SprayPerS.SI), 0.2e-3) || b.Temperature.SI != 24 ||
		b.SandMoisture.Entered != "4%" ||
		!b.MixedFrom.Equal(sessiontest.At("12:30")) || !b.WaterAt.Equal(sessiontest.At("12:33")) ||
		!b.MixedTo.Equal(sessiontest.At("12:42")) {
		t.Errorf("%+v", b)
	}
	if e := ran.Wrote[0]; !e.Typed || !e.HappenedAt.Equal(sessiontest.At("12:42")) {
		t.Errorf("it happened at %v, typed %t", e.HappenedAt, e.Typed)
	}
	next := d.Must(NewBatch, "batch body --moisture 4% --spray 4s --to 12:50").Wrote[0].Body.(event.BatchMixed)
	if next.Batch.Number != 5 || next.SprayPerS == nil || !sessiontest.Near(float64(next.SprayPerS.SI), 0.2e-3) {
		t.Errorf("the next batch is %d, sprayed at %v a second; want 5 and what the wand delivered before",
			next.Batch.Number, next.SprayPerS)
	}
}

// w/cm of body is 18.2704 kg of water, 0.2785 of it in the plasticizer, over 51 kg of cement, fly ash and metakaolin.
func TestABatchSaysItsWaterAndWhatMayStillGoIn(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Check(t, NewBatch,
		sessiontest.Line{
			Line: "batch body --moisture 4% --to 12:40",
			Says: "w/cm 0.358, 2.13 L (0.563 gal) of water may still go in (0.400 allowed); sand 82.2 kg (181 lb), water 15.8 kg (34.8 lb), the rest as the mix, sand at 4%, ready 12:40",
		},
		sessiontest.Line{
			Name: "weighed as dry sand though it was wet", Line: "batch body --uncorrected --moisture 4%",
			Err: "batch 2 has w/cm 0.4005; the mix allows 0.4000, which is 24.3 mL (0.822 fl oz) of water less. With the sand at 4% the mix is sand 82.2 kg (181 lb), water 15.8 kg (34.8 lb): leave out --uncorrected if so much was weighed",
		},
		sessiontest.Line{
			Name: "two litres too many in half a batch", Line: "batch body --scale 1/2 +water=2l --moisture 1.2%",
			Err: "batch 2 has w/cm 0.437; the mix allows 0.400, which is 935 mL",
		},
		sessiontest.Line{
			Line: "batch body --scale 1/2 +water=2l --moisture 1.2% --because 'the engineer tried it'",
			Says: "w/cm 0.437, 935 mL (31.6 fl oz) of water over the mix's 0.400",
		},
		sessiontest.Line{
			Line: "batch body",
			Note: "the sand's moisture is not said: its water is counted as if it lay saturated and surface dry",
		},
	)
}

func TestABatchThatCannotBeIsRefused(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Must(NewBatch, "batch body --moisture 4% --to 12:40")
	d.Check(t, NewBatch,
		sessiontest.Line{Line: "batch bdoy", Err: `no mix "bdoy" is planned; did you mean body?`},
		sessiontest.Line{Line: "batch body gravel=3kg", Err: "gravel"},
		sessiontest.Line{Line: "batch body sand", Err: `"sand" is no amount; write sand=190lb`},
		sessiontest.Line{Line: "batch body sand=much", Err: "sand: "},
		sessiontest.Line{Line: "batch body sand=80kg sand=81kg", Err: "sand is given twice; write +sand=81kg"},
		sessiontest.Line{Line: "batch body cement=none", Err: "a batch needs cement, and this one has none of cement"},
		sessiontest.Line{Line: "batch body --moisture wet", Err: "--moisture: "},
		sessiontest.Line{Line: "batch body --temp hot", Err: "--temp: "},
		sessiontest.Line{Line: "batch body --scale 0", Err: "--scale"},
		sessiontest.Line{Line: "batch body --corrected", Err: "--corrected needs the sand's moisture"},
		sessiontest.Line{Line: "batch body --corrected --uncorrected --moisture 4%", Err: "are opposites"},
		sessiontest.Line{Line: "batch body --spray 10s", Err: "says how long, not how much"},
		sessiontest.Line{Line: "batch body --spray-rate 1l/s", Err: "says how fast, not how long"},
		sessiontest.Line{Line: "batch body --spray long --spray-rate 1l/s", Err: "--spray: "},
		sessiontest.Line{Line: "batch body --spray 10s --spray-rate fast", Err: "--spray-rate: "},
		sessiontest.Line{Line: "batch body --on 2026-07-17", Err: "needs the time when the batch was ready"},
		sessiontest.Line{
			Line: "batch body --number 1",
			Err:  "batch north/2026-07-18/1 is in the record already, as n2/1; the next is 2",
		},
		sessiontest.Line{Line: "batch body --crew nroth", Err: "did you mean north?"},
		sessiontest.Line{
			Line: "batch body --from 8:00 --to 11:30",
			Err:  "would have taken 3 h 30 min; over 2 h it needs a reason",
		},
		sessiontest.Line{Line: "batch body --lead", Err: "needs a terminal"},
	)
}

// A batch has the date on which mixing began, and its number is the next of that day.
func TestABatchAcrossMidnightIsOfTheDayItBegan(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Must(NewBatch, "batch body --moisture 4% --on 2026-07-17 --from 10:00 --to 10:10")
	d.Env.Now = func() time.Time { return sessiontest.At("00:20") }
	got := d.Must(NewBatch, "batch body --moisture 4% --from 'yesterday 23:50' --to 0:05").Wrote[0].Body.(event.BatchMixed)
	if want := (event.Batch{Crew: "north", Day: "2026-07-17", Number: 2}); got.Batch != want {
		t.Errorf("it is batch %v; want %v", got.Batch, want)
	}
}

func TestOnADeviceOfNoCrewTheCrewIsAskedFor(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	d.Check(t, NewBatch,
		sessiontest.Line{
			Line: "batch body",
			Err:  "this device belongs to no crew: say whose batch it is, --crew north",
		},
		sessiontest.Line{Line: "batch body --crew SOUTH --moisture 4%", Says: "batch south/1 of body"},
	)
	d.Check(t, NewBegin, sessiontest.Line{Line: "begin body", Err: "this device belongs to no crew"})
}

func TestTheBatchsDocumentHasTypedFigures(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.JSON = true
	ran := d.Must(NewBatch, "batch body --moisture 4% --to 12:40")
	type quantity struct {
		SI   float64
		Unit string
	}
	var doc struct {
		Batch, Mix string
		Charges    []struct {
			Constituent string
			Amount      quantity
		}
		SandMoisture quantity `json:"sand_moisture"`
		WCM          float64  `json:"w_cm"`
		WaterLimit   float64  `json:"water_limit"`
		WaterLeft    quantity `json:"water_left"`
		Yield        quantity
	}
	if err := json.Unmarshal([]byte(ran.Out), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Batch != "north/2026-07-18/1" || doc.Mix != "body" || len(doc.Charges) != 7 ||
		doc.SandMoisture != (quantity{0.04, "1"}) ||
		doc.WCM != 0.358 || doc.WaterLimit != 0.4 || math.Abs(doc.WaterLeft.SI-(0.4*51-18.2704)) > 1e-3 ||
		doc.WaterLeft.Unit != "kg" ||
		math.Abs(doc.Yield.SI-0.0698375) > 1e-7 || doc.Yield.Unit != "m3" {
		t.Errorf("%+v\n%s", doc, ran.Out)
	}
}

func TestABatchInTheMixerIsSaidToBe(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Check(t, NewBegin,
		sessiontest.Line{
			Line: "begin body --ready 13:10",
			Want: []event.Body{event.BatchBegun{
				Batch: sessiontest.North(1), Mix: "body",
				Ready: sessiontest.At("13:10"),
			}},
			Says: "batch 1 of body is in the mixer, ready at 13:10",
		},
		sessiontest.Line{
			Line: "begin", Want: []event.Body{event.BatchBegun{Batch: sessiontest.North(1)}},
			Says: "batch 1 is in the mixer, in place of batch 1 as it was begun before (n2/1)",
		},
		sessiontest.Line{
			Line: "begin finish --number 5 --at 12:50",
			Want: []event.Body{event.BatchBegun{Batch: sessiontest.North(5), Mix: "finish"}},
			Says: "at 12:50; kept here, not sent yet. `hod next` reckons with it; `hod batch finish` when it is mixed",
		},
		sessiontest.Line{Line: "begin --ready 12:10", Err: "--ready 12:10 is before the batch was begun (13:00)"},
		sessiontest.Line{Line: "begin --ready soon", Err: "soon"},
		sessiontest.Line{Line: "begin boddy", Err: "did you mean body?"},
	)
}
