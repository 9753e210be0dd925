package event

import (
	"time"

	hodv1 "hod/proto/hod/v1"
)

// DayOrdered makes a plan of a day its order. Of several for one day the one that happened last holds.
type DayOrdered struct {
	Day                string // 2006-01-02, on the site
	Start              time.Time
	Crews              []Crew
	Bays               []DayBay
	Batches            int
	Trials, Cold, Done int     // in how many trials an edge went cold, and all was placed by the end of work
	OnPurpose          float64 // m of edge to be ended on purpose
	Mixes              []string
}

// DayBay is what is placed without a joint: zones, and the last time at which it may be begun.
type DayBay struct {
	Zones   []Zone
	BeginBy time.Time // zero: not said
}

func (b DayOrdered) check() error {
	if day, err := time.Parse(time.DateOnly, b.Day); err != nil || checkTime("the day", day) != nil {
		return cannot("%q is not a day; one looks like 2026-07-18", clip(b.Day))
	}
	switch {
	case b.Start.IsZero():
		return cannot("the start of the day is missing")
	case b.Cold > b.Trials || b.Done > b.Trials:
		return cannot("something came about in %d trials of %d; there cannot be more than all", max(b.Cold, b.Done),
			b.Trials)
	case !(b.OnPurpose >= 0 && b.OnPurpose <= 1e6):
		return cannot("%s m to be ended on purpose cannot be", number(b.OnPurpose))
	}
	return first(
		checkTime("the start of the day", b.Start),
		all("crew", b.Crews, 1, func(c Crew) error { return checkName("crew", c) }),
		all("bay", b.Bays, 1, func(k DayBay) error {
			return first(all("zone of the bay", k.Zones, 1, func(z Zone) error { return checkName("zone", z) }),
				checkTime("the last beginning of the bay", k.BeginBy))
		}),
		checkCount("batches", b.Batches, 0, 1e6), checkCount("trials", b.Trials, 0, 1e6),
		checkCount("trials", b.Cold, 0, 1e6), checkCount("trials", b.Done, 0, 1e6),
		all("mix", b.Mixes, 0, func(m string) error { return checkLabel("mix", m) }),
	)
}

func (b DayOrdered) about() about {
	return about{
		kind: "order", sort: Work, by: Foremen,
		ask: "the order of a day is the foreman's to make; say which plan you would choose",
	}
}

func (b DayOrdered) zones() []Zone {
	var all []Zone
	for _, k := range b.Bays {
		all = append(all, k.Zones...)
	}
	return all
}

func (b DayOrdered) shifted(to func(time.Time) time.Time) Body {
	b.Start = to(b.Start)
	b.Bays = each(b.Bays, func(k DayBay) DayBay { return DayBay{k.Zones, to(k.BeginBy)} })
	return b
}

func (b DayOrdered) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_DayOrdered{DayOrdered: &hodv1.DayOrdered{
		Day: b.Day, Start: stamp(b.Start), Crews: texts[string](b.Crews),
		Bays: each(b.Bays, func(k DayBay) *hodv1.DayBay {
			return &hodv1.DayBay{Zones: texts[string](k.Zones), BeginBy: stamp(k.BeginBy)}
		}),
		Batches: uint32(b.Batches), Trials: uint32(b.Trials), Cold: uint32(b.Cold), Done: uint32(b.Done),
		OnPurposeM: b.OnPurpose, Mixes: b.Mixes,
	}}}
}

var _ = reads(func(k *hodv1.Body_DayOrdered) Body { return dayOrderedOf(k.DayOrdered) })

func dayOrderedOf(p *hodv1.DayOrdered) DayOrdered {
	return DayOrdered{
		Day: p.GetDay(), Start: instant(p.GetStart()), Crews: texts[Crew](p.GetCrews()),
		Bays: each(p.GetBays(), func(k *hodv1.DayBay) DayBay {
			return DayBay{texts[Zone](k.GetZones()), instant(k.GetBeginBy())}
		}),
		Batches: count(p.GetBatches()), Trials: count(p.GetTrials()), Cold: count(p.GetCold()),
		Done: count(p.GetDone()), OnPurpose: p.GetOnPurposeM(), Mixes: p.GetMixes(),
	}
}
