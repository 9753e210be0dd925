package fold

import (
	"hod/internal/air"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/joint"
	"hod/internal/judge"
	"hod/internal/mixed"
	"hod/internal/packed"
	"hod/internal/placed"
	"hod/internal/planned"
)

// What the rooms below hold, as packages above the fold know it: a view imports fold, and a room below it only where it
// calls a function of that room.
type (
	Batch      = mixed.Batch
	Border     = joint.Border
	Cell       = joint.Cell
	Cells      = joint.Cells
	CoatIs     = placed.CoatIs
	CoatState  = placed.CoatState
	Code       = history.Code
	Contact    = joint.Contact
	Cure       = placed.Cure
	Doubtful   = mixed.Doubtful
	DryingRate = planned.DryingRate
	Edge       = planned.Edge
	Fact       = finding.Fact
	Figure     = finding.Figure
	Finding    = finding.Finding
	Front      = joint.Front
	JointKind  = joint.Kind
	Metres     = joint.Metres
	Mix        = planned.Mix
	Packed     = packed.Readings
	Part       = mixed.Part
	Placed     = placed.Placed
	Plan       = planned.Plan
	Record     = history.Record
	Rules      = planned.Rules
	Sky        = air.Sky
	Span       = packed.Span
	Standing   = joint.Standing
	Strip      = joint.Strip
	Test       = mixed.Test
	Treated    = placed.Treated
	Zone       = planned.Zone
	ZoneIs     = placed.ZoneIs
)

const (
	AlongEdge            = joint.AlongEdge
	Amended              = history.Amended
	AsideFlag            = finding.AsideFlag
	Below                = joint.Below
	BreakBeforeAge       = history.BreakBeforeAge
	Clock                = finding.Clock
	ClockSet             = finding.ClockSet
	ClosedThin           = finding.ClosedThin
	ColdAir              = finding.ColdAir
	ColdJoint            = finding.ColdJoint
	DefaultEvaporation   = planned.DefaultEvaporation
	DefaultEvaporationUS = planned.DefaultEvaporationUS
	DefaultWorkFrom      = planned.DefaultWorkFrom
	DefaultWorkTo        = planned.DefaultWorkTo
	DefaultWorking       = planned.DefaultWorking
	Dispute              = finding.Dispute
	Disputed             = history.Disputed
	DoubtfulValue        = finding.DoubtfulValue
	Drying               = finding.Drying
	Finished             = placed.Finished
	Forked               = history.Forked
	Frost                = finding.Frost
	FullCounts           = judge.FullCounts
	Holds                = history.Holds
	Inside               = joint.Inside
	MaxCorrections       = history.MaxCorrections
	MaxOfOne             = history.MaxOfOne
	NoRight              = history.NoRight
	NoTarget             = history.NoTarget
	NotEnrolled          = history.NotEnrolled
	OddTime              = finding.OddTime
	OffsetLimit          = history.OffsetLimit
	OldBatch             = finding.OldBatch
	Open                 = placed.Open
	Overfull             = finding.Overfull
	PassedOver           = finding.PassedOver
	PlacedAnotherDay     = history.PlacedAnotherDay
	PlacedBeforeMixed    = history.PlacedBeforeMixed
	PlacedBeyondMixed    = history.PlacedBeyondMixed
	Replaced             = history.Replaced
	Revoked              = history.Revoked
	SameNumber           = finding.SameNumber
	SecondShift          = finding.SecondShift
	SetAside             = history.SetAside
	StockShort           = finding.StockShort
	TakenBack            = history.TakenBack
	Thin                 = finding.Thin
	UnknownBatch         = history.UnknownBatch
	UnknownBody          = history.UnknownBody
	UnknownCoat          = history.UnknownCoat
	UnknownMix           = history.UnknownMix
	UnknownRevision      = finding.UnknownRevision
	UnknownZone          = history.UnknownZone
	Unplaced             = finding.Unplaced
	UnsaidEdge           = finding.UnsaidEdge
	UntreatedCoat        = finding.UntreatedCoat
	Waiting              = placed.Waiting
	Washed               = finding.Washed
	WaterLimit           = finding.WaterLimit
	Weighing             = finding.Weighing
	WrittenTwice         = history.WrittenTwice
	WrongMix             = finding.WrongMix
)
