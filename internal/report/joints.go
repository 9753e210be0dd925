package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hod/internal/view"
)

// Joints is every contact: the open ones with what their time rests on, the made ones that went wrong as fully, and the
// good ones in a line each.
func Joints(v view.Joints, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "joints")
	s.setTests(v.SetTests, "today")
	s.joints(v.Joints)
	return s.String()
}

// setTests says that tests of a day move the set, where the times beside it do not follow them.
func (s *sheet) setTests(v *view.SetTests, when string) {
	if v == nil || v.Tests < 1 || !(v.Factor > 0 && v.Factor < 100) { // of a record that is no record
		return
	}
	word := "sooner"
	if v.Factor > 1 {
		word = "later"
	}
	by := "test"
	if v.Tests > 1 {
		by = "tests"
	}
	s.para(0, 2,
		sayf(
			"%s of set %s: sets about %.0f %% %s than the mix states; the times here are by the mix, those of hod next by the %s.",
			count(v.Tests, "test", "tests"), when, 100*math.Abs(v.Factor-1), word, by))
}

func (s *sheet) joints(all []view.Joint) {
	var waiting, old, bad, good []view.Joint
	for _, j := range all {
		switch {
		case j.Old:
			old = append(old, j)
		case !j.Made:
			waiting = append(waiting, j)
		case j.State == "live":
			good = append(good, j)
		default:
			bad = append(bad, j)
		}
	}
	s.section("OPEN", nil)
	if len(waiting) == 0 {
		s.para(0, 2, say("No edge waits for material."))
	}
	for _, j := range waiting {
		s.joint(j)
	}
	if len(old) > 0 {
		s.oldJoints(old)
	}
	if len(bad) > 0 {
		s.section("MADE LATE", nil)
		for _, j := range bad {
			s.joint(j)
		}
	}
	if len(good) > 0 {
		s.section("MADE IN TIME", nil)
		t := table{columns: []column{
			{name: "at", right: true},
			{name: "where", least: 14},
			{name: "set used", right: true},
			{name: "length", right: true, drop: 2},
			{name: "id", drop: 1},
		}}
		for _, j := range good {
			t.row(figure(s.maybeClock(j.MadeAt)), say(where(j)), figure(s.used(j)), figure(s.edge(j)),
				figure(j.ID).to("joint", j.ID))
		}
		s.table(0, t)
	}
}

// stateColumn is where the place begins after a state.
const stateColumn = 9

// joint is one contact in full.
func (s *sheet) joint(j view.Joint) {
	const in = 2
	s.para(0, in, lead(s.jointState(j), stateColumn, join(", ", say(where(j)).to("joint", j.ID), figure(s.edge(j)),
		say(j.ID))))
	switch {
	case j.Made:
		s.para(in, 2, join(" ", say("Met"), say(s.maybeClock(j.MadeAt)),
			sayf("with %s of initial set used.", s.used(j))))
	case j.Ended:
		s.para(in, 2, append(s.endedFront(j), say(".")...))
	default:
		s.countdown(in, j)
	}
	s.metres(in, j)
	source := ""
	if j.MaterialSource != "" {
		source = " (" + j.MaterialSource + ")"
	}
	s.para(in, 2, sayf("Set %s at %s; material at %s%s.", ofMinutes(j.SetMinutes), s.temperature(j.SetReferenceC),
		s.temperature(j.MaterialC), source))
	s.named(in, 9, "earlier", events(j.Earlier))
	s.named(in, 9, "later", events(j.Later))
	if j.Made || !j.Ended {
		s.named(in, 9, "treated", list(j.Treated))
	}
	if j.Made && len(j.Treated) == 0 && j.State == "cold" {
		s.named(in, 9, "treated", say("nothing written"))
	}
	s.named(in, 9, "rests on", say(j.Note))
}

// endedFront is how a front was left that waits for nobody, and what is still to be done there.
func (s *sheet) endedFront(j view.Joint) text {
	said := say("ended on purpose")
	if n := len(j.Treatments); n > 0 {
		t := j.Treatments[n-1]
		said = join(" ", said, say(s.clock(t.At)), join("", say("("), events([]string{t.Event}), say("):")),
			say(t.Method))
	}
	return join("; ", said, say("make it ready before placing on"))
}

// countdown is how long an open joint waits yet.
func (s *sheet) countdown(in int, j view.Joint) {
	wait, isRange := s.turns(j)
	at := s.clocks(j.TurnsAt, j.TurnsLatest)
	switch {
	case wait == "":
		s.para(in, 2, sayf("When it turns cold is not known; %s of initial set used.", s.used(j)))
	case isRange:
		s.para(in, 2, sayf("Cold %s, at %s: %s; %s of initial set used.", wait, at, rangeOf(j), s.used(j)))
	default:
		s.para(in, 2, sayf("Cold %s, at %s; %s of initial set used.", wait, at, s.used(j)))
	}
	if j.ClosesAt != nil && j.State == "live" {
		s.para(in, 2, sayf("Closes at %s.", s.clock(*j.ClosesAt)))
	}
}

// metresBrief is what of an edge is cold and open, in a few words.
func (s *sheet) metresBrief(j view.Joint) string {
	m := j.Metres
	switch {
	case m == nil:
		return ""
	case m.ColdPossibly > 0 && m.ColdSurely > 0:
		return fmt.Sprintf(", %s surely cold, %s at worst", s.length(m.ColdSurely), s.length(m.ColdPossibly))
	case m.ColdPossibly > 0:
		return fmt.Sprintf(", none surely cold, %s at worst", s.length(m.ColdPossibly))
	case m.Open > 0:
		return fmt.Sprintf(", %s open", s.length(m.Open))
	}
	return ""
}

// metres of an edge, as far as there are any of a kind.
func (s *sheet) metres(in int, j view.Joint) {
	m := j.Metres
	if m == nil {
		return
	}
	if m.ColdPossibly > 0 {
		long := func(m float64) string {
			if m == 0 {
				return "none"
			}
			return s.length(m)
		}
		s.para(in, 2, sayf("Cold: %s for certain, %s by where the batches lie, %s at worst.", long(m.ColdSurely),
			long(m.Cold), s.length(m.ColdPossibly)))
	}
	var rest []string
	for _, part := range []struct {
		long float64
		is   string
	}{{m.Closing, "closing"}, {m.Live, "live"}, {m.Open, "still open"}, {m.Bare, "bare on both sides"}} {
		if part.long > 0 {
			rest = append(rest, s.length(part.long)+" "+part.is)
		}
	}
	if len(rest) > 0 {
		s.para(in, 2, sayf("By where the batches lie: %s.", strings.Join(rest, ", ")))
	}
	if m.Contradicts != "" {
		s.para(in, 2, sayf("Does not agree: %s.", m.Contradicts))
	}
}

// The states as words. The view's own are live, closing and cold.
const (
	cold      = "COLD"
	maybeCold = "MAY BE COLD"
	closing   = "CLOSING"
)

// jointState is the state as a word that says how urgent it is. An edge whose soonest instant has passed since the view
// was made may be cold: its time was said, and is over.
func (s *sheet) jointState(j view.Joint) text {
	switch {
	case j.Ended && !j.Made:
		return say("ended")
	case j.State == "cold":
		return say(cold, urgent)
	case !j.Made && j.TurnsAt != nil && !j.TurnsAt.After(s.now):
		return figure(maybeCold, urgent)
	case j.State == "closing":
		return say(closing, soon)
	}
	return figure(j.State)
}

// where the joint is, from the side of the earlier material.
func where(j view.Joint) string {
	name := coatName(j.Zone, j.Face, j.Coat)
	switch j.Kind {
	case "edge":
		return name + " to " + j.Other
	case "inside":
		return "inside " + name
	case "below":
		return "on top of " + name
	}
	return name + ", " + j.Kind
}

func (s *sheet) edge(j view.Joint) string {
	if j.Length == 0 {
		return ""
	}
	return s.length(j.Length)
}

// used is the share of initial set, a range where the record allows one.
func (s *sheet) used(j view.Joint) string {
	return between(s.share(j.ConsumedLow), s.share(j.ConsumedHigh))
}

// turns says in how long the joint turns cold, or since when it is: "in 35–90 min", "since 12 min". Time left is shown
// short of the truth by up to a minute, never beyond it.
func (s *sheet) turns(j view.Joint) (wait string, isRange bool) {
	if j.TurnsAt == nil {
		return "", false
	}
	soonest := j.TurnsAt.Sub(s.now)
	latest := soonest
	if j.TurnsLatest != nil && j.TurnsLatest.After(*j.TurnsAt) {
		latest = j.TurnsLatest.Sub(s.now)
	}
	isRange = latest.Truncate(time.Minute) > soonest.Truncate(time.Minute)
	switch {
	case latest < time.Minute && latest > -time.Minute && !isRange:
		return "now", false
	case latest <= 0:
		return "since " + between(minutes(-latest), minutes(-soonest)), isRange
	case soonest <= 0 && isRange:
		return "in 0–" + minutes(latest), true
	}
	return "in " + between(minutes(soonest), minutes(latest)), isRange
}

// rangeOf says why a joint's figures are from one to another.
func rangeOf(j view.Joint) string {
	if j.Note != "" {
		return "not known which placement runs along the edge"
	}
	return "from the oldest to the newest material along the edge"
}
