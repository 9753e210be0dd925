package report

import (
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"hod/internal/view/ahead"
)

// Forecast is what is left to mix, as chances, with what makes it uncertain, the material, the hours and the day that
// it takes.
func Forecast(v ahead.Forecast, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "forecast")
	s.Section("LEFT", nil)
	s.Para(0, 2, Join(" ", s.leftToPlace(v), s.range90(v), s.transit(v)))
	if !v.Done {
		s.pace(v)
	}
	s.doubt(v)
	for _, m := range v.Mixes {
		s.Section("MIX "+m.Mix, nil)
		s.Para(0, 2, Sayf("%s: %s.", s.Volume(m.VolumeM3), Left(ahead.BatchesLeft{P50: m.P50, P90: m.P90})))
		s.Para(0, 2, s.yield(m))
		for _, b := range m.Bags {
			s.Para(0, 2, s.mixBags(b))
		}
		s.chances(m)
	}
	s.Section("MATERIALS", nil)
	if v.Batches == nil {
		s.Para(0, 2, Say("What is needed is not known."))
	} else {
		s.materials(v.Materials)
	}
	s.bagSizes(v.Materials)
	s.Tomorrow(v.Tomorrow)
	return s.String()
}

// leftToPlace is what is left by the plan; nothing left is told apart from not known.
func (s *Sheet) leftToPlace(v ahead.Forecast) Text {
	switch {
	case v.Done:
		return Say("Every planned coat is finished: nothing is left to place.")
	case v.Batches == nil:
		return Say("What is left to place is not known.")
	}
	if v.VolumeM3 < least && v.Batches.P95 > 0 {
		return Sayf("All that the plan asks for is placed, and not all is finished: %s.", Left(*v.Batches))
	}
	return Sayf("%s to place: %s.", s.Volume(v.VolumeM3), Left(*v.Batches))
}

// least is the volume (m³) that is none to a person.
const least = 1e-6

// range90 is the range that holds nine in ten.
func (s *Sheet) range90(v ahead.Forecast) Text {
	if v.Width == nil || v.Batches == nil || v.Batches.P05 == v.Batches.P95 {
		return nil
	}
	return Sayf("Nine times in ten %d to %d.", v.Batches.P05, v.Batches.P95)
}

func (s *Sheet) transit(v ahead.Forecast) Text {
	if v.InTransit < 0.05 {
		return nil
	}
	return Sayf("%s mixed and not placed, beside these.", Decimal(v.InTransit, 1))
}

// doubt says what makes the answer uncertain, what it lacks, and what would narrow it.
func (s *Sheet) doubt(v ahead.Forecast) {
	if w := v.Width; w != nil {
		s.Section("WHAT MAKES IT UNCERTAIN", nil)
		s.Para(0, 2, Join(" ", s.taken(*w), Sayf("± %s.", halfRange(w.SiteBatches))))
		s.Para(0, 2, Sayf("From coat to coat %s: ± %s. Yield of the mixes (%s): ± %s. Batch to batch: ± %s.",
			Percent(w.CoatSD), halfRange(w.CoatsBatches), Count(w.Weighed, "batch weighed", "batches weighed"),
			halfRange(w.YieldBatches), halfRange(w.ScatterBatches)))
		if v.Pace != nil {
			s.Para(0, 2, Sayf("Pace (%s from batch to batch): ± %s.", Count(w.Gaps, "time", "times"),
				hours(w.PaceHours)))
		}
		s.Para(0, 2, Say("Each ± alone, nine times in ten."))
	}
	if v.Lists != "" {
		s.Para(0, 2, Say(Sentence(v.Lists)))
	}
	for _, m := range v.Missing {
		s.Para(0, 2, Say(Sentence(m)))
	}
	if len(v.Advice) > 0 {
		s.Section("TO KNOW IT BETTER", nil)
		for _, a := range v.Advice {
			s.Para(0, 2, Say(Sentence(a)))
		}
	}
}

// taken is what coats take over what was planned.
func (s *Sheet) taken(w ahead.Width) Text {
	if w.Finished == 0 {
		return Sayf("Thickness and waste: no coat is finished, so they are guessed.")
	}
	off := 100 * (w.TakenShare - 1)
	so := "as much as planned"
	switch {
	case off >= 0.5:
		so = Decimal(off, 0) + "% more than planned"
	case off <= -0.5:
		so = Decimal(-off, 0) + "% less than planned"
	}
	return Sayf("Thickness and waste: coats take %s, give or take %s (%s finished).", so, Percent(w.TakenSD),
		Count(w.Finished, "coat", "coats"))
}

// halfRange in batches.
func halfRange(n float64) string {
	if n < 0.05 {
		return "under 0.1 batches"
	}
	if n < 3 {
		return Decimal(n, 1) + " batches"
	}
	return Decimal(n, 0) + " batches"
}

// Sentence begins with a capital and ends with a stop.
func Sentence(words string) string {
	if words == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(words)
	return string(unicode.ToUpper(r)) + strings.TrimSuffix(words[n:], ".") + "."
}

func (s *Sheet) yield(m ahead.MixForecast) Text {
	from := "by the mix design; no batch was weighed yet"
	if m.Tested > 0 {
		from = "from " + Count(m.Tested, "batch weighed", "batches weighed") + " and the design"
	}
	if m.YieldMeanM3 == nil {
		return Say("What a batch yields is not known.")
	}
	return Join(" ", Join(", ", Sayf("A batch yields %s", s.Volume(*m.YieldMeanM3)),
		Say(Named("give or take", m.YieldSDM3, s.Volume))), Sayf("(%s).", from))
}

// mixBags is how many bags of a material the batches left of a mix take.
func (s *Sheet) mixBags(b ahead.MixBags) Text {
	all := Sayf("%s: %s as likely as not, %s nine times in ten", b.Material, bagsOf(b.P50), bagCount(b.P90))
	if b.P05 != b.P95 {
		all = append(all, Sayf("; nine times in ten %s to %s", bagCount(b.P05), bagCount(b.P95))...)
	}
	return append(all, Sayf(". A batch takes %s of %s.", bagCount(b.PerBatch), s.Mass(b.BagKg))...)
}

func (s *Sheet) pace(v ahead.Forecast) {
	if v.Pace != nil {
		s.Para(0, 2, Join(" ", Sayf("Pace %s batches/h, all crews together.", Decimal(*v.Pace, 1)), Say(v.PaceNote)))
	} else {
		s.Para(0, 2, Join(" ", Say("The pace is not known yet."), Say(v.PaceNote)))
	}
	if v.WorkHours90 != nil && *v.WorkHours90 > 0 {
		s.Para(0, 2, Sayf("Work %s as likely as not, %s nine times in ten.", Maybe(v.WorkHours50, hours),
			hours(*v.WorkHours90)))
	}
	finish := func(t *time.Time, words string) Text {
		if t == nil {
			return nil
		}
		return Sayf("%s %s %s", words, s.Day(*t), t.In(s.In).Format("15:04"))
	}
	if ends := Join("; ", finish(v.Finish50, "as likely as not by"),
		finish(v.Finish90, "nine times in ten by")); !ends.Empty() {
		done := Join(" ", Say("Done"), ends)
		if short := s.Short(v.Materials); len(short) > 0 {
			done = append(done, Say(", and only if what is short comes in time: ")...)
			done = append(done, Listed(short)...)
		}
		s.Para(0, 2, append(done, span{s: ".", as: Plain}))
	}
}

// Short are the materials of which there is less than will be needed nine times in ten.
func (s *Sheet) Short(needs []ahead.MaterialNeed) []string {
	var all []string
	for _, n := range needs {
		if n.ShortKg != nil && *n.ShortKg > 0 {
			all = append(all, s.MassAndBags(*n.ShortKg, Whole(n.ShortBags))+" of "+n.Material)
		}
	}
	return all
}

// Whole is a whole number as one that need not be.
func Whole(n *int32) *float64 {
	if n == nil {
		return nil
	}
	return new(float64(*n))
}

// mostChances is how many steps of a distribution a person reads.
const mostChances = 12

// chances draws the distribution where it rises; what is all but impossible and all but certain is left out.
func (s *Sheet) chances(m ahead.MixForecast) {
	var rise []ahead.Count
	for _, c := range m.Distribution {
		if c.Cumulative < 0.02 {
			continue
		}
		rise = append(rise, c)
		if c.Cumulative >= 0.995 {
			break
		}
	}
	step := (len(rise) + mostChances - 1) / mostChances
	bar := 30
	if s.width < narrow {
		bar = 12
	}
	t := Table{Columns: []Column{
		{Name: "at most", Right: true},
		{Name: "chance", Right: true},
		{Name: ""},
		{Name: "", Drop: 1},
	}}
	for i, c := range rise {
		mark := ""
		switch c.Batches {
		case m.P50:
			mark = "as likely as not"
		case m.P90:
			mark = "nine times in ten"
		default:
			if i%step != 0 {
				continue
			}
		}
		chance := c.Cumulative
		if math.IsNaN(chance) {
			chance = 0
		}
		drawn := Text(nil) // on a page the figure alone: letters are no picture, and who hears the page would hear each
		if !s.HTML {
			drawn = Say(strings.Repeat("#", int(math.Round(float64(bar)*min(max(chance, 0), 1)))))
		}
		t.Row(Figure(Count(c.Batches, "batch", "batches")), Figure(Percent(chance)), drawn, Figure(mark))
	}
	s.Table(2, t)
}

// Percent is whole; what is not quite certain is not shown as certain.
func Percent(chance float64) string {
	if chance < 1 && chance >= 0.995 {
		return "over 99%"
	}
	return Decimal(100*chance, 0) + "%"
}

// AtStart says why what is short is not what is needed less what is there at the start.
const AtStart = "At start: as likely as not, after what is still taken before that day. Short: nine times in ten no " +
	"more, of what is on hand now, after all that is taken until that day's end; so it is not need less start."

func (s *Sheet) materials(needs []ahead.MaterialNeed) {
	if len(needs) == 0 {
		s.Para(0, 2, Say("No material is needed."))
		return
	}
	onHand := "on hand"
	if slices.ContainsFunc(needs, func(n ahead.MaterialNeed) bool { return n.Left50Kg != nil }) {
		onHand = "at start" // of that day
	}
	t := Table{Columns: []Column{
		{Name: "material", Least: 10},
		{Name: "a batch", Right: true, Drop: 6},
		{Name: onHand, Right: true, Drop: 2},
		{Name: "need 1 in 2", Right: true, Drop: 5},
		{Name: "need 9 in 10", Right: true, Drop: 1},
		{Name: "short", Right: true},
		{Name: "lasts", Right: true, Drop: 4},
		{Name: "runs out", Least: 10, Drop: 3},
	}}
	var uncounted []string
	var damp []Text
	for _, n := range needs {
		hand, short, lasts := NotKnown, Text(nil), ""
		handBags := n.OnHandBags
		switch {
		case n.Left50Kg != nil:
			hand, handBags = s.Mass(*n.Left50Kg), n.Left50Bags
		case n.OnHandKg != nil:
			hand = s.Mass(*n.OnHandKg)
		default:
			uncounted = append(uncounted, n.Material)
		}
		switch {
		case n.LastsBatches != nil:
			lasts = Count(*n.LastsBatches, "batch", "batches")
		case n.Counted:
			lasts = "to the end"
		}
		if n.ShortKg != nil && *n.ShortKg > 0 {
			short = Figure("SHORT "+s.Mass(*n.ShortKg), Urgent)
		}
		if n.Damp != "" {
			damp = append(damp, Join(" ", Say(n.Material), Say(n.Damp)))
		}
		t.Row(Say(n.Material), Figure(s.maybeMass(n.PerBatchKg)), Figure(hand), Figure(s.Mass(n.Need50Kg)),
			Figure(s.Mass(n.Need90Kg)),
			short, Figure(lasts), Say(n.RunsOut))
		if n.BagKg != nil {
			t.Row(inBags, someBags(n.PerBatchBags), Figure(Maybe(handBags, bagCount)),
				Figure(Maybe(n.Need50Bags, bagCount)),
				Figure(Maybe(n.Need90Bags, bagCount)), someBags(Whole(n.ShortBags)), nil, nil)
		}
	}
	s.Table(0, t)
	if onHand != "on hand" {
		s.Para(0, 2, Say(AtStart))
	}
	for _, words := range damp {
		s.Para(0, 2, append(words, span{s: ".", as: Plain}))
	}
	if len(uncounted) > 0 {
		s.Para(0, 2, Join(" ", Say("No stock was ever written of"), append(Listed(uncounted), span{s: ".", as: Plain})))
	}
}

// bagSizes says what a bag weighs of what is told in bags.
func (s *Sheet) bagSizes(needs []ahead.MaterialNeed) {
	var all []string
	for _, n := range needs {
		if n.BagKg != nil {
			all = append(all, s.Mass(*n.BagKg)+" of "+n.Material)
		}
	}
	if len(all) > 0 {
		s.Para(0, 2, Join(" ", Say("A bag is"), append(Listed(all), span{s: ".", as: Plain})))
	}
}

// Tomorrow writes what the next working day needs.
func (s *Sheet) Tomorrow(t ahead.Tomorrow) {
	if t.Date == "" {
		if t.Note != "" {
			s.Section("NEXT DAY", nil)
			s.Para(0, 2, Say(Sentence(t.Note)))
		}
		return
	}
	s.Section("NEXT DAY", Say(Date(t.Date)))
	verdict := Say("The stock suffices.")
	if !t.Suffices {
		verdict = Say("The stock does NOT SUFFICE.", Urgent)
	}
	takes := Say(hours(t.Hours) + " workable.")
	if t.Batches != nil {
		takes = Sayf("%s workable, nine times in ten at most %s.", hours(t.Hours),
			Count(*t.Batches, "batch", "batches"))
		if t.P50 != nil {
			takes = Sayf("%s workable, %s as likely as not, nine times in ten at most %d.", hours(t.Hours),
				Count(*t.P50, "batch", "batches"), *t.Batches)
		}
	}
	if t.Batches == nil || *t.Batches == 0 {
		verdict = nil
	}
	s.Para(0, 2, Join(" ", takes, verdict, Say(Sentence(t.Note))))
	if t.Ordered != "" {
		s.Para(0, 2, Sayf(
			"The day's order (%s) has %s; the hours are from its start on. The needs here are by the crews' pace, not by the order.",
			t.Ordered, Count(int(t.OrderedBatches), "batch", "batches")))
	}
	s.shares(t)
	if len(t.Materials) > 0 {
		s.materials(t.Materials)
	}
}

// shares says what is expected of each crew.
func (s *Sheet) shares(t ahead.Tomorrow) {
	if len(t.Shares) == 0 {
		return
	}
	rows := Table{Columns: []Column{
		{Name: "crew"},
		{Name: "coat"},
		{Name: "mix", Drop: 1},
		{Name: "about", Right: true},
	}}
	for _, k := range t.Shares {
		rows.Row(Say(k.Crew), Say(CoatName(k.Zone, k.Face, k.Coat)), Say(k.Mix), Figure(About(k.Batches)))
	}
	s.Table(2, rows)
}

// About is whole batches.
func About(n float64) string {
	if s := Decimal(n, 0); s != "1" {
		return s + " batches"
	}
	return "1 batch"
}
