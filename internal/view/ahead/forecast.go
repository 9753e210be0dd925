package ahead

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/fold"
	"hod/internal/forecast"
	"hod/internal/renewal"
	"hod/internal/unit"
	"hod/internal/view"
)

// Forecast is what is left to do and whether it can be done: distributions that all come from the same draws, not
// numbers.
type Forecast struct {
	Site        string         `json:"site"`
	AsOf        time.Time      `json:"as_of"`
	Units       string         `json:"units"`
	VolumeM3    float64        `json:"volume_m3"`          // that the plan still asks for
	Batches     *BatchesLeft   `json:"batches,omitempty"`  // nil: not known, see Missing
	Chances     []Count        `json:"distribution"`       // of all batches left
	InTransit   float64        `json:"in_transit_batches"` // mixed, not placed: not among those left
	Mixes       []MixForecast  `json:"mixes"`
	Materials   []MaterialNeed `json:"materials"`
	Pace        *float64       `json:"pace_batches_per_hour,omitempty"` // all crews together; nil: not known yet
	PaceNote    string         `json:"pace_note,omitempty"`
	WorkHours50 *float64       `json:"work_hours_p50,omitempty"`
	WorkHours90 *float64       `json:"work_hours_p90,omitempty"`
	Finish50    *time.Time     `json:"finish_p50,omitempty"`
	Finish90    *time.Time     `json:"finish_p90,omitempty"`
	Finish      FinishRange    `json:"finish"`
	Tomorrow    Tomorrow       `json:"tomorrow"`
	Width       *Width         `json:"width,omitempty"` // absent where nothing is left
	Lists       string         `json:"lists,omitempty"` // how the crews were taken to share the work
	Missing     []string       `json:"missing,omitempty"`
	Advice      []string       `json:"advice,omitempty"` // what would narrow it
	// not finished; those of a mix without figures are not in what is left
	CoatsLeft int32 `json:"coats_left"`
	Done      bool  `json:"done"` // every planned coat is finished; false where none is planned
}

// FinishRange is the instant of the finish: absent where it is not known, or lies beyond the calendar.
type FinishRange struct {
	P05 *time.Time `json:"p05,omitempty"`
	P10 *time.Time `json:"p10,omitempty"`
	P25 *time.Time `json:"p25,omitempty"`
	P50 *time.Time `json:"p50,omitempty"`
	P75 *time.Time `json:"p75,omitempty"`
	P90 *time.Time `json:"p90,omitempty"`
	P95 *time.Time `json:"p95,omitempty"`
}

// Width is what makes the forecast uncertain: half of the range that holds nine in ten, from each cause alone.
type Width struct {
	SiteBatches    float64 `json:"site_batches"`    // how thick and with how much waste the site places
	CoatsBatches   float64 `json:"coats_batches"`   // what one coat takes more or less than another
	YieldBatches   float64 `json:"yield_batches"`   // what the mixes yield on the whole
	ScatterBatches float64 `json:"scatter_batches"` // batch to batch, and whole batches
	PaceHours      float64 `json:"pace_hours"`
	// what coats take over what is planned with the planned loss; 1 is as planned
	TakenShare float64 `json:"taken_share"`
	TakenSD    float64 `json:"taken_sd"`         // of it, as a share
	CoatSD     float64 `json:"coat_sd"`          // from coat to coat, as a share
	Finished   int32   `json:"finished_coats"`   // that it rests on
	Weighed    int32   `json:"weighed_batches"`  // that the yields rest on
	Gaps       int32   `json:"gaps"`             // times from batch to batch that the pace rests on
	Draws      int32   `json:"draws"`            // that all figures are quantiles of
	WorthDraws float64 `json:"worth_draws"`      // equal draws that their weights are worth
	IdleDays   float64 `json:"idle_days_chance"` // that nobody works on a working day
}

// MixForecast is the batches that one mix still takes.
type MixForecast struct {
	Mix          string   `json:"mix"`
	VolumeM3     float64  `json:"volume_m3"`
	YieldMeanM3  *float64 `json:"yield_mean_m3,omitempty"` // nil: the mix has no figures
	YieldSDM3    *float64 `json:"yield_sd_m3,omitempty"`
	Tested       int32    `json:"tested"` // batches weighed, from which yield is learned
	P50          int32    `json:"p50"`
	P90          int32    `json:"p90"`
	P05          int32    `json:"p05"`
	P10          int32    `json:"p10"`
	P25          int32    `json:"p25"`
	P75          int32    `json:"p75"`
	P95          int32    `json:"p95"`
	Distribution []Count  `json:"distribution"`

	Bags []MixBags `json:"bags,omitempty"` // of each material of which it is known what a bag weighs
}

// Count is the chance that at most so many batches do.
type Count struct {
	Batches    int32   `json:"batches"`
	Cumulative float64 `json:"cumulative"`
}

// Tomorrow is what the next day with work takes: the batches of its crews for its coats.
type Tomorrow struct {
	Date     string     `json:"date"`              // empty where no working day comes
	Hours    float64    `json:"hours"`             // workable by the forecast weather
	Batches  *int32     `json:"batches,omitempty"` // nine times in ten at most; nil: not known yet
	P50      *int32     `json:"p50,omitempty"`
	P05      *int32     `json:"p05,omitempty"`
	P95      *int32     `json:"p95,omitempty"`
	P25      *int32     `json:"p25,omitempty"`
	P75      *int32     `json:"p75,omitempty"`
	P10      *int32     `json:"p10,omitempty"`
	Chances  []Count    `json:"distribution"`
	Mixes    []MixCount `json:"mixes"`
	Shares   []CrewCoat `json:"shares"`
	Suffices bool       `json:"suffices"`
	// Ordered is the event by which the foreman made a plan that day's order; its start is then the day's.
	Ordered        string         `json:"ordered,omitempty"`
	OrderedBatches int32          `json:"ordered_batches,omitempty"`
	Materials      []MaterialNeed `json:"materials"`
	Note           string         `json:"note,omitempty"`
}

// MixCount is batches of one mix.
type MixCount struct {
	Mix string `json:"mix"`
	P50 int32  `json:"p50"`
	P90 int32  `json:"p90"`
}

// CrewCoat is the batches that a crew is expected to put into a coat.
type CrewCoat struct {
	Crew    string  `json:"crew"`
	Zone    string  `json:"zone"`
	Face    string  `json:"face,omitempty"`
	Coat    int32   `json:"coat"`
	Mix     string  `json:"mix"`
	Batches float64 `json:"batches"` // expected
}

// Outlook is a forecast's answer with the job that it is of.
type Outlook struct {
	*job
	answer forecast.Answer
	err    error
}

// OutlookOf gathers what the site still takes and reckons with it, for all views that say something of it.
func OutlookOf(s *fold.Site, now time.Time, in *time.Location) Outlook {
	o := Outlook{job: jobOf(s, now, in)}
	o.answer, o.err = forecast.Ahead(o.Job, true)
	if o.err != nil {
		o.wrong = append(o.wrong, o.err.Error())
	}
	return o
}

// unfinished tells whether anything is left to place, known or not.
func (o *Outlook) unfinished() bool {
	return len(o.wrong) > 0 ||
		slices.ContainsFunc(o.Coats, func(c forecast.Coat) bool { return c.State != forecast.Finished })
}

// Left is what is left in batches; nil where it is not known: there is no answer, nothing is planned, or what is left
// could not be reckoned with.
func (o *Outlook) Left() *BatchesLeft {
	d := o.answer.Batches
	if o.err != nil || len(o.site.CoatsInOrder()) == 0 || len(o.wrong) > 0 && d.Quantile(.95) == 0 {
		return nil
	}
	return &BatchesLeft{
		P50: int32(d.P50()), P90: int32(d.P90()), P05: int32(d.Quantile(.05)), P10: int32(d.Quantile(.1)),
		P25: int32(d.Quantile(.25)),
		P75: int32(d.Quantile(.75)), P95: int32(d.Quantile(.95)),
	}
}

// ForecastOf the site at an instant.
func ForecastOf(s *fold.Site, now time.Time, in *time.Location) Forecast {
	return ForecastWith(OutlookOf(s, now, in))
}

// ForecastWith is the forecast by an outlook that was gathered already.
func ForecastWith(o Outlook) Forecast {
	v := Forecast{
		Site: view.SiteName(o.site), AsOf: o.now, Units: o.site.Plan().System.String(), VolumeM3: o.volume,
		Batches: o.Left(), Missing: o.wrong, Lists: o.answer.Lists,
	}
	if o.err != nil {
		v.PaceNote = o.err.Error()
		return v
	}
	for _, c := range o.Crews {
		for _, t := range c.Transit {
			v.InTransit += t.Batches
		}
	}
	if v.Batches != nil {
		v.Chances = chances(o.answer.Batches)
	}
	v.Mixes = o.mixForecasts()
	v.Materials = o.materials(everything)
	for _, c := range o.site.CoatsInOrder() {
		if !c.Done() {
			v.CoatsLeft++
		}
	}
	v.Done = v.CoatsLeft == 0 && len(o.site.CoatsInOrder()) > 0
	v.Missing = append(v.Missing, o.unplanned()...)
	if !o.unfinished() {
		v.Lists = ""
		return v
	}
	if o.answer.Paced {
		v.Pace = new(o.answer.Pace.PerHour)
		v.PaceNote = fmt.Sprintf("Learned from %d times from one batch to the next.", o.answer.Pace.Gaps)
		if v.Batches != nil {
			v.WorkHours50, v.WorkHours90 = new(float64(v.Batches.P50) / *v.Pace), new(float64(v.Batches.P90) / *v.Pace)
		}
		v.Finish = o.finish()
		v.Finish50, v.Finish90 = v.Finish.P50, v.Finish.P90
	} else if o.ahead() {
		v.PaceNote = "The batches that it would be learned from are later than the clock here says."
	} else {
		v.PaceNote = "It is not known before three batches of a crew have followed one another."
	}
	v.Tomorrow = o.Tomorrow()
	v.Width = o.width()
	v.Missing = append(v.Missing, o.missing()...)
	v.Advice = o.advice(v)
	return v
}

func (o *Outlook) finish() FinishRange {
	at := func(p float64) *time.Time {
		w, reached := o.answer.Finish.Quantile(p)
		if !reached {
			return nil
		}
		t := w.In(o.in).UTC()
		return &t
	}
	return FinishRange{at(.05), at(.1), at(.25), at(.5), at(.75), at(.9), at(.95)}
}

// mixForecasts of the mixes that coats not finished are planned with.
func (o *Outlook) mixForecasts() []MixForecast {
	var all []MixForecast
	for i, m := range o.Mixes {
		v := MixForecast{Mix: m.Name}
		needed := false
		for k, c := range o.Coats {
			if c.Mix == i && c.State != forecast.Finished {
				needed = true
				v.VolumeM3 += float64(o.coats[k].Left())
			}
		}
		if !needed {
			continue
		}
		d := o.answer.Mixes[i]
		v.Tested, v.YieldMeanM3 = int32(len(m.Logs)), new(m.Yield*o.answer.Yields.Ratio(i))
		v.YieldSDM3 = new(*v.YieldMeanM3 * o.answer.Yields.Scatter)
		v.P50, v.P90, v.P05, v.P10 = int32(d.P50()), int32(d.P90()), int32(d.Quantile(.05)), int32(d.Quantile(.1))
		v.P25, v.P75, v.P95 = int32(d.Quantile(.25)), int32(d.Quantile(.75)), int32(d.Quantile(.95))
		v.Distribution, v.Bags = chances(d), o.bagsOf(i)
		all = append(all, v)
	}
	slices.SortStableFunc(all, func(a, b MixForecast) int { return cmp.Compare(a.Mix, b.Mix) })
	return all
}

func chances(d renewal.Distribution) []Count {
	var all []Count
	for count, chance := range d.All() {
		all = append(all, Count{int32(count), chance})
	}
	return all
}

func (o *Outlook) width() *Width {
	w := o.answer.Width
	v := Width{
		SiteBatches: w.Site, CoatsBatches: w.Coats, YieldBatches: w.Yield, ScatterBatches: w.Batch, PaceHours: w.Pace,
		TakenShare: w.Taken,
		TakenSD:    w.TakenSD, CoatSD: w.Spread, Finished: int32(w.Rests), Gaps: int32(o.answer.Pace.Gaps),
		Draws: int32(o.answer.Drawn), WorthDraws: o.answer.Effect,
		IdleDays: o.answer.Pace.Idle,
	}
	for _, m := range o.Mixes {
		v.Weighed += int32(len(m.Logs))
	}
	return &v
}

// Tomorrow is the next day with work: what its crews take for its coats, and whether the stock does for it.
func (o *Outlook) Tomorrow() Tomorrow {
	v := Tomorrow{Date: view.StartOfDay(o.now.In(o.in)).AddDate(0, 0, 1).Format(time.DateOnly), Suffices: true}
	t := o.answer.Tomorrow
	switch {
	case !t.Known:
		v.Date, v.Suffices, v.Note = "", false, fmt.Sprintf("no working day comes within %d days", lookAhead)
		return v
	case !o.answer.Paced:
		v.Suffices, v.Note = false, "the pace is not known yet"
	}
	day := forecast.WallDay(t.Day.Day)
	v.Date = day.In(o.in).Format(time.DateOnly)
	if order := o.site.OrderOf(v.Date, o.now); order != nil {
		v.Ordered, v.OrderedBatches = order.Record.Name.String(), int32(order.Batches)
	}
	v.Hours = (t.Day.To - t.Day.From) / 60
	for _, u := range o.Calendar.Unfit {
		from, to := max(u.From, day+forecast.Wall(t.Day.From)), min(u.To, day+forecast.Wall(t.Day.To))
		v.Hours -= max(0, float64(to-from)/60)
	}
	if !o.answer.Paced {
		return v
	}
	d := t.Batches
	at := func(p float64) *int32 { return new(int32(d.Quantile(p))) }
	v.P05, v.P10, v.P25, v.P50, v.P75, v.Batches, v.P95 = at(.05), at(.1), at(.25), at(.5), at(.75), at(.9), at(.95)
	v.Chances = chances(d)
	for i, d := range t.Mixes {
		if d.Last() > 0 {
			v.Mixes = append(v.Mixes, MixCount{o.Mixes[i].Name, int32(d.P50()), int32(d.P90())})
		}
	}
	for _, k := range t.Shares {
		if k.Batches < 0.5 || k.Crew >= len(o.crews) {
			continue
		}
		id := o.coats[k.Coat].CoatPlanned.Coat
		v.Shares = append(v.Shares, CrewCoat{
			string(o.crews[k.Crew]), string(id.Zone), view.FaceName(id.Face),
			int32(id.Number), string(o.coats[k.Coat].Mix), k.Batches,
		})
	}
	if t.Day.Chance < 1 {
		v.Note = view.Joined(v.Note, "whether that day is worked is guessed: the plan does not say")
	}
	v.Materials = o.materials(t.Day.Day)
	for _, m := range v.Materials {
		if !m.Counted {
			v.Note = view.Joined(v.Note, fmt.Sprintf("nobody has written what there is of %s", m.Material))
			v.Suffices = v.Suffices && *v.Batches == 0
		} else if *m.ShortKg > 0 {
			v.Suffices = false
		}
	}
	return v
}

// unplanned says what of the plan is missing, without which what is left is not known.
func (o *Outlook) unplanned() []string {
	coats := o.site.CoatsInOrder()
	if len(coats) == 0 {
		return []string{
			"no coat is planned, so what is left to place is not known: plan zones with their coats (hod plan FILE, hod zone add)",
		}
	}
	of := map[event.Mix]bool{}
	for _, c := range coats {
		of[c.Mix] = true
	}
	var all []string
	for _, b := range o.site.Batches() {
		if !of[b.Body.Mix] {
			of[b.Body.Mix] = true
			all = append(all, fmt.Sprintf(
				"batches of mix %s were mixed and no coat is planned with it: what it may still take is not in what is left", b.Body.Mix))
		}
	}
	slices.Sort(all)
	return all
}

// missing says what the answer lacks, or rests on that is in doubt.
func (o *Outlook) missing() []string {
	var all []string
	for _, k := range o.answer.Odd {
		c := o.Coats[k.Coat]
		said := "is finished with"
		if c.State == forecast.Open {
			said = "is not finished and has taken"
		}
		all = append(all, fmt.Sprintf(
			"%s %s %.2g times its design volume: look at its record, its area and its thickness", c.Name, said,
			k.Ratio))
	}
	if o.answer.Still > 0 {
		all = append(all, fmt.Sprintf("nobody has worked for %d working days; it is taken as if work went on from now",
			o.answer.Still))
	}
	if o.guessed != "" {
		all = append(all, o.guessed)
	}
	if o.ahead() {
		all = append(all, fmt.Sprintf(
			"the record holds batches of up to %s, which is later than the clock here says; what is later than it is not counted into the pace: look at this device's clock",
			o.lastMixed().In(o.in).Format("2 Jan 2006 15:04")))
	}
	if len(o.crews) == 0 {
		all = append(all, "no crew is planned and none has mixed a batch: there is no pace to say when it is done")
	}
	if d := o.answer.Batches; d.Quantile(.95) == 0 && o.unfinished() && len(o.wrong) == 0 {
		all = append(all,
			"nothing more is to be mixed, as far as can be said: what is mixed and not placed does for what is not finished; a coat is finished when it is covered, "+
				"its crew goes on to another, or the foreman closes it (hod finish)")
	}
	if o.answer.Width.Rests == 0 {
		all = append(all,
			"no coat is finished yet: what coats really take is guessed, and the ranges are as wide as that is unknown")
	}
	if o.answer.Paced {
		if _, reached := o.answer.Finish.Quantile(.5); !reached {
			all = append(all, fmt.Sprintf(
				"the work does not end within the %d days that are looked at: too few working days, or crews, are planned", lookAhead))
		}
		if len(o.Calendar.Unfit) > 0 {
			all = append(all, "beyond the forecast weather every working hour is taken as fit")
		}
	}
	return all
}

// ahead tells whether the record is later than the clock here by more than clocks differ: one of them is wrong.
func (o *Outlook) ahead() bool { return o.lastMixed().After(o.now.Add(24 * time.Hour)) }

// lastMixed is when the last batch of the record was ready.
func (o *Outlook) lastMixed() time.Time {
	var last time.Time
	for _, b := range o.site.Batches() {
		if b.Ready.After(last) {
			last = b.Ready
		}
	}
	return last
}

// advice says what would narrow the range, that which widens it most first.
func (o *Outlook) advice(v Forecast) []string {
	w := o.answer.Width
	type cause struct {
		batches float64
		do      string
	}
	causes := []cause{
		{
			w.Site,
			"finish a coat and say so, or measure thicknesses with a gauge as you place: what coats really take is what is known least",
		},
		{
			w.Coats,
			"say what share of each coat under way is covered, and measure its thickness: coats differ from one another",
		},
		{w.Yield, "weigh batches " + o.leastWeighed() + " (`hod test`): what it yields is not known well"},
	}
	slices.SortStableFunc(causes, func(a, b cause) int { return cmp.Compare(b.batches, a.batches) })
	var all []string
	for _, c := range causes {
		if c.batches > 0.5 && c.batches >= causes[0].batches/2 {
			all = append(all, c.do)
		}
	}
	if !o.answer.Paced && !o.ahead() {
		all = append(all, "write each batch when it is mixed: after three of a crew there is a pace")
	}
	return all
}

// leastWeighed names the mix of which the fewest batches were weighed, of those that something is left of.
func (o *Outlook) leastWeighed() string {
	least := -1
	for i, m := range o.Mixes {
		if o.answer.Mixes[i].Last() > 0 && (least < 0 || len(m.Logs) < len(o.Mixes[least].Logs)) {
			least = i
		}
	}
	if least < 0 {
		return "of each mix"
	}
	return "of mix " + o.Mixes[least].Name
}

// ShortOfStock finds materials that will not do for tomorrow.
func ShortOfStock(o Outlook) []fold.Finding {
	if !o.answer.Paced || o.err != nil || !o.unfinished() {
		return nil
	}
	sys := o.site.Plan().System
	t := o.Tomorrow()
	var all []fold.Finding
	for _, m := range t.Materials {
		if !m.Counted || *m.ShortKg <= 0 {
			continue
		}
		all = append(all, o.short(m, t, sys))
	}
	return all
}

func (o *Outlook) short(m MaterialNeed, t Tomorrow, sys unit.System) fold.Finding {
	ordered := ""
	if t.Ordered != "" { // the need is of all that the crews could mix
		ordered = fmt.Sprintf("; that is by the crews' pace: batches by the day's order (%s): %d", t.Ordered,
			t.OrderedBatches)
	}
	return fold.Finding{
		Code: fold.StockShort, Grave: true, Key: m.Material + " " + t.Date, Subject: m.Material, Since: o.now,
		Text: fmt.Sprintf("%s %s; tomorrow's coats may take up to %s; after what today still takes, %s are lacking%s",
			m.Material, m.lasts(), m.handWords(sys, m.Need90Kg), m.shortWords(sys), ordered),
		Basis: finding.Basis{
			Evidence: []fold.Fact{
				{Name: "on hand", Value: m.handWords(sys, *m.OnHandKg), Figure: kilograms(*m.OnHandKg)},
				{
					Name: "left of it for tomorrow, as likely as not", Value: m.handWords(sys, *m.Left50Kg),
					Figure: kilograms(*m.Left50Kg),
				},
				{Name: "a batch that takes it", Value: m.handWords(sys, m.PerBatchKg), Figure: kilograms(m.PerBatchKg)},
				{Name: "tomorrow, nine times in ten at most", Value: fmt.Sprintf("%d batches, %s of it", *t.Batches,
					m.handWords(sys, m.Need90Kg)), Figure: kilograms(m.Need90Kg)},
				{
					Name: "chance that the stock does", Value: fmt.Sprintf("%.0f %%", 100**m.SufficesShare),
					Figure: fold.Figure{Number: m.SufficesShare, Unit: "share"},
				},
			},
			Formula: "batches that tomorrow's crews begin for tomorrow's coats in its fit hours",
			Limit:   "the stock on hand",
			Allowed: fold.Figure{High: m.OnHandKg, Unit: "kg"},
			Source:  "arithmetic of this record, no standard",
		},

		Events: o.site.StockEvents(materialNamed(m.Material)),
	}
}

func kilograms(m float64) fold.Figure { return fold.Figure{Number: &m, Unit: "kg"} }

// BatchesLeft is how many batches the plan still takes: as likely as not at most P50, nine times in ten at most P90.
type BatchesLeft struct {
	P50 int32 `json:"p50"`
	P90 int32 `json:"p90"`
	P05 int32 `json:"p05"`
	P10 int32 `json:"p10"`
	P25 int32 `json:"p25"`
	P75 int32 `json:"p75"`
	P95 int32 `json:"p95"`
}
