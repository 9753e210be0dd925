package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
)

// Two printed pages of 60 lines.
const mostDayLines = 2 * 60

// mostStock is how many materials a day's page names, which is more than a mix has.
const mostStock = 8

// dayRoom is how much of each list the summary of a day has: lines of a flag, and how many of the others.
type dayRoom struct {
	flags, lines, briefs int
	joints, crews, zones int
	entries, ages        int
}

// dayRooms from the roomiest; the first that makes two pages is taken.
var dayRooms = []dayRoom{
	{flags: 15, lines: 3, briefs: 3, joints: 8, crews: 8, zones: 40, entries: 8, ages: 12},
	{flags: 15, lines: 2, briefs: 2, joints: 6, crews: 8, zones: 24, entries: 5, ages: 8},
	{flags: 15, lines: 1, briefs: 0, joints: 4, crews: 6, zones: 18, entries: 3, ages: 4},
	{flags: 8, lines: 1, briefs: 0, joints: 2, crews: 3, zones: 8, entries: 1, ages: 2},
	{flags: 4, lines: 1, briefs: 0, joints: 1, crews: 1, zones: 2, entries: 1, ages: 1},
}

// Day is the end-of-day summary on two printed pages, plain text of at most 72 columns: the exceptions first, each
// once, then what was done and what is left. Of a list that is too long it says how many more there are; DayAll has
// them. A web page scrolls, and has all.
func Day(v daily.Day, p Page) string {
	if p.HTML {
		return DayAll(v, p)
	}
	var s *sheet
	for _, room := range dayRooms {
		if s = dayShort(v, p, room); len(s.lines) <= mostDayLines {
			break
		}
	}
	return s.String()
}

func dayShort(v daily.Day, p Page, room dayRoom) *sheet {
	s := openDay(v, p)
	s.dayHead(v)
	if v.Order != nil {
		s.dayOrder(*v.Order)
	}
	s.dayOpenFlags(v, room)
	s.dayShortJoints(v, room)
	s.dayCrews(v.Crews[:min(len(v.Crews), room.crews)])
	s.andMore(len(v.Crews)-room.crews, "crew", "crews")
	s.dayZones(v.Zones[:min(len(v.Zones), room.zones)])
	s.andMore(len(v.Zones)-room.zones, "coat", "coats")
	s.dayTestRange(v.Date, v.Tests, room)
	if n := len(v.Breaks); n > 0 {
		s.section("BREAKS", nil)
		s.breaks(v.Breaks[:min(n, room.ages)])
		s.andMore(n-room.ages, "test", "tests")
	}
	if n := len(v.Strength); n > 0 {
		s.section("AGE OF THE COATS", nil)
		s.ages(v.Strength[:min(n, room.ages)])
		s.andMore(n-room.ages, "coat", "coats")
	}
	s.daySky(v.Weather)
	if v.Crew == "" { // these are the whole site's
		stock := v.Stock
		stock.Materials = slices.Clone(stock.Materials[:min(len(stock.Materials), mostStock)])
		for i := range stock.Materials {
			stock.Materials[i].BagSaid = "" // hod stock says on what a bag's mass rests
		}
		s.section("STOCK", nil)
		s.stock(stock)
		s.andMore(len(v.Stock.Materials)-mostStock, "material", "materials")
		s.dayShortLeft(v, room)
		s.dayShortNext(v.Tomorrow, room)
	}
	s.dayWritten("CORRECTIONS", v.Changes, room)
	if len(v.Changes) == 0 {
		s.dayEntries("CORRECTIONS", nil, "Nothing was corrected.")
	}
	s.dayWritten("NOTES", v.Notes, room)
	s.dayLateShort(v.Late, room)
	s.dayEnds(v.Record, room)
	s.section("CAUTIONS", nil)
	for _, c := range v.Cautions {
		s.para(0, 2, say(c))
	}
	s.blank()
	s.para(0, 2, sayf("All of each list: `hod day %s --all`.", v.Date))
	return s
}

// andMore says of a list that was cut how many more there are.
func (s *sheet) andMore(n int, one, many string) {
	if n == 1 {
		many = one
	}
	if n > 0 {
		s.para(0, 2, sayf("and %d more %s (--all)", n, many))
	}
}

// dayOpenFlags are the flags of the day that wait for somebody, then what was answered, what is short and what is set
// aside.
func (s *sheet) dayOpenFlags(v daily.Day, room dayRoom) {
	s.section("WHAT WENT WRONG", nil)
	var open, answered []daily.Flag
	graves := 0
	for _, f := range v.Flags {
		if !f.Open {
			answered = append(answered, f)
			continue
		}
		if open = append(open, f); f.Grave {
			graves++
		}
	}
	if len(v.Flags) == 0 && v.OpenBefore == 0 {
		s.para(0, 2, say("No flags."))
	}
	grave, earlier := text(nil), text(nil)
	if graves > 0 {
		grave = sayf("%d GRAVE", graves)
	}
	if v.OpenBefore > 0 {
		earlier = sayf("%d still open of the days before: `hod flags`", v.OpenBefore)
	}
	if len(open) > 0 || earlier != nil {
		s.para(0, 2, join("; ", join(", ", sayf("%d open", len(open)), grave), earlier))
	}
	for _, f := range open[:min(len(open), room.flags)] {
		s.flagShort(f, flagRoom{
			grave: room.lines, other: room.lines, briefs: room.briefs, graveDo: room.lines > 1,
			otherDo: room.lines > 2,
		})
	}
	if rest := len(open) - room.flags; rest > 0 {
		s.para(2, 2, moreFlags(open[room.flags:]))
	}
	s.dayAnswered(answered, room)
	if !slices.ContainsFunc(open, func(f daily.Flag) bool { return f.Code == "stock-short" }) {
		if short := s.short(v.Tomorrow.Materials); len(short) > 0 {
			s.para(0, 2, join(": ", say("SHORT for the next day"), list(short)))
		}
	}
	s.dayAside(v.SetAside, open, room)
}

// dayAnswered are those that a person answered, each with the words, and how many the record itself settles.
func (s *sheet) dayAnswered(flags []daily.Flag, room dayRoom) {
	var settled []daily.Flag
	shown := 0
	for _, f := range flags {
		if f.Answerer == "" && f.Because == "" || shown == room.flags {
			settled = append(settled, f)
			continue
		}
		shown++
		reason := text(nil)
		if f.Because != "" {
			reason = because(f)
		}
		s.paraMost(0, 6, room.lines,
			lead(say("done"), 6, join(". ", join("; ", join(" ", say(f.ID), join(": ", say(f.Code), say(f.Subject))),
				join(": ", say("answered"), say(f.Answer))), reason)))
	}
	if len(settled) > 0 {
		s.para(0, 2, sayf("%d answered by what was done: %s.", len(settled), countCodes(settled)))
	}
}

// dayAside is what is set aside and has no open flag of its own.
func (s *sheet) dayAside(all []view.Entry, open []daily.Flag, room dayRoom) {
	var silent []view.Entry
	for _, e := range all {
		if !slices.ContainsFunc(open, func(f daily.Flag) bool { return slices.Contains(f.Events, e.Name) }) {
			silent = append(silent, e)
		}
	}
	for _, e := range silent[:min(len(silent), room.entries)] {
		s.dayEntry(e, room)
	}
	s.andMore(len(silent)-room.entries, "entry set aside", "entries set aside")
	s.legend(silent)
}

// dayShortJoints counts the joints made, names those that are neither live nor flagged, and says which edge is open
// longest.
func (s *sheet) dayShortJoints(v daily.Day, room dayRoom) {
	var cold, doubt, open []view.Joint
	flagged, old := 0, 0
	for _, j := range v.Joints {
		switch {
		case j.Made && j.State == "live":
		case j.Made && j.Flagged:
			flagged++
		case j.Made && j.State == "cold":
			cold = append(cold, j)
		case j.Made:
			doubt = append(doubt, j)
		case j.State == "cold":
			old++
		default:
			open = append(open, j)
		}
	}
	if v.JointsMade == 0 && len(open)+old == 0 {
		return
	}
	made := text(nil)
	if v.JointsMade > 0 {
		made = sayf("%d made, %d of them surely live, %d not", v.JointsMade, v.JointsLive, v.JointsMade-v.JointsLive)
		if flagged > 0 {
			made = join("; ", made, sayf("of these %d in flags, open or answered", flagged))
		}
	}
	s.section("JOINTS", made)
	if len(open) > 0 {
		s.setTests(v.SetTests, "that day")
	}
	s.jointNames("COLD where they touch, which is not sure", cold, room)
	s.jointNames("CLOSING or in doubt", doubt, room)
	for _, j := range open[:min(len(open), room.joints/2)] {
		if j.Ended {
			s.para(0, 2, join(": ", lead(s.jointState(j), stateColumn, say(where(j))), s.endedFront(j)))
			continue
		}
		wait := say("when it turns cold is not known")
		if j.TurnsAt != nil {
			wait = sayf("turns cold at %s", s.clocks(j.TurnsAt, j.TurnsLatest))
		}
		s.para(0, 2, join("; ", lead(s.jointState(j), stateColumn, say(where(j)+s.metresBrief(j))), say("open"), wait))
	}
	s.andMore(len(open)-room.joints/2, "open edge", "open edges")
	if old > 0 {
		s.para(0, 2, sayf("%s cold, to be treated before anybody places there: `hod joints`",
			count(old, "open edge is", "open edges are")))
	}
}

// jointNames are joints that were made, in a few words each.
func (s *sheet) jointNames(what string, all []view.Joint, room dayRoom) {
	if len(all) == 0 {
		return
	}
	var names []text
	for _, j := range all[:min(len(all), room.joints)] {
		treated := ""
		if len(j.Treated) > 0 {
			treated = ", treated"
		}
		names = append(names, sayf("%s (%s at %s%s)", where(j)+s.metresBrief(j), s.used(j), s.maybeClock(j.MadeAt),
			treated))
	}
	if rest := len(all) - room.joints; rest > 0 {
		names = append(names, sayf("and %d more (--all)", rest))
	}
	s.para(0, 2, join(": ", say(what), join("; ", names...)))
}

// dayTestRange is from the lowest to the highest of what was tested, and each that missed what the mix asks.
func (s *sheet) dayTestRange(date string, tests []daily.Test, room dayRoom) {
	s.section("TESTS", nil)
	if len(tests) == 0 {
		s.para(0, 2, say("No fresh test was written."))
		return
	}
	of := func(name string, get func(daily.Test) *float64, show func(float64) string) text {
		var low, high *float64
		for _, t := range tests {
			if x := get(t); x != nil {
				if low == nil || *x < *low {
					low = x
				}
				if high == nil || *x > *high {
					high = x
				}
			}
		}
		if low == nil {
			return nil
		}
		return join(" ", say(name), figure(between(show(*low), show(*high))))
	}
	ranges := join(", ",
		of("unit weight", func(t daily.Test) *float64 { return t.UnitWeight }, s.density),
		of("yield", func(t daily.Test) *float64 { return t.YieldM3 }, s.volume),
		of("of design", func(t daily.Test) *float64 { return t.RelativeYield }, thousandths),
		of("air", func(t daily.Test) *float64 { return t.Air }, s.share),
		of("mortar", func(t daily.Test) *float64 { return t.TemperatureC }, s.temperature),
		of("flow", func(t daily.Test) *float64 { return t.Flow }, s.share),
	)
	s.para(0, 2, join(": ", say(count(len(tests), "batch", "batches")), ranges))
	missed := 0
	for _, t := range tests {
		if t.Judgement == "" || t.Judgement == "within" {
			continue
		}
		if missed++; missed <= room.entries {
			s.para(0, 2, join(": ", say(ofDay(t.Batch, date)), say(t.Judgement)))
		}
	}
	s.andMore(missed-room.entries, "that is not within", "that are not within")
	if missed == 0 {
		s.para(0, 2, say("All within."))
	}
}

// dayShortLeft is what is left: of coats under way that were not placed in that day, how much, and the names of those
// that wait.
func (s *sheet) dayShortLeft(v daily.Day, room dayRoom) {
	s.section("LEFT", nil)
	if b := v.BatchesLeft; b != nil && b.P90 > 0 {
		s.para(0, 2, say(fmt.Sprintf("%s.", left(*b))))
	}
	if len(v.Left) == 0 {
		s.para(0, 2, say("No coat is left to place."))
		return
	}
	var begun []text
	var waiting []view.CoatLine
	for _, l := range v.Left {
		placed := slices.ContainsFunc(v.Zones, func(z daily.CoatDay) bool {
			return z.Zone == l.Zone &&
				z.Face == l.Face && z.Coat == l.Coat
		})
		switch {
		case l.PlacedM3 <= 0:
			waiting = append(waiting, l)
		case !placed:
			begun = append(begun, sayf("%s %s", coatName(l.Zone, l.Face, l.Coat), s.volume(l.LeftM3)))
		}
	}
	if rest := len(begun) - room.zones; rest > 0 {
		begun = append(begun[:room.zones:room.zones], sayf("and %d more (--all)", rest))
	}
	if len(begun) > 0 {
		s.para(0, 2, join(": ", say("Begun on another day"), join(", ", begun...)))
	}
	if len(waiting) > 0 {
		s.para(0, 2, join(": ", say(count(len(waiting), "coat waits", "coats wait")), coatNames(waiting, room.zones)))
	}
}

// dayShortNext is what the next day takes, with the coats of each crew in one paragraph. What is short stands above.
func (s *sheet) dayShortNext(t ahead.Tomorrow, room dayRoom) {
	shares := t.Shares
	t.Materials, t.Shares = nil, nil
	s.tomorrow(t)
	var crews []string
	of := map[string][]text{}
	for _, k := range shares {
		if of[k.Crew] == nil {
			crews = append(crews, k.Crew)
		}
		of[k.Crew] = append(of[k.Crew], sayf("%s %s", coatName(k.Zone, k.Face, k.Coat), about(k.Batches)))
	}
	for _, c := range crews[:min(len(crews), room.crews)] {
		coats := of[c]
		if rest := len(coats) - room.joints; rest > 0 {
			coats = append(coats[:room.joints:room.joints], sayf("and %d more (--all)", rest))
		}
		s.para(0, 2, join(": ", say(c), join(", ", coats...)))
	}
	s.andMore(len(crews)-room.crews, "crew", "crews")
}

// coatNames are "C5, C6 outer 2; C5 outer 3": the zones of each coat, as far as there is room for so many.
func coatNames(all []view.CoatLine, most int) text {
	type coat struct {
		face   string
		number int32
	}
	var coats []coat
	zones := map[coat][]string{}
	for _, l := range all[:min(len(all), most)] {
		c := coat{l.Face, l.Coat}
		if zones[c] == nil {
			coats = append(coats, c)
		}
		zones[c] = append(zones[c], l.Zone)
	}
	var parts []text
	for _, c := range coats {
		parts = append(parts, say(coatName(strings.Join(zones[c], ", "), c.face, c.number)))
	}
	if rest := len(all) - most; rest > 0 {
		parts = append(parts, sayf("and %d more (--all)", rest))
	}
	return join("; ", parts...)
}

// dayWritten are entries in a few lines each; nothing where there are none.
func (s *sheet) dayWritten(name string, all []view.Entry, room dayRoom) {
	if len(all) == 0 {
		return
	}
	s.section(name, nil)
	for _, e := range all[:min(len(all), room.entries)] {
		s.dayEntry(e, room)
	}
	s.andMore(len(all)-room.entries, "entry", "entries")
	s.legend(all)
}

func (s *sheet) dayEntry(e view.Entry, room dayRoom) {
	late := text(nil)
	if e.Late {
		late = sayf("(LATE: written %s)", s.clock(e.LoggedAt))
	}
	who := join(" ", say(e.Name), say(s.clock(e.At)), say(e.Crew), say(e.Person))
	s.paraMost(0, 2, max(2, room.lines), join(": ", who, join(" ", standing(e), say(e.Text), late, reason(e))))
	if e.Moved != "" {
		s.paraMost(2, 2, max(2, room.lines), say("MOVED: "+e.Moved))
	}
}

// dayLateShort is what came late, by the device that wrote it: one that was lost for a day is one line.
func (s *sheet) dayLateShort(late []view.Entry, room dayRoom) {
	if len(late) == 0 {
		return
	}
	s.section("CAME LATE", nil)
	by := map[string][]view.Entry{}
	var devices []string
	for _, e := range late {
		device, _, _ := strings.Cut(e.Name, "/")
		if len(by[device]) == 0 {
			devices = append(devices, device)
		}
		by[device] = append(by[device], e)
	}
	for i, d := range devices {
		switch all := by[d]; {
		case i >= room.entries:
		case len(all) <= 2:
			for _, e := range all {
				s.dayEntry(e, room)
			}
		default:
			s.para(0, 2, s.lateOf(d, all))
		}
	}
	s.andMore(len(devices)-room.entries, "device", "devices")
}

// lateOf one device: how many, of when, written when, of what kinds.
func (s *sheet) lateOf(device string, all []view.Entry) text {
	n := map[string]int{}
	first, last, wrote, until := all[0].At, all[0].At, all[0].LoggedAt, all[0].LoggedAt
	for _, e := range all {
		n[e.Kind]++
		first, last = earlier(first, e.At), later(last, e.At)
		wrote, until = earlier(wrote, e.LoggedAt), later(until, e.LoggedAt)
	}
	var kinds []string
	for k := range n {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	for i, k := range kinds {
		kinds[i] = fmt.Sprintf("%d %s", n[k], k)
	}
	return join("; ", sayf("%s: %d entries of %s, written %s", device, len(all), s.clocks(&first, &last),
		s.clocks(&wrote, &until)), list(kinds))
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// dayEnds is how far each device's record reaches, in one paragraph.
func (s *sheet) dayEnds(ends []daily.DeviceEnd, room dayRoom) {
	s.section("THE RECORD REACHES TO", nil)
	if len(ends) == 0 {
		s.para(0, 2, say("No device has written."))
		return
	}
	var all []text
	for _, e := range ends[:min(len(ends), 3*room.entries)] {
		all = append(all, sayf("%s/%d at %s", e.Device, e.Seq, s.clock(e.LastAt)))
	}
	if rest := len(ends) - 3*room.entries; rest > 0 {
		all = append(all, sayf("and %d more (--all)", rest))
	}
	s.para(0, 2, join(", ", all...))
}
