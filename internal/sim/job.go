package sim

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/mix"
	"hod/internal/unit"
)

// Job is what is to be invented.
type Job struct {
	Plan  []event.Body
	First time.Time // midnight of the first day, in the site's place
	Days  int
	Seed  uint64
	// Late has a crew's barrow wait this long on the second day before it meets its edge; 0 for none.
	Late time.Duration
	// HotDay is the day, from 0, with a hot and windy afternoon; below 0 for none.
	HotDay int
	// Of says whose a zone is; nil shares them out in the order in which they are placed.
	Of func(event.Zone) event.Crew
}

// Work is one thing that a crew writes.
type Work struct {
	At     time.Time // when it happens by the true clock
	Crew   event.Crew
	Person string
	Typed  bool // its times are from an instrument or were typed; else they are the device's clock
	Body   event.Body
}

// crew at work.
type crew struct {
	name  event.Crew
	who   string
	zones []zone
	at    int // in zones
	batch int
	day   string
}

type zone struct {
	name  event.Zone
	coat  event.Coat
	mix   event.Mix
	left  float64 // m³
	next  []event.Zone
	wants float64
	start string // the side at which its crew begins, where the plan has sides
}

// people are invented, one a crew.
var people = []string{"Runa", "Tebald", "Ysolt", "Corvin", "Maelis", "Odger"}

// Work of the job in order of time.
func (j Job) Work() ([]Work, error) {
	plan := fold.New("sim", "sim")
	for i, b := range j.Plan {
		e, err := event.Write(event.Event{
			Name: event.Name{Device: "sim", Seq: uint64(i + 1)}, HappenedAt: j.First,
			LoggedAt: j.First, Body: b,
		})
		if err != nil {
			return nil, fmt.Errorf("plan of the invented job: %w", err)
		}
		plan.Add(e)
	}
	p := plan.Plan()
	r := rand.New(rand.NewPCG(j.Seed, 0x686f64))
	crews := j.crews(p)
	if len(crews) == 0 {
		return nil, fmt.Errorf("plan of the invented job: it has no crews")
	}
	work := j.stock(p, crews[0])
	for day := range j.Days {
		midnight := j.First.AddDate(0, 0, day)
		work = append(work, j.weather(r, crews[0], day, midnight)...)
		for _, c := range crews {
			w, err := j.shift(r, p, c, day, midnight)
			if err != nil {
				return nil, err
			}
			work = append(work, w...)
		}
		work = append(work, j.cure(r, crews, day, midnight)...)
	}
	slices.SortStableFunc(work, func(a, b Work) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Crew, b.Crew)) })
	return work, nil
}

// crews share the zones out in the order in which the shell is placed, so that neighbours often belong to different
// crews.
func (j Job) crews(p *fold.Plan) []*crew {
	var all []*crew
	names := make([]event.Crew, 0, len(p.Crews))
	for n := range p.Crews {
		names = append(names, n)
	}
	slices.Sort(names)
	for i, n := range names {
		all = append(all, &crew{name: n, who: people[i%len(people)]})
	}
	if len(all) == 0 {
		return nil
	}
	for i, name := range p.ZoneNames() {
		z := p.Zones[name]
		c := all[i*len(all)/len(p.Zones)]
		if j.Of != nil {
			if n := slices.IndexFunc(all, func(c *crew) bool { return c.name == j.Of(name) }); n >= 0 {
				c = all[n]
			}
		}
		for _, k := range z.Coats {
			q := zone{
				name: name, coat: k.CoatPlanned.Coat, mix: k.Mix, left: float64(k.Needed),
				wants: float64(k.Needed),
			}
			if surface := z.Surface; surface != nil {
				q.start = surface.Sides()[0]
			}
			for _, e := range z.Edges {
				q.next = append(q.next, e.Other(name))
			}
			c.zones = append(c.zones, q)
		}
	}
	for _, c := range all { // one coat over all zones before the next, so that edges are met while they are fresh
		slices.SortStableFunc(c.zones, func(a, b zone) int {
			return cmp.Or(cmp.Compare(a.coat.Number, b.coat.Number), cmp.Compare(a.coat.Face, b.coat.Face))
		})
	}
	return all
}

// stock comes before the first day: enough for most of the job.
func (j Job) stock(p *fold.Plan, c *crew) []Work {
	var all []Work
	at := j.First.Add(6 * time.Hour)
	known := map[string]bool{}
	for _, name := range p.MixNames() {
		m := p.Mixes[name].Mix
		for i, k := range m.Constituents {
			if k.Kind == mix.Water {
				continue
			}
			batches := 260.0
			if k.Kind == mix.Sand {
				batches = 165 // the sand is what runs out
				if !known[k.Name] {
					all = append(all, Work{
						At: at.Add(-time.Minute), Crew: c.name, Person: c.who, Typed: true,
						Body: event.MaterialPlanned{
							Material: event.Material(k.Name), Bulk: &unit.As[unit.Density]{SI: 1480},
						},
					})
				}
				known[k.Name] = true
			}
			all = append(all, Work{
				At: at.Add(time.Duration(i) * time.Minute), Crew: c.name, Person: c.who, Typed: true,
				Body: event.StockReceived{
					Material: event.Material(k.Name),
					Amount:   event.Amount{Mass: unit.Mass(math.Round(batches * float64(k.Mass)))},
					Lot:      fmt.Sprintf("L%02d", i+1),
				},
			})
		}
	}
	return all
}

// sky of an hour.
type sky struct {
	air      unit.Celsius
	humidity unit.Share
	wind     unit.Speed
}

func (j Job) skyAt(day int, hour float64) sky {
	swing := math.Sin((hour - 9) / 24 * 2 * math.Pi) // warmest at three
	s := sky{unit.Celsius(19 + 5*swing), unit.Share(0.66 - 0.16*swing), unit.Speed(2.2 + 1.1*swing)}
	if day == j.HotDay {
		s.air += unit.Celsius(3 + 3*swing)
		s.humidity -= unit.Share(0.10 + 0.06*swing)
		if hour > 12 && hour < 19 {
			s.wind += 3
		}
	}
	return s
}

func (j Job) weather(r *rand.Rand, c *crew, day int, midnight time.Time) []Work {
	var all []Work
	for hour := 6; hour <= 20; hour++ {
		at := midnight.Add(time.Duration(hour) * time.Hour)
		s := j.skyAt(day, float64(hour))
		air, humidity, wind := s.air+unit.Celsius(r.NormFloat64()*0.3), s.humidity, s.wind
		all = append(all, Work{At: at, Crew: c.name, Person: c.who, Typed: true, Body: event.WeatherObserved{
			Station: "crew", WindHeight: unit.As[unit.Length]{SI: 2},
			Samples: []event.Weather{{At: at, Air: tenth(air), Humidity: &humidity, Wind: &wind}},
		}})
	}
	return all
}

func tenth(t unit.Celsius) *unit.Celsius {
	t = unit.Celsius(math.Round(float64(t)*10) / 10)
	return &t
}

// shift of one crew.
func (j Job) shift(r *rand.Rand, p *fold.Plan, c *crew, day int, midnight time.Time) ([]Work, error) {
	c.batch, c.day = 0, midnight.Format(time.DateOnly)
	at := midnight.Add(p.WorkFrom + time.Duration(r.IntN(15))*time.Minute)
	end := midnight.Add(p.WorkTo)
	people := p.Crews[c.name].People
	all := []Work{{At: at, Crew: c.name, Person: c.who, Body: event.ShiftStarted{People: people}}}
	all = append(all, c.treat(at.Add(5*time.Minute))...)
	late := j.Late
	if day == 1 && c.name == firstCrew(p) {
		all = append(all, Work{
			At: at.Add(10 * time.Minute), Crew: c.name, Person: c.who,
			Body: event.MethodChanged{What: "one pass less with the trowel"},
		})
	}
	for c.at < len(c.zones) && at.Before(end.Add(-40*time.Minute)) {
		z := &c.zones[c.at]
		if h := at.Sub(midnight); h > 12*time.Hour && h < 12*time.Hour+25*time.Minute {
			at = at.Add(35 * time.Minute) // noon
		}
		if late > 0 && day == 1 && c.batch == 6 && c.name == firstCrew(p) {
			at, late = at.Add(late), 0
			all = append(all, Work{
				At: at, Crew: c.name, Person: c.who,
				Body: event.Noted{Text: "mixer down, belt changed", Zone: z.name},
			})
		}
		w, took, err := j.batch(r, p, c, z, day, at, midnight)
		if err != nil {
			return nil, err
		}
		all = append(all, w...)
		at = at.Add(took)
		if z.left <= 0.03*z.wants {
			all = append(all, Work{
				At: at, Crew: c.name, Person: c.who,
				Body: event.SurfaceTended{
					Zone: z.name, Face: z.coat.Face, Tending: event.Covered,
					With: "wet burlap and sheet",
				},
			})
			if c.at%5 == 3 {
				all = append(all, Work{
					At: at.Add(time.Minute), Crew: c.name, Person: c.who,
					Body: event.ProgressStated{Coat: z.coat, Complete: unit.As[unit.Share]{SI: 1}},
				})
			}
			c.at++
		}
	}
	all = append(all, Work{At: at.Add(15 * time.Minute), Crew: c.name, Person: c.who, Body: event.ShiftEnded{}})
	return all, nil
}

// treat the joints that stood cold over night, before anything meets them.
func (c *crew) treat(at time.Time) []Work {
	const method = "wire-brushed, wetted, slurry coat"
	var all []Work
	for i, z := range c.zones {
		if z.left == z.wants {
			continue
		}
		if i == c.at {
			all = append(all, Work{
				At: at, Crew: c.name, Person: c.who,
				Body: event.JointTreated{Coat: z.coat, Method: method},
			})
		}
		for _, next := range z.next {
			if !c.placed(next, z.coat) {
				all = append(all, Work{
					At: at, Crew: c.name, Person: c.who,
					Body: event.JointTreated{Coat: z.coat, OtherZone: next, Method: method},
				})
			}
		}
	}
	return all
}

// placed says whether this crew has placed the same coat of another zone.
func (c *crew) placed(name event.Zone, coat event.Coat) bool {
	return slices.ContainsFunc(c.zones, func(z zone) bool {
		return z.name == name && z.coat.Face == coat.Face && z.coat.Number == coat.Number && z.left < z.wants
	})
}

func firstCrew(p *fold.Plan) event.Crew {
	first := event.Crew("")
	for n := range p.Crews {
		if first == "" || n < first {
			first = n
		}
	}
	return first
}

// batch mixed, tested now and then, and placed in two barrows or one; all of it, or the rest of a zone and the start of
// the next.
func (j Job) batch(r *rand.Rand, p *fold.Plan, c *crew, z *zone, day int, at, midnight time.Time) ([]Work,
	time.Duration, error,
) {
	m := p.Mixes[z.mix]
	if m == nil || m.Wrong != "" {
		return nil, 0, fmt.Errorf("plan of the invented job: mix %s gives no figures", z.mix)
	}
	c.batch++
	id := event.Batch{Crew: c.name, Day: c.day, Number: c.batch}
	moisture := unit.Share(0.035 + 0.01*float64(day%3) + 0.003*r.NormFloat64())
	wet := map[string]unit.Share{}
	for _, k := range m.Mix.Constituents {
		if k.Kind == mix.Sand {
			wet[k.Name] = moisture
		}
	}
	weigh, err := m.Mix.AtMoisture(wet)
	if err != nil {
		return nil, 0, fmt.Errorf("batch of the invented job: %w", err)
	}
	mixed := event.BatchMixed{
		Batch: id, Mix: z.mix, Revision: m.Revision,
		SandMoisture: &unit.As[unit.Share]{SI: unit.Share(math.Round(float64(moisture)*1000) / 1000)},
		MixedFrom:    at, WaterAt: at.Add(3 * time.Minute), MixedTo: at.Add(time.Duration(9+r.IntN(4)) * time.Minute),
	}
	for _, k := range weigh.Charges {
		miss := 1 + 0.003*r.NormFloat64()
		switch {
		case k.Kind.Cementitious():
			miss = 1 + 0.01*r.Float64() // never less than the bag
		case k.Kind == mix.Water && r.Float64() < 0.04:
			miss += 0.12 // a bucket too many
		}
		mixed.Charges = append(mixed.Charges, event.Charge{
			Constituent: event.Material(k.Name),
			Amount:      event.Amount{Mass: gram(k.Mass * unit.Mass(miss))},
		})
	}
	ready := mixed.MixedTo
	s := j.skyAt(day, ready.Sub(midnight).Hours())
	temperature := unit.As[unit.Celsius]{SI: *tenth(s.air + 3 + unit.Celsius(r.NormFloat64()*0.5))}
	mixed.Temperature = &temperature
	all := []Work{{At: ready, Crew: c.name, Person: c.who, Body: mixed}}
	yield := float64(m.Figures.Yield) * (0.99 + 0.008*r.NormFloat64())
	if c.batch%3 == 1 {
		density := unit.As[unit.Density]{SI: unit.Density(math.Round(float64(m.Figures.Mass)/yield*10) / 10)}
		flow := unit.As[unit.Share]{SI: unit.Share(math.Round(100*(1.05+0.05*r.NormFloat64())) / 100)}
		all = append(all, Work{At: ready.Add(3 * time.Minute), Crew: c.name, Person: c.who, Body: event.BatchTested{
			Batch: id, UnitWeight: &density, Temperature: &temperature, Flow: &flow,
		}})
	}
	from := ready.Add(time.Duration(2+r.IntN(4)) * time.Minute)
	to := from.Add(time.Duration(8+r.IntN(6)) * time.Minute)
	all = append(all, c.place(r, id, z, yield, from, to)...)
	return all, to.Sub(at) - time.Duration(4+r.IntN(3))*time.Minute, nil
}

func (c *crew) place(r *rand.Rand, id event.Batch, z *zone, yield float64, from, to time.Time) []Work {
	put := event.Placement{Batch: id, Coat: z.coat, From: from, To: to}
	switch {
	case z.start != "" && z.left == z.wants: // said once, and it goes on from there
		put.Start = z.start
	case z.start == "" && (z.left < 0.25*z.wants || z.left > 0.85*z.wants): // the ends of a zone are its edges
		put.Along = z.next
	}
	if r.Float64() < 0.2 {
		put.Gauges = []unit.As[unit.Length]{{SI: 0.0125}}
	}
	var all []Work
	if z.left < yield && c.at+1 < len(c.zones) {
		share := unit.As[unit.Share]{SI: unit.Share(math.Round(100*z.left/yield) / 100)}
		next := &c.zones[c.at+1]
		if share.SI > 0 && share.SI < 1 && next.mix == z.mix {
			put.Part = event.Part{Share: &share}
			put.To = from.Add(to.Sub(from) / 2)
			all = append(all, Work{At: put.To, Crew: c.name, Person: c.who, Body: put})
			rest := event.Placement{Batch: id, Coat: next.coat, From: put.To, To: to, Along: next.next}
			if next.start != "" {
				rest.Start, rest.Along = next.start, nil
			}
			next.left -= yield * (1 - float64(share.SI))
			z.left = 0
			return append(all, Work{At: to, Crew: c.name, Person: c.who, Body: rest})
		}
	}
	z.left -= yield
	if done := 1 - z.left/z.wants; id.Number%4 == 2 && done > 0.2 && done < 0.95 {
		put.Complete = &unit.As[unit.Share]{SI: unit.Share(math.Round(10*done) / 10)}
	}
	return append(all, Work{At: to, Crew: c.name, Person: c.who, Body: put})
}

func gram(m unit.Mass) unit.Mass { return unit.Mass(math.Round(float64(m)*1000) / 1000) }

// cure readings of the first two zones, every half hour of the day and the night after.
func (j Job) cure(r *rand.Rand, crews []*crew, day int, midnight time.Time) []Work {
	var all []Work
	for _, c := range crews[:min(2, len(crews))] {
		if len(c.zones) == 0 {
			continue
		}
		b := event.CureReadings{
			Probe: "p-" + string(c.name), Coat: c.zones[0].coat,
			Depth: &unit.As[unit.Length]{SI: 0.006},
		}
		for half := 22; half < 46; half++ {
			at := midnight.Add(time.Duration(half) * 30 * time.Minute)
			s := j.skyAt(day, float64(half)/2)
			b.Samples = append(b.Samples,
				event.Reading{At: at, Temperature: *tenth(s.air + 3 + unit.Celsius(r.NormFloat64()*0.3))})
		}
		all = append(all, Work{At: midnight.Add(23 * time.Hour), Crew: c.name, Person: c.who, Typed: true, Body: b})
	}
	return all
}

// ByClock is the work as a device writes it whose clock is ahead of the true one by so much: every time that the clock
// made is off, a typed one is not.
func (w Work) ByClock(ahead time.Duration) Work {
	if w.Typed {
		return w
	}
	w.At = w.At.Add(ahead)
	w.Body = event.Shifted(w.Body, func(t time.Time) time.Time { return t.Add(ahead) })
	return w
}
