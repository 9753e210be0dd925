package view

import (
	"slices"
	"time"

	"hod/internal/curing"
	"hod/internal/event"
	"hod/internal/fold"
)

// Zone is one zone in full.
type Zone struct {
	Site   string       `json:"site"`
	AsOf   time.Time    `json:"as_of"`
	Units  string       `json:"units"`
	Zone   string       `json:"zone"`
	Shape  string       `json:"shape,omitempty"`
	AreaM2 float64      `json:"area_m2"`
	Edges  []ZoneEdge   `json:"edges"`
	Coats  []ZoneCoat   `json:"coats"`
	Joints []Joint      `json:"joints"`
	Tended []TendedLine `json:"tended"`
}

// ZoneEdge is an edge that it shares.
type ZoneEdge struct {
	With    string  `json:"with"`
	LengthM float64 `json:"length_m"`
}

// ZoneCoat is one of its coats with what was placed.
type ZoneCoat struct {
	Progress   CoatLine        `json:"progress"`
	Placements []PlacementLine `json:"placements"`
	Strength   *Strength       `json:"strength,omitempty"` // of the probe that shows the least age
}

// PlacementLine is one placement that stands.
type PlacementLine struct {
	Name     string    `json:"name"`
	Batch    string    `json:"batch"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	VolumeM3 float64   `json:"volume_m3"`
	Basis    string    `json:"basis"`   // weighed, estimated, stated
	AgeMin   float64   `json:"age_min"` // from water contact to the end of placing
	Along    []string  `json:"along,omitempty"`
	GaugeM   []float64 `json:"gauge_m,omitempty"`
}

// TendedLine is one covering, uncovering or wetting.
type TendedLine struct {
	At   time.Time `json:"at"`
	Face string    `json:"face,omitempty"`
	What string    `json:"what"`
	With string    `json:"with,omitempty"`
}

// ZoneOf the site at an instant; false if no zone of that name is planned.
func ZoneOf(s *fold.Site, now time.Time, name event.Zone) (Zone, bool) {
	z, ok := s.Zone(name)
	if !ok {
		return Zone{}, false
	}
	v := Zone{Site: siteName(s), AsOf: now, Units: s.Plan().System.String(), Zone: string(name), Shape: z.Shape, AreaM2: float64(z.Area.SI)}
	for _, e := range z.Edges {
		v.Edges = append(v.Edges, ZoneEdge{string(e.Other(name)), float64(e.Length)})
	}
	for _, c := range z.Coats {
		k := ZoneCoat{Progress: coatLine(s, z.Zone, c)}
		for _, p := range c.Placed {
			k.Placements = append(k.Placements, placementLine(p))
		}
		for _, st := range strengthsOf(s, c, now) {
			if k.Strength == nil || st.EquivalentAgeH < k.Strength.EquivalentAgeH {
				k.Strength = &st
			}
		}
		v.Coats = append(v.Coats, k)
	}
	for _, j := range JointsOf(s, now).Joints {
		if j.Zone == string(name) || j.Other == string(name) {
			v.Joints = append(v.Joints, j)
		}
	}
	for _, t := range z.Tended {
		v.Tended = append(v.Tended, TendedLine{At: t.At.UTC(), Face: face(t.Face), What: t.What.String(), With: t.With})
	}
	return v, true
}

func placementLine(p *fold.Placed) PlacementLine {
	l := PlacementLine{
		Name: p.Record.Name.String(), Batch: p.Batch.ID.String(), From: p.From.UTC(), To: p.To.UTC(), VolumeM3: float64(p.Volume), Basis: p.Basis,
		AgeMin: p.To.Sub(p.Batch.Water).Minutes(),
	}
	for _, z := range p.Along {
		l.Along = append(l.Along, string(z))
	}
	for _, g := range p.Gauges {
		l.GaugeM = append(l.GaugeM, float64(g.SI))
	}
	return l
}

// strengthsOf a coat, one a probe.
func strengthsOf(s *fold.Site, c fold.CoatIs, now time.Time) []Strength {
	var all []Strength
	id := c.CoatPlanned.Coat
	for _, cure := range s.CuresOf(c, now) {
		v := Strength{
			Zone: string(id.Zone), Face: face(id.Face), Coat: int32(id.Number), Probe: cure.Probe, Readings: int32(cure.Readings), MaturityCH: float64(cure.Maturity),
			EquivalentAgeH: cure.EquivalentAge.Hours(), LowestC: float64(cure.Lowest), MoistH: cure.Moist.Credited.Hours(),
			MoistAskedH: curing.MoistCureOrdinary.Hours(), Note: cure.Note, Caution: curing.Caution,
		}
		if e := cure.Strength; e != nil {
			v.StrengthPa, v.LowPa, v.HighPa = float(e.Strength), float(e.Low), float(e.High)
			v.Note = join(v.Note, curing.Scope)
			if e.Extrapolated {
				v.Note = join(v.Note, "beyond the ages that were broken")
			}
		}
		for _, b := range cure.Borrowed {
			v.Borrowed = append(v.Borrowed, Borrowed{Curve: b.Curve, Share28: b.Share, StrengthPa: some(b.Strength), Breaks: int32(b.Breaks)})
		}
		if len(v.Borrowed) > 0 {
			v.Note = join(v.Note, curing.NotOwn)
		}
		all = append(all, v)
	}
	return all
}

// strengths of all coats that have readings.
func strengths(s *fold.Site, now time.Time) []Strength {
	var all []Strength
	for _, name := range s.Plan().ZoneNames() {
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			all = append(all, strengthsOf(s, c, now)...)
		}
	}
	return slices.Clip(all)
}
