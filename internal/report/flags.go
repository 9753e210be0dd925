package report

import "hod/internal/view"

// Flags is what the record shows that a person should see, in the order of the view.
func Flags(v view.Flags, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "flags")
	s.blank()
	if len(v.Flags) == 0 {
		s.para(0, 2, say("No flags."))
	}
	for i, f := range v.Flags {
		if i > 0 {
			s.blank()
		}
		s.flag(f)
	}
	return s.String()
}

// flag in short: what, since when, and what was done about it.
func (s *sheet) flag(f view.Flag) {
	s.para(0, 6, lead(grave(f), 6, join(" ", say(f.ID), join(", ", say(f.Code), say(f.Subject), figure("since "+s.clock(f.Since))))))
	s.para(6, 0, say(f.Text))
	if f.Because != "" {
		s.para(6, 2, because(f))
	}
	s.para(6, 2, answer(f))
}

// answer is what was done. A flag that the record itself settles has an answer and nobody who gave it.
func answer(f view.Flag) text {
	if f.Open {
		return say("OPEN: not answered.", soon)
	}
	done := join(": ", say("Answered"), say(f.Answer))
	if f.Answerer != "" {
		done = join(" ", done, sayf("(%s)", f.Answerer))
	}
	return done
}

// because is why a person passed the rule over.
func because(f view.Flag) text {
	return join(": ", say("Because"), say(f.Because))
}

// Flag is the whole chain of one: why it stands, with every figure, the formula, the limit and its source, down to the
// events that it rests on.
func Flag(f view.Flag, p Page) string {
	// Its figures are words already, in the site's system.
	s := open(p, "", p.Now)
	weight := say("not grave")
	if f.Grave {
		weight = say("GRAVE", urgent)
	}
	s.para(0, 2, join(": ", join(" ", say("Flag", strong), say(f.ID, strong)), join(", ", say(f.Code), weight, say(f.Subject))))
	since := notKnown
	if !f.Since.IsZero() {
		since = f.Since.In(s.in).Format("Mon 2 Jan 2006 15:04") + ", UTC" + f.Since.In(s.in).Format("-07:00")
	}
	s.para(0, 2, join(" ", say("Since"), say(since)))
	s.blank()
	s.para(0, 0, say(f.Text))
	s.blank()
	if len(f.Evidence) > 0 {
		s.put(say("Evidence"))
		t := table{columns: []column{{least: 14}, {least: 16}}}
		for _, fact := range f.Evidence {
			t.row(say(fact.Name), say(fact.Value))
		}
		s.table(2, t)
	}
	const column = 9
	s.named(0, column, "Formula", say(f.Formula))
	s.named(0, column, "Limit", say(f.Limit))
	s.named(0, column, "Source", say(f.Source))
	s.named(0, column, "Events", list(f.Events))
	s.named(0, column, "Because", say(f.Because))
	s.named(0, column, "Answer", answer(f))
	if f.Caution != "" {
		s.blank()
		s.para(0, 9, join(" ", say("Caution:", strong), say(f.Caution)))
	}
	s.ownCopy()
	return s.String()
}
