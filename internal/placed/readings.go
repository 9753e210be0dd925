package placed

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/packed"
	"hod/internal/trade/setting"
)

// Packable is about how many of the events held may be packed.
func (s *Zones) Packable() int {
	n := 0
	for _, st := range s.ByZone {
		n += len(st.Readings)
	}
	return n
}

// packedIn are the packed samples of one probe in a coat.
func (s *Zones) packedIn(coat event.Coat) map[string][]packed.Sample {
	if s.Packed == nil {
		return nil
	}
	var all map[string][]packed.Sample
	for _, one := range s.Packed.Series {
		if one.Coat.Zone != coat.Zone {
			continue
		}
		// The plan is that of the packing and the bytes were read once: neither can fail here.
		planned, aside := s.Current.Coat(one.Coat)
		samples, ok := one.Unpacked(len(s.Packed.Devices))
		if aside != nil || !ok {
			s.Lose(fmt.Errorf("packed readings of %s cannot be read", one.Coat))
			continue
		}
		if planned.Name() != coat {
			continue
		}
		if all == nil {
			all = map[string][]packed.Sample{}
		}
		all[one.Probe] = append(all[one.Probe], samples...)
		s.Cost.Samples += len(samples)
	}
	return all
}

// written is a sample's event, as the coat's order of readings has it.
type written struct {
	when time.Time
	name event.Name
}

// ReadingsOf are the events of one probe in a coat, loose and packed, by when they happened.
func (s *Zones) ReadingsOf(c *CoatIs, p Probe) []event.Name {
	var all []written
	for _, r := range p.Records {
		all = append(all, written{r.When, r.Name})
	}
	for _, k := range s.packedIn(c.Name())[p.Name] {
		all = append(all, written{time.Unix(0, k.When), event.Name{Device: s.Packed.Devices[k.Device], Seq: k.Seq}})
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
func (p *Probe) merge(all []packed.Sample, devices []event.Device) {
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
			all = append(all, packed.Sample{
				At: r.OnSite(k.At).UnixNano(), When: r.When.UnixNano(), Device: d,
				Seq: r.Seq, Temp: k.Temperature,
			})
		}
	}
	order := (&packed.Readings{Devices: devices}).Compare
	if !slices.IsSortedFunc(all, order) {
		slices.SortStableFunc(all, order)
	}
	p.Samples = make([]setting.Sample, 0, len(all))
	for i, k := range all {
		if i == 0 || all[i-1].At != k.At {
			p.Samples = append(p.Samples, setting.Sample{At: time.Unix(0, k.At).UTC(), Temp: k.Temp})
		}
	}
}
