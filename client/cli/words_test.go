package cli

import (
	"context"
	"errors"
	"io"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plan"
	"hod/internal/unit"
	example "hod/testdata/plan"
)

// lineSite is what crew north's device knows of the example's site on a day of work, without a journal.
func lineSite(t testing.TB) *site {
	t.Helper()
	now := time.Date(2026, 7, 18, 14, 5, 0, 0, time.UTC)
	s := &site{
		env:    &Env{Stderr: io.Discard, Stdout: io.Discard, Now: func() time.Time { return now }, Getenv: func(string) string { return "" }, Local: time.UTC},
		device: journal.Device{Site: "vault", Name: "n2", Crew: "north", Role: event.CrewRole, Root: "host"}, now: now,
		fold: fold.New("vault", "host"),
	}
	seq := map[event.Device]uint64{}
	add := func(d event.Device, at time.Time, body event.Body) {
		t.Helper()
		seq[d]++
		e, err := event.Write(event.Event{Name: event.Name{Device: d, Seq: seq[d]}, HappenedAt: at, LoggedAt: at, Body: body})
		if err != nil {
			t.Fatal(err)
		}
		s.fold.Add(e)
	}
	for _, d := range []event.DeviceEnrolled{{Device: "n1", Role: event.Foreman}, {Device: "n2", Role: event.CrewRole, Crew: "north"}} {
		d.PublicKey = public(keyOf(string(d.Device)))
		add("host", now.AddDate(0, 0, -7), d)
	}
	read, err := plan.Read("vault.yaml", example.Vault, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range read.Events() {
		add("n1", now.AddDate(0, 0, -6), b)
	}
	mix, coat := read.Mixes[0], read.Coats[0].Coat
	batch := event.Batch{Crew: "north", Day: "2026-07-18", Number: 7}
	mixed := event.BatchMixed{Batch: batch, Mix: mix.Mix, Revision: mix.Revision, MixedFrom: now.Add(-3 * time.Hour), MixedTo: now.Add(-170 * time.Minute)}
	for _, c := range mix.Constituents {
		mixed.Charges = append(mixed.Charges, event.Charge{Constituent: c.Name, Amount: c.Amount})
	}
	add("n2", now.Add(-170*time.Minute), mixed)
	half := unit.As[unit.Share]{SI: 0.5, Entered: "1/2"}
	add("n2", now.Add(-160*time.Minute), event.Placement{Batch: batch, Coat: coat, Part: event.Part{Share: &half}})
	s.look()
	if _, ok := s.fold.Batch(batch); !ok {
		t.Fatal("the batch is not in the record")
	}
	return s
}

// amendable is an event of each kind that amend changes.
func amendable(s *site) []event.Body {
	b := s.fold.Batches()[0]
	coat := b.Parts[0].Coat
	temp := []event.Reading{{At: s.now.Add(-time.Hour), Temperature: 25}}
	return []event.Body{
		b.Body,
		event.BatchTested{Batch: b.ID},
		event.Placement{Batch: b.ID, Coat: coat},
		event.BatchDiscarded{Batch: b.ID, Why: "set"},
		event.JointTreated{Coat: coat, Method: "scratched"},
		event.SurfaceTended{Zone: coat.Zone, Tending: event.Covered},
		event.CoatFinished{Coat: coat},
		event.ProgressStated{Coat: coat},
		event.MethodChanged{What: "thinner"},
		event.CureReadings{Coat: coat, Samples: temp},
		event.WeatherObserved{Station: "mast"},
		event.StockReceived{Material: "cement"},
		event.StockCounted{Material: "cement"},
		event.StockSpoiled{Material: "cement"},
		event.SpecimensBroken{Mix: b.Body.Mix, Shape: event.Cube},
		event.Noted{Text: "first"},
		event.FlagAnswered{},
		event.ShiftStarted{},
		event.ShiftEnded{},
	}
}

// FuzzWords gives the words of a line that a crew types to all that read words: which batch, zone, coat, part, amount,
// time. None panics; numbers are finite; what is refused is refused for a reason that a person can act on.
func FuzzWords(f *testing.F) {
	s := lineSite(f)
	bodies := amendable(s)
	for _, line := range []string{
		"7 A1 1/2", "A1", "a1 40l", "north/7 A1", "north/2026-07-18/7 A1 rest", "A1 outer 1", "outer 1 12mm body", "B3=2.4m", "south/999", "n2/1", "1", "2/1",
		"sand=190lb,kind=sand,gravity=2.62,absorption=1%", "sand=rest,gravity=2.62", "+water=1qt", "water 3/4, wait 2min, look flows by itself", "=", "sand=", "cement=1kg,gravity=NaN",
		"40x94lb", "1e6x1kg", "NaNx1kg", "0x1p3%", "110%", "NaN%", "Inf%", "800 W/m2", "nan", "53kN,54kN", "12mm,14mm,13 mm", "-5C", "--wind -5C", "none", "0", "½", "1e400", "\x1b[2J",
		"north/7/7/7", "/", "//", "yesterday 16:10", "2026-07-18", "0000-00-00", strings.Repeat("9", 40), strings.Repeat("A", 100),
	} {
		f.Add(line, uint16(0))
	}
	for i, b := range bodies {
		for j := range settersOf(b) {
			f.Add("A1", uint16(i<<8|j))
			f.Add("7.5mm", uint16(i<<8|j))
		}
	}
	f.Fuzz(func(t *testing.T, line string, which uint16) {
		fine := func(what string, x float64, err error) {
			t.Helper()
			if err != nil {
				reasoned(t, what+" "+line, err)
			} else if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%s %q is %v", what, line, x)
			}
		}
		said := func(what string, err error) { t.Helper(); fine(what, 0, err) }
		words := strings.Fields(line)
		shield(words)
		if n := len(words); n > 0 {
			var p place
			p.words(s, words[:min(n, 3)])
			zone, err := s.findZone(p.zone)
			said("zone", err)
			if err == nil {
				_, err = s.findCoat(zone, coatWords{face: p.part})
				said("coat", err)
			}
			_, err = s.meant(p.batch, "")
			said("batch", err)
			p.thickness, p.along = words, words
			said("gauges", p.readGauges(s, &event.Placement{}))
		}
		_, err := readPart(line)
		said("part", err)
		scale, err := readScale(line)
		fine("scale", scale, err)
		if err == nil && !(scale > 0 && scale <= 20) {
			t.Fatalf("scale %q is %v", line, scale)
		}
		a, err := readStock(line)
		fine("stock", float64(a.Mass)+float64(a.Volume), err)
		c, rest, err := readOrRest(line)
		fine("constituent", c.Gravity, err)
		if err == nil && rest && c.Kind != event.Sand {
			t.Fatalf("%q takes the rest", line)
		}
		_, err = readStep(line)
		said("step", err)
		flow, err := parseFlowShare(line)
		fine("flow", float64(flow), err)
		sun, err := parseSun(line)
		fine("sun", sun, err)
		_, err = readLoads(line)
		said("load", err)
		_, err = s.onDay(line)
		said("day", err)
		_, err = s.findMix(line)
		said("mix", err)
		_, err = s.findCrew(line)
		said("crew", err)
		_, err = s.findBatch(line, "")
		said("batch", err)
		_, err = s.findEvent(line)
		said("event", err)
		_, err = s.readCoat("A1", words)
		said("coat", err)
		_, err = s.readEdge("A1", line)
		said("edge", err)
		_, err = batch{amounts: words}.charges(s.plan.Mixes[s.plan.MixNames()[0]], 1, nil)
		said("charges", err)
		if b, err := event.ParseBatch(line, "north", "2026-07-18"); err == nil {
			if again, err := event.ParseBatch(b.String(), "", ""); err != nil || again != b {
				t.Fatalf("%q is read as %s, and that as %s: %v", line, b, again, err)
			}
		}
		if n, err := event.ParseName(line); err == nil {
			if again, err := event.ParseName(n.String()); err != nil || again != n {
				t.Fatalf("%q is read as %s, and that as %s: %v", line, n, again, err)
			}
		}

		body := bodies[int(which>>8)%len(bodies)]
		setters := settersOf(body)
		key := setters[int(which&0xff)%len(setters)].key
		changed, err := s.set(body, key, line, "")
		said(key, err)
		if err != nil {
			return
		}
		e, err := event.Write(event.Event{Name: event.Name{Device: "n2", Seq: 9}, HappenedAt: s.now, LoggedAt: s.now, Body: changed})
		if err != nil {
			said(key, err)
			return
		}
		if again, err := event.Read(e.Bytes()); err != nil || !reflect.DeepEqual(again.Body, e.Body) {
			t.Fatalf("%s=%q is kept as %+v and read as %+v: %v", key, line, e.Body, again.Body, err)
		}
	})
}

// reasoned is an error that is the person's to mend, in words.
func reasoned(t *testing.T, what string, err error) {
	t.Helper()
	e := classify(context.Background(), err)
	var quantity *unit.Error
	if e.Kind == Internal && !errors.As(err, &quantity) || e.Msg == "" {
		t.Fatalf("%.200q is refused as a fault of the program: %v", what, err)
	}
}

// What no number is, is none for a flow or for the sun either.
func TestAFlowAndTheSunAreNumbers(t *testing.T) {
	for _, word := range []string{"NaN", "Inf", "-inf", "0x1p-2", "1_000", "", "1e400"} {
		if v, err := parseFlowShare(word + "%"); err == nil {
			t.Errorf("a flow of %q is %v", word+"%", v)
		}
		if v, err := parseSun(word + "W/m2"); err == nil {
			t.Errorf("the sun at %q is %v", word+"W/m2", v)
		}
	}
	if v, err := parseFlowShare("110%"); err != nil || v != 1.1 {
		t.Errorf("110%% is %v, %v", v, err)
	}
	if v, err := parseSun("800 W/m²"); err != nil || v != 800 {
		t.Errorf("800 W/m² is %v, %v", v, err)
	}
}
