package event

import (
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
	Replaces []Hash
}

func (b ZonePlanned) check() error {
	return first(
		checkName("zone", b.Zone),
		within("area", b.Area, zoneArea),
		checkLine("shape", b.Shape),
		checkCount("order", b.Order, 0, 1e6),
		b.Form.check(),
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
		Form: formProto(b.Form), At: mapCellProto(b.At),
		Replaces: hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_ZonePlanned) Body { return zonePlannedOf(k.ZonePlanned) })

func zonePlannedOf(p *hodv1.ZonePlanned) ZonePlanned {
	return ZonePlanned{
		Zone: Zone(p.GetZone()), Area: unsaid(areaOf(p.GetArea())), Shape: p.GetShape(), Order: count(p.GetOrder()),
		Form: formOf(p.GetForm()), At: mapCellOf(p.GetAt()),
		Replaces: hashesOf(p.GetReplaces()),
	}
}

// MapCell is a place on the map of the shell laid flat, from the top left corner, both from 1.
type MapCell struct{ Row, Column int }

// MaxMap is how many rows and how many columns a map may have.
const MaxMap = 200

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
