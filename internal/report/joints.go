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
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "joints")
	s.SetTests(v.SetTests, "today")
	s.joints(v.Joints)
	return s.String()
}

// SetTests says that tests of a day move the set, where the times beside it do not follow them.
func (s *Sheet) SetTests(v *view.SetTests, when string) {
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
	s.Para(0, 2,
		Sayf(
			"%s of set %s: sets about %.0f %% %s than the mix states; the times here are by the mix, those of hod next by the %s.",
			Count(v.Tests, "test", "tests"), when, 100*math.Abs(v.Factor-1), word, by))
}

func (s *Sheet) joints(all []view.Joint) {
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
	s.Section("OPEN", nil)
	if len(waiting) == 0 {
		s.Para(0, 2, Say("No edge waits for material."))
	}
	for _, j := range waiting {
		s.Joint(j)
	}
	if len(old) > 0 {
		s.oldJoints(old)
	}
	if len(bad) > 0 {
		s.Section("MADE LATE", nil)
		for _, j := range bad {
			s.Joint(j)
		}
	}
	if len(good) > 0 {
		s.Section("MADE IN TIME", nil)
		t := Table{Columns: []Column{
			{Name: "at", Right: true},
			{Name: "where", Least: 14},
			{Name: "set used", Right: true},
			{Name: "length", Right: true, Drop: 2},
			{Name: "id", Drop: 1},
		}}
		for _, j := range good {
			t.Row(Figure(s.MaybeClock(j.MadeAt)), Say(Where(j)), Figure(s.Used(j)), Figure(s.edge(j)),
				Figure(j.ID).To("joint", j.ID))
		}
		s.Table(0, t)
	}
}

// StateColumn is where the place begins after a state.
const StateColumn = 9

// Joint is one contact in full.
func (s *Sheet) Joint(j view.Joint) {
	const in = 2
	s.Para(0, in, Lead(s.JointState(j), StateColumn, Join(", ", Say(Where(j)).To("joint", j.ID), Figure(s.edge(j)),
		Say(j.ID))))
	switch {
	case j.Made:
		s.Para(in, 2, Join(" ", Say("Met"), Say(s.MaybeClock(j.MadeAt)),
			Sayf("with %s of initial set used.", s.Used(j))))
	case j.Ended:
		s.Para(in, 2, append(s.EndedFront(j), Say(".")...))
	default:
		s.countdown(in, j)
	}
	s.metres(in, j)
	source := ""
	if j.MaterialSource != "" {
		source = " (" + j.MaterialSource + ")"
	}
	s.Para(in, 2, Sayf("Set %s at %s; material at %s%s.", OfMinutes(j.SetMinutes), s.Temperature(j.SetReferenceC),
		s.Temperature(j.MaterialC), source))
	s.Named(in, 9, "earlier", Events(j.Earlier))
	s.Named(in, 9, "later", Events(j.Later))
	if j.Made || !j.Ended {
		var by []string
		for _, t := range j.Treatments {
			by = append(by, t.Event)
		}
		s.Named(in, 9, "treated", Linked(strings.Join(j.Treated, ", "), by...))
	}
	if j.Made && len(j.Treated) == 0 && j.State == "cold" {
		s.Named(in, 9, "treated", Say("nothing written"))
	}
	s.Named(in, 9, "rests on", Say(j.Note))
}

// EndedFront is how a front was left that waits for nobody, and what is still to be done there.
func (s *Sheet) EndedFront(j view.Joint) Text {
	said := Say("ended on purpose")
	if n := len(j.Treatments); n > 0 {
		t := j.Treatments[n-1]
		said = Join(" ", said, Say(s.Clock(t.At)), Join("", Say("("), Events([]string{t.Event}), Say("):")),
			Say(t.Method))
	}
	return Join("; ", said, Say("make it ready before placing on"))
}

// countdown is how long an open joint waits yet.
func (s *Sheet) countdown(in int, j view.Joint) {
	wait, isRange := s.Turns(j)
	at := s.Clocks(j.TurnsAt, j.TurnsLatest)
	switch {
	case wait == "":
		s.Para(in, 2, Sayf("When it turns cold is not known; %s of initial set used.", s.Used(j)))
	case isRange:
		s.Para(in, 2, Sayf("Cold %s, at %s: %s; %s of initial set used.", wait, at, RangeOf(j), s.Used(j)))
	default:
		s.Para(in, 2, Sayf("Cold %s, at %s; %s of initial set used.", wait, at, s.Used(j)))
	}
	if j.ClosesAt != nil && j.State == "live" {
		s.Para(in, 2, Sayf("Closes at %s.", s.Clock(*j.ClosesAt)))
	}
}

// MetresBrief is what of an edge is cold and open, in a few words.
func (s *Sheet) MetresBrief(j view.Joint) string {
	m := j.Metres
	switch {
	case m == nil:
		return ""
	case m.ColdPossibly > 0 && m.ColdSurely > 0:
		return fmt.Sprintf(", %s surely cold, %s at worst", s.Length(m.ColdSurely), s.Length(m.ColdPossibly))
	case m.ColdPossibly > 0:
		return fmt.Sprintf(", none surely cold, %s at worst", s.Length(m.ColdPossibly))
	case m.Open > 0:
		return fmt.Sprintf(", %s open", s.Length(m.Open))
	}
	return ""
}

// metres of an edge, as far as there are any of a kind.
func (s *Sheet) metres(in int, j view.Joint) {
	m := j.Metres
	if m == nil {
		return
	}
	if m.ColdPossibly > 0 {
		long := func(m float64) string {
			if m == 0 {
				return "none"
			}
			return s.Length(m)
		}
		s.Para(in, 2, Sayf("Cold: %s for certain, %s by where the batches lie, %s at worst.", long(m.ColdSurely),
			long(m.Cold), s.Length(m.ColdPossibly)))
	}
	var rest []string
	for _, part := range []struct {
		long float64
		is   string
	}{{m.Closing, "closing"}, {m.Live, "live"}, {m.Open, "still open"}, {m.Bare, "bare on both sides"}} {
		if part.long > 0 {
			rest = append(rest, s.Length(part.long)+" "+part.is)
		}
	}
	if len(rest) > 0 {
		s.Para(in, 2, Sayf("By where the batches lie: %s.", strings.Join(rest, ", ")))
	}
	if m.Contradicts != "" {
		s.Para(in, 2, Sayf("Does not agree: %s.", m.Contradicts))
	}
}

// The states as words. The view's own are live, closing and cold.
const (
	cold      = "COLD"
	maybeCold = "MAY BE COLD"
	closing   = "CLOSING"
)

// JointState is the state as a word that says how urgent it is. An edge whose soonest instant has passed since the view
// was made may be cold: its time was said, and is over.
func (s *Sheet) JointState(j view.Joint) Text {
	switch {
	case j.Ended && !j.Made:
		return Say("ended")
	case j.State == "cold":
		return Say(cold, Urgent)
	case !j.Made && j.TurnsAt != nil && !j.TurnsAt.After(s.Now):
		return Figure(maybeCold, Urgent)
	case j.State == "closing":
		return Say(closing, Soon)
	}
	return Figure(j.State)
}

// Where the joint is, from the side of the earlier material.
func Where(j view.Joint) string {
	name := CoatName(j.Zone, j.Face, j.Coat)
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

func (s *Sheet) edge(j view.Joint) string {
	if j.Length == 0 {
		return ""
	}
	return s.Length(j.Length)
}

// Used is the share of initial set, a range where the record allows one.
func (s *Sheet) Used(j view.Joint) string {
	return Between(s.Share(j.ConsumedLow), s.Share(j.ConsumedHigh))
}

// Turns says in how long the joint turns cold, or since when it is: "in 35–90 min", "since 12 min". Time left is shown
// short of the truth by up to a minute, never beyond it.
func (s *Sheet) Turns(j view.Joint) (wait string, isRange bool) {
	if j.TurnsAt == nil {
		return "", false
	}
	soonest := j.TurnsAt.Sub(s.Now)
	latest := soonest
	if j.TurnsLatest != nil && j.TurnsLatest.After(*j.TurnsAt) {
		latest = j.TurnsLatest.Sub(s.Now)
	}
	isRange = latest.Truncate(time.Minute) > soonest.Truncate(time.Minute)
	switch {
	case latest < time.Minute && latest > -time.Minute && !isRange:
		return "now", false
	case latest <= 0:
		return "since " + Between(Minutes(-latest), Minutes(-soonest)), isRange
	case soonest <= 0 && isRange:
		return "in 0–" + Minutes(latest), true
	}
	return "in " + Between(Minutes(soonest), Minutes(latest)), isRange
}

// RangeOf says why a joint's figures are from one to another.
func RangeOf(j view.Joint) string {
	if j.Note != "" {
		return "not known which placement runs along the edge"
	}
	return "from the oldest to the newest material along the edge"
}
