package joint

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/placed"
)

// Key names a joint. One along an edge is that of the coat and the two zones, whichever comes first; every other is
// that of the placement which met what lay there.
func (k Contact) Key() string {
	if k.Kind == AlongEdge {
		a, b := min(k.Coat.Zone, k.Other), max(k.Coat.Zone, k.Other)
		return fmt.Sprintf("edge %s %s %s %d", a, b, k.Coat.Face, k.Coat.Number)
	}
	return k.Later[0].Record.Name.String() + " " + k.Kind.String() + " "
}

// Formerly is how older versions called the joint: by the later placement and the zone across, without the earlier
// zone, so that one placement that met two zones had two joints of one name.
func (k Contact) Formerly(code string) []finding.Former {
	to := k.To
	if k.least != nil {
		to = k.least
	}
	return []finding.Former{{Code: code, Key: to.Record.Name.String() + " " + k.Kind.String() + " " + string(k.Other)}}
}

// later side of a joint along an edge: the coat that came to it.
func (s *Joints) laterCoat(k Contact) *placed.CoatIs {
	to := k.Later[0].Coat
	if st := s.ByZone[to.Zone]; st != nil && st.Is != nil {
		return st.Is.Coats[to]
	}
	return nil
}

// SurelyMet reports whether later material has met the earlier for sure. Along an edge it has where a placement of the
// later side says that it ran along it, or where that coat is finished or holds what it needs, so that something of it
// did. The first batch in a zone need not touch every edge.
func (s *Joints) SurelyMet(k Contact) bool {
	if k.Kind != AlongEdge || k.said() {
		return true
	}
	c := s.laterCoat(k)
	return c != nil && s.Filled(c).ReachesAll()
}

// ColdAhead are the joints along edges that a coat may come to make and has not surely made: the other side has set,
// and nothing was done about it.
func (s *Joints) ColdAhead(coat event.Coat) []Contact {
	var all []Contact
	for _, k := range s.Contacts() {
		if k.Kind == AlongEdge && k.Later[0].Coat == coat && k.IsCold() && !placed.Ready(k.Treated) && !s.SurelyMet(k) {
			all = append(all, k)
		}
	}
	return all
}

// MetBy are the placements by which a joint was made: the one that the best case takes, and along an edge that nobody
// named the last of the coat, which made it done.
func (s *Joints) MetBy(k Contact) []event.Name {
	all := []event.Name{k.To.Record.Name}
	if k.Kind != AlongEdge {
		return all
	}
	if last := k.Later[len(k.Later)-1]; !k.said() && last != k.To {
		all = append(all, last.Record.Name)
	}
	return all
}

// said reports whether a placement of the later side says that it ran along the edge.
func (k Contact) said() bool {
	earlier := k.Coat.Zone
	if earlier == k.Later[0].Coat.Zone {
		earlier = k.Other
	}
	return slices.ContainsFunc(k.Later, func(p *placed.Placed) bool { return slices.Contains(p.Along, earlier) })
}

// TreatWords are what to type once a joint was made ready or mended: of a coat with another zone, or with none inside
// it or with the coat below. METHOD stands for what was done.
func (s *Joints) TreatWords(c event.Coat, other event.Zone) string {
	words := "hod treat " + string(c.Zone) + " METHOD"
	if other != "" {
		words += " --along " + string(other)
	}
	return words + s.CoatFlags(c)
}

// CoatFlags say which coat of a zone is meant, where it has several.
func (s *Joints) CoatFlags(c event.Coat) string {
	z := s.Current.Zones[c.Zone]
	if z == nil || len(z.Coats) < 2 {
		return ""
	}
	flags := fmt.Sprintf(" --coat %d", c.Number)
	if c.Face != event.AnyFace {
		flags += " --face " + c.Face.String()
	}
	return flags
}

// WorstPair is the pair that the worst case is of: the first piece of one side and the last of the other.
func (s *Joints) WorstPair(a, b *placed.CoatIs, k Contact) (from, to *placed.Placed) {
	as, _ := Along(a, b.Name().Zone)
	bs, _ := Along(b, a.Name().Zone)
	for _, side := range []struct {
		c        *placed.CoatIs
		from, to *placed.Placed
	}{{a, as[0], bs[len(bs)-1]}, {b, bs[0], as[len(as)-1]}} {
		if startsBefore(side.from, side.to) && s.Consumed(side.c, side.from, side.to.From) >= k.High {
			return side.from, side.to
		}
	}
	return nil, nil
}
