package event

import hodv1 "hod/proto/hod/v1"

// Noted is something worth writing down.
type Noted struct {
	Text string
	Zone Zone // empty: about no zone
}

func (b Noted) check() error { return first(checkSaid("note", b.Text), checkMaybeName("zone", b.Zone)) }

func (b Noted) about() about { return about{kind: "note", sort: Work, by: Crews} }

func (b Noted) zones() []Zone {
	if b.Zone == "" {
		return nil
	}
	return []Zone{b.Zone}
}

func (b Noted) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_Noted{Noted: &hodv1.Noted{Text: b.Text, Zone: string(b.Zone)}}}
}

var _ = reads(func(k *hodv1.Body_Noted) Body { return notedOf(k.Noted) })

func notedOf(p *hodv1.Noted) Noted { return Noted{Text: p.GetText(), Zone: Zone(p.GetZone())} }
