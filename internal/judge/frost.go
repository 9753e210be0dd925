package judge

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/finding"
	"hod/internal/placed"
	"hod/internal/trade/curing"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// judgeFrost finds readings at or below freezing before the coat could stand it.
func (s *Judge) judgeFrost(in *found, c *placed.CoatIs) {
	if len(c.Placed) == 0 {
		return
	}
	for _, p := range c.Probes {
		if freezing := s.frozen(c, p); len(freezing) > 0 {
			in.findings = append(in.findings, s.frost(c, p, freezing))
		}
	}
}

// frozen are a probe's readings at or below freezing at which the newest material in the coat was too young to stand
// it: a coat that was begun yesterday and gone on with today is as young as today's.
func (s *Judge) frozen(c *placed.CoatIs, p placed.Probe) []setting.Sample {
	m := s.MixIn(c)
	if m == nil {
		return nil
	}
	var all []setting.Sample
	for i, lies := range c.Placed {
		newer := time.Time{} // when newer material came
		if i+1 < len(c.Placed) {
			newer = c.Placed[i+1].From
		}
		samples := p.Since(lies.From)
		newest := func(k setting.Sample) bool { return newer.IsZero() || k.At.Before(newer) }
		if !slices.ContainsFunc(samples, func(k setting.Sample) bool { return k.Temp < 0.01 && newest(k) }) {
			continue
		}
		if len(samples) == 1 { // which says no age: the clock's, since what froze was hardly above 20 °C before
			if samples[0].At.Sub(lies.From) < curing.FrostAge {
				all = append(all, samples[0])
			}
			continue
		}
		history, err := curing.Sampled(samples, curing.Gaps{Longest: placed.CureGap, Bridge: curing.Unbridged})
		if err != nil {
			continue
		}
		frost, err := curing.FrostBefore(samples, history, curing.FrostAge, curing.Reference, m.Set.Ea)
		if err != nil {
			continue
		}
		for _, k := range frost.Readings {
			if newest(k) {
				all = append(all, k)
			}
		}
	}
	return all
}

func (s *Judge) frost(c *placed.CoatIs, p placed.Probe, freezing []setting.Sample) finding.Finding {
	sys := s.Current.System
	lowest := freezing[0]
	for _, k := range freezing {
		if k.Temp < lowest.Temp {
			lowest = k
		}
	}
	f := finding.Finding{
		Code: finding.Frost, Grave: true, Key: c.Name().String() + " " + p.Name, Subject: c.Name().String(),
		Since: freezing[0].At,
		Text: fmt.Sprintf("%s fell to %s before it can be taken to stand frost", c.Name(),
			sys.Temperature(lowest.Temp)),
		Basis: finding.Basis{
			Evidence: []finding.Fact{
				{Name: "probe", Value: p.Name},
				{
					Name: "freezing readings", Value: fmt.Sprint(len(freezing)),
					Figure: finding.CountOf(len(freezing)),
				},
				finding.FactOf("lowest", lowest.Temp, unit.System.Temperature,
					sys),
			},
			Formula: "equivalent age at 20 °C (C1074) of the coat's own readings, from its newest placement on",
			Limit:   "24 h, for 3.5 MPa (500 psi)",
			Source:  "PCA Design and Control of Concrete Mixtures, chapter 14, after Powers",
		},

		Caution: curing.Caution,
	}
	f.Events = s.ReadingsOf(c, p)
	return f
}
