package event

import (
	"strconv"
	"strings"
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// ZonePlanned is a named part of the shell's surface.
type ZonePlanned struct {
	Zone     Zone
	Area     unit.As[unit.Area] // m²
	Shape    string             // in words
	Order    int                // smaller is placed first
	Form     *Form              // where its sides lie; nil: not said
	At       *MapCell           // its cell on the map of the shell laid flat; nil: not said
	Exposure *Exposure          // when the sun is on it; nil: not said
	// ReachedFrom is the side at which work in it begins, since it is reached from there; empty: not said.
	ReachedFrom string
	Replaces    []Hash
}

// Exposure is when the sun is on a zone, from and to as times after midnight on the site, and by how many kelvin its
// mortar is then warmer than the air in the shade. A zone that lies in the shade all day has From = To.
type Exposure struct {
	From, To time.Duration // whole minutes
	Warmer   float64       // K
}

const mostWarmer = 40

func (x *Exposure) check() error {
	switch {
	case x == nil:
		return nil
	case x.From > x.To:
		return cannot("the sun from %s to %s; it comes before it goes", x.From, x.To)
	case !(x.Warmer >= 0 && x.Warmer <= mostWarmer):
		return cannot("%s K warmer in the sun cannot be; it must be from 0 to %d", number(x.Warmer), mostWarmer)
	}
	return first(checkWhole("time of the sun", x.From, time.Minute, 24*time.Hour),
		checkWhole("time of the sun", x.To, time.Minute, 24*time.Hour))
}

func (b ZonePlanned) check() error {
	return first(
		checkName("zone", b.Zone),
		within("area", b.Area, zoneArea),
		checkLine("shape", b.Shape),
		checkCount("order", b.Order, 0, 1e6),
		b.Form.check(),
		b.Exposure.check(),
		checkMaybeName("side", b.ReachedFrom),
		b.At.check(),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b ZonePlanned) about() about { return about{kind: "zone", sort: Planning, by: Foremen} }

// Thing names what is planned.
func (b ZonePlanned) Thing() string { return "zone " + string(b.Zone) }

func (b ZonePlanned) zones() []Zone { return []Zone{b.Zone} }

func (b ZonePlanned) replaces() []Hash { return b.Replaces }

func (b ZonePlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b ZonePlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_ZonePlanned{ZonePlanned: &hodv1.ZonePlanned{
		Zone: string(b.Zone), Area: areaProto(said(b.Area)), Shape: b.Shape, Order: uint32(b.Order),
		Form: formProto(b.Form), At: mapCellProto(b.At), Exposure: exposureProto(b.Exposure),
		ReachedFrom: b.ReachedFrom,
		Replaces:    hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_ZonePlanned) Body { return zonePlannedOf(k.ZonePlanned) })

func zonePlannedOf(p *hodv1.ZonePlanned) ZonePlanned {
	return ZonePlanned{
		Zone: Zone(p.GetZone()), Area: unsaid(areaOf(p.GetArea())), Shape: p.GetShape(), Order: count(p.GetOrder()),
		Form: formOf(p.GetForm()), At: mapCellOf(p.GetAt()), Exposure: exposureOf(p.GetExposure()),
		ReachedFrom: p.GetReachedFrom(),
		Replaces:    hashesOf(p.GetReplaces()),
	}
}

func exposureProto(x *Exposure) *hodv1.ZoneExposure {
	if x == nil {
		return nil
	}
	return &hodv1.ZoneExposure{
		SunFromMin: wholes(x.From, time.Minute), SunToMin: wholes(x.To, time.Minute),
		WarmerK: x.Warmer,
	}
}

func exposureOf(p *hodv1.ZoneExposure) *Exposure {
	if p == nil {
		return nil
	}
	return &Exposure{
		From: whole(p.GetSunFromMin(), time.Minute), To: whole(p.GetSunToMin(), time.Minute),
		Warmer: p.GetWarmerK(),
	}
}

// MapCell is a place on the map of the shell laid flat, from the top left corner, both from 1.
type MapCell struct{ Row, Column int }

// MaxMap is how many rows and how many columns a map may have.
const MaxMap = 200

// ParseMapCell reads "2,3", row before column.
func ParseMapCell(s string) (MapCell, error) {
	row, column, ok := strings.Cut(s, ",")
	r, errR := strconv.Atoi(strings.TrimSpace(row))
	c, errC := strconv.Atoi(strings.TrimSpace(column))
	if !ok || errR != nil || errC != nil {
		return MapCell{}, cannot("%q is no cell of the map; one is a row from the top and a column from the left, 2,3",
			clip(s))
	}
	return MapCell{r, c}, nil
}

func (c *MapCell) check() error {
	if c == nil {
		return nil
	}
	return first(checkCount("row of the map", c.Row, 1, MaxMap), checkCount("column of the map", c.Column, 1, MaxMap))
}

func mapCellProto(c *MapCell) *hodv1.MapCell {
	if c == nil {
		return nil
	}
	return &hodv1.MapCell{Row: uint32(c.Row), Column: uint32(c.Column)}
}

func mapCellOf(p *hodv1.MapCell) *MapCell {
	if p == nil {
		return nil
	}
	return &MapCell{count(p.GetRow()), count(p.GetColumn())}
}
