package view

import (
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// Placement is what the record makes of one placement: how much went in, what it leaves of its batch, and until when
// the joint that it opens is good.
type Placement struct {
	Batch BatchLeft
	Known bool // the record says how much of the batch it was; the fields below are zero where it does not
	Share unit.Share
	// Volume as it lies in the coat, and what that rests on: weighed, stated, estimated; empty where it is in no coat.
	Volume unit.Volume
	Basis  string
	Opens  bool      // a joint waits for what was placed
	GoodTo time.Time // when that joint turns cold; in the past where it has
}

// PlacementOf is what the record makes of the placement that an event wrote, at an instant; an error is not possible:
// what is not known is zero.
func PlacementOf(s *fold.Site, name event.Name, p event.Placement, now time.Time) Placement {
	var v Placement
	if b, ok := s.Batch(p.Batch); ok {
		v.Batch = BatchLeftOf(s, b)
		v.inCoat(s, b, name)
	}
	v.joint(s, p.Coat, name, now)
	return v
}

// inCoat finds the part of the batch that the event put somewhere, and its volume there.
func (v *Placement) inCoat(s *fold.Site, b *fold.Batch, name event.Name) {
	for _, part := range b.Parts {
		if part.Record.Name != name {
			continue
		}
		v.Known, v.Share, v.Volume = true, part.Share, b.Volume(part.Share, 1)
		z, _ := s.Zone(part.Coat.Zone)
		for _, c := range z.Coats {
			for _, p := range c.Placed {
				if p.Record.Name == name {
					v.Volume, v.Basis = p.Volume, p.Basis
				}
			}
		}
		return
	}
}

// joint is when the material just placed turns cold, of itself and of no other's that lies in the same joint.
func (v *Placement) joint(s *fold.Site, coat event.Coat, name event.Name, now time.Time) {
	for _, f := range s.Fronts() {
		if f.Coat != coat {
			continue
		}
		st := s.At(f, now)
		switch name {
		case f.First.Record.Name:
			v.GoodTo, v.Opens = st.Turns, true
		case f.Last.Record.Name:
			v.GoodTo, v.Opens = st.TurnsLatest, true
		}
	}
	v.Opens = v.Opens && !v.GoodTo.IsZero()
}

// BatchLeft is what of a batch is still to be placed.
type BatchLeft struct {
	Share  unit.Share
	Volume unit.Volume // by the yield as it was measured, where it was
	None   bool        // so little that there is nothing to place
}

// leastPart is the share of a batch below which there is none to place: shares are typed to the percent.
const leastPart = unit.Share(0.0005)

// BatchLeftOf is what of a batch is still to be placed.
func BatchLeftOf(s *fold.Site, b *fold.Batch) BatchLeft {
	if b.Left <= leastPart {
		return BatchLeft{Share: b.Left, None: true}
	}
	return BatchLeft{Share: b.Left, Volume: b.Volume(b.Left, s.YieldOf(b).Ratio)}
}
