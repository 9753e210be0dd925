package report

import (
	"slices"
	"strings"
	"time"

	"hod/internal/view"
)

// Log is the record in words, a day under its date, in the order of the view.
func Log(v view.Log, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "log")
	if len(v.Entries) == 0 {
		s.blank()
		s.para(0, 2, say("No events."))
	}
	for from := 0; from < len(v.Entries); {
		day := s.day(v.Entries[from].At)
		to := from + 1
		for to < len(v.Entries) && s.day(v.Entries[to].At) == day {
			to++
		}
		s.section(day, nil)
		s.entries(v.Entries[from:to], false)
		from = to
	}
	s.legend(v.Entries)
	return s.String()
}

// legend says what the words mean that stand before entries which do not simply hold.
func (s *sheet) legend(all []view.Entry) {
	means := map[string]string{
		"set aside": "Set aside: kept, and counted in nothing until what it lacks is there or somebody corrects it.",
		"conflict":  "Conflict: corrected or planned in two ways; a foreman settles it, which is to say which one holds: hod settle EVENT.",
	}
	for _, state := range []string{"set aside", "conflict"} {
		if slices.ContainsFunc(all, func(e view.Entry) bool { return e.State == state }) {
			s.para(0, 2, say(means[state]))
		}
	}
}

// lateAfter is how much later than it happened an event is written before it is said.
const lateAfter = 10 * time.Minute

// entries are a table; dated says that the day is shown where it is not the page's.
func (s *sheet) entries(all []view.Entry, dated bool) {
	t := table{columns: []column{
		{name: "event", least: 8, plain: true},
		{name: "at", right: true, plain: true},
		{name: "who", least: 9, drop: 2, plain: true},
		{name: "kind", least: 8, drop: 1, plain: true},
		{name: "what", least: 22, plain: true},
	}}
	for _, e := range all {
		at := s.clock(e.At)
		if !dated && !e.At.IsZero() {
			at = e.At.In(s.in).Format("15:04")
		}
		var late text
		if e.LoggedAt.Sub(e.At) >= lateAfter {
			late = sayf("(written %s)", s.clock(e.LoggedAt))
		}
		if e.Late {
			late = sayf("(LATE: written %s)", s.clock(e.LoggedAt))
		}
		var moved text
		if e.Moved != "" {
			moved = say("MOVED: " + e.Moved)
		}
		t.row(say(e.Name).to("event", e.Name), figure(at), join(" ", say(e.Crew), say(e.Person)), say(e.Kind),
			join(" ", standing(e), say(e.Text), moved, late, reason(e)))
	}
	s.table(0, t)
}

// standing is said of what does not simply hold.
func standing(e view.Entry) text {
	switch e.State {
	case "", "holds":
		return nil
	case "set aside", "conflict":
		return say(strings.ToUpper(e.State)+":", urgent)
	}
	return say(strings.ToUpper(e.State)+":", soon)
}

func reason(e view.Entry) text {
	why := join(": ", say(e.Code), say(e.Reason))
	if why.empty() {
		return nil
	}
	return append(append(text{{s: "[", as: plain}}, why...), span{s: "]", as: plain})
}
