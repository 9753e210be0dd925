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
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "forecast")
	s.section("LEFT", nil)
	s.para(0, 2, join(" ", s.leftToPlace(v), s.range90(v), s.transit(v)))
	if !v.Done {
		s.pace(v)
	}
	s.doubt(v)
	for _, m := range v.Mixes {
		s.section("MIX "+m.Mix, nil)
		s.para(0, 2, sayf("%s: %s.", s.volume(m.VolumeM3), left(ahead.BatchesLeft{P50: m.P50, P90: m.P90})))
		s.para(0, 2, s.yield(m))
		for _, b := range m.Bags {
			s.para(0, 2, s.mixBags(b))
		}
		s.chances(m)
	}
	s.section("MATERIALS", nil)
	if v.Batches == nil {
		s.para(0, 2, say("What is needed is not known."))
	} else {
		s.materials(v.Materials)
	}
	s.bagSizes(v.Materials)
	s.tomorrow(v.Tomorrow)
	return s.String()
}

// leftToPlace is what is left by the plan; nothing left is told apart from not known.
func (s *sheet) leftToPlace(v ahead.Forecast) text {
	switch {
	case v.Done:
		return say("Every planned coat is finished: nothing is left to place.")
	case v.Batches == nil:
		return say("What is left to place is not known.")
	}
	if v.VolumeM3 < least && v.Batches.P95 > 0 {
		return sayf("All that the plan asks for is placed, and not all is finished: %s.", left(*v.Batches))
	}
	return sayf("%s to place: %s.", s.volume(v.VolumeM3), left(*v.Batches))
}

// least is the volume (m³) that is none to a person.
const least = 1e-6

// range90 is the range that holds nine in ten.
func (s *sheet) range90(v ahead.Forecast) text {
	if v.Width == nil || v.Batches == nil || v.Batches.P05 == v.Batches.P95 {
		return nil
	}
	return sayf("Nine times in ten %d to %d.", v.Batches.P05, v.Batches.P95)
}

func (s *sheet) transit(v ahead.Forecast) text {
	if v.InTransit < 0.05 {
		return nil
	}
	return sayf("%s mixed and not placed, beside these.", decimal(v.InTransit, 1))
}

// doubt says what makes the answer uncertain, what it lacks, and what would narrow it.
func (s *sheet) doubt(v ahead.Forecast) {
	if w := v.Width; w != nil {
		s.section("WHAT MAKES IT UNCERTAIN", nil)
		s.para(0, 2, join(" ", s.taken(*w), sayf("± %s.", halfRange(w.SiteBatches))))
		s.para(0, 2, sayf("From coat to coat %s: ± %s. Yield of the mixes (%s): ± %s. Batch to batch: ± %s.",
			percent(w.CoatSD), halfRange(w.CoatsBatches), count(w.Weighed, "batch weighed", "batches weighed"),
			halfRange(w.YieldBatches), halfRange(w.ScatterBatches)))
		if v.Pace != nil {
			s.para(0, 2, sayf("Pace (%s from batch to batch): ± %s.", count(w.Gaps, "time", "times"),
				hours(w.PaceHours)))
		}
		s.para(0, 2, say("Each ± alone, nine times in ten."))
	}
	if v.Lists != "" {
		s.para(0, 2, say(sentence(v.Lists)))
	}
	for _, m := range v.Missing {
		s.para(0, 2, say(sentence(m)))
	}
	if len(v.Advice) > 0 {
		s.section("TO KNOW IT BETTER", nil)
		for _, a := range v.Advice {
			s.para(0, 2, say(sentence(a)))
		}
	}
}

// taken is what coats take over what was planned.
func (s *sheet) taken(w ahead.Width) text {
	if w.Finished == 0 {
		return sayf("Thickness and waste: no coat is finished, so they are guessed.")
	}
	off := 100 * (w.TakenShare - 1)
	so := "as much as planned"
	switch {
	case off >= 0.5:
		so = decimal(off, 0) + "% more than planned"
	case off <= -0.5:
		so = decimal(-off, 0) + "% less than planned"
	}
	return sayf("Thickness and waste: coats take %s, give or take %s (%s finished).", so, percent(w.TakenSD),
		count(w.Finished, "coat", "coats"))
}

// halfRange in batches.
func halfRange(n float64) string {
	if n < 0.05 {
		return "under 0.1 batches"
	}
	if n < 3 {
		return decimal(n, 1) + " batches"
	}
	return decimal(n, 0) + " batches"
}

// sentence begins with a capital and ends with a stop.
func sentence(words string) string {
	if words == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(words)
	return string(unicode.ToUpper(r)) + strings.TrimSuffix(words[n:], ".") + "."
}

func (s *sheet) yield(m ahead.MixForecast) text {
	from := "by the mix design; no batch was weighed yet"
	if m.Tested > 0 {
		from = "from " + count(m.Tested, "batch weighed", "batches weighed") + " and the design"
	}
	if m.YieldMeanM3 == nil {
		return say("What a batch yields is not known.")
	}
	return join(" ", join(", ", sayf("A batch yields %s", s.volume(*m.YieldMeanM3)),
		say(named("give or take", m.YieldSDM3, s.volume))), sayf("(%s).", from))
}

// mixBags is how many bags of a material the batches left of a mix take.
func (s *sheet) mixBags(b ahead.MixBags) text {
	all := sayf("%s: %s as likely as not, %s nine times in ten", b.Material, bagsOf(b.P50), bagCount(b.P90))
	if b.P05 != b.P95 {
		all = append(all, sayf("; nine times in ten %s to %s", bagCount(b.P05), bagCount(b.P95))...)
	}
	return append(all, sayf(". A batch takes %s of %s.", bagCount(b.PerBatch), s.mass(b.BagKg))...)
}

func (s *sheet) pace(v ahead.Forecast) {
	if v.Pace != nil {
		s.para(0, 2, join(" ", sayf("Pace %s batches/h, all crews together.", decimal(*v.Pace, 1)), say(v.PaceNote)))
	} else {
		s.para(0, 2, join(" ", say("The pace is not known yet."), say(v.PaceNote)))
	}
	if v.WorkHours90 != nil && *v.WorkHours90 > 0 {
		s.para(0, 2, sayf("Work %s as likely as not, %s nine times in ten.", maybe(v.WorkHours50, hours),
			hours(*v.WorkHours90)))
	}
	finish := func(t *time.Time, words string) text {
		if t == nil {
			return nil
		}
		return sayf("%s %s %s", words, s.day(*t), t.In(s.in).Format("15:04"))
	}
	if ends := join("; ", finish(v.Finish50, "as likely as not by"),
		finish(v.Finish90, "nine times in ten by")); !ends.empty() {
		done := join(" ", say("Done"), ends)
		if short := s.short(v.Materials); len(short) > 0 {
			done = append(done, say(", and only if what is short comes in time: ")...)
			done = append(done, list(short)...)
		}
		s.para(0, 2, append(done, span{s: ".", as: plain}))
	}
}

// short are the materials of which there is less than will be needed nine times in ten.
func (s *sheet) short(needs []ahead.MaterialNeed) []string {
	var all []string
	for _, n := range needs {
		if n.ShortKg != nil && *n.ShortKg > 0 {
			all = append(all, s.massAndBags(*n.ShortKg, whole(n.ShortBags))+" of "+n.Material)
		}
	}
	return all
}

// whole is a whole number as one that need not be.
func whole(n *int32) *float64 {
	if n == nil {
		return nil
	}
	return new(float64(*n))
}

// mostChances is how many steps of a distribution a person reads.
const mostChances = 12

// chances draws the distribution where it rises; what is all but impossible and all but certain is left out.
func (s *sheet) chances(m ahead.MixForecast) {
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
	t := table{columns: []column{
		{name: "at most", right: true},
		{name: "chance", right: true},
		{name: ""},
		{name: "", drop: 1},
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
		n := int(math.Round(float64(bar) * min(max(chance, 0), 1)))
		t.row(figure(count(c.Batches, "batch", "batches")), figure(percent(chance)), say(strings.Repeat("#", n)),
			figure(mark))
	}
	s.table(2, t)
}

// percent is whole; what is not quite certain is not shown as certain.
func percent(chance float64) string {
	if chance < 1 && chance >= 0.995 {
		return "over 99%"
	}
	return decimal(100*chance, 0) + "%"
}

func (s *sheet) materials(needs []ahead.MaterialNeed) {
	if len(needs) == 0 {
		s.para(0, 2, say("No material is needed."))
		return
	}
	onHand := "on hand"
	if slices.ContainsFunc(needs, func(n ahead.MaterialNeed) bool { return n.Left50Kg != nil }) {
		onHand = "at start" // of that day
	}
	t := table{columns: []column{
		{name: "material", least: 10},
		{name: "a batch", right: true, drop: 6},
		{name: onHand, right: true, drop: 2},
		{name: "need 1 in 2", right: true, drop: 5},
		{name: "need 9 in 10", right: true, drop: 1},
		{name: "short", right: true},
		{name: "lasts", right: true, drop: 4},
		{name: "runs out", least: 10, drop: 3},
	}}
	var uncounted []string
	var damp []text
	for _, n := range needs {
		hand, short, lasts := notKnown, text(nil), ""
		handBags := n.OnHandBags
		switch {
		case n.Left50Kg != nil:
			hand, handBags = s.mass(*n.Left50Kg), n.Left50Bags
		case n.OnHandKg != nil:
			hand = s.mass(*n.OnHandKg)
		default:
			uncounted = append(uncounted, n.Material)
		}
		switch {
		case n.LastsBatches != nil:
			lasts = count(*n.LastsBatches, "batch", "batches")
		case n.Counted:
			lasts = "to the end"
		}
		if n.ShortKg != nil && *n.ShortKg > 0 {
			short = figure("SHORT "+s.mass(*n.ShortKg), urgent)
		}
		if n.Damp != "" {
			damp = append(damp, join(" ", say(n.Material), say(n.Damp)))
		}
		t.row(say(n.Material), figure(s.maybeMass(n.PerBatchKg)), figure(hand), figure(s.mass(n.Need50Kg)),
			figure(s.mass(n.Need90Kg)),
			short, figure(lasts), say(n.RunsOut))
		if n.BagKg != nil {
			t.row(inBags, someBags(n.PerBatchBags), figure(maybe(handBags, bagCount)),
				figure(maybe(n.Need50Bags, bagCount)),
				figure(maybe(n.Need90Bags, bagCount)), someBags(whole(n.ShortBags)), nil, nil)
		}
	}
	s.table(0, t)
	for _, words := range damp {
		s.para(0, 2, append(words, span{s: ".", as: plain}))
	}
	if len(uncounted) > 0 {
		s.para(0, 2, join(" ", say("No stock was ever written of"), append(list(uncounted), span{s: ".", as: plain})))
	}
}

// bagSizes says what a bag weighs of what is told in bags.
func (s *sheet) bagSizes(needs []ahead.MaterialNeed) {
	var all []string
	for _, n := range needs {
		if n.BagKg != nil {
			all = append(all, s.mass(*n.BagKg)+" of "+n.Material)
		}
	}
	if len(all) > 0 {
		s.para(0, 2, join(" ", say("A bag is"), append(list(all), span{s: ".", as: plain})))
	}
}

func (s *sheet) tomorrow(t ahead.Tomorrow) {
	if t.Date == "" {
		if t.Note != "" {
			s.section("NEXT DAY", nil)
			s.para(0, 2, say(sentence(t.Note)))
		}
		return
	}
	s.section("NEXT DAY", say(date(t.Date)))
	verdict := say("The stock suffices.")
	if !t.Suffices {
		verdict = say("The stock does NOT SUFFICE.", urgent)
	}
	takes := say(hours(t.Hours) + " workable.")
	if t.Batches != nil {
		takes = sayf("%s workable, nine times in ten at most %s.", hours(t.Hours),
			count(*t.Batches, "batch", "batches"))
		if t.P50 != nil {
			takes = sayf("%s workable, %s as likely as not, nine times in ten at most %d.", hours(t.Hours),
				count(*t.P50, "batch", "batches"), *t.Batches)
		}
	}
	if t.Batches == nil || *t.Batches == 0 {
		verdict = nil
	}
	s.para(0, 2, join(" ", takes, verdict, say(sentence(t.Note))))
	s.shares(t)
	if len(t.Materials) > 0 {
		s.materials(t.Materials)
	}
}

// shares says what is expected of each crew.
func (s *sheet) shares(t ahead.Tomorrow) {
	if len(t.Shares) == 0 {
		return
	}
	rows := table{columns: []column{
		{name: "crew"},
		{name: "coat"},
		{name: "mix", drop: 1},
		{name: "about", right: true},
	}}
	for _, k := range t.Shares {
		rows.row(say(k.Crew), say(coatName(k.Zone, k.Face, k.Coat)), say(k.Mix), figure(about(k.Batches)))
	}
	s.table(2, rows)
}

// about is whole batches.
func about(n float64) string {
	if s := decimal(n, 0); s != "1" {
		return s + " batches"
	}
	return "1 batch"
}
