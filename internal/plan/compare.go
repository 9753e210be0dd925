package plan

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"

	"hod/internal/event"
)

// Holding is a plan body that holds now, with the hash of the event that says so. Where a conflict is not settled there
// are several of one thing.
type Holding struct {
	Hash event.Hash
	Body event.Body
}

// Change is one thing whose plan differs.
type Change struct {
	What string     // "zone A3", "coat A3 outer 1"
	Body event.Body // to be written; it names all that it replaces
	Was  []Holding  // none: it is new
}

// Changes are how a plan differs from what holds.
type Changes struct {
	Write []Change
	Same  int       // things that stay as they are
	Gone  []Holding // planned, and not in the plan read: nothing is written for them, they go on holding
	Doubt []string  // what a foreman should think over first
}

// Compare gives what must be written for the wanted bodies to hold, in their order: only what differs, each replacing
// whatever holds of the same thing. What is the same under an unsettled conflict is written again, since that settles
// it.
func Compare(held []Holding, wanted []event.Body) Changes {
	var c Changes
	by := map[string][]Holding{}
	for _, h := range held {
		if w := What(h.Body); w != "" {
			by[w] = append(by[w], h)
		}
	}
	named := map[string]bool{}
	for _, b := range wanted {
		w := What(b)
		was := by[w]
		named[w] = true
		if len(was) == 1 && same(was[0].Body, b) {
			c.Same++
			continue
		}
		hashes := make([]event.Hash, 0, len(was))
		for _, h := range was {
			hashes = append(hashes, h.Hash)
		}
		slices.SortFunc(hashes, func(a, b event.Hash) int { return bytes.Compare(a[:], b[:]) })
		hashes = slices.Compact(hashes)
		if len(hashes) == 0 {
			hashes = nil
		}
		c.Write = append(c.Write, Change{What: w, Body: event.WithReplaces(b, hashes), Was: was})
		c.doubt(b, was)
	}
	for _, h := range held {
		if w := What(h.Body); w != "" && !named[w] {
			c.Gone = append(c.Gone, h)
		}
	}
	return c
}

// doubt is about a mix that changes under a revision that batches were already written with: two mortars would go by
// one number.
func (c *Changes) doubt(b event.Body, was []Holding) {
	m, ok := b.(event.MixPlanned)
	if !ok {
		return
	}
	for _, h := range was {
		old, ok := h.Body.(event.MixPlanned)
		if !ok || old.Revision < m.Revision || same(old, m) {
			continue
		}
		what := "says otherwise than it did"
		if !reflect.DeepEqual(old.Constituents, m.Constituents) {
			what = "has other constituents"
		}
		c.Doubt = append(c.Doubt,
			fmt.Sprintf(
				"mix %s %s and is still revision %d; batches mixed before and after would carry one number, so make it revision %d (with corrects: %d if revision %d was wrong from the start)",
				m.Mix, what, m.Revision, old.Revision+1, old.Revision, old.Revision))
		return
	}
}

// What names the thing that a plan body is about, as people do; "" for a body that is no plan. Both orders of an edge's
// zones are one edge.
func What(b event.Body) string {
	if e, edge := b.(event.EdgePlanned); edge {
		return "edge " + string(min(e.A, e.B)) + " to " + string(max(e.A, e.B))
	}
	return event.ThingOf(b)
}

// same compares what two bodies say, whatever they replace: by the bytes in which they would be kept.
func same(a, b event.Body) bool {
	a, b = inOrder(a), inOrder(b)
	x, errX := written(event.WithReplaces(a, nil))
	y, errY := written(event.WithReplaces(b, nil))
	return errX == nil && errY == nil && bytes.Equal(x.Bytes(), y.Bytes())
}

// inOrder has the zones of an edge in the order of their names.
func inOrder(b event.Body) event.Body {
	if e, ok := b.(event.EdgePlanned); ok && e.A > e.B {
		e.A, e.B, e.PartA, e.PartB = e.B, e.A, e.PartB, e.PartA
		return e
	}
	return b
}
