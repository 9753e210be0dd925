package view

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/curing"
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
	Covered    *CoverLine      `json:"covered,omitempty"`  // while a cover lies on its face
	// why it is not told where each batch lies, where the plan has sides
	Untold string `json:"untold,omitempty"`
}

// CoverLine is a cover that lies on a face.
type CoverLine struct {
	Since time.Time `json:"since"`
	With  string    `json:"with,omitempty"`
}

// PlacementLine is one placement that stands.
type PlacementLine struct {
	Name     string    `json:"name"`
	Batch    string    `json:"batch"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	VolumeM3 float64   `json:"volume_m3"`
	Basis    string    `json:"basis"` // weighed, estimated, stated
	// from water contact to the end of placing; nil: neither it nor when mixing began was said
	AgeMin  *float64  `json:"age_min,omitempty"`
	Along   []string  `json:"along,omitempty"`
	GaugeM  []float64 `json:"gauge_m,omitempty"`
	Because string    `json:"because,omitempty"` // why a rule of the job was passed over
	// Where it lies, from the side at which its crew began; absent where that is not told.
	Strip *StripLine `json:"strip,omitempty"`
}

// StripLine is where a placement lies. Distances are in m, or in degrees from the straight side of a ring's sector.
type StripLine struct {
	Start          string   `json:"start"`
	BeginsM        *float64 `json:"begins_m,omitempty"`
	ReachesM       *float64 `json:"reaches_m,omitempty"`
	BeginsDegrees  *float64 `json:"begins_degrees,omitempty"`
	ReachesDegrees *float64 `json:"reaches_degrees,omitempty"`
	AreaM2         float64  `json:"area_m2"`
}

func stripLine(s fold.Strip) *StripLine {
	l := &StripLine{Start: s.Start, AreaM2: float64(s.Area)}
	if s.Degrees {
		l.BeginsDegrees, l.ReachesDegrees = &s.Begins, &s.Reaches
	} else {
		l.BeginsM, l.ReachesM = &s.Begins, &s.Reaches
	}
	return l
}

// TendedLine is one covering, uncovering or wetting.
type TendedLine struct {
	At   time.Time `json:"at"`
	Face string    `json:"face,omitempty"`
	What string    `json:"what"`
	With string    `json:"with,omitempty"`
}

// ZoneOf the site at an instant, in the site's place; false if no zone of that name is planned.
func ZoneOf(s *fold.Site, now time.Time, in *time.Location, name event.Zone) (Zone, bool) {
	z, ok := s.Zone(name)
	if !ok {
		return Zone{}, false
	}
	v := Zone{
		Site: SiteName(s), AsOf: now, Units: s.Plan().System.String(), Zone: string(name), Shape: z.Shape,
		AreaM2: float64(z.Area.SI),
	}
	for _, e := range z.Edges {
		v.Edges = append(v.Edges, ZoneEdge{string(e.Other(name)), float64(e.Length)})
	}
	for _, c := range z.Coats {
		k := ZoneCoat{Progress: CoatLineOf(s, z.Zone, c), Covered: CoverLineOf(z, c.CoatPlanned.Coat.Face, now)}
		strips, why := s.Strips(c.CoatPlanned.Coat)
		k.Untold = why
		for i, p := range c.Placed {
			l := placementLine(p)
			if i < len(strips) {
				l.Strip = stripLine(strips[i])
			}
			k.Placements = append(k.Placements, l)
		}
		for _, st := range strengthsOf(s, c, now) {
			if k.Strength == nil || st.EquivalentAgeH < k.Strength.EquivalentAgeH {
				k.Strength = &st
			}
		}
		v.Coats = append(v.Coats, k)
	}
	for _, j := range JointsOf(s, now, in).Joints {
		if j.Zone == string(name) || j.Other == string(name) {
			v.Joints = append(v.Joints, j)
		}
	}
	v.Tended = tendedLines(z)
	return v, true
}

// CoverLineOf is the cover that lies on a face at an instant; nil if none does.
func CoverLineOf(z fold.ZoneIs, face event.Face, now time.Time) *CoverLine {
	for _, c := range z.Covers(face) {
		if !c.From.After(now) && (c.To.IsZero() || now.Before(c.To)) {
			return &CoverLine{Since: c.From.UTC(), With: c.With}
		}
	}
	return nil
}

// tendedLines are what was written of a zone's surface, and the covers that were ended by placing, by time.
func tendedLines(z fold.ZoneIs) []TendedLine {
	var all []TendedLine
	for _, t := range z.Tended {
		all = append(all, TendedLine{At: t.At.UTC(), Face: FaceName(t.Face), What: t.What.String(), With: t.With})
	}
	var faces []event.Face
	for _, c := range z.Coats {
		if f := c.CoatPlanned.Coat.Face; !slices.Contains(faces, f) {
			faces = append(faces, f)
		}
	}
	for _, f := range faces {
		for _, c := range z.Covers(f) {
			if c.Ended == nil {
				continue
			}
			if _, placed := c.Ended.Now.(event.Placement); placed {
				all = append(all, TendedLine{
					At: c.To.UTC(), Face: FaceName(f), What: "cover ended by placing",
					With: c.Ended.Name.String(),
				})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b TendedLine) int { return a.At.Compare(b.At) })
	return all
}

func placementLine(p *fold.Placed) PlacementLine {
	l := PlacementLine{
		Name: p.Record.Name.String(), Batch: p.Batch.ID.String(), From: p.From.UTC(), To: p.To.UTC(),
		VolumeM3: float64(p.Volume), Basis: p.Basis,
		Because: event.BecauseOf(p.Record.Now),
	}
	if b := p.Batch; b.WaterKnown || !b.From.IsZero() {
		l.AgeMin = Number(p.To.Sub(b.Water).Minutes())
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
			Zone: string(id.Zone), Face: FaceName(id.Face), Coat: int32(id.Number), Probe: cure.Probe,
			Readings: int32(cure.Readings), MaturityCH: float64(cure.Maturity),
			EquivalentAgeH: cure.EquivalentAge.Hours(), LowestC: float64(cure.Lowest),
			MoistH:      cure.Moist.Credited.Hours(),
			MoistAskedH: curing.MoistCureOrdinary.Hours(), Note: cure.Note, Caution: curing.Caution,
		}
		if e := cure.Strength; e != nil {
			v.StrengthPa, v.LowPa, v.HighPa = Number(e.Strength), Number(e.Low), Number(e.High)
			v.Note = Joined(v.Note, curing.Scope)
			if v.Extrapolated = e.Extrapolated; e.Extrapolated {
				v.Note = Joined(v.Note, "beyond the ages that were broken")
			}
		}
		for _, b := range cure.Borrowed {
			v.Borrowed = append(v.Borrowed, Borrowed{
				Curve: b.Curve, Share28: b.Share, StrengthPa: Positive(b.Strength),
				Breaks: int32(b.Breaks),
			})
		}
		if len(v.Borrowed) > 0 {
			v.Note = Joined(v.Note, curing.NotOwn)
		}
		all = append(all, v)
	}
	return all
}

// Strengths of all coats that have readings.
func Strengths(s *fold.Site, now time.Time) []Strength {
	var all []Strength
	for _, name := range s.Plan().ZoneNames() {
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			all = append(all, strengthsOf(s, c, now)...)
		}
	}
	return slices.Clip(all)
}

// Strength is what the temperatures of a coat say of its age. Never a verdict on stripping or loading.
type Strength struct {
	Zone           string   `json:"zone"`
	Face           string   `json:"face,omitempty"`
	Coat           int32    `json:"coat"`
	Probe          string   `json:"probe"`
	Readings       int32    `json:"readings"`
	MaturityCH     float64  `json:"maturity_c_h"`
	EquivalentAgeH float64  `json:"equivalent_age_h"`
	LowestC        float64  `json:"lowest_c"`
	StrengthPa     *float64 `json:"strength_pa,omitempty"` // by the mix's own breaks; nil where they carry no curve
	LowPa          *float64 `json:"low_pa,omitempty"`      // of its 95 % band
	HighPa         *float64 `json:"high_pa,omitempty"`
	Note           string   `json:"note,omitempty"`
	Caution        string   `json:"caution"`
	// wet or covered at 10 °C or above, as far as temperatures are known
	MoistH      float64    `json:"moist_h"`
	MoistAskedH float64    `json:"moist_asked_h"`      // for ordinary cement
	Borrowed    []Borrowed `json:"borrowed,omitempty"` // where the mix has no curve of its own; not this mix's own
	// Extrapolated is where strength_pa lies beyond the ages that were broken.
	Extrapolated bool `json:"extrapolated,omitempty"`
}

// Borrowed is what a code's general curve says of a coat: not its mix's own.
type Borrowed struct {
	Curve      string   `json:"curve"`
	Share28    float64  `json:"share_of_28_day"`
	StrengthPa *float64 `json:"strength_pa,omitempty"` // scaled to the mix's own breaks; nil where it has none
	Breaks     int32    `json:"breaks"`                // to which it was scaled
}
