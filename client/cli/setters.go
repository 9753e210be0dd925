package cli

import (
	"strconv"
	"strings"
	"time"

	"hod/client/crew"
	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// setter is one value of a kind of event that hod amend can change.
type setter struct {
	key string
	set func(s *session.Session, body event.Body, value, day string) (event.Body, error)
}

// set makes a setter of one kind of body.
func set[B event.Body](key string, do func(s *session.Session, b *B, value, day string) error) setter {
	return setter{key, func(s *session.Session, body event.Body, value, day string) (event.Body, error) {
		b, ok := body.(B)
		if !ok {
			return nil, terminal.Usagef("a %s has no %q", event.KindOf(body), key)
		}
		return b, do(s, &b, value, day)
	}}
}

// quantityOf sets a quantity that may be missing.
func quantityOf[B event.Body, Q any](key string, parse func(string) (Q, error), at func(*B) **unit.As[Q]) setter {
	return set(key, func(_ *session.Session, b *B, value, _ string) error {
		if value == "" {
			*at(b) = nil
			return nil
		}
		q, err := unit.Said(value, parse)
		*at(b) = &q
		return err
	})
}

// timeOf sets a time that may be missing.
func timeOf[B event.Body](key string, at func(*B) *time.Time) setter {
	return set(key, func(s *session.Session, b *B, value, day string) (err error) {
		if value == "" {
			*at(b) = time.Time{}
			return nil
		}
		*at(b), err = s.ParseTime(value, day)
		return err
	})
}

// timeToComeOf sets a time that may be missing and may lie ahead.
func timeToComeOf[B event.Body](key string, at func(*B) *time.Time) setter {
	return set(key, func(s *session.Session, b *B, value, day string) (err error) {
		if value == "" {
			*at(b) = time.Time{}
			return nil
		}
		*at(b), err = s.TimeReader().Any(value, day)
		return err
	})
}

// textOf sets words.
func textOf[B event.Body](key string, at func(*B) *string) setter {
	return set(key, func(_ *session.Session, b *B, value, _ string) error {
		*at(b) = value
		return nil
	})
}

func numberOf[B event.Body](key string, at func(*B) *int) setter {
	return set(key, func(_ *session.Session, b *B, value, _ string) (err error) {
		if *at(b), err = strconv.Atoi(value); err != nil {
			return terminal.Usagef("%q is not a whole number", terminal.Safe(value))
		}
		return nil
	})
}

func faceOf[B event.Body](at func(*B) *event.Face) setter {
	return set("face", func(_ *session.Session, b *B, value, _ string) (err error) {
		*at(b), err = event.ParseFace(value)
		return err
	})
}

// coatOf sets zone, face and number of a coat; a zone that has not that coat takes its own.
func coatOf[B event.Body](at func(*B) *event.Coat) []setter {
	return []setter{
		set("zone", func(s *session.Session, b *B, value, _ string) error {
			z, err := s.FindZone(value)
			if err != nil {
				return err
			}
			c := at(b)
			c.Zone = z
			if _, aside := s.Plan.Coat(*c); aside != nil {
				*c, err = s.FindCoat(z, session.CoatFlags{})
			}
			return err
		}),
		faceOf(func(b *B) *event.Face { return &at(b).Face }),
		numberOf("coat", func(b *B) *int { return &at(b).Number }),
	}
}

func batchOf[B event.Body](at func(*B) *event.Batch) setter {
	return set("batch", func(s *session.Session, b *B, value, day string) error {
		found, err := s.FindBatch(value, day)
		if err == nil {
			*at(b) = found.ID
		}
		return err
	})
}

func partOf[B event.Body](at func(*B) *event.Part) []setter {
	part := func(key string) setter {
		return set(key, func(_ *session.Session, b *B, value, _ string) (err error) {
			*at(b), err = parse.Part(value)
			return err
		})
	}
	return []setter{part("share"), part("volume"), part("part")}
}

func materialOf[B event.Body](at func(*B) *event.Material) setter {
	return set("material", func(s *session.Session, b *B, value, _ string) error {
		*at(b) = s.FindMaterial(value)
		return nil
	})
}

// amountOf sets an amount of a material as `hod stock receive` reads it, bags and volumes too.
func amountOf[B event.Body](at func(*B) *event.Amount, of func(*B) event.Material) setter {
	return set("amount", func(s *session.Session, b *B, value, _ string) (err error) {
		*at(b), s.Learned, err = crew.StockAmount(s, crew.Stocked{Material: string(of(b)), Amount: value, Amends: true},
			of(b))
		return err
	})
}

// settersOf is the table of what can be amended, by kind of event. A plan is amended where it was wrong from the start;
// what changes from now on is planned anew.
func settersOf(body event.Body) []setter {
	switch b := body.(type) {
	case event.Plan:
		return planSetters(b)
	case event.BatchMixed:
		return batchSetters()
	case event.BatchTested:
		return testSetters()
	case event.Placement:
		return placementSetters()
	case event.BatchDiscarded:
		return discardSetters()
	case event.JointTreated:
		return treatSetters()
	case event.FrontEnded:
		return frontSetters()
	case event.BatchBegun:
		return []setter{timeToComeOf("ready", func(b *event.BatchBegun) *time.Time { return &b.Ready })}
	case event.ProposalTaken:
		return []setter{timeToComeOf("until", func(b *event.ProposalTaken) *time.Time { return &b.Until })}
	case event.DayOrdered:
		return []setter{timeToComeOf("start", func(b *event.DayOrdered) *time.Time { return &b.Start })}
	case event.SurfaceTended:
		return tendSetters()
	case event.CoatFinished:
		return finishSetters()
	case event.ProgressStated:
		return progressSetters()
	case event.MethodChanged:
		return []setter{textOf("what", func(b *event.MethodChanged) *string { return &b.What })}
	case event.CureReadings:
		return cureSetters()
	case event.WeatherObserved:
		return observedSetters()
	case event.StockReceived:
		return receivedSetters()
	case event.StockCounted:
		return countedSetters()
	case event.StockSpoiled:
		return spoiledSetters()
	case event.SpecimensBroken:
		return breakSetters()
	case event.Noted:
		return noteSetters()
	case event.FlagAnswered:
		return []setter{textOf("answer", func(b *event.FlagAnswered) *string { return &b.Answer })}
	case event.ShiftStarted:
		return []setter{numberOf("people", func(b *event.ShiftStarted) *int { return &b.People })}
	case event.ShiftEnded:
		return []setter{textOf("left", func(b *event.ShiftEnded) *string { return &b.Left })}
	case event.WeatherForecast: // a new forecast takes its place
	// not amended
	case event.DeviceEnrolled, event.DeviceRevoked, event.DeviceExcluded, event.Amended, event.Voided, event.Settled:
	}
	return nil
}

// discardSetters change what was thrown away of a batch.
func discardSetters() []setter {
	type B = event.BatchDiscarded
	return append(partOf(func(b *B) *event.Part { return &b.Part }),
		batchOf(func(b *B) *event.Batch { return &b.Batch }),
		textOf("why", func(b *B) *string { return &b.Why }), textOf("where", func(b *B) *string { return &b.Where }))
}

// treatSetters change how a joint was treated, and which.
func treatSetters() []setter {
	type B = event.JointTreated
	return append(coatOf(func(b *B) *event.Coat { return &b.Coat }),
		textOf("method", func(b *B) *string { return &b.Method }),
		set("along", func(s *session.Session, b *B, value, _ string) (err error) {
			if b.OtherZone = ""; value != "" {
				b.OtherZone, err = s.FindZone(value)
			}
			return err
		}))
}

// frontSetters change how a front was ended on purpose, and which.
func frontSetters() []setter {
	type B = event.FrontEnded
	return append(coatOf(func(b *B) *event.Coat { return &b.Coat }),
		textOf("treatment", func(b *B) *string { return &b.Treatment }),
		set("along", func(s *session.Session, b *B, value, _ string) (err error) {
			if b.OtherZone = ""; value != "" {
				b.OtherZone, err = s.FindZone(value)
			}
			if err == nil && b.OtherZone != "" {
				err = crew.SharesEdge(s, b.Coat.Zone, b.OtherZone)
			}
			return err
		}))
}

// tendSetters change a cover, its taking off, or a wetting.
func tendSetters() []setter {
	type B = event.SurfaceTended
	return []setter{
		set("zone", func(s *session.Session, b *B, value, _ string) (err error) {
			b.Zone, err = s.FindZone(value)
			return err
		}),
		faceOf(func(b *B) *event.Face { return &b.Face }), textOf("with", func(b *B) *string { return &b.With }),
		set("tending", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.Tending, err = event.ParseTending(value)
			return err
		}),
	}
}

// finishSetters change which coat was finished, and why.
func finishSetters() []setter {
	type B = event.CoatFinished
	return append(coatOf(func(b *B) *event.Coat { return &b.Coat }),
		textOf("why", func(b *B) *string { return &b.Why }))
}

// progressSetters change how far a coat was.
func progressSetters() []setter {
	type B = event.ProgressStated
	return append(coatOf(func(b *B) *event.Coat { return &b.Coat }),
		set("complete", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.Complete, err = unit.Said(value, unit.ParseShare)
			return err
		}))
}

// cureSetters change a temperature of a curing coat, and where it was read.
func cureSetters() []setter {
	type B = event.CureReadings
	return append(coatOf(func(b *B) *event.Coat { return &b.Coat }),
		textOf("probe", func(b *B) *string { return &b.Probe }),
		quantityOf("depth", unit.ParseLength, func(b *B) **unit.As[unit.Length] { return &b.Depth }),
		set("temperature", setReading))
}

// observedSetters change what was read of the weather, and where.
func observedSetters() []setter {
	type B = event.WeatherObserved
	return append(weatherSetters(),
		textOf("station", func(b *B) *string { return &b.Station }),
		set("wind-height", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.WindHeight, err = unit.Said(value, unit.ParseLength)
			return err
		}))
}

// receivedSetters change a delivery.
func receivedSetters() []setter {
	type B = event.StockReceived
	return []setter{
		materialOf(func(b *B) *event.Material { return &b.Material }),
		amountOf(func(b *B) *event.Amount { return &b.Amount }, func(b *B) event.Material { return b.Material }),
		textOf("lot", func(b *B) *string { return &b.Lot }),
	}
}

// countedSetters change a count of the stock.
func countedSetters() []setter {
	type B = event.StockCounted
	return []setter{
		materialOf(func(b *B) *event.Material { return &b.Material }),
		amountOf(func(b *B) *event.Amount { return &b.Amount }, func(b *B) event.Material { return b.Material }),
	}
}

// spoiledSetters change what of the stock was spoiled.
func spoiledSetters() []setter {
	type B = event.StockSpoiled
	return []setter{
		materialOf(func(b *B) *event.Material { return &b.Material }),
		amountOf(func(b *B) *event.Amount { return &b.Amount }, func(b *B) event.Material { return b.Material }),
		textOf("lot", func(b *B) *string { return &b.Lot }), textOf("why", func(b *B) *string { return &b.Why }),
	}
}

// noteSetters change a note.
func noteSetters() []setter {
	type B = event.Noted
	return []setter{
		textOf("text", func(b *B) *string { return &b.Text }),
		set("zone", func(s *session.Session, b *B, value, _ string) (err error) {
			if b.Zone = ""; value != "" {
				b.Zone, err = s.FindZone(value)
			}
			return err
		}),
	}
}

// weatherSetters change what one reading read; a file of them is taken back and recorded anew.
func weatherSetters() []setter {
	return []setter{
		readingOf("air", unit.ParseTemperature, func(w *event.Weather) **unit.Celsius { return &w.Air }),
		readingOf("humidity", unit.ParseShare, func(w *event.Weather) **unit.Share { return &w.Humidity }),
		readingOf("dew-point", unit.ParseTemperature, func(w *event.Weather) **unit.Celsius { return &w.DewPoint }),
		readingOf("wind", unit.ParseSpeed, func(w *event.Weather) **unit.Speed { return &w.Wind }),
		readingOf("surface", unit.ParseTemperature,
			func(w *event.Weather) **unit.Celsius { return &w.SurfaceTemperature }),
		readingOf("sun", parse.Sun, func(w *event.Weather) **float64 { return &w.SunWattPerM2 }),
		readingOf("rain", func(word string) (float64, error) {
			l, err := unit.ParseLength(word)
			return float64(l / unit.Millimetre), err
		}, func(w *event.Weather) **float64 { return &w.RainMillimetres }),
	}
}

// readingOf sets one value of a reading of the weather; empty takes it away.
func readingOf[Q ~float64](key string, parse func(string) (Q, error), at func(*event.Weather) **Q) setter {
	return set(key, func(_ *session.Session, b *event.WeatherObserved, value, _ string) error {
		if len(b.Samples) != 1 {
			return terminal.Usagef("it holds %d readings; take it back with `hod undo` and record them anew",
				len(b.Samples))
		}
		one := b.Samples[0]
		if *at(&one) = nil; value != "" {
			q, err := parse(value)
			if err != nil {
				return err
			}
			*at(&one) = &q
		}
		b.Samples, b.Entered = []event.Weather{one}, ""
		return nil
	})
}

func batchSetters() []setter {
	type B = event.BatchMixed
	return []setter{
		numberOf("number", func(b *B) *int { return &b.Batch.Number }),
		set("crew", func(s *session.Session, b *B, value, _ string) (err error) {
			b.Batch.Crew, err = s.FindCrew(value)
			return err
		}),
		set("day", func(s *session.Session, b *B, value, _ string) error {
			day, err := s.OnDay(value)
			if day == "" && err == nil {
				day = s.Today()
			}
			b.Batch.Day = day
			return err
		}),
		set("mix", func(s *session.Session, b *B, value, _ string) error {
			m, err := s.FindMix(value)
			if err == nil {
				b.Mix, b.Revision = m.MixPlanned.Mix, m.Revision
			}
			return err
		}),
		quantityOf("moisture", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.SandMoisture }),
		set("spray", func(_ *session.Session, b *B, value, _ string) (err error) {
			if b.Spray = 0; value != "" {
				b.Spray, err = unit.ParseDuration(value)
			}
			return err
		}),
		set("spray-rate", func(_ *session.Session, b *B, value, _ string) error {
			if b.SprayPerS = nil; value == "" {
				return nil
			}
			flow, err := unit.Said(value, unit.ParseFlow)
			b.SprayPerS = &unit.As[unit.Volume]{SI: unit.Volume(flow.SI), Entered: flow.Entered}
			return err
		}),
		timeOf("from", func(b *B) *time.Time { return &b.MixedFrom }),
		timeOf("to", func(b *B) *time.Time { return &b.MixedTo }),
		timeOf("water-at", func(b *B) *time.Time { return &b.WaterAt }),
		quantityOf("temp", unit.ParseTemperature, func(b *B) **unit.As[unit.Celsius] { return &b.Temperature }),
		textOf("because", func(b *B) *string { return &b.Because }),
	}
}

func testSetters() []setter {
	type B = event.BatchTested
	return []setter{
		batchOf(func(b *B) *event.Batch { return &b.Batch }),
		quantityOf("gross", unit.ParseMass, func(b *B) **unit.As[unit.Mass] { return &b.Gross }),
		quantityOf("tare", unit.ParseMass, func(b *B) **unit.As[unit.Mass] { return &b.Tare }),
		quantityOf("measure", unit.ParseVolume, func(b *B) **unit.As[unit.Volume] { return &b.Measure }),
		quantityOf("unit-weight", unit.ParseDensity, func(b *B) **unit.As[unit.Density] { return &b.UnitWeight }),
		quantityOf("temp", unit.ParseTemperature, func(b *B) **unit.As[unit.Celsius] { return &b.Temperature }),
		quantityOf("flow", parse.FlowShare, func(b *B) **unit.As[unit.Share] { return &b.Flow }),
		quantityOf("air", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.Air }),
		set("set", func(_ *session.Session, b *B, value, _ string) (err error) {
			if b.InitialSet = 0; value != "" {
				b.InitialSet, err = unit.ParseDuration(value)
			}
			return err
		}),
	}
}

func placementSetters() []setter {
	type B = event.Placement
	all := append(coatOf(func(b *B) *event.Coat { return &b.Coat }),
		partOf(func(b *B) *event.Part { return &b.Part })...)
	return append(
		all,
		batchOf(func(b *B) *event.Batch { return &b.Batch }),
		timeOf("from", func(b *B) *time.Time { return &b.From }), timeOf("to", func(b *B) *time.Time { return &b.To }),
		set("thickness", func(_ *session.Session, b *B, value, _ string) error {
			b.Gauges = nil
			for _, word := range parse.List([]string{value}) {
				g, err := unit.Said(word, unit.ParseLength)
				if err != nil {
					return err
				}
				b.Gauges = append(b.Gauges, g)
			}
			return nil
		}),
		set("along", func(s *session.Session, b *B, value, _ string) error {
			b.Along = nil
			for _, word := range parse.List([]string{value}) {
				z, err := s.FindZone(word)
				if err != nil {
					return err
				}
				b.Along = append(b.Along, z)
			}
			return nil
		}),
		quantityOf("complete", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.Complete }),
		set("start", func(s *session.Session, b *B, value, _ string) (err error) {
			b.Start, err = s.FindSide(b.Coat.Zone, value)
			return err
		}),
		textOf("because", func(b *B) *string { return &b.Because }),
	)
}

func breakSetters() []setter {
	type B = event.SpecimensBroken
	return []setter{
		set("shape", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.Shape, err = event.ParseSpecimen(value)
			return err
		}),
		quantityOf("size", unit.ParseLength, func(b *B) **unit.As[unit.Length] { return &b.Size }),
		quantityOf("height", unit.ParseLength, func(b *B) **unit.As[unit.Length] { return &b.Height }),
		set("age", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.Age, err = unit.ParseDuration(value)
			return err
		}),
		set("load", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.Loads, err = parse.Loads(value)
			return err
		}),
		textOf("laboratory", func(b *B) *string { return &b.Laboratory }),
	}
}

// setReading changes the one temperature of a hand reading; a run of them is taken back and written anew.
func setReading(s *session.Session, b *event.CureReadings, value, _ string) error {
	if len(b.Samples) != 1 {
		return terminal.Usagef("it holds %d readings; take it back and record them anew", len(b.Samples))
	}
	t, err := unit.Said(strings.TrimSpace(value), unit.ParseTemperature)
	b.Samples = []event.Reading{{At: b.Samples[0].At, Temperature: t.SI}}
	b.Entered = t.Entered
	return err
}
