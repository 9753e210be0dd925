package event

import hodv1 "hod/proto/hod/v1"

// Noted is something worth writing down.
type Noted struct {
	Text string
	Zone Zone // empty: about no zone
}

func (b Noted) check() error { return first(checkSaid("note", b.Text), checkMaybeName("zone", b.Zone)) }

func (b Noted) kind() string { return "note" }

func (b Noted) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_Noted{Noted: &hodv1.Noted{Text: b.Text, Zone: string(b.Zone)}}}
}

func notedOf(p *hodv1.Noted) Noted { return Noted{Text: p.GetText(), Zone: Zone(p.GetZone())} }
