package fold

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/unit"
)

// Flag is one fact that a person should see. Findings of one kind and one cause are one flag with a line each: eight
// coats that dried in the same afternoon are one thing to look at. The id is made of what the flag is about and not of
// its lines, so that it stays when a ninth joins late.
type Flag struct {
	ID      string // in full; people type the beginning of it
	Code    string
	Subject string
	Text    string
	Grave   bool
	Since   time.Time
	Gathers bool   // it may have several lines; then its id is not that of its line
	Lines   []Line // at least one; the worst first, else by time
	Said    string // what became of an answer that does not cover all lines; empty: nothing
}

// Line is a finding with what was done about it.
type Line struct {
	finding.Finding
	ID     string
	Answer *Answer // nil where nobody answered
	// Void are answers to an id of an older version that several findings go by. None of them is closed by it.
	Void []Answer
}

// Open reports whether nothing was done about it, by the record or by a person.
func (l Line) Open() bool { return l.Answer == nil && l.Settled == "" }

// Open reports whether a line of it is open.
func (f Flag) Open() bool { return slices.ContainsFunc(f.Lines, Line.Open) }

// Flags gathers findings into flags, in the order of the first line of each, with the answers to them.
//
// An answer covers the lines that it names, and the finding whose own id it names; one that names a flag of several and
// no lines covers those that rest on nothing written later. An id of five letters stands in answers of older versions:
// it is of the one finding or flag that goes by it, and where several do it covers none of them.
func (s *Site) Flags(findings []finding.Finding) []Flag {
	going, groups := map[string]int{}, map[string]bool{} // how many go by an id of five letters
	for _, f := range findings {
		for _, old := range f.OldIDs() {
			going[old]++
		}
		if g := f.GroupID(); g != "" && !groups[g] {
			groups[g] = true
			going[g[:finding.OldIDLetters]]++
		}
	}
	var all []Flag
	at, seen := map[string]int{}, map[string]int{}
	for _, f := range findings {
		l := Line{Finding: f, ID: f.ID()}
		if seen[l.ID]++; seen[l.ID] > 1 { // alike to the last word: still two, and answered one by one
			l.ID = finding.Hashed(finding.IDLetters, f.Code, f.Key, fmt.Sprint(seen[l.ID]))
		}
		s.answerLine(&l, going)
		flag := Flag{ID: l.ID, Code: f.Code, Subject: f.Subject, Text: f.Text, Since: f.Since}
		if g := f.GroupID(); g != "" {
			flag.ID, flag.Gathers = g, true
			s.answerAll(&l, g, going)
		}
		i, ok := at[flag.ID]
		if !ok {
			i = len(all)
			at[flag.ID] = i
			all = append(all, flag)
		}
		all[i].Lines = append(all[i].Lines, l)
	}
	for i := range all {
		s.gather(&all[i])
	}
	return all
}

// answerLine finds what was answered to one finding: the last by time.
func (s *Site) answerLine(l *Line, going map[string]int) {
	if a, ok := s.Answer(l.ID); ok {
		l.Answer = &a
	}
	for _, old := range l.OldIDs() {
		a, ok := s.Answer(old)
		switch {
		case !ok:
		case going[old] > 1:
			l.Void = append(l.Void, a)
		case l.Answer == nil || history.ByTime(l.Answer.Record, a.Record) < 0:
			l.Answer = &a
		}
	}
}

// answerAll lets an answer to a flag of several that names no lines cover a line which rests on nothing written after
// it.
func (s *Site) answerAll(l *Line, group string, going map[string]int) {
	for _, id := range []string{group, group[:finding.OldIDLetters]} {
		a, ok := s.Answer(id)
		if !ok || len(a.Lines) > 0 || id != group && going[id] > 1 || l.Answer != nil &&
			history.ByTime(l.Answer.Record, a.Record) >= 0 {
			continue
		}
		later := func(n event.Name) bool {
			r, known := s.Record(n)
			return known && history.ByLogged(a.Record, r) < 0
		}
		if !slices.ContainsFunc(l.Events, later) {
			l.Answer = &a
		}
	}
}

// gather words a flag of several lines and says what an answer to it no longer covers.
func (s *Site) gather(f *Flag) {
	slices.SortStableFunc(f.Lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(mixed.Rounded(b.Amount), mixed.Rounded(a.Amount)), a.Since.Compare(b.Since),
			cmp.Compare(a.ID, b.ID))
	})
	open := 0
	for _, l := range f.Lines {
		if l.Since.Before(f.Since) {
			f.Since = l.Since
		}
		f.Grave = f.Grave || l.Grave
		if l.Open() {
			open++
		}
	}
	if len(f.Lines) > 1 {
		f.Subject, f.Text = f.Lines[0].About, gathered(f.Code, len(f.Lines))
		// of some what waits for somebody; those answered are counted beside it
		switch i := slices.IndexFunc(f.Lines, Line.Open); {
		case open == 1:
			f.Text = f.Lines[i].Text
		case open > 1:
			f.Text = gathered(f.Code, open)
		}
	}
	if !f.Gathers || open == 0 || open == len(f.Lines) {
		return
	}
	f.Said = fmt.Sprintf("%d of %d lines answered, %d open", len(f.Lines)-open, len(f.Lines), open)
	if a, ok := s.Answer(f.ID); ok && len(a.Lines) > 0 {
		f.Said = fmt.Sprintf("It was answered by %s: %s; that covers the %s known then, and %s since", a.By, a.Text,
			unit.Count(len(a.Lines), "line", "lines"), came(open))
	}
}

func came(n int) string {
	if n == 1 {
		return "1 came"
	}
	return fmt.Sprintf("%d came", n)
}

// gathered says in one sentence what several lines of a code have in common.
func gathered(code string, n int) string {
	form, ok := map[string]string{
		finding.Weighing:        "%d batches were weighed further off than the plan allows",
		finding.UnitWeight:      "%d tests of unit weight are outside the mix's tolerance",
		finding.WaterLimit:      "%d batches have more water than the mix's w/cm limit allows",
		finding.HotMix:          "%d batches left the mixer too hot",
		finding.ColdMix:         "mortar was placed too cold in %d coats",
		finding.OldBatch:        "%d times a batch was placed after its working time",
		finding.CutShort:        "%d waits of the charging order were cut short",
		finding.PassedOver:      "%d times a rule was passed over",
		finding.NoFigures:       "%d batches have no figures",
		finding.UnknownRevision: "%d batches carry a revision of their mix that is not in the record",
		finding.Unplaced:        "of %d batches the record does not say where all went: write where they were placed, or discard them",
		finding.Drying:          "%d coats lay fresh and uncovered while they dried over the limit",
		finding.Washed:          "rain fell, or may have fallen, on %d coats while they were fresh and uncovered: look whether they are washed, paste gone and sand or fibres bare",
		finding.ClosedThin:      "%d coats count as finished and hold less than four fifths of what the plan says that they need",
		finding.UntreatedCoat:   "%d coats were placed on one that had set, and no treatment of the joint is in the record",
		finding.UnsaidEdge:      "%d joints may be cold: the record does not say which placements met there",
		finding.AsideFlag:       "%d events are set aside",
		finding.OddTime:         "%d events say that they happened after they were written; the times are doubtful, the events stand",
	}[code]
	if !ok {
		form = "%d times " + code
	}
	return fmt.Sprintf(form, n)
}
