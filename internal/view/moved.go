package view

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// CorrectsPlan reports whether an event puts a plan right from the start: a revision that corrects another, or the
// amendment or taking back of a plan.
func CorrectsPlan(s *fold.Site, r *fold.Record) bool {
	if now, revised := r.Now.(event.MixPlanned); revised && IsPlan(r.Body) {
		return now.Corrects > 0
	}
	if b, amends := r.Body.(event.Amended); amends {
		return IsPlan(b.Body)
	}
	if _, fixes := event.TargetOf(r.Body); !fixes {
		return false
	}
	first, known := s.FirstWriting(r)
	return known && IsPlan(first.Body)
}

// Moved says in words what an event moved in the record: joints whose state is another, batches of another volume or
// w/cm, coats that take another volume, flags that came and went.
func Moved(s *fold.Site, name event.Name) string {
	return movedBetween(s.Without(name), s)
}

func movedBetween(was, is *fold.Site) string {
	sys := is.Plan().System
	parts := movedJoints(was, is)
	parts = append(parts, movedBatches(was, is, sys)...)
	parts = append(parts, movedCoats(was, is, sys)...)
	parts = append(parts, movedFlags(was, is)...)
	if len(parts) == 0 {
		return "nothing moved"
	}
	return strings.Join(parts, "; ")
}

func movedJoints(was, is *fold.Site) []string {
	key := func(j Joint) string {
		return strings.Join([]string{j.Kind, j.Zone, j.Face, fmt.Sprint(j.Coat), j.Other, fmt.Sprint(j.Later)}, " ")
	}
	before := map[string]string{}
	for _, j := range MadeJoints(was) {
		before[key(j)] = j.State
	}
	turned := map[string]int{}
	for _, j := range MadeJoints(is) {
		if old, met := before[key(j)]; met && old != j.State {
			turned[old+" -> "+j.State]++
		}
	}
	var all []string
	for _, how := range slices.Sorted(maps.Keys(turned)) {
		all = append(all, unit.Count(turned[how], "joint", "joints")+" "+how)
	}
	return all
}

// ranged is one value in words, or from the least to the most.
type ranged struct {
	n         int
	low, high [2]float64 // before, after
}

func (r *ranged) add(before, after float64) {
	if r.n++; r.n == 1 {
		r.low, r.high = [2]float64{before, after}, [2]float64{before, after}
		return
	}
	for i, x := range []float64{before, after} {
		r.low[i], r.high[i] = min(r.low[i], x), max(r.high[i], x)
	}
}

func (r ranged) words(show func(float64) string) string {
	span := func(i int) string {
		if a, b := show(r.low[i]), show(r.high[i]); a != b {
			return a + " to " + b
		}
		return show(r.low[i])
	}
	return span(0) + " -> " + span(1)
}

func movedBatches(was, is *fold.Site, sys unit.System) []string {
	litres := func(x float64) string { return sys.Volume(unit.Volume(x)) }
	ratio := func(x float64) string { return fmt.Sprintf("%.3f", x) }
	var volumes, ratios ranged
	for _, b := range is.Batches() {
		old, there := was.Batch(b.ID)
		if !there {
			continue
		}
		x, y := float64(old.Volume(1, was.YieldOf(old).Ratio)), float64(b.Volume(1, is.YieldOf(b).Ratio))
		if litres(x) != litres(y) {
			volumes.add(x, y)
		}
		if old.Wrong == "" && b.Wrong == "" &&
			ratio(old.Figures.WaterCementitious) != ratio(b.Figures.WaterCementitious) {
			ratios.add(old.Figures.WaterCementitious, b.Figures.WaterCementitious)
		}
	}
	var all []string
	if volumes.n > 0 {
		all = append(all, unit.Count(volumes.n, "batch", "batches")+" "+volumes.words(litres))
	}
	if ratios.n > 0 {
		all = append(all, "w/cm of "+unit.Count(ratios.n, "batch", "batches")+" "+ratios.words(ratio))
	}
	return all
}

func movedCoats(was, is *fold.Site, sys unit.System) []string {
	before := map[event.Coat]float64{}
	for _, name := range was.Plan().ZoneNames() {
		z, _ := was.Zone(name)
		for _, c := range z.Coats {
			before[c.CoatPlanned.Coat] = float64(c.Needed)
		}
	}
	litres := func(x float64) string { return sys.Volume(unit.Volume(x)) }
	var needs ranged
	for _, name := range is.Plan().ZoneNames() {
		z, _ := is.Zone(name)
		for _, c := range z.Coats {
			if old, there := before[c.CoatPlanned.Coat]; there && litres(old) != litres(float64(c.Needed)) {
				needs.add(old, float64(c.Needed))
			}
		}
	}
	if needs.n == 0 {
		return nil
	}
	return []string{unit.Count(needs.n, "coat takes", "coats take") + " " + needs.words(litres)}
}

func movedFlags(was, is *fold.Site) []string {
	of := func(s *fold.Site) map[string]string {
		all := map[string]string{}
		for _, f := range s.Findings() {
			if f.Code != fold.Dispute { // what is written beside another is a conflict with it, and no figure
				all[f.Code+" "+f.Key] = f.Code
			}
		}
		return all
	}
	before, after := of(was), of(is)
	gone, come := map[string]int{}, map[string]int{}
	for k, code := range before {
		if _, still := after[k]; !still {
			gone[code]++
		}
	}
	for k, code := range after {
		if _, there := before[k]; !there {
			come[code]++
		}
	}
	var all []string
	for _, code := range slices.Sorted(maps.Keys(come)) {
		all = append(all, unit.Count(come[code], "flag", "flags")+" "+code+" more")
	}
	for _, code := range slices.Sorted(maps.Keys(gone)) {
		all = append(all, unit.Count(gone[code], "flag", "flags")+" "+code+" less")
	}
	return all
}

// correction says of a revision that corrects another what it says otherwise: "initial set 4 h, was 2 h".
func (w Words) correction(b event.MixPlanned) string {
	was, known := w.Site.Plan().Revision(b.Mix, b.Corrects)
	if !known {
		return fmt.Sprintf(", corrects %d", b.Corrects)
	}
	was.Revision, was.Corrects = b.Revision, b.Corrects
	return fmt.Sprintf(", corrects %d: %s", b.Corrects, cmp.Or(Differs(was, b), "it says the same"))
}

// IsPlan reports whether an event is of the plan.
func IsPlan(b event.Body) bool { return event.SortOf(b) == event.Planning }
