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
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "board")
	s.serverNotice(v.ServerNotice)
	s.nextCold(v)
	s.verdict(v)
	s.setTests(v.SetTests, "today")
	if p.HTML { // a page scrolls
		s.boardEdges(v.LiveEdges, len(v.LiveEdges))
		s.oldEdges(v.OldEdges)
		s.boardFlags(v.Flags, len(v.Flags))
		s.add(s.boardCoats(byState(v.Zones), len(v.Zones)))
		s.boardFoot(v)
		return s.String()
	}
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
			top.blank()
		}
		top.boardFlags(v.Flags, try.flags)
		room := screen - len(s.lines) - len(top.lines) - len(foot.lines)
		if try.blanks {
			room -= 2
		}
		order, want := byState(v.Zones), min(try.coats, len(v.Zones))
		coats := min(len(order), max(room, 0))
		for coats > 0 && len(s.boardCoats(order, coats).lines) > room {
			coats--
		}
		if coats < want && i < len(tries)-1 {
			continue
		}
		if try.blanks {
			s.blank()
			top.blank()
		}
		s.add(top)
		s.add(s.boardCoats(order, max(coats, want)))
		s.add(foot)
		break
	}
	return s.String()
}

// verdict is the line to read where there is time for one.
func (s *sheet) verdict(v daily.Board) {
	edges := map[string]int{}
	for _, j := range v.LiveEdges {
		edges[s.jointState(j).String()]++
	}
	grave := 0
	for _, f := range v.Flags {
		if f.Grave {
			grave++
		}
	}
	var parts []text
	some := func(n int, one, many string, as style) {
		if n > 0 {
			parts = append(parts, figure(count(n, one, many), as))
		}
	}
	for _, word := range []string{cold, maybeCold} {
		some(edges[word], "edge "+word, "edges "+word, urgent)
	}
	some(edges[closing], "edge "+closing, "edges "+closing, soon)
	some(grave, "GRAVE flag", "GRAVE flags", urgent)
	if w := v.Weather; w != nil {
		switch {
		case w.OverLimit != nil && *w.OverLimit:
			parts = append(parts, figure("drying "+overLimit, urgent))
		case w.OverLimit == nil && len(w.FreshUncovered) > 0:
			parts = append(parts, figure("drying "+notKnown, soon))
		}
	}
	if len(parts) == 0 {
		s.para(0, 2, say("Nothing pressing in the record."))
		return
	}
	s.para(0, 2, join(" ", say("Look at:", strong), join(", ", parts...)))
}

func (s *sheet) boardEdges(joints []view.Joint, most int) {
	if len(joints) == 0 { // which the first line says
		return
	}
	t := table{columns: []column{
		{name: "EDGES"},
		{name: "turns cold"},
		{name: "at", drop: 1},
		{name: "where", least: 12},
		{name: "set used", right: true, drop: 2},
	}}
	ranged := ""
	shown := min(len(joints), most)
	for _, j := range joints[:shown] {
		wait, isRange := s.turns(j)
		if isRange {
			ranged = rangeOf(j)
		}
		t.row(s.jointState(j), figure(wait), figure(s.clocks(j.TurnsAt, j.TurnsLatest)), say(where(j)+s.metresBrief(j)),
			figure(s.used(j)))
	}
	s.table(0, t)
	if ranged != "" {
		s.para(2, 2, say("A range: "+ranged+"."))
	}
	if rest := joints[shown:]; len(rest) > 0 {
		more := fmt.Sprintf("and %d more", len(rest))
		if wait, _ := s.turns(rest[0]); wait != "" {
			more += ", the next " + wait
		}
		s.para(2, 2, say(more))
	}
}

func (s *sheet) boardFlags(flags []daily.Flag, most int) {
	if len(flags) == 0 {
		s.para(0, 2, say("No open flags."))
		return
	}
	shown := min(len(flags), most)
	for i, f := range flags[:shown] {
		// The first of the grave ones may take a second line: it is why somebody looks at the board.
		lines := 1
		if i == 0 && f.Grave {
			lines = 2
		}
		s.paraMost(0, 6, lines, lead(grave(f), 6, join(" ", say(f.ID), say(flagText(f)))))
		if f.Because != "" {
			s.paraMost(6, 2, 1, because(f))
		}
	}
	if rest := len(flags) - shown; rest > 0 {
		n := 0
		for _, f := range flags[shown:] {
			if f.Grave {
				n++
			}
		}
		more := "and " + count(rest, "more flag", "more flags")
		if n > 0 {
			more += fmt.Sprintf(", %d of them GRAVE", n)
		}
		s.para(2, 2, say(more))
	}
}

// grave is the flag's weight in a word.
func grave(f daily.Flag) text {
	if f.Grave {
		return say("GRAVE", urgent)
	}
	return say("flag")
}

// flagText begins with what the flag is about, unless its text names it.
func flagText(f daily.Flag) string {
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
func (s *sheet) boardCoats(order []view.CoatLine, shown int) *sheet {
	part := s.apart()
	if len(order) == 0 {
		part.para(0, 2, say("No coats are planned."))
		return part
	}
	part.coats("ZONES", order[:shown])
	var counts [3]int
	for _, l := range order[shown:] {
		counts[inHand(l.State)]++
	}
	var more []text
	for i, word := range []string{"under way", "waiting", "done"} {
		if counts[i] > 0 {
			more = append(more, sayf("%d more %s", counts[i], word))
		}
	}
	if len(more) > 0 {
		part.para(2, 2, join(" ", say("and"), join(", ", more...)))
	}
	return part
}

// coats is the table of progress.
func (s *sheet) coats(name string, lines []view.CoatLine) {
	t := table{columns: []column{
		{name: name, least: 16},
		{name: "state"},
		{name: "placed", right: true, drop: 4},
		{name: "left", right: true, drop: 3},
		{name: "mean of design", right: true},
		{name: "batches", right: true, drop: 6},
		{name: "mix", least: 8, drop: 7},
		{name: "last at", right: true, drop: 5},
	}}
	for _, l := range lines {
		batches := ""
		if l.Batches != 0 {
			batches = strings.Fields(part(l.Batches))[0]
		}
		state := l.State
		if l.Complete != nil && state == "under way" {
			state += " " + s.share(*l.Complete)
		}
		t.row(say(coatName(l.Zone, l.Face, l.Coat)).to("zone", l.Zone), figure(state), figure(s.volume(l.PlacedM3)),
			figure(s.volume(l.LeftM3)),
			figure(against(s.thickness(l.MeanThicknessM), s.thickness(l.DesignM))), figure(batches), say(l.Mix),
			figure(s.maybeClock(l.LastPlacedAt)))
	}
	s.table(0, t)
}

// boardFoot is what is left, the weather and the crews, each behind its name.
func (s *sheet) boardFoot(v daily.Board) {
	hang, column := 2, 9
	if s.width >= narrow {
		hang = column
	}
	put := func(name string, t text) { s.paraMost(0, hang, 4, lead(say(name, strong), column, t)) }
	unplaced := slices.ContainsFunc(v.Zones, func(l view.CoatLine) bool { return l.LeftM3 > 1e-6 })
	switch b := v.BatchesLeft; {
	case b != nil && b.P90 > 0:
		put("LEFT", say(left(*b)))
	case b != nil && slices.ContainsFunc(v.Zones, func(l view.CoatLine) bool { return l.State != "done" }):
		put("LEFT", say("nothing more to mix, as far as can be said; not all is finished"))
	case unplaced:
		put("LEFT", say("not known in batches"))
	case len(v.Zones) > 0:
		put("LEFT", say("nothing to mix"))
	}
	if o := v.Order; o != nil {
		order := sayf("from %s, %s: %s, %s", s.clockOnly(o.Start), strings.Join(o.Crews, ", "),
			count(int(o.Batches), "batch", "batches"), bayNames(o.Bays))
		if o.Came != nil {
			order = join("; ", order, sayf("%d placed so far", o.Came.Batches))
		}
		put("ORDER", order)
	}
	if v.Weather == nil {
		put("WEATHER", say("not read"))
	} else {
		put("WEATHER", s.sky(*v.Weather))
	}
	var crews []text
	for _, c := range v.Crews {
		heard := text(nil)
		if c.LastEventAt != nil {
			heard = sayf("heard %s", s.clock(*c.LastEventAt))
		}
		crews = append(crews, join(", ", sayf("%s %s", c.Crew, count(c.Batches, "batch", "batches")),
			say(s.volume(c.PlacedM3)+" placed"), heard))
	}
	if len(crews) > 0 {
		put("CREWS", join("; ", crews...))
	}
}

// sky is the weather in a sentence: the evaporation against its limit, and what was read, of one reading; then what was
// read since.
func (s *sheet) sky(c view.Conditions) text {
	what := join(", ", say(maybe(c.AirC, s.temperature)), say(maybe(c.Humidity, s.humid)),
		say(maybe(c.WindMPS, s.windy)))
	parts := []text{append(say("evaporation "), s.dryingJudged(c)...), what}
	if len(c.Since) > 0 {
		parts = append(parts, append(say("since then "), s.since(c.Since[0])...))
	}
	return join(": ", say(s.read(c)), join("; ", parts...))
}
