package daily

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/curing"
	"hod/internal/trade/mix"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/ahead"
)

// Day is the end-of-day summary.
type Day struct {
	Site  string    `json:"site"`
	Place string    `json:"place,omitempty"`
	Date  string    `json:"date"`
	AsOf  time.Time `json:"as_of"`
	// the end of the day, at which the figures stand; absent while it lasts
	EndedAt     *time.Time         `json:"ended_at,omitempty"`
	Units       string             `json:"units"`
	Provisional string             `json:"provisional,omitempty"` // why it may still change
	Crews       []CrewDay          `json:"crews"`
	Zones       []CoatDay          `json:"zones"`
	Tests       []Test             `json:"tests"`
	Weather     WeatherDay         `json:"weather"`
	Flags       []Flag             `json:"flags"` // of the day, open and answered
	Joints      []view.Joint       `json:"joints"`
	Stock       view.Stock         `json:"stock"`
	Left        []view.CoatLine    `json:"left"`
	BatchesLeft *ahead.BatchesLeft `json:"batches_left,omitempty"` // nil: not known
	Tomorrow    ahead.Tomorrow     `json:"tomorrow"`
	Changes     []view.Entry       `json:"changes"` // amended, taken back or settled that day
	SetAside    []view.Entry       `json:"set_aside"`
	Notes       []view.Entry       `json:"notes"`
	Strength    []view.Strength    `json:"strength"`
	Record      []DeviceEnd        `json:"record"` // how far the record reached
	Cautions    []string           `json:"cautions"`
	JointsMade  int32              `json:"joints_made"` // that day
	JointsLive  int32              `json:"joints_live"` // of them, those that surely met live material
	Breaks      []BreakLine        `json:"breaks"`
	// of the day and written after it had ended, beside what the other lists mark so
	Late []view.Entry `json:"late"`
	// entries of the days before that were written after this one had ended
	LateBefore int32  `json:"late_before,omitempty"`
	OpenBefore int32  `json:"open_before,omitempty"` // flags of the days before that were still open
	Crew       string `json:"crew,omitempty"`        // whose day it is, where it is one crew's; see Of
	// the plan that was made the day's order, and what came of it
	Order    *advice.DayOrder `json:"order,omitempty"`
	SetTests *view.SetTests   `json:"set_tests_today,omitempty"`
	// of whom what does not count in anything here
	Excluded []view.Exclusion `json:"excluded,omitempty"`
}

// BreakLine is one strength test of cubes or cylinders.
type BreakLine struct {
	Event      string    `json:"event"`
	At         time.Time `json:"at"`
	Mix        string    `json:"mix"`
	Batch      string    `json:"batch,omitempty"`
	AgeH       float64   `json:"age_h"`
	Specimens  int32     `json:"specimens"`
	StrengthPa *float64  `json:"strength_pa,omitempty"` // mean of the specimens
	OfThreePa  *float64  `json:"of_three_pa,omitempty"` // mean with the two tests of that mix and age before it
	Wrong      string    `json:"wrong,omitempty"`       // why there is no strength
}

// CrewDay is one crew's day.
type CrewDay struct {
	Crew        string     `json:"crew"`
	Name        string     `json:"name,omitempty"`
	People      *int32     `json:"people,omitempty"` // nil: nobody said
	From        *time.Time `json:"from,omitempty"`
	To          *time.Time `json:"to,omitempty"`
	Batches     int32      `json:"batches"`
	MixedM3     float64    `json:"mixed_m3"`
	PlacedM3    float64    `json:"placed_m3"`
	DiscardedM3 float64    `json:"discarded_m3"`
	UnplacedM3  float64    `json:"unplaced_m3"`         // mixed, and neither placed nor discarded in the record
	WCMMean     *float64   `json:"w_cm_mean,omitempty"` // nil: no batch has figures
	WCMMax      *float64   `json:"w_cm_max,omitempty"`
}

// CoatDay is one coat's day.
type CoatDay struct {
	Zone       string  `json:"zone"`
	Face       string  `json:"face,omitempty"`
	Coat       int32   `json:"coat"`
	Batches    float64 `json:"batches"`
	PlacedM3   float64 `json:"placed_m3"`
	ThicknessM float64 `json:"thickness_m"` // that the day added on the mean
	LeftM3     float64 `json:"left_m3"`
}

// Test is a fresh test.
type Test struct {
	Batch         string    `json:"batch"`
	At            time.Time `json:"at"`
	UnitWeight    *float64  `json:"unit_weight_kg_m3,omitempty"` // nil: not tested for
	YieldM3       *float64  `json:"yield_m3,omitempty"`
	RelativeYield *float64  `json:"relative_yield,omitempty"`
	Air           *float64  `json:"air,omitempty"` // gravimetric
	TemperatureC  *float64  `json:"temperature_c,omitempty"`
	Flow          *float64  `json:"flow,omitempty"`
	WCM           *float64  `json:"w_cm,omitempty"`
	Judgement     string    `json:"judgement"` // within, or how it misses
	// Where the mix asks for a unit weight: whether it was met, and from what to what it is allowed.
	Within         *bool    `json:"within,omitempty"`
	UnitWeightLow  *float64 `json:"unit_weight_low_kg_m3,omitempty"`
	UnitWeightHigh *float64 `json:"unit_weight_high_kg_m3,omitempty"`
}

// WeatherDay is the day's weather as read. What nobody read is nil.
type WeatherDay struct {
	Readings       int32      `json:"readings"`
	AirLowC        *float64   `json:"air_low_c,omitempty"`
	AirHighC       *float64   `json:"air_high_c,omitempty"`
	WindHighMPS    *float64   `json:"wind_high_mps,omitempty"` // brought to 0.5 m
	HumidityLow    *float64   `json:"humidity_low,omitempty"`
	RainMM         *float64   `json:"rain_mm,omitempty"`
	EvaporationMax *float64   `json:"evaporation_max_kg_m2_h,omitempty"` // nil: no reading was full
	EvaporationAt  *time.Time `json:"evaporation_max_at,omitempty"`
	// in half hours: something fresh lay uncovered, and no full reading counted
	UnjudgedMin float64 `json:"unjudged_min"`
}

// DeviceEnd is the last event of a device that a figure rests on.
type DeviceEnd struct {
	Device string    `json:"device"`
	Crew   string    `json:"crew"`
	Seq    int32     `json:"seq"`
	LastAt time.Time `json:"last_at"`
}

// DayOf the site: the summary of a local date (2006-01-02; today if empty).
//
// Of a day that is over it is as the day ended: by what had happened until then, whenever it was written, so that
// nothing of a later day moves a figure. What was written after the day's end, by the clock of whoever wrote it as far
// as a contact has measured that, is marked. It hangs on the set of events alone, so that every device that holds them
// shows the same.
func DayOf(s *fold.Site, now time.Time, in *time.Location, date string) (Day, error) {
	v, _, err := DayAsItStood(s, now, in, date)
	return v, err
}

// Stood is a site as it stood at the end of a day, or stands now: what the day's figures rest on.
type Stood struct {
	Site *fold.Site
	At   time.Time
	Rest ahead.Outlook
}

// DayAsItStood is DayOf with the site that it rests on, which takes long to make where the day is over.
func DayAsItStood(s *fold.Site, now time.Time, in *time.Location, date string) (Day, Stood, error) {
	from, err := time.ParseInLocation(time.DateOnly, cmp.Or(date, now.In(in).Format(time.DateOnly)), in)
	if err != nil {
		return Day{}, Stood{}, fmt.Errorf("%q is not a date; one looks like 2026-07-18", date)
	}
	d := dayOf{all: s, site: s, in: in, from: from, until: from.AddDate(0, 0, 1), at: now}
	if !now.Before(d.until) {
		d.at = d.until.Add(-time.Millisecond) // events are held to the millisecond
		d.site = endOf(s, d.until)
	}
	d.rest = ahead.OutlookOf(d.site, d.at, in)
	v := d.figures(from.Format(time.DateOnly))
	v.AsOf = now
	if !now.Before(d.until) {
		v.EndedAt = view.Instant(d.until)
	}
	d.joints(&v)
	d.lists(&v)
	v.Provisional = provisional(s, now, d)
	return v, Stood{d.site, d.at, d.rest}, nil
}

// endOf is the site as a day ended.
func endOf(s *fold.Site, until time.Time) *fold.Site { return s.Until(until.Add(-time.Millisecond)) }

// dayOf is a day that is asked about.
type dayOf struct {
	all         *fold.Site // all that is known
	site        *fold.Site // as it stood
	in          *time.Location
	from, until time.Time
	at          time.Time     // the instant at which it stood
	rest        ahead.Outlook // of the job from then on
}

func (d dayOf) on(t time.Time) bool { return !t.Before(d.from) && t.Before(d.until) }

// late says that an event was written after the day's end.
func (d dayOf) late(r *fold.Record) bool { return !r.Logged().Before(d.until) }

func (d dayOf) figures(date string) Day {
	s, p := d.site, d.site.Plan()
	return Day{
		Site: view.SiteName(s), Place: p.Place, Date: date, Units: p.System.String(), Crews: CrewDays(s, date, d.in),
		Zones: coatDays(s, d.on, ""),
		Tests: tests(s, date), Weather: weatherDay(s, d), Left: left(s), BatchesLeft: d.rest.Left(),
		Strength: view.Strengths(s, d.at),
		Stock:    view.StockUntil(s, d.at, d.from, d.at), Record: record(s, d.until),
		Cautions: []string{mix.Caution, curing.Caution}, Tomorrow: d.rest.Tomorrow(), Breaks: breaks(s, d.on),
		Order:    advice.OrderOf(s, date, d.at, d.in),
		SetTests: view.SetTestsOf(s, d.at, d.in),
	}
}

func (d dayOf) joints(v *Day) {
	for _, j := range view.MadeJoints(d.site) {
		if !d.on(*j.MadeAt) {
			continue
		}
		v.JointsMade++
		if j.State == "live" {
			v.JointsLive++
		} else {
			v.Joints = append(v.Joints, j)
		}
	}
	v.Joints = append(v.Joints, view.OpenJoints(d.site, d.at, d.in)...)
}

// lists are those of single events and flags.
func (d dayOf) lists(v *Day) {
	s := d.site
	d.flags(v)
	v.Excluded = view.ExclusionsOf(s)
	v.Changes = d.entries(s, func(r *fold.Record) bool {
		if r.State == fold.SetAside {
			return false
		}
		if view.CorrectsPlan(s, r) {
			return d.on(r.At()) || d.late(r)
		}
		return isFix(r) && (d.on(r.At()) || d.on(correctedAt(s, r)))
	})
	v.SetAside = d.entries(s, func(r *fold.Record) bool { return r.State == fold.SetAside && d.on(r.At()) })
	v.Notes = d.entries(s, func(r *fold.Record) bool {
		_, note := r.Now.(event.Noted)
		return note && d.on(r.When)
	})
	d.lateOnes(v)
}

// flags of the day, and how many of the days before are still open.
func (d dayOf) flags(v *Day) {
	for _, f := range flags(d.site, d.at, d.in, d.rest) {
		switch {
		case d.on(f.Since):
			v.Flags = append(v.Flags, f)
		case f.Open && f.Since.Before(d.from):
			v.OpenBefore++
		}
	}
}

// lateOnes are what was written of the day after it had ended, and how much of the days before.
func (d dayOf) lateOnes(v *Day) {
	s := d.site
	v.Late = d.entries(s, func(r *fold.Record) bool { return d.late(r) && OfWork(r) && d.on(r.When) && !isNote(r) })
	// of all that is known only the answers are looked at, so that the rest of it need not be computed
	for _, f := range v.Flags {
		if a, ok := d.all.Answer(f.ID); ok && d.late(a.Record) && !d.on(a.Record.When) {
			e := view.EntryOf(s, d.in, a.Record)
			e.Late = true
			v.Late = append(v.Late, e)
		}
	}
	for _, r := range s.Records() {
		if d.late(r) && r.When.Before(d.from) && (OfWork(r) || isFix(r) && correctedAt(s, r).Before(d.from)) &&
			r.State != fold.SetAside {
			v.LateBefore++
		}
	}
}

// OfWork says that an event that stands is of the work itself, and neither a plan nor a correction.
func OfWork(r *fold.Record) bool {
	return r.Now != nil && r.State != fold.SetAside && event.SortOf(r.Body) == event.Work
}

func isFix(r *fold.Record) bool { return event.SortOf(r.Body) == event.Correcting }

func isNote(r *fold.Record) bool { _, is := r.Now.(event.Noted); return is }

// mostMoved is of how many corrections of plans a day's report works out what they moved: each costs the whole record
// anew.
const mostMoved = 8

// entries of a site that are wanted, those written after the day marked, with what corrections of plans moved.
func (d dayOf) entries(s *fold.Site, want func(*fold.Record) bool) []view.Entry {
	all := view.Entries(s, d.in, want)
	moved := 0
	for i := range all {
		name, err := event.ParseName(all[i].Name)
		r, known := s.Record(name)
		if err != nil || !known {
			continue
		}
		all[i].Late = d.late(r)
		if moved < mostMoved && r.State != fold.SetAside && view.CorrectsPlan(s, r) {
			all[i].Moved = view.Moved(s, name)
			moved++
		}
	}
	return all
}

// breaks of those days, by mix and time.
func breaks(s *fold.Site, on func(time.Time) bool) []BreakLine {
	var all []BreakLine
	for _, mix := range s.Plan().MixNames() {
		for _, b := range s.Breaks(mix) {
			if !on(b.Record.When) {
				continue
			}
			l := BreakLine{
				Event: b.Record.Name.String(), At: b.Record.When.UTC(), Mix: string(mix), AgeH: b.Body.Age.Hours(),
				Specimens:  int32(len(b.Body.Loads)),
				StrengthPa: view.Positive(b.Strength), OfThreePa: view.Positive(b.OfThree), Wrong: b.Wrong,
			}
			if b.Body.Batch != nil {
				l.Batch = b.Body.Batch.String()
			}
			all = append(all, l)
		}
	}
	return all
}

// correctedAt is when what a correction is of happened: whoever reads that day must see it.
func correctedAt(s *fold.Site, r *fold.Record) time.Time {
	if b, ok := r.Body.(event.Settled); ok {
		if held, known := s.ByHash(b.Holds); known {
			r = held
		}
	}
	if first, ok := s.FirstWriting(r); ok {
		return first.When
	}
	return r.When
}

// provisional says why the day may still change: it is not over, or a crew that worked, or a device that wrote the day
// before or on it, has not been heard since. A lost phone is missed even where its crew goes on with another.
func provisional(s *fold.Site, now time.Time, d dayOf) string {
	quiet := silent(s, now, d)
	if now.Before(d.until) {
		if quiet = slices.DeleteFunc(quiet, func(name string) bool { return strings.HasPrefix(name, "crew ") }); len(
			quiet) > 0 {
			return "the day is not over, and nothing has come since the day before from " + strings.Join(quiet, ", ")
		}
		return "the day is not over"
	}
	if len(quiet) > 0 {
		return "nothing has come since from " + strings.Join(quiet, ", ")
	}
	return ""
}

// silent are the crews that were last heard before a day's end, or its start while it lasts, and of the others the
// devices that were, and wrote the day before that or later.
func silent(s *fold.Site, now time.Time, d dayOf) []string {
	by := d.until
	if now.Before(by) {
		by = d.from
	}
	last := map[event.Device]time.Time{}
	for _, r := range s.Records() {
		if at := r.Logged(); r.State != fold.SetAside && !at.After(now) && last[r.Device].Before(at) {
			last[r.Device] = at
		}
	}
	heard := s.Heard(now)
	var all []string
	for _, k := range s.Devices() {
		at, crew := last[k.Name], heard[k.Crew]
		if k.Role != event.CrewRole || k.Revoked || crew.IsZero() {
			continue
		}
		name := "crew " + string(k.Crew)
		if !crew.Before(by) {
			if at.IsZero() || !at.Before(by) || at.Before(d.from.AddDate(0, 0, -1)) {
				continue
			}
			name = fmt.Sprintf("%s of %s, last heard %s", k.Name, name, at.In(d.in).Format("2 Jan 15:04"))
		}
		if !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	return all
}

// CrewDays are what each crew did on a local date.
func CrewDays(s *fold.Site, date string, in *time.Location) []CrewDay {
	byCrew := map[event.Crew]*CrewDay{}
	get := func(c event.Crew) *CrewDay {
		if byCrew[c] == nil {
			plan := s.Plan().Crews[c]
			byCrew[c] = &CrewDay{Crew: string(c), Name: plan.Name, People: people(plan.People)}
		}
		return byCrew[c]
	}
	for c := range s.Plan().Crews {
		get(c)
	}
	for _, r := range s.Shifts() {
		if r.When.In(in).Format(time.DateOnly) != date {
			continue
		}
		d := get(r.Crew)
		b, starts := r.Now.(event.ShiftStarted)
		if !starts {
			d.To = view.Instant(r.When)
			continue
		}
		if d.From == nil { // a second one moves no beginning
			d.From = view.Instant(r.When)
		}
		d.People = cmp.Or(people(b.People), d.People)
	}
	sums, figured := map[event.Crew]float64{}, map[event.Crew]int{}
	for _, b := range s.Batches() {
		if b.ID.Day != date {
			continue
		}
		d := get(b.ID.Crew)
		ratio := s.YieldOf(b).Ratio
		d.Batches++
		d.MixedM3 += float64(b.Volume(1, ratio))
		d.DiscardedM3 += float64(b.Volume(b.Discarded, ratio))
		d.UnplacedM3 += float64(b.Volume(b.Left, ratio))
		for _, p := range b.Parts {
			d.PlacedM3 += partVolume(b, p, ratio)
		}
		if b.Wrong == "" {
			sums[b.ID.Crew] += b.Figures.WaterCementitious
			figured[b.ID.Crew]++
			d.WCMMean = view.Number(sums[b.ID.Crew] / float64(figured[b.ID.Crew]))
			d.WCMMax = most(d.WCMMax, b.Figures.WaterCementitious)
		}
	}
	var all []CrewDay
	for _, c := range slices.Sorted(maps.Keys(byCrew)) {
		all = append(all, *byCrew[c])
	}
	return all
}

// people is a count of people; nil where nobody said.
func people(n int) *int32 {
	if n == 0 {
		return nil
	}
	return new(int32(n))
}

// least and most are the lowest and the highest of what is known.
func least(of *float64, x float64) *float64 {
	if of == nil || x < *of {
		return &x
	}
	return of
}

func most(of *float64, x float64) *float64 {
	if of == nil || x > *of {
		return &x
	}
	return of
}

func partVolume(b *fold.Batch, p fold.Part, ratio float64) float64 {
	if p.Stated > 0 {
		return float64(p.Stated)
	}
	return float64(b.Volume(p.Share, ratio))
}

// coatDays are the coats that were placed in on a day, by one crew or, with none named, by all.
func coatDays(s *fold.Site, on func(time.Time) bool, crew event.Crew) []CoatDay {
	var all []CoatDay
	for _, name := range s.Plan().ZoneNames() {
		z, _ := s.Zone(name)
		for _, c := range z.Coats {
			id := c.CoatPlanned.Coat
			d := CoatDay{
				Zone: string(id.Zone), Face: view.FaceName(id.Face), Coat: int32(id.Number),
				LeftM3: float64(c.Left()),
			}
			if c.Done() {
				d.LeftM3 = 0
			}
			for _, p := range c.Placed {
				if on(p.From) && (crew == "" || p.Record.Crew == crew) {
					d.Batches += float64(p.Share)
					d.PlacedM3 += float64(p.Volume)
				}
			}
			if d.Batches == 0 {
				continue
			}
			grown := c
			grown.Volume = unit.Volume(d.PlacedM3)
			d.ThicknessM = float64(grown.MeanThickness(z.Zone, s.Plan().Loss))
			all = append(all, d)
		}
	}
	return all
}

func left(s *fold.Site) []view.CoatLine {
	var all []view.CoatLine
	for _, l := range view.CoatLines(s) {
		if l.State != "done" {
			all = append(all, l)
		}
	}
	return all
}

func tests(s *fold.Site, date string) []Test {
	var all []Test
	for _, b := range s.Batches() {
		if b.ID.Day != date {
			continue
		}
		for _, t := range b.Tests {
			v := Test{
				Batch: b.ID.String(), At: t.Record.When.UTC(), UnitWeight: view.Positive(t.UnitWeight),
				YieldM3: view.Positive(t.Yield), RelativeYield: view.Positive(t.Relative),
				Judgement: t.Judgement,
			}
			if t.AirKnown {
				v.Air = view.Number(t.Air)
			}
			if t.Low > 0 {
				v.Within, v.UnitWeightLow, v.UnitWeightHigh = &t.Within, view.Number(t.Low), view.Number(t.High)
			}
			if t.Body.Temperature != nil {
				v.TemperatureC = view.Number(t.Body.Temperature.SI)
			}
			if t.Body.Flow != nil {
				v.Flow = view.Number(t.Body.Flow.SI)
			}
			if b.Wrong == "" {
				v.WCM = view.Number(b.Figures.WaterCementitious)
			}
			all = append(all, v)
		}
	}
	return all
}

func weatherDay(s *fold.Site, d dayOf) WeatherDay {
	read, _ := s.Weather()
	until := d.until
	if d.at.Before(until) {
		until = d.at
	}
	v := WeatherDay{UnjudgedMin: view.Unjudged(s, d.from, until).Minutes()}
	for _, k := range read {
		if !d.on(k.At) {
			continue
		}
		v.Readings++
		if k.RainMillimetres != nil {
			v.RainMM = view.Number(*k.RainMillimetres + or0(v.RainMM))
		}
		if k.Wind != nil {
			v.WindHighMPS = most(v.WindHighMPS, float64(*k.Wind))
		}
		if r := view.ReadingOf(k); r.Humidity != nil {
			v.HumidityLow = least(v.HumidityLow, *r.Humidity)
		}
		if k.Air == nil {
			continue
		}
		v.AirLowC, v.AirHighC = least(v.AirLowC, float64(*k.Air)), most(v.AirHighC, float64(*k.Air))
		// by the air's own temperature, so that it speaks of the weather; flags speak of surfaces
		if rate, err := s.Plan().DryingAt(k, *k.Air); err == nil &&
			(v.EvaporationMax == nil || float64(rate.SI.Rate) > *v.EvaporationMax) {
			v.EvaporationMax, v.EvaporationAt = view.Number(rate.SI.Rate), view.Instant(k.At)
		}
	}
	return v
}

// or0 begins a sum.
func or0(x *float64) float64 {
	if x == nil {
		return 0
	}
	return *x
}

// record is how far each device's record reaches, so that a figure can be told from a later one: its events of the time
// until an instant.
func record(s *fold.Site, until time.Time) []DeviceEnd {
	ends := map[event.Device]*DeviceEnd{}
	for _, r := range s.Records() {
		if !r.At().Before(until) {
			continue
		}
		e := ends[r.Device]
		if e == nil {
			e = &DeviceEnd{Device: string(r.Device), Crew: string(s.CrewOf(r.Device))}
			ends[r.Device] = e
		}
		if int32(r.Seq) > e.Seq {
			e.Seq = int32(r.Seq)
		}
		if r.LoggedAt.After(e.LastAt) {
			e.LastAt = r.LoggedAt.UTC()
		}
	}
	var all []DeviceEnd
	for _, d := range slices.Sorted(maps.Keys(ends)) {
		all = append(all, *ends[d])
	}
	return all
}
