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
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "next batch")
	s.next(v, p.Crew)
	if v.Place != nil {
		s.Named(0, nextColumn, "rests", s.nextBasis(v.Basis, v.Crew))
	}
	if plan {
		s.nextPlan(v.Plan)
	}
	s.nextLimits()
	return s.String()
}

// NextAll is the same of each crew that works.
func NextAll(v advice.NextAll, plan bool, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "next batches")
	if len(v.Crews) == 0 {
		s.Para(0, 2, Say("No crew has begun a shift or mixed a batch today: `hod next --crew NAME` asks for one."))
	}
	var rest []advice.NextTaken // of crews that are not at work
	for i, one := range v.Crews {
		if i > 0 {
			s.Blank()
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
		s.Blank()
		s.othersTaken(rest)
	}
	if i := slices.IndexFunc(v.Crews, func(one advice.Next) bool { return one.Place != nil }); i >= 0 {
		s.Blank()
		s.Named(0, nextColumn, "rests", s.nextBasis(v.Crews[i].Basis, ""))
	}
	if plan && len(v.Crews) > 0 {
		s.nextPlan(v.Crews[0].Plan)
	}
	s.nextLimits()
	return s.String()
}

// nextLimits is what no advice says.
func (s *Sheet) nextLimits() {
	s.Blank()
	s.Para(0, 2,
		Say(
			"This is about the order of placing alone: whether a joint is sound, and when to strip or to load, is the engineer's."))
}

// next is one crew's; "you" are the crew whose device it is read on.
func (s *Sheet) next(v advice.Next, you string) {
	switch {
	case len(v.Missing) > 0:
		s.Para(0, 2, Join(" ", Say(v.Crew+":", strong), Say("no advice.")))
		for _, why := range v.Missing {
			s.Para(2, 2, Say("- "+why))
		}
	case v.Done:
		s.Para(0, 2, Join(" ", Say(v.Crew+":", strong), Say("no coat of the plan takes another batch.")))
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
func (s *Sheet) nextTaken(v advice.Next, toIt bool) {
	who, whom, whose := "the crew", "it", "held for it"
	if toIt {
		who, whom, whose = "you", "you", "yours"
	}
	if t := v.Taken; t != nil {
		name, said := CoatName(t.Zone, t.Face, t.Coat), Text(nil)
		switch {
		case t.Before != "":
			said = Sayf("crew %s took %s before %s; it is theirs, and here is another.", t.Before, name, whom)
		case t.Zone != v.Place.Zone || t.Face != v.Place.Face || t.Coat != v.Place.Coat:
			said = Sayf("what %s took is no longer the best: %s, taken at %s, is %s until %s; better is what follows.",
				who, name, s.Clock(t.At), whose, s.Clock(t.Until))
		default:
			said = Sayf("%s took %s at %s; it is %s until %s.", who, name, s.Clock(t.At), whose, s.Clock(t.Until))
		}
		s.Para(0, 2, Join(" ", Say(v.Crew+":", strong), said))
	}
	s.othersTaken(v.Others)
}

func (s *Sheet) othersTaken(all []advice.NextTaken) {
	for _, t := range all {
		if t.Before == "" {
			s.Para(0, 2, Join(" ", Say(t.Crew+":", strong), Sayf("took %s, until %s.", CoatName(t.Zone, t.Face, t.Coat),
				s.Clock(t.Until))))
		}
	}
}

// takenAll are the proposals that hold, and who took one that another crew holds.
func (s *Sheet) takenAll(all []advice.NextTaken) Text {
	var said []Text
	for _, t := range all {
		name := CoatName(t.Zone, t.Face, t.Coat)
		if t.Before != "" {
			said = append(said, Sayf("%s took %s, too, but %s took it before: `hod next` has another for %s", t.Crew,
				name, t.Before,
				t.Crew))
			continue
		}
		said = append(said, Sayf("%s to %s until %s", t.Crew, name, s.Clock(t.Until)))
	}
	return Join("; ", said...)
}

func (s *Sheet) nextWhere(v advice.Next) {
	batch := Sayf("batch %d", v.Batch)
	if v.InMixer {
		batch = Sayf("batch %d, which is in the mixer,", v.Batch)
	}
	if v.InHand {
		batch = Sayf("batch %d, which is mixed,", v.Batch)
	}
	where := Join(" ", batch, Say("to"), Say(CoatName(v.Place.Zone, v.Place.Face, v.Place.Coat), strong))
	switch {
	case len(v.Place.Along) > 0:
		where = Join(" ", where, Say("along "+AndList(v.Place.Along)))
	case v.Place.Onward:
		where = Join(" ", where, Say("on from its last batch"))
	}
	if then := following(v); len(then) > 0 {
		where = append(where, Say("; then "+strings.Join(then, ", "))...)
	}
	s.Para(0, nextColumn, append(append(Say(v.Crew+": ", strong), where...), Say(".")...))
	if len(v.Place.For) > 0 {
		s.Para(nextColumn, 2, Sayf("The plan has %s for %s: agree it first.", v.Place.Zone, AndList(v.Place.For)))
	}
	for _, e := range v.Treat {
		along := ""
		if e.Other != "" {
			along = " --along " + e.Other
		}
		s.Para(nextColumn, 2,
			Sayf("Before it: %s is cold, and waits to be made ready as the engineer wants it: `hod treat %s METHOD%s`.",
				nextEdge(e), e.Zone, along))
	}
}

// following are the coats of a crew's batches after the next, each once where it stays there.
func following(v advice.Next) []string {
	const most = 4
	last := CoatName(v.Place.Zone, v.Place.Face, v.Place.Coat)
	var all []string
	for _, p := range v.Then {
		if name := CoatName(p.Zone, p.Face, p.Coat); name != last && len(all) < most {
			all, last = append(all, name), name
		}
	}
	return all
}

func nextEdge(e advice.NextEdge) string {
	if e.Other == "" {
		return "the edge inside " + CoatName(e.Zone, e.Face, e.Coat)
	}
	return CoatName(e.Zone, e.Face, e.Coat) + " to " + e.Other
}

func (s *Sheet) nextWhy(v advice.Next) {
	var why Text
	switch {
	case v.Turns == nil && v.Place.Onward && len(v.Place.Along) == 0:
		why = Say("it goes on beside what another crew places there now; from here the order costs least")
	case v.Turns == nil && len(v.Lost) > 0:
		why = Say("it meets no edge that can still be met in time; from here the order costs least")
	case v.Turns == nil:
		why = Say("no edge waits here; from here the order costs least")
	default:
		placed := v.Turns.TurnsAt.Add(-time.Duration(*v.SlackMin) * time.Minute)
		why = Join(" ", Say(nextEdge(*v.Turns)+" turns cold"), Figure("at "+s.Clock(*v.Turns.TurnsAt)+","),
			Sayf("and this batch is placed by %s: %s", s.Clock(placed), spare(*v.SlackMin)))
	}
	if v.Either {
		why = Join("; ", why, Sayf("either this or %s, no difference shows: take the nearer",
			CoatName(v.Instead.Zone, v.Instead.Face, v.Instead.Coat)))
	}
	s.Named(0, nextColumn, "why", append(why, Say(".")...))
}

// spare is what is left between the end of placing and the turning of an edge; none where it comes too late.
func spare(slackMin int32) string {
	if slackMin < 0 {
		return Minutes(time.Duration(-slackMin)*time.Minute) + " too late"
	}
	return Minutes(time.Duration(slackMin)*time.Minute) + " to spare"
}

func (s *Sheet) nextRisk(v advice.Next) {
	until := ""
	if v.Basis.Until != nil {
		until = " before " + s.Clock(*v.Basis.Until)
	}
	risk := Sayf("an edge goes cold%s in %s trials", until, trials(*v.Risk))
	if len(v.Lost) > 0 {
		risk = Sayf("beside what is lost, an edge goes cold%s in %s trials", until, trials(*v.Risk))
	}
	if v.Else != nil {
		other := CoatName(v.Instead.Zone, v.Instead.Face, v.Instead.Coat)
		if len(v.Instead.Along) > 0 {
			other += " along " + AndList(v.Instead.Along)
		}
		risk = Join("; ", risk, Sayf("with %s first, in %s", other, trials(*v.Else)))
	}
	s.Named(0, nextColumn, "risk", append(risk, Say(".")...))
	if w := v.TooWide; w != nil {
		said := fmt.Sprintf(
			"no order was found that keeps this bay whole: in this air the set is %s, and at %d min a batch a bay of about %s across stays live.",
			Minutes(time.Duration(w.SetMin)*time.Minute), w.PaceMin, Count(int(w.MostAcross), "batch", "batches"))
		if w.PermittedM > 0 {
			said += fmt.Sprintf(
				" End on purpose where the plan permits a joint (%s of edge), or have another crew, or begin in a cooler hour.", s.Length(w.PermittedM))
		} else {
			said += " Have another crew, begin in a cooler hour, or ask the engineer where a joint may be."
		}
		s.Named(0, nextColumn, "bay", Say(said))
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

func (s *Sheet) nextTooOld(v advice.Next) {
	indent := 2
	if v.Place != nil {
		indent = nextColumn
	}
	if v.TooOld > 0 {
		s.Para(indent, 2,
			Sayf(
				"Batch %d is mixed, not placed, and past its working time: it is discarded, not placed (`hod discard %d`).", v.TooOld, v.TooOld))
	}
}

func (s *Sheet) nextLost(v advice.Next) {
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
		one := nextEdge(e) + ", " + s.Length(e.LengthM)
		if e.TurnsAt != nil {
			turns := "turns cold at "
			if !e.TurnsAt.After(s.Now) {
				turns = "cold since "
			}
			one += ", " + turns + s.Clock(*e.TurnsAt)
		}
		parts = append(parts, one)
	}
	if more := len(v.Lost) - most; more > 0 {
		parts = append(parts, fmt.Sprintf("%d more", more))
	}
	lost := Sayf("%s that nobody can meet in time: %s.", s.Length(sum), strings.Join(parts, "; "))
	const ready = "cut it square while it can be cut, and leave it rough, clean and damp; the detail of the joint is the engineer's."
	switch {
	case permitted && engineer:
		lost = Join(" ", lost, Say("Where the plan permits a joint, end it on purpose: "+ready+
			" Elsewhere ask the engineer before anybody places on."))
	case permitted:
		lost = Join(" ", lost, Say("The plan permits a joint there: end it on purpose, "+ready))
	default:
		lost = Join(" ", lost,
			Say("The plan permits no joint there of itself: ask the engineer before anybody places on."))
	}
	s.Named(0, nextColumn, "lost", lost)
}

// nextBasis is what advice rests on, in one line.
func (s *Sheet) nextBasis(b advice.NextBasis, asks string) Text {
	var parts []string
	for _, k := range b.Sets {
		set := fmt.Sprintf("set of %s %s at %s", k.Mix, unit.Duration(time.Duration(k.SetMin*float64(time.Minute))),
			s.Temperature(k.ReferenceC))
		if k.Assumed {
			set += ", assumed: the mix states none"
		}
		parts = append(parts, set+fmt.Sprintf(" (%s in this air)", unit.Duration(time.Duration(k.NowMin)*time.Minute)))
	}
	if len(b.Sets) > 0 {
		parts[len(parts)-1] += fmt.Sprintf(", ±%.0f %% by the day", 100*b.DaySpread)
		if b.SetTests > 0 {
			parts[len(parts)-1] += fmt.Sprintf(" and %+.0f %% by %s of today", 100*(b.SetFactor-1),
				Count(int(b.SetTests), "test", "tests"))
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
		parts = append(parts, Count(int(b.OldEdges), "old cold edge", "old cold edges")+" left out")
	}
	if b.Trials > 0 {
		parts = append(parts, fmt.Sprintf("%d trials, up to %s", b.Trials, b.UntilWhy))
	}
	return Say(strings.Join(parts, "; ") + ".")
}

// nextAir says where the temperature of the air to come is from.
func (s *Sheet) nextAir(b advice.NextBasis) string {
	has := func(word string) bool {
		return slices.ContainsFunc(b.Air, func(a string) bool { return strings.Contains(a, word) })
	}
	switch {
	case has("forecast") && b.IssuedAt != nil:
		return "air as forecast at " + s.Clock(*b.IssuedAt)
	case b.ReadAt != nil:
		return "air as last read, " + s.Clock(*b.ReadAt) + ", with no forecast"
	case has("assumed"):
		return "air assumed, since nobody read any"
	}
	return strings.Join(b.Air, ", ")
}

func (s *Sheet) nextCrew(c advice.NextCrew, asks string) string {
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
		said += ", last heard " + s.Clock(*c.LastHeardAt)
	}
	return said
}

// nextPlan is the order that the advice has in mind.
func (s *Sheet) nextPlan(plan []advice.NextTake) {
	s.Section("AS EXPECTED", Say("asking again after each batch changes it"))
	t := Table{Columns: []Column{
		{Name: "from", Right: true},
		{Name: "to", Right: true},
		{Name: "crew"},
		{Name: "where", Least: 14},
	}}
	for _, k := range plan {
		t.Row(Figure(s.Clock(k.From)), Figure(s.Clock(k.To)), Say(k.Crew), Say(CoatName(k.Zone, k.Face, k.Coat)))
	}
	s.Table(0, t)
}
