package fold

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/setting"
)

// Packable is about how many of the events held may be packed.
func (s *Zones) Packable() int {
	n := 0
	for _, st := range s.zones {
		n += len(st.readings)
	}
	return n
}

// packedIn are the packed samples of one probe in a coat.
func (s *Zones) packedIn(coat event.Coat) map[string][]sample {
	if s.packed == nil {
		return nil
	}
	var all map[string][]sample
	for _, one := range s.packed.series {
		if one.coat.Zone != coat.Zone {
			continue
		}
		// The plan is that of the packing and the bytes were read once: neither can fail here.
		planned, aside := s.plan.Coat(one.coat)
		samples, ok := one.unpacked(len(s.packed.devices))
		if aside != nil || !ok {
			s.Lose(fmt.Errorf("packed readings of %s cannot be read", one.coat))
			continue
		}
		if planned.name() != coat {
			continue
		}
		if all == nil {
			all = map[string][]sample{}
		}
		all[one.probe] = append(all[one.probe], samples...)
		s.Cost.Samples += len(samples)
	}
	return all
}

// written is a sample's event, as the coat's order of readings has it.
type written struct {
	when time.Time
	name event.Name
}

// readingsOf are the events of one probe in a coat, loose and packed, by when they happened.
func (s *Zones) readingsOf(c *CoatIs, p Probe) []event.Name {
	var all []written
	for _, r := range p.Records {
		all = append(all, written{r.When, r.Name})
	}
	for _, k := range s.packedIn(c.name())[p.Name] {
		all = append(all, written{time.Unix(0, k.when), event.Name{Device: s.packed.devices[k.device], Seq: k.seq}})
	}
	slices.SortFunc(all, func(a, b written) int {
		return cmp.Or(a.when.Compare(b.when), event.CompareNames(a.name, b.name))
	})
	all = slices.CompactFunc(all, func(a, b written) bool { return a.name == b.name })
	names := make([]event.Name, len(all))
	for i, w := range all {
		names[i] = w.name
	}
	return names
}

// merge puts packed samples among those of a probe's records.
func (p *Probe) merge(all []sample, devices []event.Device) {
	devices = slices.Clip(devices)
	index := map[event.Device]int{}
	for i, d := range devices {
		index[d] = i
	}
	for _, r := range p.Records {
		d, known := index[r.Device]
		if !known {
			d = len(devices)
			devices, index[r.Device] = append(devices, r.Device), d
		}
		for _, k := range r.Now.(event.CureReadings).Samples {
			all = append(all, sample{r.OnSite(k.At).UnixNano(), r.When.UnixNano(), d, r.Seq, k.Temperature})
		}
	}
	order := (&Packed{devices: devices}).compare
	if !slices.IsSortedFunc(all, order) {
		slices.SortStableFunc(all, order)
	}
	p.Samples = make([]setting.Sample, 0, len(all))
	for i, k := range all {
		if i == 0 || all[i-1].at != k.at {
			p.Samples = append(p.Samples, setting.Sample{At: time.Unix(0, k.at).UTC(), Temp: k.temp})
		}
	}
}
