package placed

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
)

// Cover is a time in which a face of a zone lay covered.
type Cover struct {
	From  time.Time
	To    time.Time // zero: it still lies there, as far as the record goes
	With  string
	By    *history.Record // that it was put on
	Ended *history.Record // what ended it: an uncovering, or a placement on that face; nil: nothing
}

// allFaces are those that a coat can be on.
var allFaces = []event.Face{event.AnyFace, event.Outer, event.Inner}

// coverFaces works out when each face lay covered. It is the one rule for covered, for drying, rain, moist curing, the
// board and the zone alike: a cover lies from when it was put on until it was taken off, or until something was placed
// on that face. Nobody can place through a cover, so a placement ends it whether or not the uncovering was written
// down.
func (z *Zone) coverFaces() {
	z.covers = map[event.Face][]Cover{}
	for _, face := range allFaces {
		z.covers[face] = z.coversOf(face)
	}
}

func (z *Zone) coversOf(face event.Face) []Cover {
	type mark struct {
		at    time.Time
		r     *history.Record
		cover bool
		with  string
	}
	var marks []mark
	for _, t := range z.tended {
		if t.What != event.Wetted && sameFace(t.Face, face) {
			marks = append(marks, mark{t.At, t.Record, t.What == event.Covered, t.With})
		}
	}
	if len(marks) == 0 {
		return nil
	}
	for _, p := range z.placedOn(face) {
		marks = append(marks, mark{p.From, p.Record, false, ""})
	}
	slices.SortFunc(marks, func(a, b mark) int { return cmp.Or(a.at.Compare(b.at), history.ByLogged(a.r, b.r)) })
	var all []Cover
	open := false
	for _, m := range marks {
		switch {
		case m.cover && !open:
			all, open = append(all, Cover{From: m.at, With: m.with, By: m.r}), true
		case m.cover && m.with != "": // another cover over it
			all[len(all)-1].With = m.with
		case !m.cover && open:
			last := &all[len(all)-1]
			last.To, last.Ended, open = m.at, m.r, false
		}
	}
	return all
}

// sameFace says whether what is said of one face is about another; a face that was not said is both.
func sameFace(a, b event.Face) bool { return a == b || a == event.AnyFace || b == event.AnyFace }

// placedOn is all that was placed on a face, in whatever coat, in order of time.
func (z *Zone) placedOn(face event.Face) []*Placed {
	var all []*Placed
	for _, id := range z.Order {
		if sameFace(id.Face, face) {
			all = append(all, z.Coats[id].Placed...)
		}
	}
	slices.SortFunc(all, func(a, b *Placed) int {
		return cmp.Or(a.From.Compare(b.From), event.CompareNames(a.Record.Name, b.Record.Name))
	})
	return all
}

// Covered says whether a face lay covered at an instant.
func (z *Zone) Covered(face event.Face, at time.Time) bool { return coveredAt(z.covers[face], at) }

func coveredAt(covers []Cover, at time.Time) bool {
	for _, c := range covers {
		if c.holds(at) {
			return true
		}
	}
	return false
}

func (c Cover) holds(at time.Time) bool {
	return !at.Before(c.From) && (c.To.IsZero() || at.Before(c.To))
}

// Bare is for how long of a time a face lay uncovered: from and to are its ends.
func (z *Zone) Bare(face event.Face, from, to time.Time) time.Duration {
	left := to.Sub(from)
	for _, c := range z.covers[face] {
		begin, end := c.From, c.To
		if begin.Before(from) {
			begin = from
		}
		if end.IsZero() || end.After(to) {
			end = to
		}
		if begin.Before(end) {
			left -= end.Sub(begin)
		}
	}
	return left
}

// Covers are the times in which a face of the zone lay covered, oldest first.
func (z ZoneIs) Covers(face event.Face) []Cover { return z.covers[face] }

// Covered says whether a face of the zone lay covered at an instant.
func (z ZoneIs) Covered(face event.Face, at time.Time) bool { return coveredAt(z.covers[face], at) }

// Sheltered says whether a face lies under the shell's own outer coat.
func (z *Zone) Sheltered(face event.Face, at time.Time) bool {
	if face != event.Inner {
		return false
	}
	for _, id := range z.Order {
		if id.Face == event.Outer && len(BeganBefore(z.Coats[id].Placed, at)) > 0 {
			return true
		}
	}
	return false
}
