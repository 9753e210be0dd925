package foldtest

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
)

var (
	Place    = time.FixedZone("there", 2*3600)
	Midnight = time.Date(2031, 5, 12, 0, 0, 0, 0, Place)
)

func As[Q any](q Q) unit.As[Q]   { return unit.As[Q]{SI: q} }
func Ref[Q any](q Q) *unit.As[Q] { return &unit.As[Q]{SI: q} }

// SmallPlan is four zones in a row with two coats, two crews and one mix.
func SmallPlan() []event.Body {
	bodies := []event.Body{
		event.SitePlanned{Name: "Tarn vault", Place: "Underhay", Units: event.Metric, TimeZone: "UTC"},
		event.CrewPlanned{Crew: "north", Name: "North", People: 4},
		event.CrewPlanned{Crew: "south", Name: "South", People: 4},
		event.MixPlanned{
			Mix: "face", Revision: 1, Air: Ref(unit.Share(0.06)), WaterLimit: 0.42, InitialSet: 150 * time.Minute,
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
	names := []event.Zone{"A1", "A2", "A3", "A4"}
	for i, z := range names {
		bodies = append(bodies, event.ZonePlanned{Zone: z, Area: As(unit.Area(9)), Order: i + 1})
		for n := 1; n <= 2; n++ {
			bodies = append(bodies, event.CoatPlanned{
				Coat:      event.Coat{Zone: z, Face: event.Outer, Number: n},
				Thickness: As(unit.Length(0.012)), Mix: "face",
			})
		}
		if i > 0 {
			bodies = append(bodies, event.EdgePlanned{A: names[i-1], B: z, Length: As(unit.Length(3))})
		}
	}
	return bodies
}

func SmallJob(t testing.TB) []event.Event {
	t.Helper()
	job := sim.Job{Plan: SmallPlan(), First: Midnight, Days: 2, Seed: 7, Late: 4 * time.Hour, HotDay: 1}
	work, err := job.Work()
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.Written(SmallPlan(), work, Midnight)
	if err != nil {
		t.Fatal(err)
	}
	return events
}

// revised is a mix in a later revision.
func revised(b event.MixPlanned, revision, corrects int, of event.Event) event.MixPlanned {
	b.Revision, b.Corrects, b.Replaces = revision, corrects, []event.Hash{of.Hash()}
	return b
}

// trouble writes on a job that is there what people do to a record afterwards.
type trouble struct {
	testing.TB
	*simtest.Devices
}

// Troubled is a job with all that people do to a record afterwards: amended, taken back, brought back, corrected in two
// ways and settled or not, planned in two ways, revoked, answered, forecast, and written by strangers.
func Troubled(t testing.TB, events []event.Event) []event.Event {
	t.Helper()
	d := trouble{t, simtest.Continue(events)}
	d.at(simtest.Root, "", 0, event.DeviceEnrolled{
		Device: "f2", PublicKey: make([]byte, 32), Role: event.Foreman,
		Crew: "office",
	})
	n := map[string]int{}
	for _, e := range events {
		kind := event.KindOf(e.Body)
		n[kind]++
		switch b := e.Body.(type) {
		case event.Placement:
			d.placement(n[kind], e, b)
		case event.BatchMixed:
			d.batch(n[kind], e, b)
		case event.MixPlanned:
			d.mix(e, b)
		case event.ZonePlanned:
			if n[kind] == 2 {
				d.zone(e, b)
			}
		case event.WeatherObserved:
			if n[kind] == 12 {
				b.Samples = append([]event.Weather{}, b.Samples...)
				b.Samples[0].Air = new(unit.Celsius(31))
				d.amend(e, e.Device, e.Crew, b, "misread")
			}
		}
	}
	d.fork()
	d.forecast()
	d.strangers()
	return d.Events
}

// at writes a body so long after the job's first midnight.
func (d trouble) at(on event.Device, crew event.Crew, after time.Duration, body event.Body) event.Event {
	d.Helper()
	if err := d.Write(on, crew, Midnight.Add(after), true, body); err != nil {
		d.Fatal(err)
	}
	return d.Events[len(d.Events)-1]
}

// late writes a body on the second day, each a second after the one before.
func (d trouble) late(on event.Device, crew event.Crew, body event.Body) event.Event {
	d.Helper()
	return d.at(on, crew, 35*time.Hour+time.Duration(len(d.Events))*time.Second, body)
}

func (d trouble) amend(
	e event.Event, on event.Device, crew event.Crew, body event.Body, why string,
) event.Event {
	d.Helper()
	return d.late(on, crew, event.Amended{Target: e.Hash(), Body: body, Why: why})
}

// placement is the nth of the job: moved, taken back, brought back, or corrected in two ways, settled or not.
func (d trouble) placement(n int, e event.Event, b event.Placement) {
	d.Helper()
	half, more := b, b
	half.Part.Share, more.Part.Share = Ref(unit.Share(0.5)), Ref(unit.Share(0.6))
	switch n {
	case 3:
		b.Coat.Zone = "A3"
		d.amend(e, e.Device, e.Crew, b, "other zone")
	case 4:
		d.late("f1", "office", event.CoatFinished{Coat: b.Coat, Why: "thick enough"})
	case 5:
		d.late("f1", "office", event.Voided{Target: e.Hash(), Why: "never happened"})
	case 7:
		gone := d.late(e.Device, e.Crew, event.Voided{Target: e.Hash(), Why: "slip"})
		d.amend(gone, "f1", "office", b, "it did happen")
	case 9:
		d.amend(e, e.Device, e.Crew, half, "half")
		d.amend(e, "f1", "office", more, "more")
	case 11:
		x := d.amend(e, e.Device, e.Crew, half, "half")
		y := d.amend(e, "f1", "office", more, "more")
		d.late("f1", "office", event.Settled{Holds: x.Hash(), Over: []event.Hash{y.Hash()}, Why: "asked"})
	}
}

// batch is the nth of the job: weighed again, taken back, or its number used twice.
func (d trouble) batch(n int, e event.Event, b event.BatchMixed) {
	d.Helper()
	switch n {
	case 2:
		b.SandMoisture = Ref(unit.Share(0.07))
		d.amend(e, e.Device, e.Crew, b, "weighed it again")
	case 4:
		d.late(e.Device, e.Crew, event.Voided{Target: e.Hash(), Why: "another's"})
	case 6:
		d.late(e.Device, e.Crew, b)
	}
}

// mix is revised in the middle of the work, corrected, and corrected in two ways that nobody settled.
func (d trouble) mix(e event.Event, b event.MixPlanned) {
	d.Helper()
	second := revised(b, 2, 0, e)
	second.Air = Ref(unit.Share(0.09))
	two := d.at("f1", "office", 9*time.Hour, second)
	third := revised(b, 3, 1, two)
	third.InitialSet = 4 * time.Hour
	three := d.at("f1", "office", 33*time.Hour, third)
	for i, air := range []unit.Share{0.02, 0.12} {
		fourth := revised(b, 4, 2, three)
		fourth.Air = &unit.As[unit.Share]{SI: air}
		d.at([]event.Device{"f1", "f2"}[i], "office", 34*time.Hour, fourth)
	}
}

// zone is planned anew in two ways.
func (d trouble) zone(e event.Event, b event.ZonePlanned) {
	d.Helper()
	b.Area.SI *= 1.1
	b.Replaces = []event.Hash{e.Hash()}
	d.late("f1", "office", b)
	b.Area.SI *= 1.1
	d.late("f1", "office", b)
}

// fork has some of what was written there again on top of its device's record, of these every other only so.
func (d trouble) fork() {
	d.Helper()
	var lost []event.Hash
	for i, e := range slices.Clone(d.Events) {
		if i%9 == 4 && e.Device != simtest.Root {
			if err := d.Again(e); err != nil {
				d.Fatal(err)
			}
			if i%2 == 0 {
				lost = append(lost, e.Hash())
			}
		}
	}
	d.Events = slices.DeleteFunc(d.Events, func(e event.Event) bool { return slices.Contains(lost, e.Hash()) })
}

func (d trouble) forecast() {
	d.Helper()
	for hour := range 20 {
		d.late("f1", "office", event.WeatherForecast{
			Source: "station", IssuedAt: Midnight.Add(30 * time.Hour), WindHeight: As(unit.Length(10)),
			Samples: []event.Weather{{
				At:  Midnight.Add(time.Duration(36+hour) * time.Hour),
				Air: new(unit.Celsius(12 + hour%7)), Humidity: new(unit.Share(0.6)), Wind: new(unit.Speed(4)),
			}},
		})
	}
}

// strangers write before they are enrolled, without being so, and after they are revoked.
func (d trouble) strangers() {
	d.Helper()
	d.late("q9", "quay", event.Noted{Text: "a stranger"})
	d.late("f1", "office", event.FlagAnswered{Flag: "abcde", Answer: "of a flag that is not there"})
	d.late("n9", "north", event.Noted{Text: "written before it was enrolled"})
	d.late(simtest.Root, "", event.DeviceEnrolled{
		Device: "n9", PublicKey: make([]byte, 32), Role: event.CrewRole,
		Crew: "north",
	})
	last := d.late("n9", "north", event.Noted{Text: "the last that stands"})
	d.late("n9", "north", event.Noted{Text: "after it was lost"})
	d.late(simtest.Root, "", event.DeviceRevoked{Device: "n9", LastSeq: last.Seq, Why: "lost"})
}

func Folded(events ...event.Event) *fold.Site {
	s := fold.New("tarn", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	return s
}

// Everything that a person may see of a site, as text, so that two sites can be compared.
func Everything(t testing.TB, s *fold.Site, now time.Time) string {
	t.Helper()
	day, err := daily.DayOf(s, now, Place, now.In(Place).Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	past, err := daily.DayOf(s, now, Place, now.AddDate(0, 0, -1).In(Place).Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]any{
		"past":  past,
		"board": daily.BoardOf(s, now, Place), "joints": view.JointsOf(s, now, Place),
		"flags": daily.FlagsOf(s, now, Place, true), "day": day,
		"stock": view.StockOf(s, now, Place), "next": advice.NextOfAll(s, now, Place),
		"overview": drawing.OverviewOf(s, now, Place, nil, true), "charts": drawing.ChartsOf(s, now, Place),
		"forecast": ahead.ForecastOf(s, now, Place), "log": view.LogOf(s, now, Place, view.LogQuery{}),
	}
	text, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// WithoutDays is all that a person may see but what lists events one by one.
func WithoutDays(t testing.TB, s *fold.Site, now time.Time) string {
	t.Helper()
	text, err := json.MarshalIndent(map[string]any{
		"board": daily.BoardOf(s, now, Place), "joints": view.JointsOf(s, now, Place),
		"flags": daily.FlagsOf(s, now, Place, true),
		"stock": view.StockOf(s, now, Place), "next": advice.NextOfAll(s, now, Place),
		"forecast": ahead.ForecastOf(s, now, Place),
		"heard":    s.Heard(now), "devices": s.Devices(), "len": s.Len(),
	}, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
