package view

import (
	"cmp"
	"crypto/sha256"
	"encoding/base32"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/setting"
)

// JointsOf the site at an instant.
func JointsOf(s *fold.Site, now time.Time) Joints {
	p := s.Plan()
	v := Joints{Site: s.ID, AsOf: now, Units: p.System.String()}
	v.Joints = openJoints(s, now)
	v.Joints = append(v.Joints, madeJoints(s)...)
	return v
}

// ladder of the site: its own closing limit.
func ladder(p *fold.Plan) setting.Ladder {
	l := setting.Suggested
	l.Closing = float64(p.Closing)
	l.Amber = min(l.Amber, l.Closing)
	return l
}

// word for a share of initial set, from the best and the worst that the record allows: cold only when it surely is, and
// closing as soon as it may be.
func word(l setting.Ladder, low, high float64) string {
	if l.State(low) == setting.Cold {
		return "cold"
	}
	if s := l.State(high); s == setting.Cold || s == setting.Closing {
		return "closing"
	}
	return "live"
}

func openJoints(s *fold.Site, now time.Time) []Joint {
	l := ladder(s.Plan())
	var all []Joint
	for _, f := range s.Fronts() {
		st := s.At(f, now)
		j := Joint{
			ID: shortID("open", f.Kind.String(), f.Coat.String(), string(f.Other)), Kind: f.Kind.String(),
			Zone: string(f.Coat.Zone), Face: face(f.Coat.Face), Coat: int32(f.Coat.Number), Other: string(f.Other), Length: float64(f.Length),
			State: word(l, st.Low, st.High), ConsumedLow: st.Low, ConsumedHigh: st.High,
			ClosesAt: at(st.Closes), TurnsAt: at(st.Turns), TurnsLatest: at(st.TurnsLatest),
			Earlier: names(f.First, f.Last), Treated: treated(f.Treated),
		}
		j.set(st)
		if !f.Known {
			j.Note = "the record does not say which placement runs along the edge"
		}
		all = append(all, j)
	}
	slices.SortStableFunc(all, func(a, b Joint) int {
		return cmp.Or(sooner(a.TurnsAt, b.TurnsAt), cmp.Compare(a.Zone, b.Zone), cmp.Compare(a.Other, b.Other), cmp.Compare(a.Coat, b.Coat))
	})
	return all
}

func madeJoints(s *fold.Site) []Joint {
	l := ladder(s.Plan())
	var all []Joint
	for _, k := range s.Contacts() {
		st := s.Met(k)
		last, later := k.Earlier[len(k.Earlier)-1], k.Later[0]
		j := Joint{
			ID: shortID("made", k.Kind.String(), later.Record.Name.String(), string(k.Other)), Kind: k.Kind.String(), Made: true,
			Zone: string(k.Coat.Zone), Face: face(k.Coat.Face), Coat: int32(k.Coat.Number), Other: string(k.Other), Length: float64(k.Length),
			State: word(l, k.Low, k.High), ConsumedLow: k.Low, ConsumedHigh: k.High, MadeAt: at(k.At),
			Earlier: names(last), Later: names(later), Treated: treated(k.Treated),
		}
		j.set(st)
		if !k.Known {
			j.Note = "the record does not say which placements met along the edge"
		}
		all = append(all, j)
	}
	slices.SortStableFunc(all, func(a, b Joint) int {
		return cmp.Or(cmp.Compare(b.ConsumedLow, a.ConsumedLow), a.MadeAt.Compare(*b.MadeAt), cmp.Compare(a.ID, b.ID))
	})
	return all
}

func (j *Joint) set(st fold.Standing) {
	j.SetMinutes, j.SetReferenceC = st.Set.Initial.Minutes(), float64(st.Set.Reference)
	j.MaterialC, j.MaterialSource = float64(st.Material), st.MaterialSource
	if !st.SetSaid {
		j.MaterialSource += "; initial set assumed, the mix states none"
	}
}

// sooner orders instants, those that never come last.
func sooner(a, b *time.Time) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	return a.Compare(*b)
}

func names(placed ...*fold.Placed) []string {
	var all []string
	for _, p := range placed {
		if n := p.Record.Name.String(); !slices.Contains(all, n) {
			all = append(all, n)
		}
	}
	return all
}

func treated(of []fold.Treated) []string {
	var all []string
	for _, t := range of {
		all = append(all, t.Method+" ("+t.Record.Name.String()+")")
	}
	return all
}

func face(f event.Face) string {
	if f == event.AnyFace {
		return ""
	}
	return f.String()
}

func at(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}

// shortID is a name of five letters and digits that is the same on every device.
func shortID(parts ...string) string {
	h := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return strings.ToLower(base32.StdEncoding.EncodeToString(h[:])[:5])
}
