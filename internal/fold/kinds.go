package fold

import (
	"hod/internal/event"
	"hod/internal/history"
)

// kind is what the fold does with an event: where it is indexed, and what is computed anew when it comes or goes.
type kind struct {
	in       [2]*[]*history.Record // the lists that hold it
	answers  []string              // flags, and lines of flags, that it answers
	batch    event.Batch           // to be computed anew; with it the zones that the batch went to
	zones    [2]event.Zone         // to be computed anew
	air      []event.Weather       // the weather changes at their times
	plan     bool                  // all is computed anew
	ledgers  bool                  // the stock is
	strength bool                  // the judging of breaks is
}

// kindOf is the table of what the fold does with each kind of event: one line a kind. What a kind is by itself (the
// zones that it is about, who may write it) stands in its file in event.
// It has a branch for each kind and no other, so that the compiler and the lint find the one that was forgotten.
func (s *Site) kindOf(b event.Body) kind {
	switch b := b.(type) {
	case event.Plan:
		return kind{in: lists(&s.Slot(b.Thing()).Plans), plan: true}
	case event.BatchMixed:
		return kind{in: lists(&s.BatchOf(b.Batch).Mixed), batch: b.Batch}
	case event.BatchTested:
		return kind{in: lists(&s.BatchOf(b.Batch).Tests), batch: b.Batch}
	case event.Placement:
		return kind{
			in:    [2]*[]*history.Record{&s.BatchOf(b.Batch).Placements, &s.ZoneOf(b.Coat.Zone).Placements},
			batch: b.Batch,
			zones: zones(b.Coat.Zone),
		}
	case event.BatchDiscarded:
		return kind{in: lists(&s.BatchOf(b.Batch).Discards), batch: b.Batch}
	case event.JointTreated:
		return kind{in: lists(&s.ZoneOf(b.Coat.Zone).Treated), zones: [2]event.Zone{b.Coat.Zone, b.OtherZone}}
	case event.FrontEnded:
		return kind{
			in:    [2]*[]*history.Record{&s.ZoneOf(b.Coat.Zone).Treated, &s.fronts},
			zones: [2]event.Zone{b.Coat.Zone, b.OtherZone},
		}
	case event.SurfaceTended:
		return kind{in: lists(&s.ZoneOf(b.Zone).Tended), zones: zones(b.Zone)}
	case event.CoatFinished:
		return kind{in: lists(&s.ZoneOf(b.Coat.Zone).Said), zones: zones(b.Coat.Zone)}
	case event.ProgressStated:
		return kind{in: lists(&s.ZoneOf(b.Coat.Zone).Said), zones: zones(b.Coat.Zone)}
	case event.CureReadings:
		return kind{in: lists(&s.ZoneOf(b.Coat.Zone).Readings), zones: zones(b.Coat.Zone)}
	case event.WeatherObserved:
		return kind{in: lists(&s.Observed), air: b.Samples}
	case event.WeatherForecast:
		return kind{in: lists(&s.Forecasts), air: b.Samples}
	case event.StockReceived:
		return kind{in: lists(listOf(s.stock.of, b.Material)), ledgers: true}
	case event.StockCounted:
		return kind{in: lists(listOf(s.stock.of, b.Material)), ledgers: true}
	case event.StockSpoiled:
		return kind{in: lists(listOf(s.stock.of, b.Material)), ledgers: true}
	case event.SpecimensBroken:
		return kind{in: lists(listOf(s.Broken.Of, b.Mix)), strength: true}
	case event.FlagAnswered:
		return kind{answers: append([]string{b.Flag}, b.Lines...)}
	case event.ShiftStarted, event.ShiftEnded:
		return kind{in: lists(&s.shifts)}
	case event.MethodChanged:
		return kind{in: lists(&s.methods)}
	case event.BatchBegun:
		return kind{in: lists(&s.begun)}
	case event.ProposalTaken:
		return kind{in: lists(&s.taken)}
	case event.DayOrdered:
		return kind{in: lists(&s.ordered)}
	case event.DeviceEnrolled:
		return kind{in: lists(&s.Member(b.Device).Enrolled)}
	case event.DeviceRevoked:
		return kind{in: lists(&s.Member(b.Device).Revoked)}
	case event.DeviceExcluded: // what it excludes is no part of the site, by exclude.go
	case event.Noted: // only read in the log
	case event.Amended, event.Voided, event.Settled: // read with what they correct, by settle.go
	}
	return kind{}
}

func lists(one *[]*history.Record) [2]*[]*history.Record { return [2]*[]*history.Record{one} }

func zones(one event.Zone) [2]event.Zone { return [2]event.Zone{one} }

func listOf[K comparable](lists map[K]*[]*history.Record, key K) *[]*history.Record {
	if lists[key] == nil {
		lists[key] = new([]*history.Record)
	}
	return lists[key]
}
