package summary

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/report"
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
func Day(v daily.Day, p report.Page) string {
	if p.HTML {
		return DayAll(v, p)
	}
	var s *report.Sheet
	for _, room := range dayRooms {
		if s = dayShort(v, p, room); len(s.Lines) <= mostDayLines {
			break
		}
	}
	return s.String()
}

func dayShort(v daily.Day, p report.Page, room dayRoom) *report.Sheet {
	s := openDay(v, p)
	dayHead(s, v, true)
	if v.Order != nil {
		s.DayOrder(*v.Order)
	}
	dayOpenFlags(s, v, room)
	dayShortJoints(s, v, room)
	dayCrews(s, v.Crews[:min(len(v.Crews), room.crews)])
	andMore(s, len(v.Crews)-room.crews, "crew", "crews")
	dayZones(s, v.Zones[:min(len(v.Zones), room.zones)])
	andMore(s, len(v.Zones)-room.zones, "coat", "coats")
	dayTestRange(s, v.Date, v.Tests, room)
	if n := len(v.Breaks); n > 0 {
		s.Section("BREAKS", nil)
		s.Breaks(v.Breaks[:min(n, room.ages)])
		andMore(s, n-room.ages, "test", "tests")
	}
	if n := len(v.Strength); n > 0 {
		s.Section("AGE OF THE COATS", nil)
		s.Ages(v.Strength[:min(n, room.ages)])
		andMore(s, n-room.ages, "coat", "coats")
	}
	daySky(s, v.Weather)
	if v.Crew == "" { // these are the whole site's
		stock := v.Stock
		stock.Materials = slices.Clone(stock.Materials[:min(len(stock.Materials), mostStock)])
		for i := range stock.Materials {
			stock.Materials[i].BagSaid = "" // hod stock says on what a bag's mass rests
		}
		s.Section("STOCK", nil)
		s.Stock(stock)
		andMore(s, len(v.Stock.Materials)-mostStock, "material", "materials")
		dayShortLeft(s, v, room)
		dayShortNext(s, v.Tomorrow, room)
	}
	dayWritten(s, "CORRECTIONS", v.Changes, room)
	if len(v.Changes) == 0 {
		dayEntries(s, "CORRECTIONS", nil, "Nothing was corrected.")
	}
	dayWritten(s, "NOTES", v.Notes, room)
	dayLateShort(s, v.Late, room)
	dayEnds(s, v.Record, room)
	s.Section("CAUTIONS", nil)
	for _, c := range v.Cautions {
		s.Para(0, 2, report.Say(c))
	}
	s.Blank()
	if s.Annex {
		s.Para(0, 2, report.Say("All of each list is in the annex."))
	} else {
		s.Para(0, 2, report.Sayf("All of each list: `hod day %s --all`.", v.Date))
	}
	return s
}

// allOf a list that was cut is there.
func allOf(s *report.Sheet) string {
	if s.Annex {
		return "annex"
	}
	return "--all"
}

// andMore says of a list that was cut how many more there are.
func andMore(s *report.Sheet, n int, one, many string) {
	if n == 1 {
		many = one
	}
	if n > 0 {
		s.Para(0, 2, report.Sayf("and %d more %s (%s)", n, many, allOf(s)))
	}
}

// dayOpenFlags are the flags of the day that wait for somebody, then what was answered, what is short and what is set
// aside.
func dayOpenFlags(s *report.Sheet, v daily.Day, room dayRoom) {
	s.Section("WHAT WENT WRONG", nil)
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
		s.Para(0, 2, report.Say("No flags."))
	}
	grave, earlier := report.Text(nil), report.Text(nil)
	if graves > 0 {
		grave = report.Sayf("%d GRAVE", graves)
	}
	if v.OpenBefore > 0 {
		earlier = report.Sayf("%d still open of the days before: `hod flags`", v.OpenBefore)
	}
	if len(open) > 0 || earlier != nil {
		s.Para(0, 2, report.Join("; ", report.Join(", ", report.Sayf("%d open", len(open)), grave), earlier))
	}
	for _, f := range open[:min(len(open), room.flags)] {
		s.FlagShort(f, report.FlagRoom{
			Grave: room.lines, Other: room.lines, Briefs: room.briefs, GraveDo: room.lines > 1,
			OtherDo: room.lines > 2,
		})
	}
	if rest := len(open) - room.flags; rest > 0 {
		s.Para(2, 2, report.MoreFlags(open[room.flags:]))
	}
	dayAnswered(s, answered, room)
	if !slices.ContainsFunc(open, func(f daily.Flag) bool { return f.Code == "stock-short" }) {
		if short := s.Short(v.Tomorrow.Materials); len(short) > 0 {
			s.Para(0, 2, report.Join(": ", report.Say("SHORT for the next day"), report.Listed(short)))
		}
	}
	dayAside(s, v.SetAside, open, room)
}

// dayAnswered are those that a person answered, each with the words, and how many the record itself settles.
func dayAnswered(s *report.Sheet, flags []daily.Flag, room dayRoom) {
	var settled []daily.Flag
	shown := 0
	for _, f := range flags {
		if f.Answerer == "" && f.Because == "" || shown == room.flags {
			settled = append(settled, f)
			continue
		}
		shown++
		reason := report.Text(nil)
		if f.Because != "" {
			reason = report.Because(f)
		}
		s.ParaMost(0, 6, room.lines,
			report.Lead(report.Say("done"), 6,
				report.Join(". ", report.Join("; ",
					report.Join(" ", report.Say(f.ID), report.Join(": ", report.Say(f.Code), report.Say(f.Subject))),
					report.Join(": ", report.Say("answered"), report.Say(f.Answer))), reason)))
	}
	if len(settled) > 0 {
		s.Para(0, 2, report.Sayf("%d answered by what was done: %s.", len(settled), report.CountCodes(settled)))
	}
}

// dayAside is what is set aside and has no open flag of its own.
func dayAside(s *report.Sheet, all []view.Entry, open []daily.Flag, room dayRoom) {
	var silent []view.Entry
	for _, e := range all {
		if !slices.ContainsFunc(open, func(f daily.Flag) bool { return slices.Contains(f.Events, e.Name) }) {
			silent = append(silent, e)
		}
	}
	for _, e := range silent[:min(len(silent), room.entries)] {
		dayEntry(s, e, room)
	}
	andMore(s, len(silent)-room.entries, "entry set aside", "entries set aside")
	s.Legend(silent)
}

// dayShortJoints counts the joints made, names those that are neither live nor flagged, and says which edge is open
// longest.
func dayShortJoints(s *report.Sheet, v daily.Day, room dayRoom) {
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
	made := report.Text(nil)
	if v.JointsMade > 0 {
		made = report.Sayf("%d made, %d of them surely live, %d not", v.JointsMade, v.JointsLive,
			v.JointsMade-v.JointsLive)
		if flagged > 0 {
			made = report.Join("; ", made, report.Sayf("of these %d in flags, open or answered", flagged))
		}
	}
	s.Section("JOINTS", made)
	if len(open) > 0 {
		s.SetTests(v.SetTests, "that day")
	}
	jointNames(s, "COLD where they touch, which is not sure", cold, room)
	jointNames(s, "CLOSING or in doubt", doubt, room)
	for _, j := range open[:min(len(open), room.joints/2)] {
		if j.Ended {
			s.Para(0, 2, report.Join(": ", report.Lead(s.JointState(j), report.StateColumn,
				report.Say(report.Where(j))), s.EndedFront(j)))
			continue
		}
		wait := report.Say("when it turns cold is not known")
		if j.TurnsAt != nil {
			wait = report.Sayf("turns cold at %s", s.Clocks(j.TurnsAt, j.TurnsLatest))
		}
		s.Para(0, 2, report.Join("; ", report.Lead(s.JointState(j), report.StateColumn,
			report.Say(report.Where(j)+s.MetresBrief(j))), report.Say("open"), wait))
	}
	andMore(s, len(open)-room.joints/2, "open edge", "open edges")
	if old > 0 {
		s.Para(0, 2, report.Sayf("%s cold, to be treated before anybody places there: `hod joints`",
			report.Count(old, "open edge is", "open edges are")))
	}
}

// jointNames are joints that were made, in a few words each.
func jointNames(s *report.Sheet, what string, all []view.Joint, room dayRoom) {
	if len(all) == 0 {
		return
	}
	var names []report.Text
	for _, j := range all[:min(len(all), room.joints)] {
		treated := ""
		switch {
		case j.Ended:
			treated = ", ended on purpose"
		case len(j.Treated) > 0:
			treated = ", treated"
		}
		names = append(names, report.Sayf("%s (%s at %s%s)", report.Where(j)+s.MetresBrief(j), s.Used(j),
			s.MaybeClock(j.MadeAt),
			treated))
	}
	if rest := len(all) - room.joints; rest > 0 {
		names = append(names, report.Sayf("and %d more (%s)", rest, allOf(s)))
	}
	s.Para(0, 2, report.Join(": ", report.Say(what), report.Join("; ", names...)))
}

// dayTestRange is from the lowest to the highest of what was tested, and each that missed what the mix asks.
func dayTestRange(s *report.Sheet, date string, tests []daily.Test, room dayRoom) {
	s.Section("TESTS", nil)
	if len(tests) == 0 {
		s.Para(0, 2, report.Say("No fresh test was written."))
		return
	}
	of := func(name string, get func(daily.Test) *float64, show func(float64) string) report.Text {
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
		return report.Join(" ", report.Say(name), report.Figure(report.Between(show(*low), show(*high))))
	}
	ranges := report.Join(", ",
		of("unit weight", func(t daily.Test) *float64 { return t.UnitWeight }, s.Density),
		of("yield", func(t daily.Test) *float64 { return t.YieldM3 }, s.Volume),
		of("of design", func(t daily.Test) *float64 { return t.RelativeYield }, report.Thousandths),
		of("air", func(t daily.Test) *float64 { return t.Air }, s.Share),
		of("mortar", func(t daily.Test) *float64 { return t.TemperatureC }, s.Temperature),
		of("flow", func(t daily.Test) *float64 { return t.Flow }, s.Share),
	)
	s.Para(0, 2, report.Join(": ", report.Say(report.Count(len(tests), "batch", "batches")), ranges))
	missed := 0
	for _, t := range tests {
		if t.Judgement == "" || t.Judgement == "within" {
			continue
		}
		if missed++; missed <= room.entries {
			s.Para(0, 2, report.Join(": ", report.Say(report.OfDay(t.Batch, date)), report.Say(t.Judgement)))
		}
	}
	andMore(s, missed-room.entries, "that is not within", "that are not within")
	if missed == 0 {
		s.Para(0, 2, report.Say("All within."))
	}
}

// dayShortLeft is what is left: of coats under way that were not placed in that day, how much, and the names of those
// that wait.
func dayShortLeft(s *report.Sheet, v daily.Day, room dayRoom) {
	s.Section("LEFT", nil)
	if b := v.BatchesLeft; b != nil && b.P90 > 0 {
		s.Para(0, 2, report.Say(fmt.Sprintf("%s.", report.Left(*b))))
	}
	if len(v.Left) == 0 {
		s.Para(0, 2, report.Say("No coat is left to place."))
		return
	}
	var begun []report.Text
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
			begun = append(begun, report.Sayf("%s %s", report.CoatName(l.Zone, l.Face, l.Coat), s.Volume(l.LeftM3)))
		}
	}
	if rest := len(begun) - room.zones; rest > 0 {
		begun = append(begun[:room.zones:room.zones], report.Sayf("and %d more (%s)", rest, allOf(s)))
	}
	if len(begun) > 0 {
		s.Para(0, 2, report.Join(": ", report.Say("Begun on another day"), report.Join(", ", begun...)))
	}
	if len(waiting) > 0 {
		s.Para(0, 2, report.Join(": ", report.Say(report.Count(len(waiting), "coat waits", "coats wait")),
			coatNames(s, waiting, room.zones)))
	}
}

// dayShortNext is what the next day takes, with the coats of each crew in one paragraph. What is short stands above.
func dayShortNext(s *report.Sheet, t ahead.Tomorrow, room dayRoom) {
	shares := t.Shares
	t.Materials, t.Shares = nil, nil
	s.Tomorrow(t)
	var crews []string
	of := map[string][]report.Text{}
	for _, k := range shares {
		if of[k.Crew] == nil {
			crews = append(crews, k.Crew)
		}
		of[k.Crew] = append(of[k.Crew], report.Sayf("%s %s", report.CoatName(k.Zone, k.Face, k.Coat),
			report.About(k.Batches)))
	}
	for _, c := range crews[:min(len(crews), room.crews)] {
		coats := of[c]
		if rest := len(coats) - room.joints; rest > 0 {
			coats = append(coats[:room.joints:room.joints], report.Sayf("and %d more (%s)", rest, allOf(s)))
		}
		s.Para(0, 2, report.Join(": ", report.Say(c), report.Join(", ", coats...)))
	}
	andMore(s, len(crews)-room.crews, "crew", "crews")
}

// coatNames are "C5, C6 outer 2; C5 outer 3": the zones of each coat, as far as there is room for so many.
func coatNames(s *report.Sheet, all []view.CoatLine, most int) report.Text {
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
	var parts []report.Text
	for _, c := range coats {
		parts = append(parts, report.Say(report.CoatName(strings.Join(zones[c], ", "), c.face, c.number)))
	}
	if rest := len(all) - most; rest > 0 {
		parts = append(parts, report.Sayf("and %d more (%s)", rest, allOf(s)))
	}
	return report.Join("; ", parts...)
}

// dayWritten are entries in a few lines each; nothing where there are none.
func dayWritten(s *report.Sheet, name string, all []view.Entry, room dayRoom) {
	if len(all) == 0 {
		return
	}
	s.Section(name, nil)
	for _, e := range all[:min(len(all), room.entries)] {
		dayEntry(s, e, room)
	}
	andMore(s, len(all)-room.entries, "entry", "entries")
	s.Legend(all)
}

func dayEntry(s *report.Sheet, e view.Entry, room dayRoom) {
	late := report.Text(nil)
	if e.Late {
		late = report.Sayf("(LATE: written %s)", s.Clock(e.LoggedAt))
	}
	who := report.Join(" ", report.Say(e.Name), report.Say(s.Clock(e.At)), report.Say(e.Crew), report.Say(e.Person))
	s.ParaMost(0, 2, max(2, room.lines),
		report.Join(": ", who, report.Join(" ", report.Standing(e), report.Say(e.Text), late, report.Reason(e))))
	if e.Moved != "" {
		s.ParaMost(2, 2, max(2, room.lines), report.Say("MOVED: "+e.Moved))
	}
}

// dayLateShort is what came late, by the device that wrote it: one that was lost for a day is one line.
func dayLateShort(s *report.Sheet, late []view.Entry, room dayRoom) {
	if len(late) == 0 {
		return
	}
	s.Section("CAME LATE", nil)
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
				dayEntry(s, e, room)
			}
		default:
			s.Para(0, 2, lateOf(s, d, all))
		}
	}
	andMore(s, len(devices)-room.entries, "device", "devices")
}

// lateOf one device: how many, of when, written when, of what kinds.
func lateOf(s *report.Sheet, device string, all []view.Entry) report.Text {
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
	return report.Join("; ", report.Sayf("%s: %d entries of %s, written %s", device, len(all), s.Clocks(&first, &last),
		s.Clocks(&wrote, &until)), report.Listed(kinds))
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
func dayEnds(s *report.Sheet, ends []daily.DeviceEnd, room dayRoom) {
	s.Section("THE RECORD REACHES TO", nil)
	if len(ends) == 0 {
		s.Para(0, 2, report.Say("No device has written."))
		return
	}
	var all []report.Text
	for _, e := range ends[:min(len(ends), 3*room.entries)] {
		all = append(all, report.Sayf("%s/%d at %s", e.Device, e.Seq, s.Clock(e.LastAt)))
	}
	if rest := len(ends) - 3*room.entries; rest > 0 {
		all = append(all, report.Sayf("and %d more (%s)", rest, allOf(s)))
	}
	s.Para(0, 2, report.Join(", ", all...))
}
