package report

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/view/daily"
)

// Flags is what the record shows that a person should see, in the order of the view, each with all that is said of it.
func Flags(v daily.Flags, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "flags")
	s.Blank()
	if len(v.Flags) == 0 {
		s.Para(0, 2, Say("No flags."))
	}
	for i, f := range v.Flags {
		if i > 0 {
			s.Blank()
		}
		s.Flag(f)
	}
	return s.String()
}

// FlagsShort is that on one screen: how many are open, the grave ones, then the others, a few words each, and what to
// type. Where there are more than a screen holds, it says how many more of what.
func FlagsShort(v daily.Flags, p Page) string {
	if p.HTML { // a page scrolls
		return Flags(v, p)
	}
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "flags")
	grave := 0
	for _, f := range v.Flags {
		if f.Open && f.Grave {
			grave++
		}
	}
	s.Para(0, 2, flagCounts(v, grave))
	// How much of each there is room for, the roomiest first; the last is taken, cut where the screen ends.
	tries := []FlagRoom{
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
			one.FlagShort(f, room)
			if i == len(tries)-1 && len(s.Lines)+len(part.Lines)+len(one.Lines) > screen-1 && k < len(v.Flags)-1 {
				break
			}
			part.add(one)
			shown++
		}
		if i < len(tries)-1 && len(s.Lines)+len(part.Lines) > screen-1 {
			continue
		}
		s.add(part)
		if shown < len(v.Flags) {
			s.Para(2, 2, MoreFlags(v.Flags[shown:]))
		}
		break
	}
	if len(v.Flags) > 0 {
		s.Para(0, 2, Say("What one rests on: hod why ID. What was done about it: hod answer ID WORDS."))
	}
	return s.String()
}

// FlagRoom is how many lines a grave flag and another may take, how many single facts of it are named, and whether what
// to type about either is.
type FlagRoom struct {
	Grave, Other, Briefs int
	GraveDo, OtherDo     bool
}

func flagCounts(v daily.Flags, grave int) Text {
	if v.Open == 0 {
		return Join("; ", Say("No flag is open"), Sayf("%d answered (--all)", v.Answered))
	}
	t := Sayf("%d open", v.Open)
	if grave > 0 {
		t = Join(", ", t, Figure(fmt.Sprintf("%d GRAVE", grave), Urgent))
	}
	if v.Answered > 0 {
		t = Join("; ", t, Sayf("%d answered (--all)", v.Answered))
	}
	return t
}

// FlagShort is a flag in as much room as there is. In one line it is what it is about and its figure.
func (s *Sheet) FlagShort(f daily.Flag, room FlagRoom) {
	most, do := room.Other, room.OtherDo
	if f.Grave {
		most, do = room.Grave, room.GraveDo
	}
	words := Join(" ", Say(f.ID), Join(": ", Say(f.Code), Say(FlagText(f)), briefly(f, room.Briefs)))
	lines := most
	if most == 1 && f.Brief != "" {
		subject := f.Subject
		if strings.Contains(f.Brief, subject) {
			subject = ""
		}
		words = Join(" ", Say(f.ID), Join(": ", Say(f.Code), Say(subject), Say(f.Brief)))
		if room.Briefs > 0 { // a figure that is cut short says nothing
			lines = 2
		}
	}
	switch {
	case !f.Open:
		words = Join(" ", words, answer(f))
	case f.Note != "" && most > 1:
		words = Join(". ", words, Say(f.Note))
	}
	s.ParaMost(0, 6, lines, Lead(Grave(f), 6, words))
	if f.Because != "" && most > 1 {
		s.ParaMost(6, 2, most-1, Because(f))
	}
	if !do || !f.Open || len(f.Do) == 0 {
		return
	}
	typed := Say("`" + f.Do[0] + "`")
	if len(f.Do) > 1 {
		typed = Join(" ", typed, Sayf("and %d more: hod why %s", len(f.Do)-1, f.ID))
	}
	s.ParaMost(6, 2, 2, Join(" ", Say(doing(f)), typed))
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
func briefly(f daily.Flag, most int) Text {
	if len(f.Lines) < 2 || most == 0 {
		return nil
	}
	var all []Text
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
			all = append(all, Say(l.Subject))
		default:
			all = append(all, Say(l.Brief))
		}
	}
	if rest > 0 {
		all = append(all, Sayf("and %d more", rest))
	}
	return Join("; ", all...)
}

// MoreFlags counts what a screen has no room for, by what it is.
func MoreFlags(flags []daily.Flag) Text {
	return Sayf("and %d more: %s. hod flags --long shows them", len(flags), CountCodes(flags))
}

// CountCodes is how many of each there are, by what it is.
func CountCodes(flags []daily.Flag) string {
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

// Flag with all that is said of it: what, since when, each fact of several, and what was done about it.
func (s *Sheet) Flag(f daily.Flag) {
	s.Para(0, 6, Lead(Grave(f), 6, Join(" ", Say(f.ID).To("flag", f.FullID),
		Join(", ", Say(f.Code), Say(f.Subject), Figure("since "+s.Clock(f.Since))))))
	s.Para(6, 0, Say(f.Text))
	if len(f.Lines) > 1 {
		s.flagLines(f)
	} else if f.Because != "" {
		s.Para(6, 2, Because(f))
	}
	s.Para(6, 2, answer(f))
	s.Para(6, 2, Say(f.Note))
	if f.Open {
		for _, do := range f.Do {
			s.Para(6, 2, Join(" ", Say(doing(f)), Say("`"+do+"`")))
		}
	}
}

// flagLines are the single facts of a flag.
func (s *Sheet) flagLines(f daily.Flag) {
	for _, l := range f.Lines {
		what := l.Brief
		if what == "" {
			what = l.Subject
		}
		state := Text(nil)
		if !l.Open {
			state = Join(" ", Say("Answered:"), Linked(l.Answer, l.Events...))
		}
		reason := Text(nil)
		if l.Because != "" {
			reason = Join(" ", Say("Because:"), Say(l.Because))
		}
		s.Para(6, 2, Join(". ", Join(" ", Say(l.ID).To("flag", l.FullID), Say(s.Clock(l.Since)), Say(what)), reason,
			state, Say(l.Note)))
	}
}

// answer is what was done. A flag that the record itself settles has an answer and nobody who gave it.
func answer(f daily.Flag) Text {
	if f.Open {
		return Say("OPEN: not answered.", Soon)
	}
	done := Join(": ", Say("Answered"), Linked(f.Answer, f.Events...))
	if f.Answerer != "" {
		done = Join(" ", done, Linked("("+f.Answerer+")", strings.Split(f.Answerer, ", ")...))
	}
	return done
}

// Because is why a person passed the rule over.
func Because(f daily.Flag) Text {
	return Join(": ", Say("Because"), Say(f.Because))
}

// Flag is the whole chain of one: why it stands, with every figure, the formula, the limit and its source, down to the
// events that it rests on.
func Flag(f daily.Flag, p Page) string {
	// Its figures are words already, in the site's system.
	s := Open(p, "", p.Now)
	weight := Say("not grave")
	if f.Grave {
		weight = Say("GRAVE", Urgent)
	}
	s.Para(0, 2, Join(": ", Join(" ", Say("Flag", strong), Say(f.ID, strong)),
		Join(", ", Say(f.Code), weight, Say(f.Subject))))
	since := NotKnown
	if !f.Since.IsZero() {
		since = f.Since.In(s.In).Format("Mon 2 Jan 2006 15:04") + ", UTC" + f.Since.In(s.In).Format("-07:00")
	}
	s.Para(0, 2, Join(" ", Say("Since"), Say(since)))
	s.Blank()
	s.Para(0, 0, Say(f.Text))
	s.Blank()
	if len(f.Lines) > 1 {
		s.Para(0, 2, Say("Each may be looked at (hod why ID) and answered by itself"))
		t := Table{Columns: []Column{{Least: 5}, {Least: 12}, {Least: 16}, {Least: 4}}}
		for _, l := range f.Lines {
			state := Say("open")
			if !l.Open {
				state = Linked("answered: "+l.Answer, l.Events...)
			}
			t.Row(Say(l.ID).To("flag", l.FullID), Figure(l.Since.In(s.In).Format("2 Jan 15:04")), Say(l.Text),
				state)
		}
		s.Table(2, t)
	}
	if len(f.Evidence) > 0 {
		s.put(Say("Evidence"))
		t := Table{Columns: []Column{{Least: 14}, {Least: 16}}}
		for _, fact := range f.Evidence {
			t.Row(Say(fact.Name), Say(fact.Value))
		}
		s.Table(2, t)
	}
	const column = 9
	s.Named(0, column, "Formula", Say(f.Formula))
	s.Named(0, column, "Limit", Say(f.Limit))
	s.Named(0, column, "Source", Say(f.Source))
	s.Named(0, column, "Events", Events(f.Events))
	s.Named(0, column, "Because", Say(f.Because))
	s.Named(0, column, "Answer", Join(" ", answer(f), Say(f.Note)))
	if f.Open {
		for _, do := range f.Do {
			s.Named(0, column, "Type", Join(" ", Say(strings.ToLower(doing(f))), Say("`"+do+"`")))
		}
	}
	if f.Caution != "" {
		s.Blank()
		s.Para(0, 9, Join(" ", Say("Caution:", strong), Say(f.Caution)))
	}
	s.OwnCopy()
	return s.String()
}
