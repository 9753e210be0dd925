package judge

import (
	"fmt"
	"time"

	"hod/internal/air"
	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/placed"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// rainReach is the time that one reading of rain tells of: the hour before it.
const rainReach = time.Hour

// shower is the rain of one working day on one coat while it was fresh and bare.
type shower struct {
	p        *placed.Placed
	from, to time.Time
	mm       map[string]float64 // by station; two gauges tell of the same rain
	last     map[string]time.Time
	n        int
	records  []event.Name
	bare     time.Duration // of the time that the readings tell of and it was fresh
	whole    bool          // under one of them it surely lay bare
}

// judgeRain finds rain that fell, by the readings, on fresh mortar that lay uncovered: one finding a coat and day. A
// coat on the inner face is out of the rain once something lies on the outer face over it.
func (s *Judge) judgeRain(in *found, z *placed.Zone, c *placed.CoatIs) {
	byDay := map[string]*shower{}
	var days []string
	if len(c.Placed) > 0 {
		s.EnsureAir(c.Placed[0].From.Add(-rainReach))
	}
	air := s.Timeline()
	for _, i := range air.Rainy {
		k := &air.Read[i]
		p, bare, whole := s.rainedOn(z, c, k.At.Add(-rainReach), k.At)
		if p == nil {
			continue
		}
		day := p.Batch.ID.Day
		w := byDay[day]
		if w == nil {
			w = &shower{p: p, from: k.At.Add(-rainReach), mm: map[string]float64{}, last: map[string]time.Time{}}
			byDay[day], days = w, append(days, day)
		}
		w.take(k)
		w.bare, w.whole = w.bare+bare, w.whole || whole
	}
	for _, day := range days {
		in.findings = append(in.findings, s.washed(c, day, byDay[day]))
	}
}

// rainedOn is the newest placement of a coat that was fresh and uncovered at some instant of a time, for how long it
// lay so, and whether that was surely under the rain: it lay so for at least half of the time, and no cover kept it dry
// for any of the rest; nil if there is none.
func (s *Judge) rainedOn(z *placed.Zone, c *placed.CoatIs, from, to time.Time) (*placed.Placed, time.Duration, bool) {
	lying := placed.BeganBefore(c.Placed, to)
	for i := len(lying) - 1; i >= 0; i-- {
		p := lying[i]
		if from.Sub(p.From) > setting.Longest {
			return nil, 0, false
		}
		begin, end := from, to
		if p.From.After(begin) {
			begin = p.From
		}
		if turns, ok := s.Turns(c, p, 1); ok && turns.Before(end) {
			end = turns
		}
		if !begin.Before(end) || z.Sheltered(c.Name().Face, begin) {
			continue
		}
		if bare := z.Bare(c.Name().Face, begin, end); bare > 0 {
			return p, bare, bare == end.Sub(begin) && 2*bare >= to.Sub(from)
		}
	}
	return nil, 0, false
}

// take adds a reading; of one that tells of an hour of which the one before told in part, only the rest.
func (w *shower) take(k *air.Sky) {
	share := 1.0
	if last, ok := w.last[k.Station]; ok && k.At.Sub(last) < rainReach {
		share = k.At.Sub(last).Hours() / rainReach.Hours()
	}
	w.mm[k.Station] += share * *k.RainMillimetres
	w.last[k.Station], w.to = k.At, k.At
	w.n++
	w.records = append(w.records, k.Record.Name)
}

// washed is the finding of a day's rain on a coat.
func (s *Judge) washed(c *placed.CoatIs, day string, w *shower) finding.Finding {
	most := 0.0
	for _, mm := range w.mm {
		most = max(most, mm)
	}
	amount := Rain(s.Current.System, most)
	fell := fmt.Sprintf("rain, %s by %s, fell on %s while it was fresh and uncovered", amount,
		unit.Count(w.n, "reading", "readings"), c.Name())
	if !w.whole { // a reading tells of an hour, and not in which minutes of it
		fell = fmt.Sprintf(
			"rain, %s by %s, may have fallen on %s while it was fresh: it lay uncovered for %s of that time", amount,
			unit.Count(w.n, "reading", "readings"), c.Name(), unit.Duration(w.bare))
	}
	return finding.Finding{
		Code: finding.Washed, Grave: w.whole, Key: c.Name().String() + " " + day, Subject: c.Name().String(),
		Since: w.from,
		Grouping: finding.Grouping{
			Group:  day,
			About:  "on " + day,
			Brief:  fmt.Sprintf("%s %s", c.Name(), amount),
			Amount: most,
		},

		Text: fell + ": look whether it is washed, paste gone and sand or fibres bare",
		Basis: finding.Basis{
			Evidence: []finding.Fact{
				{Name: "rain", Value: amount, Figure: finding.Number(most, "mm")},
				{Name: "from", At: w.from},
				{Name: "to", At: w.to},
				{Name: "water contact of the newest", At: w.p.Batch.Water},
			},
			Limit:  "no rain on an uncovered face before initial set",
			Source: "rainwater shall neither add to the mixing water nor damage the surface: ACI 301, weather considerations (from memory); until initial set: common practice, no source",
		},

		Events: append([]event.Name{w.p.Record.Name}, w.records...),
	}
}

// Rain is an amount of rain in words.
func Rain(sys unit.System, mm float64) string {
	if sys == unit.US {
		return fmt.Sprintf("%.2f in", mm/25.4)
	}
	return fmt.Sprintf("%.1f mm", mm)
}
