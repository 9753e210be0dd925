package fold_test

import (
	"slices"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/joint"
)

// A front is ended by the crew that placed on one of its sides, or by the foreman; by whom else is set aside, and
// stands as soon as that crew is found to have placed there.
func TestAFrontIsEndedByWhoPlacedThereOrByTheForeman(t *testing.T) {
	end := func(zone, other event.Zone) event.FrontEnded {
		return event.FrontEnded{
			Coat: event.Coat{Zone: zone, Face: event.Outer, Number: 1}, OtherZone: other, Treatment: "cut square",
		}
	}
	placed := func() *foldtest.Desk {
		d := foldtest.NewDesk(t)
		d.By("n1", 0, foldtest.Mixed(1, 0))
		d.By("n1", 20, foldtest.Put(1, "A1", 5, 20))
		return d
	}
	for name, k := range map[string]struct {
		write func(d *foldtest.Desk)
		want  string // set aside
		waits bool   // the front still does
	}{
		"the crew itself":                    {func(d *foldtest.Desk) { d.By("n1", 30, end("A1", "A2")) }, "", false},
		"another device of the crew":         {func(d *foldtest.Desk) { d.By("n2", 30, end("A1", "A2")) }, "", false},
		"the crew, told from the other side": {func(d *foldtest.Desk) { d.By("n1", 30, end("A2", "A1")) }, "", false},
		"the foreman":                        {func(d *foldtest.Desk) { d.By("f1", 30, end("A1", "A2")) }, "", false},
		"another crew": {
			func(d *foldtest.Desk) { d.By("s1", 30, end("A1", "A2")) }, "s1/1:no-right",
			true,
		},
		"another crew, taken up by a foreman": {func(d *foldtest.Desk) {
			d.By("s1", 30, end("A1", "A2"))
			d.By("f1", 31, end("A1", "A2"))
		}, "s1/1:no-right", false},
		"another crew that placed there, too": {func(d *foldtest.Desk) {
			d.By("s1", 30, end("A1", "A2"))
			b := foldtest.Mixed(1, 25)
			b.Batch.Crew = "south"
			p := foldtest.Put(1, "A1", 26, 29)
			p.Batch = b.Batch
			d.By("s1", 25, b)
			d.By("s1", 29, p)
		}, "", false},
		"another crew that placed across the edge": {func(d *foldtest.Desk) {
			d.By("s1", 30, end("A1", "A2"))
			b := foldtest.Mixed(1, 25)
			b.Batch.Crew = "south"
			p := foldtest.Put(1, "A2", 26, 29)
			p.Batch = b.Batch
			d.By("s1", 25, b)
			d.By("s1", 29, p)
		}, "", false},
	} {
		t.Run(name, func(t *testing.T) {
			d := placed()
			k.write(d)
			for range 2 { // in the order in which it was written, and the last first
				s := d.Site()
				if got := foldtest.Aside(s); got != k.want {
					t.Errorf("set aside: %q, not %q", got, k.want)
				}
				if k.waits != slices.ContainsFunc(s.Fronts(), func(f joint.Front) bool {
					return f.Coat.Zone == "A1" && f.Other == "A2" && len(f.Treated) == 0
				}) && name != "another crew that placed across the edge" {
					t.Errorf("the front waits: not %v", k.waits)
				}
				slices.Reverse(d.Events)
			}
		})
	}
}

// What is asked of the site between the events does not change what they say.
func TestWhoMayEndAFrontIsJudgedAnewWhenAPlacementArrives(t *testing.T) {
	t.Run("asked of all", func(t *testing.T) {
		judgedAnew(t, func(s *fold.Site) {
			if got := foldtest.Aside(s); got != "s1/1:no-right" {
				t.Fatalf("set aside: %q", got)
			}
		})
	})
	t.Run("asked of one zone", func(t *testing.T) { judgedAnew(t, func(s *fold.Site) { s.Zone("A1") }) })
}

// judgedAnew asks before the placement arrives that makes the front theirs to end.
func judgedAnew(t *testing.T, ask func(*fold.Site)) {
	t.Helper()
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 20, foldtest.Put(1, "A1", 5, 20))
	d.By("s1", 30, event.FrontEnded{
		Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, OtherZone: "A2", Treatment: "cut square",
	})
	s := d.Site()
	ask(s)
	known := len(d.Events)
	b := foldtest.Mixed(1, 25)
	b.Batch.Crew = "south"
	p := foldtest.Put(1, "A2", 26, 29)
	p.Batch = b.Batch
	d.By("s1", 25, b)
	d.By("s1", 29, p)
	for _, e := range d.Events[known:] {
		s.Add(e)
	}
	if got := foldtest.Aside(s); got != "" {
		t.Errorf("set aside: %q, though crew south placed across the edge", got)
	}
}

// An end on purpose says how a front was left: it is of what is placed against it later, and a joint that had met by
// then, or whose earlier side was placed after it, was not treated by it, however late the placement is written.
func TestAFrontEndedOnPurposeTreatsOnlyWhatIsPlacedAgainstItAfterwards(t *testing.T) {
	for name, k := range map[string]struct {
		ended int  // minutes; A1 is placed from 5 to 20, A2 from 900
		want  bool // it is of the joint
	}{
		"before the earlier side": {2, false},
		"between the sides":       {30, true},
		"after they met":          {960, false},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", 20, foldtest.Put(1, "A1", 5, 20))
			d.By("n1", k.ended, event.FrontEnded{
				Coat:      event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
				OtherZone: "A2", Treatment: "cut square, damp",
			})
			d.By("n1", 890, foldtest.Mixed(2, 890))
			d.By("n1", 970, foldtest.Put(2, "A2", 900, 915))
			for range 2 { // in the order in which it was written, and the last first
				found := false
				for _, c := range d.Site().Contacts() {
					if c.Kind == joint.AlongEdge && c.Coat.Zone == "A1" && c.Other == "A2" {
						found = true
						if got := len(c.Treated) > 0; got != k.want {
							t.Errorf("treated: %v, not %v", got, k.want)
						}
						if !c.IsCold() {
							t.Errorf("the joint is not cold")
						}
					}
				}
				if !found {
					t.Fatal("the joint is not met")
				}
				slices.Reverse(d.Events)
			}
		})
	}
}

// A zone that the plan puts elsewhere is no side of the front, whenever something was placed there.
func TestAFrontIsNotEndedByWhoPlacedInAZoneThatHasNoEdgeWithIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 20, foldtest.Put(1, "A1", 5, 20))
	d.By("s1", 30, event.FrontEnded{
		Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, OtherZone: "A3", Treatment: "cut square",
	})
	asked := d.Site()
	foldtest.Aside(asked)
	known := len(d.Events)
	b := foldtest.Mixed(1, 25)
	b.Batch.Crew = "south"
	p := foldtest.Put(1, "A3", 26, 29)
	p.Batch = b.Batch
	d.By("s1", 25, b)
	d.By("s1", 29, p)
	for _, e := range d.Events[known:] {
		asked.Add(e)
	}
	for how, s := range map[string]*fold.Site{"asked in between": asked, "asked once": d.Site()} {
		if got := foldtest.Aside(s); got != "s1/1:no-right" {
			t.Errorf("%s: set aside: %q", how, got)
		}
	}
}
