package view

import (
	"time"

	"hod/internal/fold"
)

// CoatLine is the progress of one coat of a zone.
type CoatLine struct {
	Zone           string     `json:"zone"`
	Face           string     `json:"face,omitempty"`
	Coat           int32      `json:"coat"`
	Mix            string     `json:"mix"`
	State          string     `json:"state"` // waiting, under way, done
	AreaM2         float64    `json:"area_m2"`
	DesignM        float64    `json:"design_m"`
	MeanThicknessM float64    `json:"mean_thickness_m"`
	NeededM3       float64    `json:"needed_m3"`
	PlacedM3       float64    `json:"placed_m3"`
	LeftM3         float64    `json:"left_m3"`
	Batches        float64    `json:"batches"` // whole batches and parts of them
	LastPlacedAt   *time.Time `json:"last_placed_at,omitempty"`
	FinishedAt     *time.Time `json:"finished_at,omitempty"`
	FinishedBy     string     `json:"finished_by,omitempty"` // what finished it, in words
	// share of it that was said to be complete; nil: nobody said
	Complete      *float64   `json:"complete,omitempty"`
	CompleteAt    *time.Time `json:"complete_at,omitempty"`     // when that was said
	OpenedAgainAt *time.Time `json:"opened_again_at,omitempty"` // when mortar came into it after it was finished
	FinishedEvent string     `json:"finished_event,omitempty"`  // that says or shows it
	// somebody said that it is finished; else it shows by what was done
	FinishedSaid bool `json:"finished_said,omitempty"`
}

// CoatLines are the coats of all zones, in the order of the plan.
func CoatLines(s *fold.Site) []CoatLine {
	var all []CoatLine
	for _, name := range s.Plan().ZoneNames() {
		z, ok := s.Zone(name)
		if !ok {
			continue
		}
		for _, c := range z.Coats {
			all = append(all, CoatLineOf(s, z.Zone, c))
		}
	}
	return all
}

// CoatLineOf is the progress of one coat.
func CoatLineOf(s *fold.Site, z *fold.Zone, c fold.CoatIs) CoatLine {
	id := c.CoatPlanned.Coat
	v := CoatLine{
		Zone: string(id.Zone), Face: FaceName(id.Face), Coat: int32(id.Number), Mix: string(c.Mix),
		State:  c.State.String(),
		AreaM2: float64(z.Area.SI), DesignM: float64(c.Thickness.SI),
		MeanThicknessM: float64(c.MeanThickness(z, s.Plan().Loss)),
		NeededM3:       float64(c.Needed), PlacedM3: float64(c.Volume), LeftM3: float64(c.Left()), Batches: c.Batches,
		LastPlacedAt: Instant(c.Last),
	}
	if c.Done() {
		v.FinishedAt, v.FinishedBy = Instant(c.Finish.At), c.Finish.How
		v.FinishedSaid = c.Finish.Stated
		if r := c.Finish.Record; r != nil {
			v.FinishedEvent = r.Name.String()
		}
	}
	if k := c.Complete; k != nil {
		v.Complete, v.CompleteAt = Number(k.Share), Instant(k.At)
	}
	if c.Again != nil {
		v.OpenedAgainAt = Instant(c.Again.From)
	}
	return v
}
