package fold

import (
	"hod/internal/event"
)

// kind is what the fold does with an event: where it is indexed, and what is computed anew when it comes or goes.
type kind struct {
	in       [2]*[]*Record   // the lists that hold it
	answers  []string        // flags, and lines of flags, that it answers
	batch    event.Batch     // to be computed anew; with it the zones that the batch went to
	zones    [2]event.Zone   // to be computed anew
	air      []event.Weather // the weather changes at their times
	plan     bool            // all is computed anew
	ledgers  bool            // the stock is
	strength bool            // the judging of breaks is
}

// kindOf is the table of what the fold does with each kind of event: one line a kind. What a kind is by itself (the
// zones that it is about, who may write it) stands in its file in event.
func (s *Site) kindOf(b event.Body) kind {
	switch b := b.(type) {
	case event.Plan:
		return kind{in: lists(&s.slot(b.Thing()).plans), plan: true}
	case event.BatchMixed:
		return kind{in: lists(&s.batch(b.Batch).mixed), batch: b.Batch}
	case event.BatchTested:
		return kind{in: lists(&s.batch(b.Batch).tests), batch: b.Batch}
	case event.Placement:
		return kind{in: [2]*[]*Record{&s.batch(b.Batch).placements, &s.zone(b.Coat.Zone).placements}, batch: b.Batch,
			zones: zones(b.Coat.Zone)}
	case event.BatchDiscarded:
		return kind{in: lists(&s.batch(b.Batch).discards), batch: b.Batch}
	case event.JointTreated:
		return kind{in: lists(&s.zone(b.Coat.Zone).treated), zones: [2]event.Zone{b.Coat.Zone, b.OtherZone}}
	case event.FrontEnded:
		return kind{in: [2]*[]*Record{&s.zone(b.Coat.Zone).treated, &s.fronts},
			zones: [2]event.Zone{b.Coat.Zone, b.OtherZone}}
	case event.SurfaceTended:
		return kind{in: lists(&s.zone(b.Zone).tended), zones: zones(b.Zone)}
	case event.CoatFinished:
		return kind{in: lists(&s.zone(b.Coat.Zone).said), zones: zones(b.Coat.Zone)}
	case event.ProgressStated:
		return kind{in: lists(&s.zone(b.Coat.Zone).said), zones: zones(b.Coat.Zone)}
	case event.CureReadings:
		return kind{in: lists(&s.zone(b.Coat.Zone).readings), zones: zones(b.Coat.Zone)}
	case event.WeatherObserved:
		return kind{in: lists(&s.observed), air: b.Samples}
	case event.WeatherForecast:
		return kind{in: lists(&s.forecasts), air: b.Samples}
	case event.StockReceived:
		return kind{in: lists(listOf(s.stock.of, b.Material)), ledgers: true}
	case event.StockCounted:
		return kind{in: lists(listOf(s.stock.of, b.Material)), ledgers: true}
	case event.StockSpoiled:
		return kind{in: lists(listOf(s.stock.of, b.Material)), ledgers: true}
	case event.SpecimensBroken:
		return kind{in: lists(listOf(s.breaks.of, b.Mix)), strength: true}
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
		return kind{in: lists(&s.device(b.Device).enrolled)}
	case event.DeviceRevoked:
		return kind{in: lists(&s.device(b.Device).revoked)}
	case event.DeviceExcluded: // what it excludes is no part of the site, by exclude.go
	case event.Noted: // only read in the log
	case event.Amended, event.Voided, event.Settled: // read with what they correct, by settle.go
	}
	return kind{}
}

func lists(one *[]*Record) [2]*[]*Record { return [2]*[]*Record{one} }

func zones(one event.Zone) [2]event.Zone { return [2]event.Zone{one} }

func listOf[K comparable](lists map[K]*[]*Record, key K) *[]*Record {
	if lists[key] == nil {
		lists[key] = new([]*Record)
	}
	return lists[key]
}
