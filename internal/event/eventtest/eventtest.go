// Package eventtest draws events for property tests: any body that a person or a program on a site could write, each of
// its fields said or not, small and large, in the letters of several scripts.
//
// Every body drawn passes its check. They know nothing of each other: a placement's batch was mixed by nobody. Use Body
// and Event where any will do, Kinds to go through them one by one, Run for one device's record. Not for use outside
// tests.
package eventtest

import (
	"crypto/ed25519"
	"fmt"
	"slices"
	"time"

	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/unit"
)

// Kind is one kind of body and how to draw it.
type Kind struct {
	Name string // as event.KindOf has it
	Draw func(t *rapid.T) event.Body
}

// Kinds are all bodies that this version writes; those that correct others come last.
func Kinds() []Kind { return append(plain(), corrections()...) }

// Body draws a body of any kind.
func Body(t *rapid.T) event.Body { return oneOf(t, Kinds()) }

func oneOf(t *rapid.T, kinds []Kind) event.Body {
	return kinds[rapid.IntRange(0, len(kinds)-1).Draw(t, "kind")].Draw(t)
}

// Event draws an event of any device with a body of any kind.
func Event(t *rapid.T) event.Event {
	return write(t, event.Name{Device: Device(t), Seq: rapid.Uint64Range(1, 1<<40).Draw(t, "seq")}, Body(t))
}

// Run draws n events that follow a device's seq, without gaps.
func Run(t *rapid.T, device event.Device, after uint64, n int) []event.Event {
	run := make([]event.Event, n)
	for i := range run {
		run[i] = write(t, event.Name{Device: device, Seq: after + 1 + uint64(i)}, Body(t))
	}
	return run
}

// Key draws a device's key.
func Key(t *rapid.T) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(bytes(t, ed25519.SeedSize, "seed"))
}

func write(t *rapid.T, name event.Name, body event.Body) event.Event {
	e := event.Event{
		Name: name, HappenedAt: at(t, "happened"), LoggedAt: at(t, "logged"), Typed: rapid.Bool().Draw(t, "typed"),
		Person: maybe(t, "person", line), Sure: rapid.Bool().Draw(t, "sure"), Body: body,
	}
	if said(t, "crew") {
		e.Crew = Crew(t)
	}
	if said(t, "offset") {
		offset := time.Duration(rapid.Int64Range(-1e7, 1e7).Draw(t, "offset")) * time.Millisecond
		e.Offset, e.Basis = &offset, event.ClockBasis(rapid.IntRange(0, 2).Draw(t, "basis"))
	}
	if said(t, "stands for") {
		e.StandsFor = hash(t)
	}
	e, err := event.Write(e)
	if err != nil {
		t.Fatalf("drawn event %s with %s: %v", name, event.KindOf(body), err)
	}
	return e
}

// Device draws a name.
func Device(t *rapid.T) event.Device { return event.Device(name(t, "device")) }

// Crew draws a name.
func Crew(t *rapid.T) event.Crew { return event.Crew(name(t, "crew")) }

// Zone draws a name.
func Zone(t *rapid.T) event.Zone { return event.Zone(name(t, "zone")) }

// Batch draws a batch's name.
func Batch(t *rapid.T) event.Batch {
	return event.Batch{
		Crew: Crew(t), Day: at(t, "day").Format(time.DateOnly),
		Number: rapid.IntRange(1, event.MaxBatches).Draw(t, "batch"),
	}
}

// Coat draws a coat's name.
func Coat(t *rapid.T) event.Coat {
	return event.Coat{Zone: Zone(t), Face: face(t), Number: rapid.IntRange(1, event.MaxCoats).Draw(t, "coat")}
}

// plain are the kinds that correct nothing.
func plain() []Kind {
	return slices.Concat(shellPlans(), crewPlans(), mixing(), placing(), ahead(), surfaces(), readings(),
		stockAndProof(), saying(), people())
}

// shellPlans are the kinds of the shell that is planned.
func shellPlans() []Kind {
	return []Kind{
		{"site", func(t *rapid.T) event.Body {
			from := minutes(t, "from", 0, 12*60)
			return event.SitePlanned{
				Name: line(t, "name"), Place: maybe(t, "place", line),
				Units: event.Units(rapid.IntRange(0, 2).Draw(t, "units")),
				TimeZone: rapid.SampledFrom([]string{"", "Europe/Lisbon", "America/Argentina/Salta", "Etc/GMT+3"}).Draw(
					t, "zone"),
				WorkFrom: from, WorkTo: from + minutes(t, "work", 0, 12*60),
				Loss: some(t, "loss", share(0, 1)), Closing: some(t, "closing", share(0.01, 1)),
				Weighing:          some(t, "weighing", share(0.01, 0.5)),
				EvaporationMetric: unit.Evaporation(zeroOr(t, "metric", 0.1, 3)),
				EvaporationUS:     zeroOr(t, "us", 0.01, 1),
				WarnBefore:        minutes(t, "warn", 0, 120), Week: week(t), Except: exceptions(t),
				Replaces: hashes(t, 0),
			}
		}},
		{"zone", func(t *rapid.T) event.Body {
			return event.ZonePlanned{
				Zone: Zone(t), Area: quantity[unit.Area](t, "area", 0.1, 1000), Shape: maybe(t, "shape", line),
				Order: rapid.IntRange(0, 1000).Draw(t, "order"), Form: form(t), At: mapCell(t), Exposure: exposure(t),
				ReachedFrom: maybe(t, "reached from", sideName), Replaces: hashes(t, 0),
			}
		}},
		{"edge", func(t *rapid.T) event.Body {
			a, b := twoZones(t)
			e := event.EdgePlanned{
				A: a, B: b, Length: quantity[unit.Length](t, "length", 0.1, 50),
				Replaces: hashes(t, 0),
			}
			if rapid.Bool().Draw(t, "on sides") {
				e.PartA, e.PartB = edgePart(t), edgePart(t)
			}
			e.Joint = event.JointPermission(rapid.IntRange(0, 3).Draw(t, "joint"))
			return e
		}},
		{"coat", func(t *rapid.T) event.Body {
			return event.CoatPlanned{
				Coat: Coat(t), Thickness: quantity[unit.Length](t, "thickness", 0.002, 0.06), Mix: mix(t),
				Replaces: hashes(t, 0),
			}
		}},
	}
}

// crewPlans are the kinds of what it is built with, and by whom.
func crewPlans() []Kind {
	return []Kind{
		{"mix", func(t *rapid.T) event.Body { return planMix(t) }},
		{"crew", func(t *rapid.T) event.Body {
			b := event.CrewPlanned{
				Crew: Crew(t), Name: maybe(t, "name", line), People: rapid.IntRange(0, event.MaxPeople).Draw(t,
					"people"), Replaces: hashes(t, 0),
				FromList: rapid.Bool().Draw(t, "from list"),
			}
			if !b.FromList {
				for _, z := range few(t, "zone", 0, func(t *rapid.T, _ string) event.Zone { return Zone(t) }) {
					if !slices.Contains(b.Zones, z) {
						b.Zones = append(b.Zones, z)
					}
				}
			}
			return b
		}},
		{"material", func(t *rapid.T) event.Body {
			return event.MaterialPlanned{
				Material: material(t), Bulk: some(t, "bulk", q[unit.Density](1, 6000)),
				Bag: some(t, "bag", q[unit.Mass](0.05, 2000)), Replaces: hashes(t, 0),
			}
		}},
	}
}

// mixing are the kinds of a batch and its test.
func mixing() []Kind {
	return []Kind{
		{"batch", func(t *rapid.T) event.Body {
			from, to := times(t)
			b := event.BatchMixed{
				Batch: Batch(t), Mix: mix(t), Revision: rapid.IntRange(0, 9999).Draw(t, "revision"),
				Charges: few(t, "charge", 1, func(t *rapid.T, _ string) event.Charge {
					return event.Charge{Constituent: material(t), Amount: amount(t, 0), At: maybe(t, "charged", at)}
				}),
				SandMoisture: some(t, "moisture", share(0, 0.3)), Spray: millis(t, "spray", 0, 3600_000),
				SprayPerS: some(t, "wand", q[unit.Volume](1e-5, 1e-2)), MixedFrom: from, MixedTo: to,
				CutShort: few(t, "cut", 0, line), Because: maybe(t, "because", text),
				Temperature: some(t, "temperature", celsius),
			}
			if !to.IsZero() {
				b.WaterAt = to.Add(-millis(t, "water", 0, 600_000))
			}
			return b
		}},
		{"test", func(t *rapid.T) event.Body {
			b := event.BatchTested{
				Batch: Batch(t), Temperature: some(t, "temperature", celsius), Air: some(t, "air", share(0, 0.9)),
				UnitWeight: some(t, "unit weight", q[unit.Density](100, 6000)),
			}
			b.InitialSet = minutes(t, "initial set", 0, 600)
			flow := share(0, 3)(t, "flow")
			b.Flow = &flow
			if said(t, "measure") {
				measure := quantity[unit.Volume](t, "measure", 2e-4, 2e-2)
				tare := quantity[unit.Mass](t, "tare", 0, 5)
				gross := quantity[unit.Mass](t, "gross", 0, 1)
				gross.SI = tare.SI + unit.Mass(float64(measure.SI)*rapid.Float64Range(110, 5900).Draw(t, "density"))
				b.Gross, b.Tare, b.Measure = &gross, &tare, &measure
			}
			return b
		}},
	}
}

// placing are the kinds of what becomes of a batch.
func placing() []Kind {
	return []Kind{
		{"placement", func(t *rapid.T) event.Body {
			from, to := times(t)
			coat, along := Coat(t), few(t, "along", 0, func(t *rapid.T, _ string) event.Zone { return Zone(t) })
			for i, z := range along {
				if z == coat.Zone {
					along[i] = another(z)
				}
			}
			return event.Placement{
				Batch: Batch(t), Part: part(t), Coat: coat, From: from, To: to,
				Gauges: few(t, "gauge", 0, q[unit.Length](0, 0.08)), Along: along, Because: maybe(t, "because", text),
				Complete: some(t, "complete", share(0, 1)), Start: maybe(t, "start", sideName),
			}
		}},
		{"batch begun", func(t *rapid.T) event.Body {
			return event.BatchBegun{
				Batch: Batch(t),
				Mix:   maybe(t, "mix", func(t *rapid.T, _ string) event.Mix { return mix(t) }),
				Ready: maybe(t, "ready", at),
			}
		}},
		{"front ended", func(t *rapid.T) event.Body {
			b := event.FrontEnded{Coat: Coat(t), Treatment: text(t, "treatment")}
			if said(t, "other") {
				b.OtherZone = another(b.Coat.Zone)
			}
			return b
		}},
	}
}

// ahead are the kinds of what is to come.
func ahead() []Kind {
	return []Kind{
		{"proposal", func(t *rapid.T) event.Body {
			trials := rapid.IntRange(0, 200).Draw(t, "trials")
			return event.ProposalTaken{
				Crew: Crew(t), Coat: Coat(t), Nth: rapid.IntRange(1, 50).Draw(t, "nth"),
				Along: few(t, "along", 0, func(t *rapid.T, _ string) event.Zone { return Zone(t) }),
				Until: at(t, "until"), Trials: trials, Cold: rapid.IntRange(0, trials).Draw(t, "cold"),
				CountedUntil: maybe(t, "counted", at),
				Following:    few(t, "following", 0, func(t *rapid.T, _ string) event.Coat { return Coat(t) }),
				OldestFirst:  rapid.Bool().Draw(t, "oldest first"),
			}
		}},
		{"order", func(t *rapid.T) event.Body {
			trials := rapid.IntRange(0, 200).Draw(t, "trials")
			return event.DayOrdered{
				Day: at(t, "day").Format(time.DateOnly), Start: at(t, "start"),
				Crews: few(t, "crew", 1, func(t *rapid.T, _ string) event.Crew { return Crew(t) }),
				Bays: few(t, "bay", 1, func(t *rapid.T, _ string) event.DayBay {
					return event.DayBay{Zones: few(t, "zone", 1, func(t *rapid.T, _ string) event.Zone {
						return Zone(t)
					}), BeginBy: maybe(t, "begin by", at)}
				}),
				Batches: rapid.IntRange(0, 500).Draw(t, "batches"), Trials: trials,
				Cold: rapid.IntRange(0, trials).Draw(t, "cold"), Done: rapid.IntRange(0, trials).Draw(t, "done"),
				OnPurpose: rapid.Float64Range(0, 100).Draw(t, "on purpose"), Mixes: few(t, "mix", 0, line),
			}
		}},
	}
}

// surfaces are the kinds of a coat that lies.
func surfaces() []Kind {
	return []Kind{
		{"coat finished", func(t *rapid.T) event.Body {
			return event.CoatFinished{Coat: Coat(t), Why: maybe(t, "why", text)}
		}},
		{"progress", func(t *rapid.T) event.Body {
			return event.ProgressStated{Coat: Coat(t), Complete: share(0, 1)(t, "complete")}
		}},
		{"method", func(t *rapid.T) event.Body { return event.MethodChanged{What: text(t, "what")} }},
		{"discard", func(t *rapid.T) event.Body {
			return event.BatchDiscarded{
				Batch: Batch(t), Part: part(t), Why: maybe(t, "why", text),
				Where: maybe(t, "where", line),
			}
		}},
		{"joint", func(t *rapid.T) event.Body {
			a, b := twoZones(t)
			j := event.JointTreated{Coat: Coat(t), Method: text(t, "method")}
			if j.Coat.Zone = a; said(t, "other") {
				j.OtherZone = b
			}
			return j
		}},
		{"surface", func(t *rapid.T) event.Body {
			return event.SurfaceTended{
				Zone: Zone(t), Face: face(t), Tending: event.Tending(rapid.IntRange(1, 3).Draw(t, "tending")),
				With: maybe(t, "with", line),
			}
		}},
	}
}

// readings are the kinds of instruments and forecasts.
func readings() []Kind {
	return []Kind{
		{"weather", func(t *rapid.T) event.Body {
			return event.WeatherObserved{
				Station: line(t, "station"), WindHeight: quantity[unit.Length](t, "height", 0.5, 20),
				Samples: weather(t), Entered: maybe(t, "entered", text),
			}
		}},
		{"forecast", func(t *rapid.T) event.Body {
			return event.WeatherForecast{
				Source: line(t, "source"), IssuedAt: at(t, "issued"), WindHeight: quantity[unit.Length](t, "height",
					0.5, 20), Samples: weather(t),
			}
		}},
		{"cure", func(t *rapid.T) event.Body {
			next := series(t)
			return event.CureReadings{
				Probe: line(t, "probe"), Coat: Coat(t), Depth: some(t, "depth", q[unit.Length](0, 0.1)),
				Samples: few(t, "reading", 1, func(t *rapid.T, _ string) event.Reading {
					return event.Reading{At: next(t), Temperature: celsius(t, "temperature").SI}
				}),
				Entered: maybe(t, "entered", text),
			}
		}},
	}
}

// stockAndProof are the kinds of stock and of strength.
func stockAndProof() []Kind {
	return []Kind{
		{"stock received", func(t *rapid.T) event.Body {
			return event.StockReceived{Material: material(t), Amount: amount(t, 0.001), Lot: maybe(t, "lot", line)}
		}},
		{"stock counted", func(t *rapid.T) event.Body {
			return event.StockCounted{Material: material(t), Amount: amount(t, 0)}
		}},
		{"stock spoiled", func(t *rapid.T) event.Body {
			return event.StockSpoiled{
				Material: material(t), Amount: amount(t, 0.001), Lot: maybe(t, "lot", line),
				Why: maybe(t, "why", text),
			}
		}},
		{"break", func(t *rapid.T) event.Body {
			size := quantity[unit.Length](t, "size", 0.05, 0.2)
			b := event.SpecimensBroken{
				Mix: mix(t), Shape: event.Specimen(rapid.IntRange(1, 2).Draw(t, "shape")), Size: &size,
				Height: some(t, "height", q[unit.Length](0.05, 0.4)), Age: millis(t, "age", 1, 400*24*3600_000),
				Loads: few(t, "load", 1, func(t *rapid.T, what string) unit.Force {
					return unit.Force(rapid.Float64Range(1, 1e6).Draw(t, what))
				}),
				MaturityCH: zeroOr(t, "maturity", 1, 1e5), Laboratory: maybe(t, "laboratory", line),
			}
			if said(t, "batch") {
				batch := Batch(t)
				b.Batch = &batch
			}
			return b
		}},
	}
}

// saying are the kinds of what people say and answer.
func saying() []Kind {
	return []Kind{
		{"note", func(t *rapid.T) event.Body {
			b := event.Noted{Text: text(t, "text")}
			if said(t, "zone") {
				b.Zone = Zone(t)
			}
			return b
		}},
		{"answer", func(t *rapid.T) event.Body {
			b := event.FlagAnswered{Flag: line(t, "flag"), Answer: text(t, "answer")}
			if said(t, "lines") {
				b.Lines = few(t, "line", 1, line)
			}
			return b
		}},
	}
}

// people are the kinds of people and devices.
func people() []Kind {
	return []Kind{
		{"shift start", func(t *rapid.T) event.Body {
			return event.ShiftStarted{People: rapid.IntRange(0, event.MaxPeople).Draw(t, "people")}
		}},
		{"shift end", func(t *rapid.T) event.Body { return event.ShiftEnded{Left: maybe(t, "left", text)} }},
		{"enrolment", func(t *rapid.T) event.Body {
			return event.DeviceEnrolled{
				Device: Device(t), PublicKey: bytes(t, ed25519.PublicKeySize, "key"),
				Role: event.Role(rapid.IntRange(1, 5).Draw(t, "role")),
				Crew: Crew(t), Label: maybe(t, "label", line),
			}
		}},
		{"exclusion", func(t *rapid.T) event.Body {
			return event.DeviceExcluded{
				Device: Device(t), FromSeq: rapid.Uint64Range(0, 20).Draw(t, "from"),
				Why: maybe(t, "why", text),
			}
		}},
		{"revocation", func(t *rapid.T) event.Body {
			return event.DeviceRevoked{
				Device: Device(t), LastSeq: rapid.Uint64().Draw(t, "last"),
				Why: maybe(t, "why", text),
			}
		}},
	}
}

func corrections() []Kind {
	return []Kind{
		{"amendment", func(t *rapid.T) event.Body {
			return event.Amended{
				Target: hash(t), Body: oneOf(t, plain()), HappenedAt: maybe(t, "happened", at),
				Why: maybe(t, "why", text),
			}
		}},
		{"void", func(t *rapid.T) event.Body { return event.Voided{Target: hash(t), Why: maybe(t, "why", text)} }},
		{"settlement", func(t *rapid.T) event.Body {
			run := hashes(t, 2)
			return event.Settled{Holds: run[0], Over: run[1:], Why: maybe(t, "why", text)}
		}},
	}
}

// week draws working days: none, or each day of the week in at most one run of hours.
func week(t *rapid.T) []event.WorkDays {
	if !said(t, "week") {
		return nil
	}
	days := rapid.Permutation([]time.Weekday{0, 1, 2, 3, 4, 5, 6}).Draw(t, "days")
	first := rapid.IntRange(1, 7).Draw(t, "in the first run")
	run := func(days []time.Weekday) event.WorkDays {
		from := minutes(t, "from", 0, 12*60)
		return event.WorkDays{Days: days, From: from, To: from + minutes(t, "work", 1, 12*60)}
	}
	all := []event.WorkDays{run(days[:first])}
	if second := rapid.IntRange(0, 7-first).Draw(t, "in the second run"); second > 0 {
		all = append(all, run(days[first:first+second]))
	}
	return all
}

func exceptions(t *rapid.T) []event.WorkException {
	var all []event.WorkException
	for _, x := range few(t, "exception", 0, func(t *rapid.T, _ string) event.WorkException {
		x := event.WorkException{Date: at(t, "date").Format(time.DateOnly)}
		if said(t, "hours") {
			x.From = minutes(t, "from", 0, 12*60)
			x.To = x.From + minutes(t, "work", 1, 12*60)
		}
		return x
	}) {
		if !slices.ContainsFunc(all, func(y event.WorkException) bool { return y.Date == x.Date }) {
			all = append(all, x)
		}
	}
	return all
}

func planMix(t *rapid.T) event.MixPlanned {
	b := event.MixPlanned{
		Mix: mix(t), Revision: rapid.IntRange(1, 9999).Draw(t, "revision"),
		Air: some(t, "air", share(0, 0.9)), DesignYield: some(t, "yield", q[unit.Volume](1e-3, 1)),
		WaterLimit: zeroOr(t, "limit", 0.2, 1), UnitWeight: some(t, "unit weight", q[unit.Density](100, 6000)),
		UnitWeightTolerance: some(t, "tolerance", share(0.001, 0.5)),
		InitialSet: rapid.SampledFrom([]time.Duration{0, 1}).Draw(t, "set") * millis(t, "set", 60_000,
			48*3600_000),
		SetReference: some(t, "reference", celsius), Activation: zeroOr(t, "activation", 5, 200),
		Working: minutes(t, "working", 0, 24*60), Datum: some(t, "datum", celsius), Replaces: hashes(t, 0),
	}
	if b.Revision > 1 && said(t, "corrects") {
		b.Corrects = rapid.IntRange(1, b.Revision-1).Draw(t, "corrected")
	}
	for i := range rapid.IntRange(1, 8).Draw(t, "constituents") {
		b.Constituents = append(b.Constituents, event.Constituent{
			Name: event.Material(fmt.Sprintf("c%d", i)), Kind: event.Kind(rapid.IntRange(1, 8).Draw(t, "kind")),
			Amount:  amount(t, 0.001),
			Gravity: zeroOr(t, "gravity", 0.02, 8), Absorption: some(t, "absorption", share(0, 0.3)),
			Solids: some(t, "solids", share(0, 1)),
			Bulk:   some(t, "bulk", q[unit.Density](1, 6000)), Bag: some(t, "bag", q[unit.Mass](0.05, 2000)),
		})
		if said(t, "step") {
			b.Steps = append(b.Steps, event.Step{
				Constituent: b.Constituents[i].Name, Share: some(t, "share", share(0.01, 1)),
				Wait:    time.Duration(rapid.IntRange(0, 3600).Draw(t, "wait")) * time.Second,
				LookFor: maybe(t, "look", line),
			})
		}
	}
	if said(t, "wait") {
		b.Steps = append(b.Steps, event.Step{Wait: time.Minute, LookFor: maybe(t, "look", line)})
	}
	return b
}

func weather(t *rapid.T) []event.Weather {
	next := series(t)
	return few(t, "reading", 1, func(t *rapid.T, _ string) event.Weather {
		w := event.Weather{
			At: next(t), Humidity: number[unit.Share](t, "humidity", 0.01, 1),
			Wind:         number[unit.Speed](t, "wind", 0, 40),
			SunWattPerM2: number[float64](t, "sun", 0, 1200), RainMillimetres: number[float64](t, "rain", 0, 50),
			SurfaceTemperature: number[unit.Celsius](t, "surface", -20, 70),
		}
		air := unit.Celsius(rapid.Float64Range(-20, 50).Draw(t, "air"))
		w.Air = &air
		if said(t, "dew point") {
			dew := max(-40, air-unit.Celsius(rapid.Float64Range(0, 30).Draw(t, "depression")))
			w.DewPoint = &dew
		}
		return w
	})
}

// series gives one later instant after the other.
func series(t *rapid.T) func(*rapid.T) time.Time {
	now := at(t, "first")
	return func(t *rapid.T) time.Time {
		now = now.Add(millis(t, "interval", 1, 3600_000))
		return now
	}
}

// said draws whether something is said; not, when rapid makes an example smaller.
func said(t *rapid.T, what string) bool { return rapid.Bool().Draw(t, what+" said") }

func maybe[V any](t *rapid.T, what string, draw func(*rapid.T, string) V) (v V) {
	if said(t, what) {
		v = draw(t, what)
	}
	return v
}

func some[V any](t *rapid.T, what string, draw func(*rapid.T, string) V) *V {
	if !said(t, what) {
		return nil
	}
	v := draw(t, what)
	return &v
}

func few[V any](t *rapid.T, what string, least int, draw func(*rapid.T, string) V) (run []V) {
	for range rapid.IntRange(least, 4).Draw(t, what+"s") {
		run = append(run, draw(t, what))
	}
	return run
}

func quantity[Q ~float64](t *rapid.T, what string, lo, hi float64) unit.As[Q] {
	return unit.As[Q]{SI: Q(rapid.Float64Range(lo, hi).Draw(t, what)), Entered: maybe(t, what+" as typed", line)}
}

func q[Q ~float64](lo, hi float64) func(*rapid.T, string) unit.As[Q] {
	return func(t *rapid.T, what string) unit.As[Q] { return quantity[Q](t, what, lo, hi) }
}

func share(lo, hi float64) func(*rapid.T, string) unit.As[unit.Share] { return q[unit.Share](lo, hi) }

func celsius(t *rapid.T, what string) unit.As[unit.Celsius] {
	return quantity[unit.Celsius](t, what, -40, 100)
}

func number[Q ~float64](t *rapid.T, what string, lo, hi float64) *Q {
	return some(t, what, func(t *rapid.T, what string) Q { return Q(rapid.Float64Range(lo, hi).Draw(t, what)) })
}

func zeroOr(t *rapid.T, what string, lo, hi float64) float64 {
	return maybe(t, what, rapid.Float64Range(lo, hi).Draw)
}

func amount(t *rapid.T, least float64) event.Amount {
	if rapid.Bool().Draw(t, "by volume") {
		v := quantity[unit.Volume](t, "volume", least/10, 0.5)
		return event.Amount{Volume: v.SI, ByVolume: true, Entered: v.Entered}
	}
	m := quantity[unit.Mass](t, "mass", least, 500)
	return event.Amount{Mass: m.SI, Entered: m.Entered}
}

func part(t *rapid.T) (p event.Part) {
	switch rapid.IntRange(0, 2).Draw(t, "part") {
	case 1:
		p.Share = some(t, "share", share(0.001, 1))
	case 2:
		p.Volume = some(t, "volume", q[unit.Volume](1e-4, 0.2))
	}
	return p
}

func face(t *rapid.T) event.Face { return event.Face(rapid.IntRange(0, 2).Draw(t, "face")) }

func mix(t *rapid.T) event.Mix { return event.Mix(name(t, "mix")) }

func material(t *rapid.T) event.Material { return event.Material(name(t, "material")) }

func twoZones(t *rapid.T) (a, b event.Zone) {
	a, b = Zone(t), Zone(t)
	if a == b {
		b = another(a)
	}
	return a, b
}

func another(z event.Zone) event.Zone {
	if z == "other" {
		return "another"
	}
	return "other"
}

func name(t *rapid.T, what string) string {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"A3", "n2", "north", "face", "sand", "Süd", "κορυφή", "北"}),
		rapid.StringMatching(`[a-zA-Z0-9ąßйё][a-zA-Z0-9_ąßйё-]{0,23}`),
	).Draw(t, what)
}

// line is one line of text in any script, with all that a page, a sheet or a terminal could stumble over but controls.
func line(t *rapid.T, what string) string {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"2.5gal", "1 1/2in", "=1+1", "<b>", "'; --", "±3 °C", "\u202eright to left"}),
		rapid.StringMatching(`[\p{L}\p{N}][\p{L}\p{N}\p{P} ]{0,40}`),
	).Draw(t, what)
}

func text(t *rapid.T, what string) string {
	return rapid.OneOf(rapid.Custom(func(t *rapid.T) string { return line(t, what) }),
		rapid.StringMatching(`[\p{L}\p{N}][\p{L}\p{N}\p{P}\n\t ]{0,80}`)).Draw(t, what)
}

var start = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// at is an instant of one summer, to the millisecond.
func at(t *rapid.T, what string) time.Time { return start.Add(millis(t, what, 0, 90*24*3600_000)) }

func times(t *rapid.T) (from, to time.Time) {
	if from = maybe(t, "from", at); from.IsZero() {
		return from, maybe(t, "to", at)
	}
	if said(t, "to") {
		to = from.Add(millis(t, "took", 0, 3*3600_000))
	}
	return from, to
}

func millis(t *rapid.T, what string, lo, hi int64) time.Duration {
	return time.Duration(rapid.Int64Range(lo, hi).Draw(t, what)) * time.Millisecond
}

func minutes(t *rapid.T, what string, lo, hi int) time.Duration {
	return time.Duration(rapid.IntRange(lo, hi).Draw(t, what)) * time.Minute
}

func hash(t *rapid.T) event.Hash {
	h := event.Hash(bytes(t, len(event.Hash{}), "hash"))
	h[0] |= 1 // never the zero hash
	return h
}

func hashes(t *rapid.T, least int) []event.Hash {
	run := few(t, "hash", least, func(t *rapid.T, _ string) event.Hash { return hash(t) })
	for i := range run {
		run[i][1] = byte(i) // no two alike
	}
	return run
}

func bytes(t *rapid.T, n int, what string) []byte {
	return rapid.SliceOfN(rapid.Byte(), n, n).Draw(t, what)
}

// LongWeather fills an event to the brim and beyond: MaxRun readings of all values.
func LongWeather() event.WeatherObserved {
	noon := time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)
	air, humidity, dew, wind, surface := unit.Celsius(20), unit.Share(0.5), unit.Celsius(9), unit.Speed(3),
		unit.Celsius(25)
	sun, rain := 500.0, 1.0
	b := event.WeatherObserved{Station: "crew", WindHeight: unit.As[unit.Length]{SI: 2, Entered: "2m"}}
	for i := range event.MaxRun {
		b.Samples = append(b.Samples, event.Weather{
			At: noon.Add(time.Duration(i) * time.Minute), Air: &air, Humidity: &humidity, DewPoint: &dew,
			Wind: &wind, SunWattPerM2: &sun, RainMillimetres: &rain, SurfaceTemperature: &surface,
		})
	}
	return b
}

func sideName(t *rapid.T, what string) string {
	return rapid.SampledFrom([]string{"south", "east", "north", "west", "inner", "outer", "sur", "Ñ"}).Draw(t, what)
}

// mapCell of a zone, or none.
func mapCell(t *rapid.T) *event.MapCell {
	if rapid.Bool().Draw(t, "on the map") {
		return nil
	}
	number := rapid.IntRange(1, event.MaxMap)
	return &event.MapCell{Row: number.Draw(t, "row"), Column: number.Draw(t, "column")}
}

// form of a zone: none, an outline, a sector or four lengths.
func form(t *rapid.T) *event.Form {
	names := []string{"south", "east", "north", "west"}
	corner := func(t *rapid.T, what string) event.Corner {
		return event.Corner{X: rapid.Float64Range(-50, 50).Draw(t, what), Y: rapid.Float64Range(-50, 50).Draw(t, what)}
	}
	corners := func(n int) (all []event.Corner) {
		for range n {
			all = append(all, corner(t, "corner"))
		}
		return all
	}
	f := &event.Form{}
	switch rapid.IntRange(0, 4).Draw(t, "form") {
	case 0:
		return nil
	case 1:
		n := rapid.IntRange(3, 4).Draw(t, "corners")
		f.Outline = corners(n)
		for _, name := range names[:n] {
			f.Sides = append(f.Sides, event.Side{Name: name})
		}
		for range rapid.IntRange(0, 2).Draw(t, "openings") {
			f.Openings = append(f.Openings, corners(rapid.IntRange(3, 5).Draw(t, "corners of it")))
		}
	case 2:
		inner := quantity[unit.Length](t, "inner", 0.5, 5)
		f.Sector = &event.Sector{
			Inner: inner, Outer: quantity[unit.Length](t, "outer", 6, 20),
			From: rapid.Float64Range(-360, 360).Draw(t, "from"),
		}
		f.Sector.To = f.Sector.From + rapid.Float64Range(1, 300).Draw(t, "angle")
	case 3:
		f.Mesh = &event.Mesh{Triangles: [][3]int{{0, 1, 2}, {0, 2, 3}}}
		for range 4 {
			f.Mesh.Vertices = append(f.Mesh.Vertices, [3]float64{
				corner(t, "vertex").X, corner(t, "vertex").Y,
				corner(t, "vertex").X,
			})
		}
		f.Sides = []event.Side{{Name: "foot", Chain: []int{0, 1}}, {Name: "crown", Chain: []int{2, 3}}}
	default:
		for _, name := range names {
			length := quantity[unit.Length](t, "length of a side", 0.1, 50)
			f.Sides = append(f.Sides, event.Side{Name: name, Length: &length})
		}
	}
	return f
}

func edgePart(t *rapid.T) *event.EdgePart {
	p := &event.EdgePart{Side: sideName(t, "side")}
	if rapid.Bool().Draw(t, "a part") {
		from, to := quantity[unit.Length](t, "from", 0, 5), quantity[unit.Length](t, "to", 6, 12)
		p.From, p.To = &from, &to
	}
	return p
}

func exposure(t *rapid.T) *event.Exposure {
	if !said(t, "exposure") {
		return nil
	}
	from := minutes(t, "sun from", 0, 12*60)
	return &event.Exposure{From: from, To: from + minutes(t, "sun", 0, 12*60), Warmer: rapid.Float64Range(0, 40).Draw(t,
		"warmer")}
}
