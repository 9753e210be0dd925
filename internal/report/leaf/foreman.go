package leaf

import (
	"fmt"
	"html"
	"slices"
	"strings"
	"time"

	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/drawing"
)

// Foreman is the page that a foreman opens, as the inside of a web page: who was heard when, the edge to look at first,
// the shell's map, what turns cold next, drying, what is left, the crews, the stock for the next day, and what to
// settle.
func Foreman(v drawing.Overview, p report.Page) string {
	p.HTML = true
	s := report.Open(p, v.Units, v.AsOf)
	w := &leaf{Sheet: s}
	w.heard(v)
	w.OwnCopy()
	w.Excluded(v.Excluded)
	w.flush()
	w.worst(v)
	w.put(`<div class="cols">`)
	w.mapSection(v.Map, "now", false)
	w.nextSection(v)
	w.dryingSection(v)
	w.leftSection(v)
	w.crewSection(v)
	w.stockSection(v)
	w.put(`</div>`)
	w.settleSection(v)
	return w.b.String()
}

// leaf is a web page's inside being written with elements of its own. What text puts is escaped; put is for what is not
// text.
type leaf struct {
	*report.Sheet
	b strings.Builder
	// prefix is what ids begin with, where several pages stand in one.
	prefix string
}

func (w *leaf) put(form string, args ...any) {
	if len(args) == 0 {
		w.b.WriteString(form)
	} else {
		fmt.Fprintf(&w.b, form, args...)
	}
	w.b.WriteByte('\n')
}

// esc is a stranger's text, clean and escaped.
func esc(s string) string { return html.EscapeString(report.Clean(s)) }

// a leads to the page of a thing, where the pages have a root.
func (w *leaf) a(kind, name, words string) string {
	if w.Root == "" || name == "" {
		return esc(words)
	}
	return fmt.Sprintf(`<a href="%s">%s</a>`, html.EscapeString(w.Root+report.Address(kind, name)), esc(words))
}

func (w *leaf) section(id, title string) { w.sectionOf(id, title, false) }

// sectionOf is section, over the whole width of a wide page where it is wide.
func (w *leaf) sectionOf(id, title string, wide bool) {
	id = w.prefix + id
	class := ""
	if wide {
		class = ` class="full"`
	}
	w.put(`<section id="%s"%s aria-labelledby="%s-h"><h2 id="%s-h">%s</h2>`, id, class, id, id, esc(title))
}

func (w *leaf) endSection() { w.put(`</section>`) }

// frame of a picture on this page. Links lead on where the page has a root.
func (w *leaf) frame(id string) picture.Frame {
	f := picture.Frame{ID: w.prefix + id, In: w.In, System: w.System}
	if w.Root != "" {
		root := w.Root
		f.Link = func(kind, name string) string {
			if kind == "bay" {
				return root + name
			}
			return root + report.Address(kind, name)
		}
	}
	return f
}

// since is how long ago an instant was, which the page's script counts on.
func (w *leaf) since(t time.Time) string {
	return fmt.Sprintf(`<span data-since="%d">%s</span>`, t.Unix(), report.Minutes(max(w.Now.Sub(t), 0)))
}

// within is the minutes until something turns, from the soonest to the latest, which the page's script counts down.
func (w *leaf) within(from, to *time.Time) string {
	return fmt.Sprintf(`<span%s>%s</span>`, picture.Countdown(from, to), picture.EdgeMinutes(from, to, w.Now))
}

func (w *leaf) heard(v drawing.Overview) {
	local := v.AsOf.In(w.In)
	w.put(`<header class="top" id="heard"><h1>%s</h1>`, esc(v.Site))
	w.put(`<p>%s <time datetime="%s">%s</time>. `, local.Format("Mon 2 Jan"), local.Format(time.RFC3339),
		local.Format("15:04"))
	var words []string
	for _, c := range v.Crews {
		if c.HeardAt == nil {
			words = append(words, esc(c.Crew)+" <b>never heard</b>")
			continue
		}
		ago := w.since(*c.HeardAt)
		if w.Now.Sub(*c.HeardAt) > quietFor {
			ago = "<b>" + ago + "</b>"
		}
		words = append(words, esc(c.Crew)+" "+ago)
	}
	if len(words) == 0 {
		w.put(`No crew is planned.`)
	} else {
		w.put(`Last word: %s ago.`, strings.Join(words, ", "))
	}
	w.put(`</p></header>`)
}

// quietFor is after how long without a word a crew's silence stands out on the page. A choice of this program.
const quietFor = 15 * time.Minute

// worst is one sentence on the edge to look at first.
func (w *leaf) worst(v drawing.Overview) {
	g := v.Worst
	if g == nil {
		says := "No edge is open that may turn cold today."
		if len(v.Map.Coats) == 0 {
			says = "Nothing is planned yet, so nothing can turn cold."
		}
		w.put(`<section id="do" aria-label="first"><p class="act calm"><b>%s</b>%s</p></section>`, says,
			w.old(v.OldEdges))
		return
	}
	where := g.Zone + " at " + report.AndList(g.Others)
	if g.Inside || len(g.Others) == 0 {
		where = "Inside " + g.Zone
	}
	class := map[string]string{view.MayBeCold: "", "cold": "", "closing": " soon", "live": " calm"}[g.State]
	joint := ""
	if len(g.Joints) > 0 {
		joint = g.Joints[0]
	}
	w.put(`<section id="do" aria-label="first"><p class="act%s"><b>%s</b><span>%s%s</span>%s</p></section>`, class,
		w.a("joint", joint, where),
		esc(strings.TrimPrefix(report.CoatName("", g.Face, g.Coat), " "))+": ", w.verdictOf(*g), w.old(v.OldEdges))
}

func (w *leaf) old(n int32) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(`<span>%s been cold since before today: treat before placing there.</span>`,
		report.Count(n, "edge has", "edges have"))
}

// verdictOf an edge: what may be, and until when.
func (w *leaf) verdictOf(g drawing.EdgeGroup) string {
	from, to := g.TurnsAt, g.TurnsLatest
	if to == nil {
		to = from
	}
	strong := func(t *time.Time) string { return "<strong>" + esc(w.MaybeClock(t)) + "</strong>" }
	switch {
	case from == nil:
		return "when it turns cold is not known."
	case g.State == "cold":
		return "cold since " + strong(to) + ", and no treatment is written. Treat it before placing there."
	case g.State == view.MayBeCold && to.After(w.Now):
		return "may be cold already; cold for certain by " + strong(to) + ", in " + w.within(to, to) + " min."
	case g.State == view.MayBeCold:
		return "cold by now."
	case from.Equal(*to):
		return esc(g.State) + "; cold at " + strong(from) + ", in " + w.within(from, to) + " min."
	}
	return esc(g.State) + "; cold between " + strong(from) + " and " + strong(to) + ", in " + w.within(from, to) +
		" min."
}

// nextSection lists what turns cold next.
func (w *leaf) nextSection(v drawing.Overview) {
	const most = 8
	w.section("next", "Next to go cold")
	if len(v.Edges) == 0 {
		w.put(`<p>No edge is open that may turn cold today.</p>`)
	} else {
		w.put(`<ol class="rows">`)
		for _, g := range v.Edges[:min(most, len(v.Edges))] {
			w.edgeRow(g)
		}
		w.put(`</ol>`)
	}
	if rest := len(v.Edges) - most; rest > 0 && w.Root != "" {
		w.put(`<p><a href="%sjoints">%s</a></p>`, w.Root, report.Count(rest, "more edge", "more edges"))
	}
	w.endSection()
}

func (w *leaf) edgeRow(g drawing.EdgeGroup) {
	where := report.CoatName(g.Zone, g.Face, g.Coat) + " to " + report.AndList(g.Others)
	if g.Inside || len(g.Others) == 0 {
		where = "inside " + report.CoatName(g.Zone, g.Face, g.Coat)
	}
	left := `<span class="min">–</span>`
	switch {
	case g.State == "cold":
		left = `<span class="min">cold</span>`
	case g.TurnsAt != nil:
		left = fmt.Sprintf(`<span class="min"><span%s>%s</span> <small>min</small></span>`,
			picture.Countdown(g.TurnsAt, g.TurnsLatest), picture.EdgeMinutes(g.TurnsAt, g.TurnsLatest, w.Now))
	}
	joint := ""
	if len(g.Joints) > 0 {
		joint = g.Joints[0]
	}
	more := esc(w.Clocks(g.TurnsAt, g.TurnsLatest))
	if g.LengthM > 0 {
		more += ", " + esc(w.Length(g.LengthM))
	}
	inside := fmt.Sprintf(`<span><b class="%s">%s</b> %s<br>%s</span>`, stateClass(g.State), esc(g.State), esc(where),
		more)
	if w.Root != "" && joint != "" {
		w.put(`<li><a href="%s">%s%s</a></li>`, html.EscapeString(w.Root+report.Address("joint", joint)), left, inside)
		return
	}
	w.put(`<li>%s%s</li>`, left, inside)
}

// stateClass is the tone of a word that says it already.
func stateClass(state string) string {
	switch state {
	case view.MayBeCold, "cold", view.MadeCold:
		return "urgent"
	case "closing", view.MadeLate:
		return "soon"
	}
	return "strong"
}

func (w *leaf) dryingSection(v drawing.Overview) {
	w.section("drying", "Drying")
	c := v.Weather
	switch {
	case c == nil || c.ReadAt == nil:
		w.put(`<p>No weather was read yet, so how fast fresh mortar dries is not known.</p>`)
	case c.OverLimit == nil:
		w.put(`<p><b class="soon">Not known.</b> %s.</p>`, esc(report.SentenceStart(report.DryingMissing(*c))))
	default:
		rate, limit := w.Drying(*c)
		bare := "Nothing fresh lies bare."
		if len(c.FreshUncovered) > 0 {
			bare = esc(someOf(c.FreshUncovered, 6)) + bareVerb(len(c.FreshUncovered))
		}
		said := fmt.Sprintf("%s as read at %s, limit %s.%s", esc(rate), esc(w.MaybeClock(c.ReadAt)), esc(limit),
			w.why("drying", "Why"))
		switch {
		case *c.OverLimit && v.Drying.OverSince != nil:
			w.put(`<p><b class="urgent">Over the limit since %s.</b> %s %s</p>`, esc(w.Clock(*v.Drying.OverSince)),
				said, bare)
		case *c.OverLimit:
			w.put(`<p><b class="urgent">Over the limit.</b> %s %s</p>`, said, bare)
		default:
			w.put(`<p><b>Within the limit.</b> %s %s</p>`, said, bare)
		}
		if *c.OverLimit && len(c.FreshUncovered) > 0 {
			w.put(`<p>Cover it, fog it or keep the wind off.</p>`)
		}
	}
	if drawn := picture.Drying(w.frame("dry"), v.Drying, w.Now); drawn != "" {
		w.put(`%s`, drawn)
		w.put(`<p class="note">The band is what the formula may be off by: %s either way.</p>`,
			esc(w.Share(v.Drying.Spread)))
		w.dryingTable(v.Drying)
	}
	w.endSection()
}

func bareVerb(n int) string {
	if n == 1 {
		return " lies bare."
	}
	return " lie bare."
}

// dryingTable has the numbers of the picture.
func (w *leaf) dryingTable(v view.Drying) {
	g := grid{caption: "Drying over the day, as drawn", columns: []report.Column{
		{Name: "at"},
		{Name: "rate", Right: true},
		{Name: "from", Right: true},
		{Name: "to", Right: true},
		{Name: ""},
	}}
	for _, k := range v.Points {
		kind := "read"
		if k.Forecast {
			kind = "forecast"
		}
		rate := w.Evaporation(k.RateKgM2H)
		low, high := w.Evaporation(k.LowKgM2H), w.Evaporation(k.HighKgM2H)
		if w.System == unit.US {
			rate = w.EvaporationLb(k.RateLbFt2H)
		}
		if k.Over {
			kind += ", over"
		}
		g.row(report.Say(w.Clock(k.At)), report.Figure(rate), report.Figure(low), report.Figure(high), report.Say(kind))
	}
	w.grid("drytable", g)
}

// grid is a table that is folded away under its picture.
type grid struct {
	caption string
	columns []report.Column
	rows    [][]report.Text
}

func (g *grid) row(cells ...report.Text) { g.rows = append(g.rows, cells) }

func (w *leaf) grid(id string, g grid) {
	if len(g.rows) == 0 {
		return
	}
	w.put(`<details id="%s"><summary>The numbers</summary>`, w.prefix+id)
	w.tableOf(g)
	w.put(`</details>`)
}

// tableOf writes a table with its caption; the first cell of a row names it.
func (w *leaf) tableOf(g grid) {
	t := report.WebTable{Caption: g.caption, Headed: true, Columns: g.columns, Rows: g.rows}
	w.put(`%s`, t.HTML(w.Root))
}

func (w *leaf) leftSection(v drawing.Overview) {
	w.section("left", "What is left")
	f := v.Left
	switch {
	case f.Done:
		w.put(`<p><b>Every planned coat is finished.</b></p>`)
	case f.Batches == nil:
		w.put(`<p><b>Not known.</b> %s</p>`, esc(report.Sentence(strings.Join(f.Missing, "; "))))
	default:
		said := fmt.Sprintf(`<b>%s</b> as likely as not, %d nine times in ten.`,
			report.Count(f.Batches.P50, "batch", "batches"), f.Batches.P90)
		if f.Finish50 != nil {
			said += fmt.Sprintf(` Done <b>%s</b> as likely as not`, w.dayClock(*f.Finish50))
			if f.Finish90 != nil {
				said += fmt.Sprintf(", %s nine times in ten", w.dayClock(*f.Finish90))
			}
			said += "."
		} else if f.Pace == nil {
			said += " When is not known before crews have mixed a few batches."
		}
		w.put(`<p>%s%s</p>`, said, w.why("left", "Why"))
	}
	outs := outOf(f.Materials)
	for i, o := range outs {
		if i < 3 {
			w.put(`<p><b class="urgent">%s runs out %s</b>, as likely as not.</p>`, esc(o.Material), w.dayClock(o.At))
		}
	}
	if drawn := picture.Fan(w.frame("fan"), v.Fan, outs, w.Now); drawn != "" {
		w.put(`%s`, drawn)
		w.put(
			`<p class="note">Line: as likely as not. Inner band: half of the time. Outer band: nine times in ten.</p>`)
		w.fanTable(v.Fan)
	}
	w.endSection()
}

// fanTable has the numbers of the picture.
func (w *leaf) fanTable(fan []ahead.FanPoint) {
	g := grid{caption: "Batches left, as drawn", columns: []report.Column{
		{Name: "by"},
		{Name: "5 %", Right: true},
		{Name: "25 %", Right: true},
		{Name: "50 %", Right: true},
		{Name: "75 %", Right: true},
		{Name: "95 %", Right: true},
	}}
	for i, k := range fan {
		if i%4 == 0 || i == len(fan)-1 {
			n := func(x float64) report.Text { return report.Figure(report.Decimal(x, 0)) }
			g.row(report.Say(w.dayClock(k.At)), n(k.P05), n(k.P25), n(k.P50), n(k.P75), n(k.P95))
		}
	}
	w.grid("fantable", g)
}

// dayClock is an instant with its weekday, where it is of another day than the page.
func (w *leaf) dayClock(t time.Time) string {
	here, now := t.In(w.In), w.Now.In(w.In)
	switch {
	case here.Format(time.DateOnly) == now.Format(time.DateOnly):
		return here.Format("15:04")
	case here.Sub(now) < 6*24*time.Hour && now.Sub(here) < 0:
		return here.Format("Mon 15:04")
	}
	return here.Format("Mon 2 Jan 15:04")
}

// outOf are the materials that run out before the work is done, the soonest first.
func outOf(needs []ahead.MaterialNeed) []picture.Out {
	var all []picture.Out
	for _, n := range needs {
		if n.RunsOut50 != nil {
			all = append(all, picture.Out{Material: n.Material, At: *n.RunsOut50})
		}
	}
	slices.SortStableFunc(all, func(a, b picture.Out) int { return a.At.Compare(b.At) })
	return all
}

func (w *leaf) crewSection(v drawing.Overview) {
	w.section("crews", "Crews")
	if len(v.Crews) == 0 {
		w.put(`<p>No crew is planned and none has written.</p>`)
		w.endSection()
		return
	}
	g := grid{caption: "What each did last, and today", columns: []report.Column{
		{Name: "crew"},
		{Name: "at"},
		{Name: "last"},
		{Name: "today", Right: true},
	}}
	for _, c := range v.Crews {
		at, last := report.Text(nil), report.Say("nothing yet")
		if c.LastAt != nil {
			at = report.Figure(w.Clock(*c.LastAt))
			last = report.Say(c.Last).To("event", c.LastEvent)
		}
		today := report.Figure(report.Count(c.Batches, "batch", "batches"))
		g.row(report.Say(c.Crew), at, last, today)
	}
	w.tableOf(g)
	w.endSection()
}

func (w *leaf) stockSection(v drawing.Overview) {
	t := v.Left.Tomorrow
	day := "the next working day"
	if d, err := time.Parse(time.DateOnly, t.Date); err == nil {
		day = d.Format("Mon 2 Jan")
	}
	w.section("stock", "Stock for "+day)
	var short, unknown []string
	for _, n := range t.Materials {
		switch {
		case n.ShortKg != nil && *n.ShortKg > 0:
			words := fmt.Sprintf(`<b class="urgent">%s is short by %s.</b>`, esc(n.Material),
				esc(w.MassAndBags(*n.ShortKg, report.Whole(n.ShortBags))))
			if n.LastsBatches != nil && t.Batches != nil {
				words += fmt.Sprintf(" It lasts %s; that day may take %d.",
					report.Count(*n.LastsBatches, "batch", "batches"),
					*t.Batches)
			}
			short = append(short, words+w.why("stock/"+n.Material, "Why"))
		case !n.Counted:
			unknown = append(unknown, n.Material)
		}
	}
	switch {
	case v.Left.Done:
		w.put(`<p>Nothing more is to be mixed.</p>`)
	case t.Batches == nil:
		w.put(`<p><b>Not known.</b> %s</p>`, esc(report.Sentence(t.Note)))
	case len(short) > 0:
		for _, s := range short {
			w.put(`<p>%s</p>`, s)
		}
	case t.Suffices:
		w.put(`<p><b>It suffices</b> for %s, nine times in ten.</p>`, report.Count(*t.Batches, "batch", "batches"))
	}
	if len(unknown) > 0 {
		w.put(`<p>No stock was ever written of %s.</p>`, esc(someOf(unknown, 8)))
	}
	if drawn := picture.Tomorrow(w.frame("stk"), t.Materials, day); drawn != "" {
		w.put(`%s`, drawn)
		g := grid{
			caption: "Stock against need, as drawn",
			columns: []report.Column{
				{Name: "material"},
				{Name: "at start", Right: true},
				{Name: "need 9 in 10", Right: true},
				{Name: "short", Right: true},
			},
		}
		for _, n := range t.Materials {
			hand := report.NotKnown
			switch {
			case n.Left50Kg != nil:
				hand = w.Mass(*n.Left50Kg)
			case n.OnHandKg != nil:
				hand = w.Mass(*n.OnHandKg)
			}
			lacks := report.Text(nil)
			if n.ShortKg != nil && *n.ShortKg > 0 {
				lacks = report.Figure(w.Mass(*n.ShortKg), report.Urgent)
			}
			g.row(report.Say(n.Material), report.Figure(hand), report.Figure(w.Mass(n.Need90Kg)), lacks)
		}
		w.grid("stktable", g)
		w.put(`<p class="note">%s</p>`, esc(report.AtStart))
	}
	w.endSection()
}

func (w *leaf) settleSection(v drawing.Overview) {
	t := v.Settle
	title := "To settle: nothing"
	if n := t.Grave + t.Other; n > 0 {
		title = fmt.Sprintf("To settle: %d grave, %d other", t.Grave, t.Other)
	}
	w.section("settle", title)
	if len(t.Groups) > 0 {
		w.put(`<ul class="rows">`)
		for _, g := range t.Groups {
			w.settleGroup(g)
		}
		w.put(`</ul>`)
	}
	w.endSection()
}

// settleGroup is one kind of flag: the first ones in full, then how many more.
func (w *leaf) settleGroup(g drawing.SettleGroup) {
	const most = 3
	weight := ""
	if g.Grave {
		weight = `<b class="urgent">grave</b> `
	}
	for i, f := range g.Flags {
		words := strings.ReplaceAll(g.Code, "-", " ") + ": " + report.FlagText(f)
		if i == most {
			more := fmt.Sprintf("%d more of %s", len(g.Flags)-most, strings.ReplaceAll(g.Code, "-", " "))
			if w.Root != "" {
				w.put(`<li><a href="%sflags">%s%s</a></li>`, w.Root, weight, esc(more))
			} else {
				w.put(`<li><span>%s%s</span></li>`, weight, esc(more))
			}
			return
		}
		if w.Root != "" {
			w.put(`<li><a href="%s"><span>%s%s</span></a></li>`,
				html.EscapeString(w.Root+report.Address("flag", f.FullID)),
				weight, esc(cutWords(words, 180)))
		} else {
			w.put(`<li><span>%s%s</span></li>`, weight, esc(cutWords(words, 180)))
		}
	}
}

// cutWords is a text of at most so many letters, cut between words.
func cutWords(s string, most int) string {
	runes := []rune(s)
	if len(runes) <= most {
		return s
	}
	cut := string(runes[:most])
	if i := strings.LastIndexByte(cut, ' '); i > most/2 {
		cut = cut[:i]
	}
	return cut + " …"
}

// someOf names the first so many and counts the rest.
func someOf(names []string, most int) string {
	if len(names) <= most {
		return report.AndList(names)
	}
	return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
}
