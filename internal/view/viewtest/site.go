package viewtest

import (
	"fmt"
	"math"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
)

func BatchWith(n int, at time.Time, change func(*event.BatchMixed)) sim.Work {
	w := Mixed(Batch(n), at)
	b := w.Body.(event.BatchMixed)
	change(&b)
	w.Body = b
	return w
}

// Week is a plan with the hours of work on each day of the week, so that nothing of the calendar is guessed.
func Week(bodies []event.Body) []event.Body {
	sp := bodies[0].(event.SitePlanned)
	sp.Week = []event.WorkDays{{Days: []time.Weekday{1, 2, 3, 4, 5, 6, 0}, From: 7 * time.Hour, To: 17 * time.Hour}}
	bodies[0] = sp
	return bodies
}

// EveryHalfHour is a crew that mixes and places a batch each half hour, in the order of the zones; each is weighed.
func EveryHalfHour(n int, first time.Time) []sim.Work {
	var work []sim.Work
	for i := range n {
		coat := CoatA1
		if i >= 2 {
			coat = CoatA2
		}
		work = append(work, Whole(Batch(i+1), coat, first.Add(time.Duration(i)*30*time.Minute))...)
	}
	return work
}

// At23 is a still, damp day at 23 °C, and batchAt23 a batch as warm: mortar then ages by the clock, and after so many
// minutes of the 150 that the mix states at 23 °C that share of its initial set is used up.
func At23() []sim.Work {
	var read23 []sim.Work
	for h := 6; h < 20; h++ {
		read23 = append(read23, Read(event.Weather{
			At: Clock(h, 0), Air: new(unit.Celsius(23)),
			Humidity: new(unit.Share(0.9)), Wind: new(unit.Speed(1)),
		}))
	}
	return read23
}

func BatchAt23(id event.Batch, coat event.Coat, at time.Time, share unit.Share) []sim.Work {
	m := Mixed(id, at)
	b := m.Body.(event.BatchMixed)
	b.Temperature = Ref(unit.Celsius(23))
	m.Body = b
	return []sim.Work{m, Placed(id, coat, at.Add(5*time.Minute), at.Add(10*time.Minute), share)}
}

// Joint is the one of that kind, of a zone and across an edge.
func Joint(t testing.TB, all []view.Joint, kind, zone, other string, made bool) view.Joint {
	t.Helper()
	for _, j := range all {
		if j.Kind == kind && j.Zone == zone && j.Other == other && j.Made == made {
			return j
		}
	}
	t.Fatalf("no %s joint of %s with %q, made %t, in %d", kind, zone, other, made, len(all))
	return view.Joint{}
}

// Desk writes events one after the other, so that a later one can name an earlier.
type Desk struct {
	t testing.TB
	D *simtest.Devices
}

func NewDesk(t testing.TB, work ...sim.Work) *Desk {
	t.Helper()
	events, err := simtest.Written(Plan(), work, Noon.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	return &Desk{t, simtest.Continue(events)}
}

// Write an event of a device; its hash names it.
func (d *Desk) Write(on event.Device, crew event.Crew, at time.Time, body event.Body) event.Hash {
	d.t.Helper()
	if err := d.D.Write(on, crew, at, true, body); err != nil {
		d.t.Fatal(err)
	}
	return d.Last().Hash()
}

func (d *Desk) Last() event.Event { return d.D.Events[len(d.D.Events)-1] }

// Of is the hash of an event written before.
func (d *Desk) Of(name string) event.Hash {
	d.t.Helper()
	for _, e := range d.D.Events {
		if e.Name.String() == name {
			return e.Hash()
		}
	}
	d.t.Fatalf("no event %s", name)
	return event.Hash{}
}

func (d *Desk) Site() *fold.Site {
	s := fold.New("tarn", simtest.Root)
	for _, e := range d.D.Events {
		s.Add(e)
	}
	return s
}

// By says who wrote something.
func By(crew event.Crew, w ...sim.Work) []sim.Work {
	for i := range w {
		w[i].Crew = crew
	}
	return w
}

var Noon = time.Date(2031, 5, 12, 12, 0, 0, 0, time.UTC)

func As[Q any](q Q) unit.As[Q] { return unit.As[Q]{SI: q} }

func Ref[Q any](q Q) *unit.As[Q] { return &unit.As[Q]{SI: q} }

// Plan is two zones side by side with one coat each, a mix and a crew.
func Plan() []event.Body {
	bodies := []event.Body{
		event.SitePlanned{Name: "Tarn vault", Place: "Underhay", Units: event.Metric, TimeZone: "UTC"},
		event.CrewPlanned{Crew: "north"},
		event.MixPlanned{
			Mix: "face", Revision: 1, Air: Ref(unit.Share(0.06)), WaterLimit: 0.5, InitialSet: 150 * time.Minute,
			SetReference: Ref(unit.Celsius(23)), Activation: 40,
			Constituents: []event.Constituent{
				{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42}, Gravity: 3.15},
				{
					Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 85}, Gravity: 2.65,
					Absorption: Ref(unit.Share(0.01)),
				},
				{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}, Gravity: 1},
			},
		},
	}
	for i, z := range []event.Zone{"A1", "A2"} {
		bodies = append(bodies, event.ZonePlanned{Zone: z, Area: As(unit.Area(9)), Order: i + 1},
			event.CoatPlanned{
				Coat:      event.Coat{Zone: z, Face: event.Outer, Number: 1},
				Thickness: As(unit.Length(0.012)), Mix: "face",
			})
	}
	return append(bodies, event.EdgePlanned{A: "A1", B: "A2", Length: As(unit.Length(3))})
}

// Site folds a plan and what a crew wrote.
func Site(t interface{ Fatal(...any) }, work ...sim.Work) *fold.Site {
	events, err := simtest.Written(Plan(), work, Noon.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	s := fold.New("tarn", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	return s
}

func Wrote(at time.Time, body event.Body) sim.Work {
	return sim.Work{At: at, Crew: "north", Typed: true, Body: body}
}

func Read(w event.Weather) sim.Work {
	b := event.WeatherObserved{Station: "crew", Samples: []event.Weather{w}}
	if w.Wind != nil {
		b.WindHeight = As(unit.Length(2))
	}
	return Wrote(w.At, b)
}

// Hot is a reading at which a fresh surface dries over the limit, and air the air alone.
func Hot(at time.Time) event.Weather {
	return event.Weather{At: at, Air: new(unit.Celsius(33)), Humidity: new(unit.Share(0.25)), Wind: new(unit.Speed(8))}
}

func Air(at time.Time) event.Weather { return event.Weather{At: at, Air: new(unit.Celsius(31))} }

// The site of the tests of values. All its numbers can be worked out on paper:
//
//	zones A1 and A2, 9 m² each, one edge of 3 m, one coat of 12 mm: 9 × 0.012 = 0.108 m³, with 8 % loss 0.11664 m³
//	a batch: 42 kg cement, 85 kg sand saturated and surface dry, 16 kg water: 143 kg, w/cm 16/42
//	weighed at 2200 kg/m³ it made 143/2200 = 0.065 m³
//	as designed: (42/3.15 + 85/2.65 + 16/1) / 999.55 m³ (water weighs 62.4 lb/ft³) over 1 less 6 % air = 65.36 litres
const (
	BatchKg    = 143.0
	Weighed    = 2200.0
	BatchM3    = BatchKg / Weighed
	NeededM3   = 9 * 0.012 * 1.08
	Ratio      = 16.0 / 42
	DesignedM3 = (42/3.15 + 85/2.65 + 16.0) / (62.4 * 0.45359237 / 0.028316846592) / 0.94
)

// Day is the date on which it plays.
const Day = "2031-05-12"

// Clock is an instant of that day.
func Clock(hour, minute int) time.Time { return time.Date(2031, 5, 12, hour, minute, 0, 0, time.UTC) }

func Batch(n int) event.Batch { return event.Batch{Crew: "north", Day: Day, Number: n} }

func BatchOf(crew event.Crew, n int) event.Batch { return event.Batch{Crew: crew, Day: Day, Number: n} }

var CoatA1, CoatA2 = event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, event.Coat{
	Zone: "A2", Face: event.Outer,
	Number: 1,
}

func Charges(cement, sand, water unit.Mass) []event.Charge {
	return []event.Charge{
		{Constituent: "cement", Amount: event.Amount{Mass: cement}},
		{Constituent: "sand", Amount: event.Amount{Mass: sand}},
		{Constituent: "water", Amount: event.Amount{Mass: water}},
	}
}

// Mixed is a batch as designed; water met cement, mixing began and it was ready at one instant.
func Mixed(id event.Batch, at time.Time) sim.Work {
	w := Wrote(at, event.BatchMixed{
		Batch: id, Mix: "face", Revision: 1, Charges: Charges(42, 85, 16), MixedFrom: at, MixedTo: at, WaterAt: at,
	})
	w.Crew = id.Crew
	return w
}

func Tested(id event.Batch, at time.Time, density unit.Density) sim.Work {
	w := Wrote(at, event.BatchTested{Batch: id, UnitWeight: Ref(density)})
	w.Crew = id.Crew
	return w
}

// Placed is a share of a batch in a coat; nothing of the rest is said.
func Placed(id event.Batch, coat event.Coat, from, to time.Time, share unit.Share) sim.Work {
	p := event.Placement{Batch: id, Coat: coat, From: from, To: to}
	if share < 1 {
		p.Part.Share = Ref(share)
	}
	w := Wrote(to, p)
	w.Crew = id.Crew
	return w
}

// Whole is a batch mixed, weighed and placed within ten minutes.
func Whole(id event.Batch, coat event.Coat, at time.Time) []sim.Work {
	return []sim.Work{
		Mixed(id, at), Tested(id, at.Add(time.Minute), Weighed),
		Placed(id, coat, at.Add(5*time.Minute), at.Add(10*time.Minute), 1),
	}
}

func All(work ...[]sim.Work) []sim.Work {
	var sum []sim.Work
	for _, w := range work {
		sum = append(sum, w...)
	}
	return sum
}

// Planned is a site of another plan.
func Planned(t testing.TB, bodies []event.Body, work ...sim.Work) *fold.Site {
	t.Helper()
	events, err := simtest.Written(bodies, work, Noon.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	s := fold.New("tarn", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	return s
}

// Near tells numbers apart that differ by more than the last figures of a sum.
func Near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// Is compares a number of a view with what was worked out.
func Is(t testing.TB, what string, got, want float64) {
	t.Helper()
	if !Near(got, want) {
		t.Errorf("%s is %g, want %g", what, got, want)
	}
}

// MaybeIs compares a number that may be absent; a want of NaN is absent.
func MaybeIs(t testing.TB, what string, got *float64, want float64) {
	t.Helper()
	switch {
	case got == nil && math.IsNaN(want):
	case got == nil:
		t.Errorf("%s is absent, want %g", what, want)
	case math.IsNaN(want):
		t.Errorf("%s is %g, want none", what, *got)
	default:
		Is(t, what, *got, want)
	}
}

// None is the number of what is absent.
var None = math.NaN()

// At compares an instant that may be absent; a zero one is absent.
func At(t testing.TB, what string, got *time.Time, want time.Time) {
	t.Helper()
	switch {
	case got == nil && want.IsZero():
	case got == nil:
		t.Errorf("%s is absent, want %s", what, want)
	case !got.Equal(want):
		t.Errorf("%s is %s, want %s", what, got, want)
	}
}

func Same[V comparable](t testing.TB, what string, got, want V) {
	t.Helper()
	if got != want {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

func List[V any](t testing.TB, what string, got []V, want ...V) {
	t.Helper()
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func Received(at time.Time, kg unit.Mass, entered string) sim.Work {
	return Wrote(at, event.StockReceived{
		Material: "cement", Amount: event.Amount{Mass: kg, Entered: entered},
		Lot: "L7",
	})
}

func Counted(at time.Time, kg unit.Mass) sim.Work {
	return Wrote(at, event.StockCounted{Material: "cement", Amount: event.Amount{Mass: kg}})
}

// Cement of a stock.
func Cement(t testing.TB, v view.Stock) view.MaterialStock {
	t.Helper()
	for _, k := range v.Materials {
		if k.Material == "cement" {
			return k
		}
	}
	t.Fatalf("no cement in %+v", v)
	return view.MaterialStock{}
}

// Full is a reading of air, humidity and wind.
func Full(at time.Time, air unit.Celsius, humidity unit.Share, wind unit.Speed) event.Weather {
	return event.Weather{At: at, Air: &air, Humidity: &humidity, Wind: &wind}
}

// Uno is the rate of evaporation of ACI 305R by Uno (1998), in kg/m²/h: 5 ([Tc+18]^2.5 − r [Ta+18]^2.5) (V+4) × 10⁻⁶,
// with the temperatures of the surface and the air in °C and the wind at 0.5 m in km/h.
func Uno(surface, air, humidity, wind float64) float64 {
	return 5 * (math.Pow(surface+18, 2.5) - humidity*math.Pow(air+18, 2.5)) * (wind*3.6 + 4) * 1e-6
}

// WindAtWork brings a wind read at a height above the surface to 0.5 m by the one-seventh power law.
func WindAtWork(read, height float64) float64 { return read * math.Pow(0.5/height, 1.0/7) }
