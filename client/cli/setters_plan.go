package cli

import (
	"strconv"
	"strings"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// What of a plan can be amended: what was wrong from the start. What changes from now on is planned anew.

// saidOf sets a quantity that must be there.
func saidOf[B event.Body, Q any](key string, parse func(string) (Q, error), at func(*B) *unit.As[Q]) setter {
	return set(key, func(_ *session.Session, b *B, value, _ string) (err error) {
		*at(b), err = unit.Said(value, parse)
		return err
	})
}

func planSetters(plan event.Plan) []setter {
	switch plan.(type) {
	case event.SitePlanned:
		type B = event.SitePlanned
		return []setter{
			quantityOf("loss", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.Loss }),
			quantityOf("closing", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.Closing }),
			textOf("place", func(b *B) *string { return &b.Place }),
		}
	case event.ZonePlanned:
		type B = event.ZonePlanned
		return []setter{
			saidOf("area", unit.ParseArea, func(b *B) *unit.As[unit.Area] { return &b.Area }),
			numberOf("order", func(b *B) *int { return &b.Order }),
			set("at", func(_ *session.Session, b *B, value, _ string) error {
				cell, err := event.ParseMapCell(value)
				b.At = &cell
				return err
			}),
		}
	case event.EdgePlanned:
		return []setter{saidOf("length", unit.ParseLength,
			func(b *event.EdgePlanned) *unit.As[unit.Length] { return &b.Length })}
	case event.CoatPlanned:
		type B = event.CoatPlanned
		return []setter{
			saidOf("thickness", unit.ParseLength, func(b *B) *unit.As[unit.Length] { return &b.Thickness }),
			set("mix", func(s *session.Session, b *B, value, _ string) (err error) {
				b.Mix, err = terminal.PickName("mix", value, s.Plan.MixNames())
				return err
			}),
		}
	case event.CrewPlanned:
		return []setter{numberOf("people", func(b *event.CrewPlanned) *int { return &b.People })}
	case event.MixPlanned:
		return mixSetters()
	case event.MaterialPlanned: // what was measured otherwise is written anew
	}
	return nil
}

func mixSetters() []setter {
	type B = event.MixPlanned
	number := func(key string, at func(*B) *float64) setter {
		return set(key, func(_ *session.Session, b *B, value, _ string) (err error) {
			if *at(b), err = strconv.ParseFloat(value, 64); err != nil {
				return terminal.Usagef("%q is not a number", terminal.Safe(value))
			}
			return nil
		})
	}
	return []setter{
		set("set", func(_ *session.Session, b *B, value, _ string) (err error) {
			set, at, ok := strings.Cut(value, "@")
			if !ok {
				return terminal.Usagef("it needs the temperature that it holds at: 3h@23C")
			}
			if b.InitialSet, err = unit.ParseDuration(set); err != nil {
				return err
			}
			b.SetReference, err = parse.OptionalFlag("set", at, unit.ParseTemperature)
			return err
		}),
		quantityOf("air", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.Air }),
		quantityOf("yield", unit.ParseVolume, func(b *B) **unit.As[unit.Volume] { return &b.DesignYield }),
		quantityOf("unit-weight", unit.ParseDensity, func(b *B) **unit.As[unit.Density] { return &b.UnitWeight }),
		quantityOf("tolerance", unit.ParseShare, func(b *B) **unit.As[unit.Share] { return &b.UnitWeightTolerance }),
		quantityOf("datum", unit.ParseTemperature, func(b *B) **unit.As[unit.Celsius] { return &b.Datum }),
		number("limit", func(b *B) *float64 { return &b.WaterLimit }),
		number("activation", func(b *B) *float64 { return &b.Activation }),
		set("working", func(_ *session.Session, b *B, value, _ string) (err error) {
			b.Working, err = unit.ParseDuration(value)
			return err
		}),
	}
}
