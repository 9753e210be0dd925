package report

import (
	"slices"
	"strings"
	"time"

	"hod/internal/view"
)

// Log is the record in words, a day under its date, in the order of the view.
func Log(v view.Log, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "log")
	if len(v.Entries) == 0 {
		s.Blank()
		s.Para(0, 2, Say("No events."))
	}
	for from := 0; from < len(v.Entries); {
		day := s.Day(v.Entries[from].At)
		to := from + 1
		for to < len(v.Entries) && s.Day(v.Entries[to].At) == day {
			to++
		}
		s.Section(day, nil)
		s.Entries(v.Entries[from:to], false)
		from = to
	}
	s.Legend(v.Entries)
	return s.String()
}

// Legend says what the words mean that stand before entries which do not simply hold.
func (s *Sheet) Legend(all []view.Entry) {
	means := map[string]string{
		"set aside": "Set aside: kept, and counted in nothing until what it lacks is there or somebody corrects it.",
		"conflict":  "Conflict: corrected or planned in two ways; a foreman settles it, which is to say which one holds: hod settle EVENT.",
	}
	for _, state := range []string{"set aside", "conflict"} {
		if slices.ContainsFunc(all, func(e view.Entry) bool { return e.State == state }) {
			s.Para(0, 2, Say(means[state]))
		}
	}
}

// lateAfter is how much later than it happened an event is written before it is said.
const lateAfter = 10 * time.Minute

// Entries are a table; dated says that the day is shown where it is not the page's.
func (s *Sheet) Entries(all []view.Entry, dated bool) {
	t := Table{Columns: []Column{
		{Name: "event", Least: 8, plain: true},
		{Name: "at", Right: true, plain: true},
		{Name: "who", Least: 9, Drop: 2, plain: true},
		{Name: "kind", Least: 8, Drop: 1, plain: true},
		{Name: "what", Least: 22, plain: true},
	}}
	for _, e := range all {
		at := s.Clock(e.At)
		if !dated && !e.At.IsZero() {
			at = e.At.In(s.In).Format("15:04")
		}
		var late Text
		if e.LoggedAt.Sub(e.At) >= lateAfter {
			late = Sayf("(written %s)", s.Clock(e.LoggedAt))
		}
		if e.Late {
			late = Sayf("(LATE: written %s)", s.Clock(e.LoggedAt))
		}
		var moved Text
		if e.Moved != "" {
			moved = Say("MOVED: " + e.Moved)
		}
		t.Row(Say(e.Name).To("event", e.Name), Figure(at), Join(" ", Say(e.Crew), Say(e.Person)), Say(e.Kind),
			Join(" ", Standing(e), Say(e.Text), moved, late, Reason(e)))
	}
	s.Table(0, t)
}

// Standing is said of what does not simply hold.
func Standing(e view.Entry) Text {
	switch e.State {
	case "", "holds":
		return nil
	case "set aside", "conflict":
		return Say(strings.ToUpper(e.State)+":", Urgent)
	}
	return Say(strings.ToUpper(e.State)+":", Soon)
}

// Reason is why an event is set aside, in words.
func Reason(e view.Entry) Text {
	why := Join(": ", Say(e.Code), Linked(e.Reason, append(slices.Clone(e.CorrectedBy), e.Corrects)...))
	if why.Empty() {
		return nil
	}
	return append(append(Text{{s: "[", as: Plain}}, why...), span{s: "]", as: Plain})
}
