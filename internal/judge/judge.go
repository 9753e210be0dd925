package judge

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/air"
	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/joint"
	"hod/internal/mixed"
	"hod/internal/placed"
	"hod/internal/planned"
	"hod/internal/trade/setting"
	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// Judge finds what the record of a site shows and a person should see.
type Judge struct {
	joint.Joints
	zoneFindings map[event.Zone]judgedZone
	sound        map[*history.Record]soundness
}

// judgedZone is what was found in a zone, good as long as the zone is the same.
type judgedZone struct {
	of *placed.Zone
	is *found
}

// found gathers findings.
type found struct{ findings []finding.Finding }

// soundness is the plan by which no value of a record was doubted, as it was read in a round.
type soundness struct {
	by    *planned.Plan
	round int
}

// IsSound reports whether nothing has changed on which the doubts of a record hang since it was found to have none.
func (s *Judge) IsSound(r *history.Record) bool {
	was, ok := s.sound[r]
	return ok && was == soundness{s.Current, r.Round}
}

// MarkSound notes that no value of a record is doubted, as it is read now and by the plan of now.
func (s *Judge) MarkSound(r *history.Record) {
	if s.sound == nil {
		s.sound = map[*history.Record]soundness{}
	}
	s.sound[r] = soundness{s.Current, r.Round}
}

// Judged are the findings in a zone, worked out when they are first asked for: most answers look at none.
func (s *Judge) Judged(name event.Zone, z *placed.Zone) []finding.Finding {
	if is, ok := s.zoneFindings[name]; ok && is.of == z {
		return is.is.findings
	}
	is := judgedZone{z, &found{}}
	s.judgeZone(is.is, z, s.ContactsIn(name, z))
	s.Cost.Judged++
	if s.zoneFindings == nil {
		s.zoneFindings = map[event.Zone]judgedZone{}
	}
	s.zoneFindings[name] = is
	return is.is.findings
}

// judgeZone finds what lies inside one zone.
func (s *Judge) judgeZone(in *found, z *placed.Zone, contacts []joint.Contact) {
	for _, k := range contacts {
		if f, ok := s.JudgeContact(k); ok {
			in.findings = append(in.findings, f)
		}
	}
	for _, id := range z.Order {
		c := z.Coats[id]
		s.judgeDrying(in, z, c)
		s.judgeCold(in, c)
		s.judgeThickness(in, c)
		s.judgeFrost(in, c)
		s.judgeRain(in, z, c)
		s.judgeMixes(in, c)
	}
}

// JudgeContact finds a joint that was made cold. A treatment settles it; its history stays.
func (s *Judge) JudgeContact(k joint.Contact) (finding.Finding, bool) {
	if !k.IsCold() || !s.SurelyMet(k) {
		return finding.Finding{}, false
	}
	sys := s.Current.System
	st := s.Met(k)
	first, later := k.From, k.To
	f := finding.Finding{
		Code: finding.ColdJoint, Grave: true, Key: k.Key(), Formerly: k.Formerly(finding.ColdJoint), Subject: k.Where(),
		Since: k.At,
		Joint: k.Name(), Grouping: finding.Grouping{Brief: joint.Percent(k.Low, k.High) + " of initial set"},
		Do: []string{s.TreatWords(k.Coat, k.Other)},
		Text: fmt.Sprintf("cold joint %s: the earlier material had used up %s of its initial set when it was met",
			k.Where(), joint.Percent(k.Low, k.High)),
		Basis: finding.Basis{
			Formula: "share of initial set consumed = equivalent age of the earlier material / initial set at its reference temperature (Arrhenius)",
			Limit:   "1, initial set (penetration resistance 500 psi, 3.5 MPa)",
			Source:  "ASTM C403, C1074; ACI 309R on cold joints",
			Allowed: finding.AtMost(1.0),
			Evidence: []finding.Fact{
				{Name: "water contact of the earlier", At: first.Batch.Water},
				{Name: "met at", At: k.To.From},
				{Name: "initial set", Value: fmt.Sprintf("%s at %s%s", unit.Duration(st.Set.Initial),
					sys.Temperature(st.Set.Reference), assumed(st.SetSaid)), Figure: finding.Minutes(st.Set.Initial)},
				finding.FactIn("material when met", sys.Temperature(st.Material)+", "+st.MaterialSource, st.Material),
			},
		},

		Events: eventsOf(k), Reason: finding.Reason{Asks: s.MetBy(k)},
	}
	if k.Metres != nil {
		f.Text += ", along " + k.Metres.Said(sys)
		f.Evidence = append(f.Evidence, k.Metres.Facts(k.Length, sys)...)
	}
	if k.Kind == joint.Below {
		f.Code, f.Grave, f.Formerly = finding.UntreatedCoat, false, k.Formerly(finding.UntreatedCoat)
		f.Group, f.About, f.Brief = later.Batch.ID.Day, "on "+later.Batch.ID.Day, later.Coat.String()
		f.Text = fmt.Sprintf("%s was placed on %s after it had set, and no treatment of that joint is in the record",
			later.Coat, k.Coat)
		f.Source = "ACI 506R: the next layer while the one below is fresh, or after it has set, clean and damp (from memory)"
	}
	for _, t := range k.Treated {
		if t.Ended {
			f.Text += fmt.Sprintf("; the front was ended on purpose (%s: %s)", t.Record.Name, t.Method)
			f.Events = append(f.Events, t.Record.Name)
		}
	}
	if i := placed.LastReady(k.Treated); i >= 0 {
		t := k.Treated[i]
		f.Settled = fmt.Sprintf("treated: %s (%s)", t.Method, t.Record.Name)
		f.Events = append(f.Events, t.Record.Name)
	}
	return f, true
}

func assumed(said bool) string {
	if said {
		return ""
	}
	return ", assumed: the mix states none"
}

// eventsOf a contact: those on which its best reading rests, not every candidate of a long day.
func eventsOf(k joint.Contact) []event.Name {
	return []event.Name{k.From.Batch.Mixed.Name, k.From.Record.Name, k.To.Record.Name}
}

// driest is the reading of a day under which a coat dried fastest.
type driest struct {
	k    air.Sky
	p    *placed.Placed
	rate planned.DryingRate
	by   *planned.Rules // the limits of that hour
	t    unit.Celsius
	n    int // readings over the limit
	from time.Time
}

// judgeDrying finds the hours in which a fresh surface lay uncovered and dried over the limit: one finding a coat and
// day, at its worst hour.
func (s *Judge) judgeDrying(in *found, z *placed.Zone, c *placed.CoatIs) {
	if len(c.Placed) == 0 {
		return
	}
	byDay := map[string]*driest{}
	var days []string
	s.EnsureAir(c.Placed[0].From.Add(-FullCounts))
	sky := s.Timeline()
	from, _ := slices.BinarySearchFunc(sky.Read, c.Placed[0].From.Add(-FullCounts), func(k air.Sky, at time.Time) int {
		return k.At.Compare(at)
	})
	for i := from; i < len(sky.Read); i++ {
		k := sky.Read[i]
		if last := c.Placed[len(c.Placed)-1]; k.At.After(last.From) && (k.At.Sub(last.From) > setting.Longest ||
			!s.Fresh(c, last, k.At)) {
			break // nor will it be at any later one
		}
		if !k.Full() {
			continue
		}
		p, at, bare := s.bareBetween(z, c, k.At, countsUntil(sky.Read[i:]))
		if !bare {
			continue
		}
		surface := s.Temperature(c, p)(at)
		if k.SurfaceTemperature != nil {
			surface = *k.SurfaceTemperature
		}
		limits := s.Current.LimitsAt(k.At)
		rate, err := limits.DryingAt(k, surface)
		if err != nil || !rate.Over {
			continue
		}
		day := p.Batch.ID.Day
		if w := byDay[day]; w == nil {
			byDay[day] = &driest{k, p, rate, limits, surface, 1, at}
			days = append(days, day)
		} else if w.n++; rate.SI.Rate > w.rate.SI.Rate {
			w.k, w.p, w.rate, w.by, w.t = k, p, rate, limits, surface
		}
	}
	for _, day := range days {
		in.findings = append(in.findings, s.dried(c, day, byDay[day]))
	}
}

// dried is the finding of a coat's worst hour of a day.
func (s *Judge) dried(c *placed.CoatIs, day string, w *driest) finding.Finding {
	sys := s.Current.System
	rate, limit := sys.Evaporation(w.rate.SI.Rate), fmt.Sprintf("%g kg/m²/h", float64(w.by.Evaporation))
	form, allowed := w.rate.SI.Form, w.by.Evaporation
	if sys == unit.US {
		allowed = unit.Evaporation(w.by.EvaporationUS) * unit.PoundPerSquareFootHour
		rate, limit = sys.Evaporation(w.rate.US.Rate), fmt.Sprintf("%g lb/ft²/h", w.by.EvaporationUS)
		form = w.rate.US.Form
	}
	f := finding.Finding{
		Code: finding.Drying, Grave: true, Key: c.Name().String() + " " + day, Subject: c.Name().String(),
		Since: w.from,
		Grouping: finding.Grouping{
			Group:  day,
			About:  "on " + day,
			Brief:  fmt.Sprintf("%s up to %s", c.Name(), rate),
			Amount: float64(w.rate.SI.Rate),
		},

		Text: fmt.Sprintf("%s lay fresh and uncovered while it dried at up to %s (%s over the limit)", c.Name(),
			rate, unit.Count(w.n, "reading", "readings")),
		Basis: finding.Basis{
			Formula: form.Source().Text,
			Limit:   limit,
			Allowed: finding.AtMost(allowed),
			Source:  form.Source().Published + "; limit: ACI 305R family",
			Evidence: []finding.Fact{
				{Name: "worst reading", Value: "in " + w.k.Record.Name.String(), At: w.k.At},
				finding.FactOf("surface", w.t, unit.System.Temperature, sys),
				finding.FactOf("wind at 0.5 m", *w.k.Wind, unit.System.Speed, sys),
				finding.FactOf("by Menzel", w.rate.Menzel.Rate, unit.System.Evaporation, sys),
			},
		},

		Events: []event.Name{w.k.Record.Name, w.p.Record.Name}, Caution: weather.Caution,
	}
	if w.k.Air != nil {
		f.Evidence = append(f.Evidence, finding.FactOf("air", *w.k.Air, unit.System.Temperature, sys))
	}
	layer := weather.Layer{
		Water: w.p.Batch.Figures.Water.Total, Yield: w.p.Batch.Figures.Yield,
		Thickness: w.p.Then.Thickness.SI,
	}
	if lost, err := weather.Lost(layer, []weather.Span{{Time: time.Hour, Rate: w.rate.SI.Rate}}); err == nil {
		f.Evidence = append(f.Evidence, finding.FactOf("an hour of it takes, of the layer's mixing water", lost.Share,
			unit.System.Share, sys))
	}
	return f
}

// FullCounts is how long a full reading says how fast a fresh surface dries. A choice of this program: ACI 305.1 asks
// for a reading every 30 minutes while concrete is placed (from memory), and stations write one an hour; an hour that
// was missed leaves the reading before it standing, two do not.
const FullCounts = 2 * time.Hour

// countsUntil is when the first of some readings by time, a full one, ceases to count: at the next full one, or when it
// is too old.
func countsUntil(read []air.Sky) time.Time {
	end := read[0].At.Add(FullCounts)
	for _, k := range read[1:] {
		if !k.At.Before(end) {
			break
		}
		if k.Full() && k.At.After(read[0].At) {
			return k.At
		}
	}
	return end
}

// bareBetween finds the first instant of a time, its end excluded, at which something fresh of a coat lay uncovered,
// and the placement that did: at its start, or as soon as something was placed.
func (s *Judge) bareBetween(z *placed.Zone, c *placed.CoatIs, from, until time.Time) (*placed.Placed, time.Time, bool) {
	bare := func(p *placed.Placed, at time.Time) bool {
		return at.Sub(p.From) <= setting.Longest && s.Fresh(c, p, at) && !z.Covered(c.Name().Face, at)
	}
	next := 0 // the first placement after the start
	for next < len(c.Placed) && !c.Placed[next].From.After(from) {
		next++
	}
	if next > 0 && bare(c.Placed[next-1], from) {
		return c.Placed[next-1], from, true
	}
	for _, p := range c.Placed[next:] {
		if !p.From.Before(until) {
			break
		}
		if bare(p, p.From) {
			return p, p.From, true
		}
	}
	return nil, time.Time{}, false
}

// judgeCold finds mortar that was placed in cold weather colder than a section so thin may be: one finding a coat and
// day.
func (s *Judge) judgeCold(in *found, c *placed.CoatIs) {
	sys := s.Current.System
	seen := map[string]bool{}
	for _, p := range c.Placed {
		if p.Batch.Celsius == nil || seen[p.Batch.ID.Day] {
			continue
		}
		outside, source := s.AirAt(p.From)
		cold, err := weather.ColdWeather(outside)
		if err != nil || !mixed.Broken(cold, sys) || source == air.AirAssumed {
			continue
		}
		mortar, from := s.MaterialAt(c, p, p.From)
		j, err := weather.PlacingTemperature(mortar, p.Then.Thickness.SI)
		if err != nil || !mixed.Broken(j, sys) {
			continue
		}
		seen[p.Batch.ID.Day] = true
		in.findings = append(in.findings, finding.Finding{
			Code: finding.ColdMix, Grave: true, Key: c.Name().String() + " " + p.Batch.ID.Day,
			Subject: c.Name().String(),
			Since:   p.From,
			Grouping: finding.Grouping{
				Group: p.Batch.ID.Day,
				About: "on " + p.Batch.ID.Day,
				Brief: fmt.Sprintf("%s at %s", c.Name(),
					sys.Temperature(mortar)),
				Amount: -float64(mortar),
			},

			Text: fmt.Sprintf("mortar at %s was placed in %s while the air was %s", sys.Temperature(mortar),
				c.Name(), sys.Temperature(outside)),
			Basis: finding.Basis{
				Evidence: []finding.Fact{
					finding.FactIn("mortar", sys.Temperature(mortar)+", "+from, mortar),
					finding.FactIn("air", sys.Temperature(outside)+", "+source, outside),
				},
				Limit:   j.Says,
				Allowed: finding.AllowedBy(j),
				Source:  j.Source.Published,
			},

			Events: []event.Name{p.Batch.Mixed.Name, p.Record.Name},
		})
	}
}

// judgeThickness finds a coat that gauges or the next coat show to be thin.
func (s *Judge) judgeThickness(in *found, c *placed.CoatIs) {
	const least = 0.9 // of the design thickness; common practice, no source
	sum, asked, n := unit.Length(0), unit.Length(0), 0
	var events []event.Name
	var at time.Time
	for _, p := range c.Placed {
		for _, g := range p.Gauges {
			sum += g.SI
			asked += p.Then.Thickness.SI // each reading against what the coat was to be when it was placed
			n++
		}
		if len(p.Gauges) > 0 {
			events = append(events, p.Record.Name)
			at = p.To
		}
	}
	if n == 0 {
		return
	}
	design := asked / unit.Length(n)
	if mixed.Rounded(float64(sum)/float64(n)) >= mixed.Rounded(least*float64(design)) {
		return
	}
	sys := s.Current.System
	in.findings = append(in.findings, finding.Finding{
		Code: finding.Thin, Key: c.Name().String(), Subject: c.Name().String(), Since: at, Events: events,
		Text: fmt.Sprintf("%s gauges %s on the mean of %d, not %s", c.Name(), sys.Thickness(sum/unit.Length(n)), n,
			sys.Thickness(design)),
		Basis: finding.Basis{
			Evidence: []finding.Fact{
				{Name: "gauges", Value: fmt.Sprint(n), Figure: finding.CountOf(n)},
				finding.FactOf("mean", sum/unit.Length(n), unit.System.Thickness, sys),
				finding.FactOf("design", design, unit.System.Thickness, sys),
			},
			Limit:   "90 % of the design thickness",
			Allowed: finding.AtLeast(least * design),
			Source:  "common practice, no source",
		},
	})
}

// JudgeRecords finds what is wrong with events themselves: set aside, disputed, a clock that is off.
func (s *Judge) JudgeRecords() []finding.Finding {
	var all []finding.Finding
	disputes := s.disputes()
	for _, r := range s.Loose() {
		all = append(all, s.judgeRecord(r, disputes)...)
	}
	return append(all, s.judgeClocks()...)
}

// JudgeRecord finds what is wrong with one event itself, which nothing disputes.
func (s *Judge) JudgeRecord(r *history.Record) []finding.Finding { return s.judgeRecord(r, disputes{}) }

func (s *Judge) judgeRecord(r *history.Record, disputes disputes) []finding.Finding {
	var all []finding.Finding
	switch r.State {
	case history.SetAside:
		all = append(all, finding.Finding{
			Code: finding.AsideFlag, Key: r.Name.String() + " " + string(r.Aside.Code), Subject: r.Name.String(),
			Since: r.At(), Events: []event.Name{r.Name},
			Grouping: finding.Grouping{
				Group: string(r.Device) + " " + string(r.Aside.Code),
				About: fmt.Sprintf("device %s, %s", r.Device,
					r.Aside.Code),
				Brief: r.Name.String(),
			},

			Text:  fmt.Sprintf("%s, a %s, is set aside: %s", r.Name, event.KindOf(r.Body), r.Aside.Why),
			Basis: finding.Basis{Evidence: []finding.Fact{{Name: "code", Value: string(r.Aside.Code)}}},
		})
	case history.Disputed:
		if f, isNew := disputes.of(r); isNew {
			all = append(all, f)
		}
	}
	switch r.Now.(type) { // what a batch holds and its tests are judged with the batch
	case event.WeatherObserved, event.WeatherForecast, event.CureReadings, event.Placement, event.SpecimensBroken:
		if s.IsSound(r) {
			break // nothing that its doubts hang on has changed
		}
		s.Cost.Doubted++
		if f, ok := s.JudgeDoubts(r, r.Now); !ok {
			s.MarkSound(r)
		} else if r.State != history.SetAside {
			all = append(all, f)
		}
	default:
	}
	if logged := r.Logged(); r.Ahead() {
		all = append(all, finding.Finding{
			Code: finding.OddTime, Key: r.Name.String(), Subject: r.Name.String(), Since: r.LoggedAt,
			Events: []event.Name{r.Name},
			Text: fmt.Sprintf(
				"%s says that it happened %s after it was written; the time is doubtful, the event stands", r.Name,
				unit.Duration(r.At().Sub(logged))),
			Grouping: finding.Grouping{
				Group: string(r.Device),
				About: "device " + string(r.Device),
				Brief: r.Name.String(),
			},
		})
	}
	return all
}
