package report

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/view/daily"
)

// Flags is what the record shows that a person should see, in the order of the view, each with all that is said of it.
func Flags(v daily.Flags, p Page) string {
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

// FlagsShort is that on one screen: how many are open, the grave ones, then the others, a few words each, and what to
// type. Where there are more than a screen holds, it says how many more of what.
func FlagsShort(v daily.Flags, p Page) string {
	if p.HTML { // a page scrolls
		return Flags(v, p)
	}
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "flags")
	grave := 0
	for _, f := range v.Flags {
		if f.Open && f.Grave {
			grave++
		}
	}
	s.para(0, 2, flagCounts(v, grave))
	// How much of each there is room for, the roomiest first; the last is taken, cut where the screen ends.
	tries := []flagRoom{
		{4, 3, 2, true, true},
		{3, 2, 1, true, false},
		{2, 1, 1, true, false},
		{2, 1, 1, false, false},
		{1, 1, 0, false, false},
	}
	for i, room := range tries {
		part := s.apart()
		shown := 0
		for k, f := range v.Flags {
			one := s.apart()
			one.flagShort(f, room)
			if i == len(tries)-1 && len(s.lines)+len(part.lines)+len(one.lines) > screen-1 && k < len(v.Flags)-1 {
				break
			}
			part.add(one)
			shown++
		}
		if i < len(tries)-1 && len(s.lines)+len(part.lines) > screen-1 {
			continue
		}
		s.add(part)
		if shown < len(v.Flags) {
			s.para(2, 2, moreFlags(v.Flags[shown:]))
		}
		break
	}
	if len(v.Flags) > 0 {
		s.para(0, 2, say("What one rests on: hod why ID. What was done about it: hod answer ID WORDS."))
	}
	return s.String()
}

// flagRoom is how many lines a grave flag and another may take, how many single facts of it are named, and whether what
// to type about either is.
type flagRoom struct {
	grave, other, briefs int
	graveDo, otherDo     bool
}

func flagCounts(v daily.Flags, grave int) text {
	if v.Open == 0 {
		return join("; ", say("No flag is open"), sayf("%d answered (--all)", v.Answered))
	}
	t := sayf("%d open", v.Open)
	if grave > 0 {
		t = join(", ", t, figure(fmt.Sprintf("%d GRAVE", grave), urgent))
	}
	if v.Answered > 0 {
		t = join("; ", t, sayf("%d answered (--all)", v.Answered))
	}
	return t
}

// flagShort is a flag in as much room as there is. In one line it is what it is about and its figure.
func (s *sheet) flagShort(f daily.Flag, room flagRoom) {
	most, do := room.other, room.otherDo
	if f.Grave {
		most, do = room.grave, room.graveDo
	}
	words := join(" ", say(f.ID), join(": ", say(f.Code), say(flagText(f)), briefly(f, room.briefs)))
	lines := most
	if most == 1 && f.Brief != "" {
		subject := f.Subject
		if strings.Contains(f.Brief, subject) {
			subject = ""
		}
		words = join(" ", say(f.ID), join(": ", say(f.Code), say(subject), say(f.Brief)))
		if room.briefs > 0 { // a figure that is cut short says nothing
			lines = 2
		}
	}
	switch {
	case !f.Open:
		words = join(" ", words, answer(f))
	case f.Note != "" && most > 1:
		words = join(". ", words, say(f.Note))
	}
	s.paraMost(0, 6, lines, lead(grave(f), 6, words))
	if f.Because != "" && most > 1 {
		s.paraMost(6, 2, most-1, because(f))
	}
	if !do || !f.Open || len(f.Do) == 0 {
		return
	}
	typed := say("`" + f.Do[0] + "`")
	if len(f.Do) > 1 {
		typed = join(" ", typed, sayf("and %d more: hod why %s", len(f.Do)-1, f.ID))
	}
	s.paraMost(6, 2, 2, join(" ", say(doing(f)), typed))
}

// doing says when the commands of a flag are to be typed: what it asks is not what was done.
func doing(f daily.Flag) string {
	switch f.Code {
	case "unsaid-edge":
		return "If it was that one:"
	case "doubtful-value":
		return "If that was meant:"
	case "conflict":
		return "If this one holds:"
	}
	return "Once done:"
}

// briefly names the first so many open facts of a flag of several.
func briefly(f daily.Flag, most int) text {
	if len(f.Lines) < 2 || most == 0 {
		return nil
	}
	var all []text
	rest, open := 0, 0
	for _, l := range f.Lines {
		if l.Open {
			open++
		}
	}
	if open == 1 { // the text says it
		return nil
	}
	for _, l := range f.Lines {
		switch {
		case l.Open != f.Open:
		case len(all) == most:
			rest++
		case l.Brief == "":
			all = append(all, say(l.Subject))
		default:
			all = append(all, say(l.Brief))
		}
	}
	if rest > 0 {
		all = append(all, sayf("and %d more", rest))
	}
	return join("; ", all...)
}

// moreFlags counts what a screen has no room for, by what it is.
func moreFlags(flags []daily.Flag) text {
	return sayf("and %d more: %s. hod flags --long shows them", len(flags), countCodes(flags))
}

// countCodes is how many of each there are, by what it is.
func countCodes(flags []daily.Flag) string {
	n := map[string]int{}
	var codes []string
	for _, f := range flags {
		if n[f.Code]++; n[f.Code] == 1 {
			codes = append(codes, f.Code)
		}
	}
	slices.Sort(codes)
	for i, c := range codes {
		codes[i] = fmt.Sprintf("%d %s", n[c], c)
	}
	return strings.Join(codes, ", ")
}

// flag with all that is said of it: what, since when, each fact of several, and what was done about it.
func (s *sheet) flag(f daily.Flag) {
	s.para(0, 6, lead(grave(f), 6, join(" ", say(f.ID).to("flag", f.FullID),
		join(", ", say(f.Code), say(f.Subject), figure("since "+s.clock(f.Since))))))
	s.para(6, 0, say(f.Text))
	if len(f.Lines) > 1 {
		s.flagLines(f)
	} else if f.Because != "" {
		s.para(6, 2, because(f))
	}
	s.para(6, 2, answer(f))
	s.para(6, 2, say(f.Note))
	if f.Open {
		for _, do := range f.Do {
			s.para(6, 2, join(" ", say(doing(f)), say("`"+do+"`")))
		}
	}
}

// flagLines are the single facts of a flag.
func (s *sheet) flagLines(f daily.Flag) {
	for _, l := range f.Lines {
		what := l.Brief
		if what == "" {
			what = l.Subject
		}
		state := text(nil)
		if !l.Open {
			state = join(" ", say("Answered:"), say(l.Answer))
		}
		reason := text(nil)
		if l.Because != "" {
			reason = join(" ", say("Because:"), say(l.Because))
		}
		s.para(6, 2, join(". ", join(" ", say(l.ID).to("flag", l.FullID), say(s.clock(l.Since)), say(what)), reason,
			state, say(l.Note)))
	}
}

// answer is what was done. A flag that the record itself settles has an answer and nobody who gave it.
func answer(f daily.Flag) text {
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
func because(f daily.Flag) text {
	return join(": ", say("Because"), say(f.Because))
}

// Flag is the whole chain of one: why it stands, with every figure, the formula, the limit and its source, down to the
// events that it rests on.
func Flag(f daily.Flag, p Page) string {
	// Its figures are words already, in the site's system.
	s := open(p, "", p.Now)
	weight := say("not grave")
	if f.Grave {
		weight = say("GRAVE", urgent)
	}
	s.para(0, 2, join(": ", join(" ", say("Flag", strong), say(f.ID, strong)),
		join(", ", say(f.Code), weight, say(f.Subject))))
	since := notKnown
	if !f.Since.IsZero() {
		since = f.Since.In(s.in).Format("Mon 2 Jan 2006 15:04") + ", UTC" + f.Since.In(s.in).Format("-07:00")
	}
	s.para(0, 2, join(" ", say("Since"), say(since)))
	s.blank()
	s.para(0, 0, say(f.Text))
	s.blank()
	if len(f.Lines) > 1 {
		s.para(0, 2, say("Each may be looked at (hod why ID) and answered by itself"))
		t := table{columns: []column{{least: 5}, {least: 12}, {least: 16}, {least: 4}}}
		for _, l := range f.Lines {
			state := "open"
			if !l.Open {
				state = "answered: " + l.Answer
			}
			t.row(say(l.ID).to("flag", l.FullID), figure(l.Since.In(s.in).Format("2 Jan 15:04")), say(l.Text),
				say(state))
		}
		s.table(2, t)
	}
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
	s.named(0, column, "Events", events(f.Events))
	s.named(0, column, "Because", say(f.Because))
	s.named(0, column, "Answer", join(" ", answer(f), say(f.Note)))
	if f.Open {
		for _, do := range f.Do {
			s.named(0, column, "Type", join(" ", say(strings.ToLower(doing(f))), say("`"+do+"`")))
		}
	}
	if f.Caution != "" {
		s.blank()
		s.para(0, 9, join(" ", say("Caution:", strong), say(f.Caution)))
	}
	s.ownCopy()
	return s.String()
}
