package report

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// screen is how many lines the board may take: those of a terminal as it opens.
const screen = 24

// Board is the site on one screen: what is about to go wrong, then how far each coat is, what is left, the weather and
// the crews. Where there is more than a screen holds, it says how much more; on a page under 80 columns it may be
// longer.
func Board(v daily.Board, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "board")
	s.serverNotice(v.ServerNotice)
	s.nextCold(v)
	s.verdict(v)
	s.SetTests(v.SetTests, "today")
	if p.HTML { // a page scrolls
		s.boardEdges(v.LiveEdges, len(v.LiveEdges))
		s.oldEdges(v.OldEdges)
		s.boardFlags(v.Flags, len(v.Flags))
		s.add(s.boardCoats(byState(v.Zones), len(v.Zones)))
		s.boardFoot(v)
		return s.String()
	}
	s.boardFitted(v)
	return s.String()
}

// boardFitted is what is below the verdict, in the roomiest layout that fits a screen.
func (s *Sheet) boardFitted(v daily.Board) {
	foot := s.apart()
	foot.boardFoot(v)
	// How much of each part there is room for, the roomiest first; the last is taken even if it is too long.
	tries := []struct {
		blanks              bool
		edges, flags, coats int
	}{
		{true, 6, 5, len(v.Zones)},
		{true, 5, 4, 8},
		{true, 4, 3, 6},
		{false, 4, 3, 5},
		{false, 4, 2, 4},
		{false, 4, 2, 3},
		{false, 3, 2, 4},
		{false, 3, 2, 3},
		{false, 3, 1, 3},
	}
	for i, try := range tries {
		top := s.apart()
		top.boardEdges(v.LiveEdges, try.edges)
		top.oldEdges(v.OldEdges)
		if try.blanks {
			top.Blank()
		}
		top.boardFlags(v.Flags, try.flags)
		room := screen - len(s.Lines) - len(top.Lines) - len(foot.Lines)
		if try.blanks {
			room -= 2
		}
		order, want := byState(v.Zones), min(try.coats, len(v.Zones))
		coats := min(len(order), max(room, 0))
		for coats > 0 && len(s.boardCoats(order, coats).Lines) > room {
			coats--
		}
		if coats < want && i < len(tries)-1 {
			continue
		}
		if try.blanks {
			s.Blank()
			top.Blank()
		}
		s.add(top)
		s.add(s.boardCoats(order, max(coats, want)))
		s.add(foot)
		break
	}
}

// verdict is the line to read where there is time for one.
func (s *Sheet) verdict(v daily.Board) {
	edges := map[string]int{}
	for _, j := range v.LiveEdges {
		edges[s.JointState(j).String()]++
	}
	grave := 0
	for _, f := range v.Flags {
		if f.Grave {
			grave++
		}
	}
	var parts []Text
	some := func(n int, one, many string, as Style) {
		if n > 0 {
			parts = append(parts, Figure(Count(n, one, many), as))
		}
	}
	for _, word := range []string{cold, maybeCold} {
		some(edges[word], "edge "+word, "edges "+word, Urgent)
	}
	some(edges[closing], "edge "+closing, "edges "+closing, Soon)
	some(grave, "GRAVE flag", "GRAVE flags", Urgent)
	if w := v.Weather; w != nil {
		switch {
		case w.OverLimit != nil && *w.OverLimit:
			parts = append(parts, Figure("drying "+overLimit, Urgent))
		case w.OverLimit == nil && len(w.FreshUncovered) > 0:
			parts = append(parts, Figure("drying "+NotKnown, Soon))
		}
	}
	if len(parts) == 0 {
		s.Para(0, 2, Say("Nothing pressing in the record."))
		return
	}
	s.Para(0, 2, Join(" ", Say("Look at:", strong), Join(", ", parts...)))
}

func (s *Sheet) boardEdges(joints []view.Joint, most int) {
	if len(joints) == 0 { // which the first line says
		return
	}
	t := Table{Columns: []Column{
		{Name: "EDGES"},
		{Name: "turns cold"},
		{Name: "at", Drop: 1},
		{Name: "where", Least: 12},
		{Name: "set used", Right: true, Drop: 2},
	}}
	ranged := ""
	shown := min(len(joints), most)
	for _, j := range joints[:shown] {
		wait, isRange := s.Turns(j)
		if isRange {
			ranged = RangeOf(j)
		}
		t.Row(s.JointState(j), Figure(wait), Figure(s.Clocks(j.TurnsAt, j.TurnsLatest)), Say(Where(j)+s.MetresBrief(j)),
			Figure(s.Used(j)))
	}
	s.Table(0, t)
	if ranged != "" {
		s.Para(2, 2, Say("A range: "+ranged+"."))
	}
	if rest := joints[shown:]; len(rest) > 0 {
		more := fmt.Sprintf("and %d more", len(rest))
		if wait, _ := s.Turns(rest[0]); wait != "" {
			more += ", the next " + wait
		}
		s.Para(2, 2, Say(more))
	}
}

func (s *Sheet) boardFlags(flags []daily.Flag, most int) {
	if len(flags) == 0 {
		s.Para(0, 2, Say("No open flags."))
		return
	}
	shown := min(len(flags), most)
	for i, f := range flags[:shown] {
		// The first of the grave ones may take a second line: it is why somebody looks at the board.
		lines := 1
		if i == 0 && f.Grave {
			lines = 2
		}
		s.ParaMost(0, 6, lines, Lead(Grave(f), 6, Join(" ", Say(f.ID), Say(FlagText(f)))))
		if f.Because != "" {
			s.ParaMost(6, 2, 1, Because(f))
		}
	}
	if rest := len(flags) - shown; rest > 0 {
		n := 0
		for _, f := range flags[shown:] {
			if f.Grave {
				n++
			}
		}
		more := "and " + Count(rest, "more flag", "more flags")
		if n > 0 {
			more += fmt.Sprintf(", %d of them GRAVE", n)
		}
		s.Para(2, 2, Say(more))
	}
}

// Grave is the flag's weight in a word.
func Grave(f daily.Flag) Text {
	if f.Grave {
		return Say("GRAVE", Urgent)
	}
	return Say("flag")
}

// FlagText begins with what the flag is about, unless its text names it.
func FlagText(f daily.Flag) string {
	if f.Subject == "" || strings.Contains(f.Text, f.Subject) {
		return f.Text
	}
	return f.Subject + ": " + f.Text
}

func inHand(state string) int {
	switch state {
	case "waiting":
		return 1
	case "done":
		return 2
	}
	return 0
}

// byState puts the coats under way first, then those that wait, then those done; else as planned.
func byState(lines []view.CoatLine) []view.CoatLine {
	order := slices.Clone(lines)
	slices.SortStableFunc(order, func(a, b view.CoatLine) int { return inHand(a.State) - inHand(b.State) })
	return order
}

// boardCoats shows the first so many coats and says how many more there are.
func (s *Sheet) boardCoats(order []view.CoatLine, shown int) *Sheet {
	part := s.apart()
	if len(order) == 0 {
		part.Para(0, 2, Say("No coats are planned."))
		return part
	}
	part.Coats("ZONES", order[:shown])
	var counts [3]int
	for _, l := range order[shown:] {
		counts[inHand(l.State)]++
	}
	var more []Text
	for i, word := range []string{"under way", "waiting", "done"} {
		if counts[i] > 0 {
			more = append(more, Sayf("%d more %s", counts[i], word))
		}
	}
	if len(more) > 0 {
		part.Para(2, 2, Join(" ", Say("and"), Join(", ", more...)))
	}
	return part
}

// Coats is the table of progress.
func (s *Sheet) Coats(name string, lines []view.CoatLine) {
	t := Table{Columns: []Column{
		{Name: name, Least: 16},
		{Name: "state"},
		{Name: "placed", Right: true, Drop: 4},
		{Name: "left", Right: true, Drop: 3},
		{Name: "mean of design", Right: true},
		{Name: "batches", Right: true, Drop: 6},
		{Name: "mix", Least: 8, Drop: 7},
		{Name: "last at", Right: true, Drop: 5},
	}}
	for _, l := range lines {
		batches := ""
		if l.Batches != 0 {
			batches = strings.Fields(Part(l.Batches))[0]
		}
		state := l.State
		if l.Complete != nil && state == "under way" {
			state += " " + s.Share(*l.Complete)
		}
		t.Row(Say(CoatName(l.Zone, l.Face, l.Coat)).To("zone", l.Zone), Figure(state), Figure(s.Volume(l.PlacedM3)),
			Figure(s.Volume(l.LeftM3)),
			Figure(Against(s.Thickness(l.MeanThicknessM), s.Thickness(l.DesignM))), Figure(batches), Say(l.Mix),
			Figure(s.MaybeClock(l.LastPlacedAt)))
	}
	s.Table(0, t)
}

// boardFoot is what is left, the weather and the crews, each behind its name.
func (s *Sheet) boardFoot(v daily.Board) {
	hang, column := 2, 9
	if s.width >= narrow {
		hang = column
	}
	put := func(name string, t Text) { s.ParaMost(0, hang, 4, Lead(Say(name, strong), column, t)) }
	unplaced := slices.ContainsFunc(v.Zones, func(l view.CoatLine) bool { return l.LeftM3 > 1e-6 })
	switch b := v.BatchesLeft; {
	case b != nil && b.P90 > 0:
		put("LEFT", Say(Left(*b)))
	case b != nil && slices.ContainsFunc(v.Zones, func(l view.CoatLine) bool { return l.State != "done" }):
		put("LEFT", Say("nothing more to mix, as far as can be said; not all is finished"))
	case unplaced:
		put("LEFT", Say("not known in batches"))
	case len(v.Zones) > 0:
		put("LEFT", Say("nothing to mix"))
	}
	if o := v.Order; o != nil {
		order := Sayf("from %s, %s: %s, %s", s.clockOnly(o.Start), strings.Join(o.Crews, ", "),
			Count(int(o.Batches), "batch", "batches"), bayNames(o.Bays))
		if o.Came != nil {
			order = Join("; ", order, Sayf("%d placed so far", o.Came.Batches))
		}
		put("ORDER", order)
	}
	if o := v.NextOrder; o != nil {
		put("ORDER", Sayf("of %s: from %s, %s: %s, %s", o.Date, s.clockOnly(o.Start), strings.Join(o.Crews, ", "),
			Count(int(o.Batches), "batch", "batches"), bayNames(o.Bays)))
	}
	if len(v.Taken) > 0 {
		put("TAKEN", s.takenAll(v.Taken))
	}
	if v.Weather == nil {
		put("WEATHER", Say("not read"))
	} else {
		put("WEATHER", s.sky(*v.Weather))
	}
	var crews []Text
	for _, c := range v.Crews {
		heard := Text(nil)
		if c.LastEventAt != nil {
			heard = Sayf("heard %s", s.Clock(*c.LastEventAt))
		}
		crews = append(crews, Join(", ", Sayf("%s %s", c.Crew, Count(c.Batches, "batch", "batches")),
			Say(s.Volume(c.PlacedM3)+" placed"), heard))
	}
	if len(crews) > 0 {
		put("CREWS", Join("; ", crews...))
	}
}

// sky is the weather in a sentence: the evaporation against its limit, and what was read, of one reading; then what was
// read since.
func (s *Sheet) sky(c view.Conditions) Text {
	what := Join(", ", Say(Maybe(c.AirC, s.Temperature)), Say(Maybe(c.Humidity, s.humid)),
		Say(Maybe(c.WindMPS, s.windy)))
	parts := []Text{append(Say("evaporation "), s.dryingJudged(c)...), what}
	if len(c.Since) > 0 {
		parts = append(parts, append(Say("since then "), s.since(c.Since[0])...))
	}
	return Join(": ", Say(s.read(c)), Join("; ", parts...))
}
