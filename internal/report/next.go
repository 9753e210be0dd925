package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hod/internal/unit"
	"hod/internal/view/advice"
)

// nextColumn is where what is said of a next batch begins.
const nextColumn = 7

// Next is where a crew's next batch goes, in five lines; with the order that it has in mind where that is asked for.
func Next(v advice.Next, plan bool, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "next batch")
	s.next(v, p.Crew)
	if v.Place != nil {
		s.named(0, nextColumn, "rests", s.nextBasis(v.Basis, v.Crew))
	}
	if plan {
		s.nextPlan(v.Plan)
	}
	s.nextLimits()
	return s.String()
}

// NextAll is the same of each crew that works.
func NextAll(v advice.NextAll, plan bool, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "next batches")
	if len(v.Crews) == 0 {
		s.para(0, 2, say("No crew has begun a shift or mixed a batch today: `hod next --crew NAME` asks for one."))
	}
	var rest []advice.NextTaken // of crews that are not at work
	for i, one := range v.Crews {
		if i > 0 {
			s.blank()
		}
		others := one.Others
		one.Others = nil // said once, below
		s.next(one, p.Crew)
		for _, t := range others {
			own := slices.ContainsFunc(v.Crews, func(o advice.Next) bool { return o.Crew == t.Crew })
			if !own && !slices.ContainsFunc(rest, func(o advice.NextTaken) bool { return o.Crew == t.Crew }) {
				rest = append(rest, t)
			}
		}
	}
	if len(rest) > 0 {
		s.blank()
		s.othersTaken(rest)
	}
	if i := slices.IndexFunc(v.Crews, func(one advice.Next) bool { return one.Place != nil }); i >= 0 {
		s.blank()
		s.named(0, nextColumn, "rests", s.nextBasis(v.Crews[i].Basis, ""))
	}
	if plan && len(v.Crews) > 0 {
		s.nextPlan(v.Crews[0].Plan)
	}
	s.nextLimits()
	return s.String()
}

// nextLimits is what no advice says.
func (s *sheet) nextLimits() {
	s.blank()
	s.para(0, 2,
		say(
			"This is about the order of placing alone: whether a joint is sound, and when to strip or to load, is the engineer's."))
}

// next is one crew's; "you" are the crew whose device it is read on.
func (s *sheet) next(v advice.Next, you string) {
	switch {
	case len(v.Missing) > 0:
		s.para(0, 2, join(" ", say(v.Crew+":", strong), say("no advice.")))
		for _, why := range v.Missing {
			s.para(2, 2, say("- "+why))
		}
	case v.Done:
		s.para(0, 2, join(" ", say(v.Crew+":", strong), say("no coat of the plan takes another batch.")))
	case v.Place != nil:
		s.nextTaken(v, v.Crew == you)
		s.nextWhere(v)
		s.nextWhy(v)
		s.nextRisk(v)
	}
	s.nextTooOld(v)
	s.nextLost(v)
}

// nextTaken says which proposals hold, to the crew itself or of it.
func (s *sheet) nextTaken(v advice.Next, toIt bool) {
	who, whom, whose := "the crew", "it", "held for it"
	if toIt {
		who, whom, whose = "you", "you", "yours"
	}
	if t := v.Taken; t != nil {
		name, said := coatName(t.Zone, t.Face, t.Coat), text(nil)
		switch {
		case t.Before != "":
			said = sayf("crew %s took %s before %s; it is theirs, and here is another.", t.Before, name, whom)
		case t.Zone != v.Place.Zone || t.Face != v.Place.Face || t.Coat != v.Place.Coat:
			said = sayf("what %s took is no longer the best: %s, taken at %s, is %s until %s; better is what follows.",
				who, name, s.clock(t.At), whose, s.clock(t.Until))
		default:
			said = sayf("%s took %s at %s; it is %s until %s.", who, name, s.clock(t.At), whose, s.clock(t.Until))
		}
		s.para(0, 2, join(" ", say(v.Crew+":", strong), said))
	}
	s.othersTaken(v.Others)
}

func (s *sheet) othersTaken(all []advice.NextTaken) {
	for _, t := range all {
		if t.Before == "" {
			s.para(0, 2, join(" ", say(t.Crew+":", strong), sayf("took %s, until %s.", coatName(t.Zone, t.Face, t.Coat),
				s.clock(t.Until))))
		}
	}
}

func (s *sheet) nextWhere(v advice.Next) {
	batch := sayf("batch %d", v.Batch)
	if v.InMixer {
		batch = sayf("batch %d, which is in the mixer,", v.Batch)
	}
	if v.InHand {
		batch = sayf("batch %d, which is mixed,", v.Batch)
	}
	where := join(" ", batch, say("to"), say(coatName(v.Place.Zone, v.Place.Face, v.Place.Coat), strong))
	switch {
	case len(v.Place.Along) > 0:
		where = join(" ", where, say("along "+andList(v.Place.Along)))
	case v.Place.Onward:
		where = join(" ", where, say("on from its last batch"))
	}
	if then := following(v); len(then) > 0 {
		where = append(where, say("; then "+strings.Join(then, ", "))...)
	}
	s.para(0, nextColumn, append(append(say(v.Crew+": ", strong), where...), say(".")...))
	if len(v.Place.For) > 0 {
		s.para(nextColumn, 2, sayf("The plan has %s for %s: agree it first.", v.Place.Zone, andList(v.Place.For)))
	}
	for _, e := range v.Treat {
		along := ""
		if e.Other != "" {
			along = " --along " + e.Other
		}
		s.para(nextColumn, 2,
			sayf("Before it: %s is cold, and waits to be made ready as the engineer wants it: `hod treat %s METHOD%s`.",
				nextEdge(e), e.Zone, along))
	}
}

// following are the coats of a crew's batches after the next, each once where it stays there.
func following(v advice.Next) []string {
	const most = 4
	last := coatName(v.Place.Zone, v.Place.Face, v.Place.Coat)
	var all []string
	for _, p := range v.Then {
		if name := coatName(p.Zone, p.Face, p.Coat); name != last && len(all) < most {
			all, last = append(all, name), name
		}
	}
	return all
}

func nextEdge(e advice.NextEdge) string {
	if e.Other == "" {
		return "the edge inside " + coatName(e.Zone, e.Face, e.Coat)
	}
	return coatName(e.Zone, e.Face, e.Coat) + " to " + e.Other
}

func (s *sheet) nextWhy(v advice.Next) {
	var why text
	switch {
	case v.Turns == nil && v.Place.Onward && len(v.Place.Along) == 0:
		why = say("it goes on beside what another crew places there now; from here the order costs least")
	case v.Turns == nil && len(v.Lost) > 0:
		why = say("it meets no edge that can still be met in time; from here the order costs least")
	case v.Turns == nil:
		why = say("no edge waits here; from here the order costs least")
	default:
		placed := v.Turns.TurnsAt.Add(-time.Duration(*v.SlackMin) * time.Minute)
		why = join(" ", say(nextEdge(*v.Turns)+" turns cold"), figure("at "+s.clock(*v.Turns.TurnsAt)+","),
			sayf("and this batch is placed by %s: %s", s.clock(placed), spare(*v.SlackMin)))
	}
	if v.Either {
		why = join("; ", why, sayf("either this or %s, no difference shows: take the nearer",
			coatName(v.Instead.Zone, v.Instead.Face, v.Instead.Coat)))
	}
	s.named(0, nextColumn, "why", append(why, say(".")...))
}

// spare is what is left between the end of placing and the turning of an edge; none where it comes too late.
func spare(slackMin int32) string {
	if slackMin < 0 {
		return minutes(time.Duration(-slackMin)*time.Minute) + " too late"
	}
	return minutes(time.Duration(slackMin)*time.Minute) + " to spare"
}

func (s *sheet) nextRisk(v advice.Next) {
	until := ""
	if v.Basis.Until != nil {
		until = " before " + s.clock(*v.Basis.Until)
	}
	risk := sayf("an edge goes cold%s in %s trials", until, trials(*v.Risk))
	if len(v.Lost) > 0 {
		risk = sayf("beside what is lost, an edge goes cold%s in %s trials", until, trials(*v.Risk))
	}
	if v.Else != nil {
		other := coatName(v.Instead.Zone, v.Instead.Face, v.Instead.Coat)
		if len(v.Instead.Along) > 0 {
			other += " along " + andList(v.Instead.Along)
		}
		risk = join("; ", risk, sayf("with %s first, in %s", other, trials(*v.Else)))
	}
	s.named(0, nextColumn, "risk", append(risk, say(".")...))
	if w := v.TooWide; w != nil {
		said := fmt.Sprintf(
			"no order was found that keeps this bay whole: in this air the set is %s, and at %d min a batch about %s across stay live.", minutes(time.Duration(w.SetMin)*time.Minute), w.PaceMin, count(int(w.MostAcross), "batch", "batches"))
		if w.PermittedM > 0 {
			said += fmt.Sprintf(
				" End on purpose where the plan permits a joint (%s of edge), or have another crew, or begin in a cooler hour.", s.length(w.PermittedM))
		} else {
			said += " Have another crew, begin in a cooler hour, or ask the engineer where a joint may be."
		}
		s.named(0, nextColumn, "bay", say(said))
	}
}

// trials in which something happened. None is no proof that it cannot: with 95 % confidence it happens in less than
// three of as many.
func trials(r advice.NextRisk) string {
	if r.Cold == 0 {
		return fmt.Sprintf("fewer than 3 in %d", r.Trials)
	}
	return fmt.Sprintf("%d of %d", r.Cold, r.Trials)
}

func (s *sheet) nextTooOld(v advice.Next) {
	indent := 2
	if v.Place != nil {
		indent = nextColumn
	}
	if v.TooOld > 0 {
		s.para(indent, 2,
			sayf(
				"Batch %d is mixed, not placed, and past its working time: it is discarded, not placed (`hod discard %d`).", v.TooOld, v.TooOld))
	}
}

func (s *sheet) nextLost(v advice.Next) {
	if len(v.Lost) == 0 {
		return
	}
	const most = 4
	var parts []string
	permitted, engineer := false, false
	sum := 0.0
	for i, e := range v.Lost {
		sum += e.LengthM
		permitted = permitted || e.Joint == "yes"
		engineer = engineer || e.Joint != "yes"
		if i >= most {
			continue
		}
		one := nextEdge(e) + ", " + s.length(e.LengthM)
		if e.TurnsAt != nil {
			turns := "turns cold at "
			if !e.TurnsAt.After(s.now) {
				turns = "cold since "
			}
			one += ", " + turns + s.clock(*e.TurnsAt)
		}
		parts = append(parts, one)
	}
	if more := len(v.Lost) - most; more > 0 {
		parts = append(parts, fmt.Sprintf("%d more", more))
	}
	lost := sayf("%s that nobody can meet in time: %s.", s.length(sum), strings.Join(parts, "; "))
	const ready = "cut it square while it can be cut, and leave it rough, clean and damp; the detail of the joint is the engineer's."
	switch {
	case permitted && engineer:
		lost = join(" ", lost, say("Where the plan permits a joint, end it on purpose: "+ready+
			" Elsewhere ask the engineer before anybody places on."))
	case permitted:
		lost = join(" ", lost, say("The plan permits a joint there: end it on purpose, "+ready))
	default:
		lost = join(" ", lost,
			say("The plan permits no joint there of itself: ask the engineer before anybody places on."))
	}
	s.named(0, nextColumn, "lost", lost)
}

// nextBasis is what advice rests on, in one line.
func (s *sheet) nextBasis(b advice.NextBasis, asks string) text {
	var parts []string
	for _, k := range b.Sets {
		set := fmt.Sprintf("set of %s %s at %s", k.Mix, unit.Duration(time.Duration(k.SetMin*float64(time.Minute))),
			s.temperature(k.ReferenceC))
		if k.Assumed {
			set += ", assumed: the mix states none"
		}
		parts = append(parts, set+fmt.Sprintf(" (%s in this air)", unit.Duration(time.Duration(k.NowMin)*time.Minute)))
	}
	if len(b.Sets) > 0 {
		parts[len(parts)-1] += fmt.Sprintf(", ±%.0f %% by the day", 100*b.DaySpread)
		if b.SetTests > 0 {
			parts[len(parts)-1] += fmt.Sprintf(" and %+.0f %% by %s of today", 100*(b.SetFactor-1),
				count(int(b.SetTests), "test", "tests"))
		}
	}
	parts = append(parts, s.nextAir(b))
	for _, c := range b.Crews {
		parts = append(parts, s.nextCrew(c, asks))
	}
	if !b.Strips {
		parts = append(parts, "edges shared evenly among a zone's batches, since not every side is planned or known")
	}
	if b.OldEdges > 0 {
		parts = append(parts, count(int(b.OldEdges), "old cold edge", "old cold edges")+" left out")
	}
	if b.Trials > 0 {
		parts = append(parts, fmt.Sprintf("%d trials, up to %s", b.Trials, b.UntilWhy))
	}
	return say(strings.Join(parts, "; ") + ".")
}

// nextAir says where the temperature of the air to come is from.
func (s *sheet) nextAir(b advice.NextBasis) string {
	has := func(word string) bool {
		return slices.ContainsFunc(b.Air, func(a string) bool { return strings.Contains(a, word) })
	}
	switch {
	case has("forecast") && b.IssuedAt != nil:
		return "air as forecast at " + s.clock(*b.IssuedAt)
	case b.ReadAt != nil:
		return "air as last read, " + s.clock(*b.ReadAt) + ", with no forecast"
	case has("assumed"):
		return "air assumed, since nobody read any"
	}
	return strings.Join(b.Air, ", ")
}

func (s *sheet) nextCrew(c advice.NextCrew, asks string) string {
	from := "assumed: fewer than five times from batch to batch are known"
	switch c.PaceBy {
	case "crew":
		from = fmt.Sprintf("of %d times", min(c.Gaps, math.MaxInt32))
	case "site":
		from = "as the whole site"
	}
	said := fmt.Sprintf("%s %d min a batch (%s)", c.Crew, c.PaceMin, from)
	switch {
	case c.Crew == asks:
	case c.LastHeardAt == nil:
		said += ", never heard"
	default:
		said += ", last heard " + s.clock(*c.LastHeardAt)
	}
	return said
}

// nextPlan is the order that the advice has in mind.
func (s *sheet) nextPlan(plan []advice.NextTake) {
	s.section("AS EXPECTED", say("asking again after each batch changes it"))
	t := table{columns: []column{
		{name: "from", right: true},
		{name: "to", right: true},
		{name: "crew"},
		{name: "where", least: 14},
	}}
	for _, k := range plan {
		t.row(figure(s.clock(k.From)), figure(s.clock(k.To)), say(k.Crew), say(coatName(k.Zone, k.Face, k.Coat)))
	}
	s.table(0, t)
}
