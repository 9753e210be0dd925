package advice

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// NextRecord compares the chances that taken proposals stated with what came.
type NextRecord struct {
	Site     string      `json:"site"`
	AsOf     time.Time   `json:"as_of"`
	Units    string      `json:"units"`
	Taken    int32       `json:"taken"`    // proposals, but for those that the crew took anew before it placed
	Followed int32       `json:"followed"` // of them, where the crew placed next
	Unplaced int32       `json:"unplaced"` // after which the crew has placed nothing
	Pending  int32       `json:"pending"`  // whose joints are still being counted
	Silent   int32       `json:"silent"`   // that stated no chance
	Tenths   []NextTenth `json:"tenths"`   // by the chance stated that no edge goes cold; none without a decision
}

// NextTenth is decisions whose stated chance that no edge goes cold lies in one tenth.
type NextTenth struct {
	From      float64 `json:"from"`
	To        float64 `json:"to"`
	Decisions int32   `json:"decisions"`
	Stated    float64 `json:"stated_share"` // mean
	Came      int32   `json:"came"`         // decisions after which none went cold, up to the time that was counted
}

// NextRecordOf all proposals that were taken, by an instant. An edge went cold after a proposal where it turned after
// that was taken and within the time that its trials counted, unmet and not ended on purpose, where the plan permits no
// joint: the same as the trials count. What had turned before was lost already.
func NextRecordOf(s *fold.Site, now time.Time) NextRecord {
	v := NextRecord{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String(), Tenths: []NextTenth{}}
	turned := turnedCold(s, now)
	tenths := [10]NextTenth{}
	proposals := s.Proposals()
	for i, k := range proposals {
		first := firstAfter(s, k, now)
		if k.Record.When.After(now) || replaced(k, proposals[i+1:], first, now) {
			continue
		}
		v.Taken++
		switch {
		case first == nil:
			v.Unplaced++
		case first.Coat == k.Coat:
			v.Followed++
		}
		switch {
		case k.Trials == 0 || k.CountedUntil.IsZero():
			v.Silent++
			continue
		case k.CountedUntil.After(now):
			v.Pending++
			continue
		}
		cold := false
		for _, at := range turned {
			cold = cold || at.After(k.Record.When) && !at.After(k.CountedUntil)
		}
		t := &tenths[min(9, (k.Trials-k.Cold)*10/k.Trials)]
		t.Decisions++
		t.Stated += 1 - float64(k.Cold)/float64(k.Trials)
		if !cold {
			t.Came++
		}
	}
	for i, t := range tenths {
		if t.Decisions == 0 {
			continue
		}
		t.From, t.To, t.Stated = float64(i)/10, float64(i+1)/10, view.Rounded(t.Stated/float64(t.Decisions))
		v.Tenths = append(v.Tenths, t)
	}
	return v
}

// replaced reports whether the crew took the same coat anew, of the proposals that follow one, before it placed
// anything.
func replaced(k fold.Taken, later []fold.Taken, first *fold.Part, now time.Time) bool {
	return slices.ContainsFunc(later, func(o fold.Taken) bool {
		return o.Crew == k.Crew && o.Coat == k.Coat && !o.Record.When.After(now) &&
			(first == nil || o.Record.When.Before(first.From))
	})
}

// turnedCold are the instants at which edges turned cold that were not met by then, and not ended on purpose or made
// ready before, where the plan permits no joint.
func turnedCold(s *fold.Site, now time.Time) []time.Time {
	permitted := func(a, b event.Zone) bool {
		for _, e := range s.Plan().Edges {
			if (e.A == a && e.B == b || e.A == b && e.B == a) && e.Joint == event.JointYes {
				return true
			}
		}
		return false
	}
	before := func(treated []fold.Treated, turned time.Time) bool {
		return slices.ContainsFunc(treated, func(t fold.Treated) bool { return !t.At.After(turned) })
	}
	var all []time.Time
	for _, k := range s.Contacts() {
		if at, ok := s.TurnedCold(k); ok && k.IsCold() && k.Kind != fold.Below && !before(k.Treated, at) &&
			!permitted(k.Coat.Zone, k.Other) {
			all = append(all, at)
		}
	}
	for _, f := range s.Fronts() {
		at := s.At(f, now).Turns
		if !at.IsZero() && !at.After(now) && !before(f.Treated, at) && !permitted(f.Coat.Zone, f.Other) {
			all = append(all, at)
		}
	}
	return all
}

// firstAfter a proposal is what the crew placed first then; nil where it has placed nothing.
func firstAfter(s *fold.Site, k fold.Taken, now time.Time) *fold.Part {
	var first *fold.Part
	for _, b := range s.Batches() {
		if b.ID.Crew != k.Crew {
			continue
		}
		for i, p := range b.Parts {
			if p.From.After(k.Record.When) && !p.From.After(now) && (first == nil || p.From.Before(first.From)) {
				first = &b.Parts[i]
			}
		}
	}
	return first
}
