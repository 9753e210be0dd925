package event

import hodv1 "hod/proto/hod/v1"

// Body is what an event says: one of the structs of this package that have a file of their own.
//
// To add one: a message in event.proto and its place in the oneof; a file here with the struct, check, kind, wrap and
// its ...Of; a case in bodyOf; a generator in eventtest; then run the tests with -update once, to keep its first bytes.
type Body interface {
	// check says in a sentence what cannot be.
	check() error
	// kind is the noun that people see in the log.
	kind() string
	// wrap gives the stored form.
	wrap() *hodv1.Body
}

// plan is a body that a later one of its kind may replace.
type plan interface {
	Body
	replaces() []Hash
	replacing([]Hash) Body
}

// KindOf is the noun for a body in the log: "batch", "placement", "weather"; "unknown" for one that a newer version
// wrote.
func KindOf(b Body) string {
	if b == nil {
		return "unknown"
	}
	return b.kind()
}

// Replaces is the hashes of the events that a plan body replaces; none for any other body.
func Replaces(b Body) []Hash {
	if p, ok := b.(plan); ok {
		return p.replaces()
	}
	return nil
}

// WithReplaces is the plan body with the hashes of the events that it replaces. Any other body comes back as it is.
func WithReplaces(b Body, replaces []Hash) Body {
	if p, ok := b.(plan); ok {
		return p.replacing(replaces)
	}
	return b
}

func bodyProto(b Body) *hodv1.Body {
	if b == nil {
		return nil
	}
	return b.wrap()
}

// bodyOf is nil for a body that this version does not know.
func bodyOf(p *hodv1.Body) Body {
	switch k := p.GetKind().(type) {
	case *hodv1.Body_SitePlanned:
		return sitePlannedOf(k.SitePlanned)
	case *hodv1.Body_ZonePlanned:
		return zonePlannedOf(k.ZonePlanned)
	case *hodv1.Body_EdgePlanned:
		return edgePlannedOf(k.EdgePlanned)
	case *hodv1.Body_CoatPlanned:
		return coatPlannedOf(k.CoatPlanned)
	case *hodv1.Body_MixPlanned:
		return mixPlannedOf(k.MixPlanned)
	case *hodv1.Body_CrewPlanned:
		return crewPlannedOf(k.CrewPlanned)
	case *hodv1.Body_MaterialPlanned:
		return materialPlannedOf(k.MaterialPlanned)
	case *hodv1.Body_BatchMixed:
		return batchMixedOf(k.BatchMixed)
	case *hodv1.Body_BatchTested:
		return batchTestedOf(k.BatchTested)
	case *hodv1.Body_Placement:
		return placementOf(k.Placement)
	case *hodv1.Body_BatchDiscarded:
		return batchDiscardedOf(k.BatchDiscarded)
	case *hodv1.Body_JointTreated:
		return jointTreatedOf(k.JointTreated)
	case *hodv1.Body_SurfaceTended:
		return surfaceTendedOf(k.SurfaceTended)
	case *hodv1.Body_CoatFinished:
		return coatFinishedOf(k.CoatFinished)
	case *hodv1.Body_ProgressStated:
		return progressStatedOf(k.ProgressStated)
	case *hodv1.Body_MethodChanged:
		return methodChangedOf(k.MethodChanged)
	case *hodv1.Body_WeatherObserved:
		return weatherObservedOf(k.WeatherObserved)
	case *hodv1.Body_WeatherForecast:
		return weatherForecastOf(k.WeatherForecast)
	case *hodv1.Body_CureReadings:
		return cureReadingsOf(k.CureReadings)
	case *hodv1.Body_StockReceived:
		return stockReceivedOf(k.StockReceived)
	case *hodv1.Body_StockCounted:
		return stockCountedOf(k.StockCounted)
	case *hodv1.Body_StockSpoiled:
		return stockSpoiledOf(k.StockSpoiled)
	case *hodv1.Body_SpecimensBroken:
		return specimensBrokenOf(k.SpecimensBroken)
	case *hodv1.Body_Noted:
		return notedOf(k.Noted)
	case *hodv1.Body_FlagAnswered:
		return flagAnsweredOf(k.FlagAnswered)
	case *hodv1.Body_ShiftStarted:
		return shiftStartedOf(k.ShiftStarted)
	case *hodv1.Body_ShiftEnded:
		return shiftEndedOf(k.ShiftEnded)
	case *hodv1.Body_DeviceEnrolled:
		return deviceEnrolledOf(k.DeviceEnrolled)
	case *hodv1.Body_DeviceRevoked:
		return deviceRevokedOf(k.DeviceRevoked)
	case *hodv1.Body_Amended:
		return amendedOf(k.Amended)
	case *hodv1.Body_Voided:
		return voidedOf(k.Voided)
	case *hodv1.Body_Settled:
		return settledOf(k.Settled)
	}
	return nil
}
