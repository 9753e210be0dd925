package forecast_test

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// A scenario says how jobs are drawn: what is not as planned, and who works when. Its distributions are not those of
// the model: thickness is uniform, coats differ by their zones, days by rain.
type scenario struct {
	name              string
	zones, coats      int     // coats a zone
	batches           float64 // by design, with the planned loss
	loss              float64 // planned
	wasteLow, wasteUp float64
	thickLow, thickUp float64
	zoneSpread        float64 // uniform, half its width
	coatSpread        float64 // standard deviation
	zoneShare         float64 // of coatSpread that all coats of a zone have in common
	skewed            bool
	yields            bool // the mixes' yields are off, and batches scatter
	crewSpread        float64
	uneven            bool
	shared            bool // all crews at one coat
	crews             int  // 0: two or three
	sundays           bool // off, and the plan does not say so
	unweighed         bool
	gauges            float64 // share of the coats
	revised           bool    // mix, at 40 %
	mixes             int
	rain              bool // forecast, each other day some hours
	changed           float64
	told              bool
	stock             float64 // share of the sand that is there
	zonesAlike        bool    // zoneSpread is the zone's, not each coat's
	discards          bool    // a rest that nobody can use is said to be thrown away; else it counts as placed
	scatter, mixOff   float64 // of batches about their mix, and of mixes about their design; 0: as usual
	silent            bool    // the plan names neither working days nor whose a zone is
}

// truth is one job with all that becomes of it.
type truth struct {
	scenario
	plan    []event.Body
	work    []worked
	starts  []start
	ended   time.Time
	coats   []*coatTruth
	sandAt  time.Time // the first batch that the sand did not suffice for is begun
	mixes   []event.Mix
	wasUsed map[event.Mix]int
}

type worked struct {
	at   time.Time
	crew event.Crew
	body event.Body
}

type start struct {
	at, ready time.Time
	crew      int
	mix       event.Mix
	coat      int
}

type coatTruth struct {
	id     event.Coat
	mix    event.Mix
	design float64 // m³ net
	need   float64 // m³ mixed
	left   float64
	gauge  float64 // what gauges read over the thickness planned, in the mean; 0: none
	thick  float64
	used   float64
}

// lognormal or, if skewed, gamma with the same mean and spread.
func (s scenario) about(r *rand.Rand, sd float64) float64 {
	if sd <= 0 {
		return 1
	}
	if !s.skewed {
		return math.Exp(sd * r.NormFloat64())
	}
	// gamma of shape 4 by exponentials, brought to mean 1 and that spread
	x := 0.0
	for range 4 {
		x += r.ExpFloat64()
	}
	return 1 + sd*(x-4)/2
}

const (
	shellThick = 0.012 // m
	cement     = 42.0  // kg in a batch of any mix
	cementBag  = 25.0  // kg
)

var monday = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

func mixOf(name event.Mix, revision int, sand unit.Mass) event.MixPlanned {
	absorption := unit.As[unit.Share]{SI: 0.012}
	air := unit.As[unit.Share]{SI: 0.06}
	return event.MixPlanned{
		Mix: name, Revision: revision, Air: &air, Working: 90 * time.Minute,
		Constituents: []event.Constituent{
			{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: cement}, Gravity: 3.15},
			{Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: sand}, Gravity: 2.65, Absorption: &absorption},
			{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 17}},
			{Name: "fibre", Kind: event.Fibre, Amount: event.Amount{Mass: 0.6}, Gravity: 2.7},
		},
	}
}

func mixName(m int) event.Mix { return event.Mix([]string{"face", "core"}[m]) }

// invent a job.
func (s scenario) invent(seed uint64) *truth {
	r := rand.New(rand.NewPCG(seed, 0x6a6f62))
	t := &truth{scenario: s, wasUsed: map[event.Mix]int{}}
	loss := unit.As[unit.Share]{SI: unit.Share(s.loss)}
	plan := event.SitePlanned{
		Name: "Invented", TimeZone: "UTC", WorkFrom: 7 * time.Hour, WorkTo: 17 * time.Hour,
		Loss: &loss,
	}
	if !s.silent {
		days := event.WorkDays{From: 7 * time.Hour, To: 17 * time.Hour}
		for d := time.Sunday; d <= time.Saturday; d++ {
			if d != time.Sunday || !s.sundays {
				days.Days = append(days.Days, d)
			}
		}
		plan.Week = []event.WorkDays{days}
	}
	t.plan = append(t.plan, plan)
	t.plan = append(t.plan, event.MaterialPlanned{Material: "cement", Bag: &unit.As[unit.Mass]{SI: cementBag}})
	mixes := max(1, s.mixes)
	for m := range mixes {
		t.mixes = append(t.mixes, mixName(m))
		t.plan = append(t.plan, mixOf(mixName(m), 1, unit.Mass(90-25*m)))
	}
	crews := s.crews
	if crews == 0 {
		crews = 2 + r.IntN(2)
	}
	names := []event.Crew{"north", "south", "west"}[:crews]
	t.shape(r, names)
	return t
}

// shape the zones and their coats, and place them.
func (t *truth) shape(r *rand.Rand, names []event.Crew) {
	s := t.scenario
	site := fold.New("x", "x")
	for i, b := range t.plan {
		site.Add(must(event.Write(event.Event{
			Name: event.Name{Device: "x", Seq: uint64(i + 1)}, HappenedAt: monday,
			LoggedAt: monday, Body: b,
		})))
	}
	p := site.Plan()
	yield := float64(p.Mixes["face"].Figures.Yield)
	// areas, so that the whole takes the batches asked for
	areas, sum := make([]float64, s.zones), 0.0
	for i := range areas {
		areas[i] = math.Exp(0.35 * r.NormFloat64())
		sum += areas[i] * float64(s.coats)
	}
	volume := s.batches * yield / (1 + s.loss)
	waste := 1 + s.wasteLow + (s.wasteUp-s.wasteLow)*r.Float64()
	thick := 1 + s.thickLow + (s.thickUp-s.thickLow)*r.Float64()
	bias := math.Exp(0.02 * r.NormFloat64())
	for i := range areas {
		zone := event.Zone(fmt.Sprintf("Z%03d", i+1))
		area := math.Round(1e4*areas[i]*volume/sum/shellThick) / 1e4
		t.plan = append(t.plan, event.ZonePlanned{
			Zone: zone, Area: unit.As[unit.Area]{SI: unit.Area(area)},
			Order: i + 1,
		})
		common := 1.0
		if s.zonesAlike {
			common += s.zoneSpread * (2*r.Float64() - 1)
		}
		shared := s.about(r, s.coatSpread*math.Sqrt(s.zoneShare))
		for k := range s.coats {
			c := &coatTruth{
				id:  event.Coat{Zone: zone, Face: event.Outer, Number: k + 1},
				mix: mixName(k % max(1, s.mixes)), design: area * shellThick,
			}
			if k == 1 && s.zoneShare > 0 {
				c.id.Face, c.id.Number = event.Inner, 1
			}
			if !s.zonesAlike {
				common = 1 + s.zoneSpread*(2*r.Float64()-1)
			}
			c.thick = thick * common * shared * s.about(r, s.coatSpread*math.Sqrt(1-s.zoneShare))
			c.need = c.design * c.thick * waste
			if r.Float64() < s.gauges {
				c.gauge = c.thick * bias
			}
			c.left = c.need
			t.coats = append(t.coats, c)
			t.plan = append(t.plan, event.CoatPlanned{
				Coat: c.id, Thickness: unit.As[unit.Length]{SI: shellThick},
				Mix: c.mix,
			})
		}
	}
	slices.SortStableFunc(t.coats, func(a, b *coatTruth) int {
		return cmp.Or(cmp.Compare(a.id.Face, b.id.Face), cmp.Compare(a.id.Number, b.id.Number))
	})
	t.place(r, names, p)
}

// crewTruth is a crew at work.
type crewTruth struct {
	name    event.Crew
	next    time.Time
	coats   []int // its own, in order; nil where all share one list
	at      int
	pace    float64 // minutes
	factor  float64 // its coats' thickness
	first   float64
	lunch   float64
	cycle   float64
	day     time.Time
	today   float64
	lunched bool
	batch   int
	count   int
}

func (t *truth) place(r *rand.Rand, names []event.Crew, p *fold.Plan) {
	s := t.scenario
	site := 18 + 12*r.Float64()
	var crews []*crewTruth
	for i, n := range names {
		c := &crewTruth{
			name: n, pace: site * math.Exp(0.04*r.NormFloat64()), first: 4 + 8*r.Float64(),
			lunch: 30 + 10*r.Float64(), cycle: site * (0.95 + 0.2*r.Float64()), factor: 1,
		}
		if s.uneven {
			c.pace *= math.Exp(0.12 * r.NormFloat64())
		}
		if s.crewSpread > 0 {
			c.factor = math.Exp(s.crewSpread * r.NormFloat64())
		}
		if !s.shared {
			for k := range t.coats {
				zone := slices.IndexFunc(t.coats, func(o *coatTruth) bool { return o.id.Zone == t.coats[k].id.Zone })
				if zone*len(names)/max(1, s.zones) == i || len(t.coats) == 1 && i == 0 {
					c.coats = append(c.coats, k)
					t.coats[k].need *= c.factor
					t.coats[k].left = t.coats[k].need
				}
			}
		}
		crews = append(crews, c)
		c.morning(r, s, monday)
		own := event.CrewPlanned{Crew: n, People: 4}
		for _, k := range c.coats {
			if !s.silent && !slices.Contains(own.Zones, t.coats[k].id.Zone) {
				own.Zones = append(own.Zones, t.coats[k].id.Zone)
			}
		}
		t.plan = append(t.plan, own)
	}
	total := 0.0
	for _, c := range t.coats {
		total += c.need
	}
	rho := map[event.Mix]float64{}
	for _, m := range []event.Mix{"face", "core", "face2"} {
		rho[m] = 1
		if s.yields {
			rho[m] = s.about(r, cmp.Or(s.mixOff, 0.025))
		}
	}
	done, shared := 0.0, 0
	sand, told := t.sand(p), false
	for n := 0; n < 20000; n++ {
		// the crew that begins next, of those with anything to place
		var c *crewTruth
		for _, o := range crews {
			if t.nextCoat(o, &shared) >= 0 && (c == nil || o.next.Before(c.next)) {
				c = o
			}
		}
		if c == nil {
			break
		}
		k := t.nextCoat(c, &shared)
		if s.changed != 0 && !told && done > 0.45*total {
			told = true
			for _, o := range t.coats {
				if o.left == o.need {
					o.left *= 1 + s.changed
					o.need = o.left
				}
			}
			if s.told {
				t.work = append(t.work, worked{
					c.next, c.name,
					event.MethodChanged{What: "two thin passes from now on"},
				})
			}
		}
		mixPlan, factor := p.Mixes[t.coats[k].mix], rho[t.coats[k].mix]
		if s.revised && done > 0.4*total {
			factor = rho["face2"]
		}
		y := float64(mixPlan.Figures.Yield) * factor
		if s.yields {
			y *= s.about(r, cmp.Or(s.scatter, 0.055))
		}
		t.batch(r, c, k, y, float64(mixPlan.Figures.Mass), &sand, mixPlan, s.revised && done > 0.4*total)
		done += y
		c.goOn(r, s)
	}
	slices.SortStableFunc(t.work, func(a, b worked) int { return a.at.Compare(b.at) })
	slices.SortStableFunc(t.starts, func(a, b start) int { return a.at.Compare(b.at) })
}

func (t *truth) sand(p *fold.Plan) float64 {
	if t.stock <= 0 {
		return 0
	}
	kg := 0.0
	for _, c := range t.coats {
		kg += c.design * (1 + t.loss) / float64(p.Mixes[c.mix].Figures.Yield) * float64(
			p.Mixes[c.mix].Constituents[1].Amount.Mass)
	}
	kg = math.Round(kg * t.stock)
	t.plan = append(t.plan, event.StockReceived{Material: "sand", Amount: event.Amount{Mass: unit.Mass(kg)}, Lot: "L1"})
	return kg
}

func (t *truth) nextCoat(c *crewTruth, shared *int) int {
	if t.shared {
		for *shared < len(t.coats) && t.coats[*shared].left <= 1e-9 {
			*shared++
		}
		if *shared == len(t.coats) {
			return -1
		}
		return *shared
	}
	for c.at < len(c.coats) && t.coats[c.coats[c.at]].left <= 1e-9 {
		c.at++
	}
	if c.at == len(c.coats) {
		return -1
	}
	return c.coats[c.at]
}

// batch of a crew: mixed, now and then weighed, placed in one coat and, with what is left of it, in the next.
func (t *truth) batch(r *rand.Rand, c *crewTruth, k int, y, mass float64, sand *float64, m *fold.Mix, second bool) {
	mixing := 6 + 3*r.Float64()
	ready := c.next.Add(minutes(mixing))
	from := ready.Add(minutes(2 * r.Float64()))
	to := c.next.Add(minutes(c.cycle * math.Exp(0.12*r.NormFloat64())))
	if !to.After(from) {
		to = from.Add(4 * time.Minute)
	}
	day := c.next.Format(time.DateOnly)
	if c.day.Format(time.DateOnly) != day {
		panic("a batch on another day than its crew's")
	}
	c.batch++
	c.count++
	id := event.Batch{Crew: c.name, Day: day, Number: c.batch}
	revision := 1
	if second {
		revision = 2
	}
	mixed := event.BatchMixed{Batch: id, Mix: t.coats[k].mix, Revision: revision, MixedFrom: c.next, MixedTo: ready}
	for _, q := range m.Constituents {
		mixed.Charges = append(mixed.Charges, event.Charge{Constituent: q.Name, Amount: q.Amount})
	}
	if second && t.wasUsed["face2"] == 0 {
		plan := mixOf("face", 2, 90)
		plan.Air.SI = 0.061
		t.work = append(t.work, worked{c.next.Add(-time.Minute), "", plan})
		t.wasUsed["face2"]++
	}
	t.work = append(t.work, worked{ready, c.name, mixed})
	t.starts = append(t.starts, start{c.next, ready, 0, t.coats[k].mix, k})
	if t.stock > 0 {
		if *sand -= float64(m.Constituents[1].Amount.Mass); *sand < 0 && t.sandAt.IsZero() {
			t.sandAt = c.next
		}
	}
	if !t.unweighed && c.count%3 == 1 {
		density := unit.As[unit.Density]{SI: unit.Density(mass / y)}
		t.work = append(t.work, worked{
			ready.Add(10 * time.Second), c.name,
			event.BatchTested{Batch: id, UnitWeight: &density},
		})
	}
	rest := y
	for first := true; ; first = false {
		coat := t.coats[k]
		put := min(rest, coat.left)
		coat.left -= put
		coat.used += put / y
		p := event.Placement{Batch: id, Coat: coat.id, From: from, To: to}
		next := -1
		if put < rest {
			shared := 0
			next = t.nextCoat(c, &shared)
			if next >= 0 && t.coats[next].mix != coat.mix {
				next = -1
			}
		}
		if put < rest-1e-9 && next < 0 && t.discards {
			thrown := unit.As[unit.Share]{SI: unit.Share(math.Round(1e4*(rest-put)/y) / 1e4)}
			if thrown.SI > 0 {
				body := event.BatchDiscarded{
					Batch: id, Part: event.Part{Share: &thrown},
					Why: "no coat of its mix is left",
				}
				t.work = append(t.work, worked{to.Add(2 * time.Second), c.name, body})
			}
		}
		if put < rest-1e-9 && (next >= 0 || t.discards) || !first {
			share := unit.As[unit.Share]{SI: unit.Share(math.Round(1e4*put/y) / 1e4)}
			if share.SI > 0 {
				p.Part.Share = &share
			}
		}
		if coat.gauge > 0 {
			for range 1 + r.IntN(2) {
				p.Gauges = append(p.Gauges,
					unit.As[unit.Length]{SI: unit.Length(shellThick * coat.gauge * math.Exp(0.08*r.NormFloat64()))})
			}
		}
		if p.Part.Share != nil || put >= rest-1e-9 || next < 0 {
			if first {
				t.work = append(t.work, worked{to, c.name, p})
			} else {
				t.work = append(t.work, worked{to.Add(time.Second), c.name, p})
			}
		}
		// nobody goes on from here: the foreman closes it
		if shared := 0; coat.left <= 1e-9 && t.nextCoat(c, &shared) < 0 {
			t.work = append(t.work, worked{to.Add(2 * time.Second), c.name, event.CoatFinished{Coat: coat.id}})
		}
		if rest -= put; rest <= 1e-9 || next < 0 {
			break
		}
		k = next
	}
	if to.After(t.ended) {
		t.ended = to
	}
}

func minutes(m float64) time.Duration {
	return time.Duration(math.Round(m*60)) * time.Second
}

// goOn to the next start.
func (c *crewTruth) goOn(r *rand.Rand, s scenario) {
	gap := c.pace * c.today * math.Exp(0.15*math.Exp(-float64(c.count-1)/6)+0.25*r.NormFloat64())
	at := c.next.Add(minutes(gap))
	midnight := c.day
	if !c.lunched && at.Sub(midnight) > 12*time.Hour+15*time.Minute-minutes(c.pace/2) {
		c.lunched = true
		at = at.Add(minutes(c.lunch * math.Exp(0.1*r.NormFloat64())))
	}
	c.next = at
	if r.Float64() < 0.1*gap/480 { // something breaks, or it rains
		c.next = c.next.Add(minutes(30 + 200*r.Float64()))
	}
	c.dry(s)
	if c.next.Sub(midnight) > 17*time.Hour-minutes(c.cycle+14) || c.next.Sub(midnight) > 24*time.Hour {
		c.morning(r, s, midnight.AddDate(0, 0, 1))
	}
}

// dry waits for the end of rain that was forecast.
func (c *crewTruth) dry(s scenario) {
	if from, to, wet := s.wet(c.day); wet && !c.next.Before(from) && c.next.Before(to) {
		c.next = to.Add(5 * time.Minute)
	}
}

// wet hours of a day, in a scenario with rain: three hours each other day, at an hour that hangs on the day.
func (s scenario) wet(day time.Time) (from, to time.Time, wet bool) {
	n := int(day.Sub(monday).Hours() / 24)
	if !s.rain || n%2 == 0 {
		return from, to, false
	}
	from = day.Add(time.Duration(8+n*5%7) * time.Hour)
	return from, from.Add(3 * time.Hour), true
}

func (c *crewTruth) morning(r *rand.Rand, s scenario, day time.Time) {
	for s.sundays && day.Weekday() == time.Sunday {
		day = day.AddDate(0, 0, 1)
	}
	c.day, c.lunched, c.batch = day, false, 0
	sd := 0.03
	if s.uneven {
		sd = 0.08
	}
	c.today = math.Exp(sd * r.NormFloat64())
	c.next = day.Add(7*time.Hour + minutes(c.first+4*r.NormFloat64()))
	c.dry(s)
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// at writes the record as it stands at an instant, one event after another; it returns what is new since the last call.
type recorder struct {
	site *fold.Site
	t    *truth
	seq  uint64
	at   int
}

func (t *truth) record() *recorder {
	rec := &recorder{site: fold.New("x", "x"), t: t}
	for _, b := range t.plan {
		rec.add(monday, "", b)
	}
	if t.rain {
		var samples []event.Weather
		one := 2.0
		for d := range 60 {
			if from, to, wet := t.wet(monday.AddDate(0, 0, d)); wet {
				for h := from; h.Before(to); h = h.Add(time.Hour) {
					samples = append(samples, event.Weather{At: h, RainMillimetres: &one})
				}
			}
		}
		rec.add(monday, "", event.WeatherForecast{Source: "invented", IssuedAt: monday, Samples: samples})
	}
	return rec
}

func (r *recorder) add(at time.Time, crew event.Crew, b event.Body) {
	r.seq++
	r.site.Add(must(event.Write(event.Event{
		Name: event.Name{Device: "x", Seq: r.seq}, Crew: crew, HappenedAt: at,
		LoggedAt: at, Typed: true, Body: b,
	})))
}

func (r *recorder) until(now time.Time) {
	for ; r.at < len(r.t.work) && !r.t.work[r.at].at.After(now); r.at++ {
		w := r.t.work[r.at]
		if plan, ok := w.body.(event.MixPlanned); ok {
			for _, old := range r.site.Records() {
				if k, is := old.Now.(event.MixPlanned); is && k.Mix == plan.Mix {
					plan.Replaces = append(plan.Replaces, old.Hash())
				}
			}
			w.body = plan
		}
		r.add(w.at, w.crew, w.body)
	}
}

func TestInventedJobsAreWholeRecords(t *testing.T) {
	for _, s := range scenarios() {
		job := s.invent(1)
		rec := job.record()
		rec.until(job.ended.Add(time.Hour))
		for _, r := range rec.site.Records() {
			if r.State == fold.SetAside {
				t.Errorf("%s: %s is set aside: %s", s.name, r.Name, r.Aside.Why)
				break
			}
		}
		for _, c := range job.coats {
			if c.left > 1e-6 {
				t.Errorf("%s: %s still lacks %.4f m³", s.name, c.id, c.left)
			}
		}
	}
}
