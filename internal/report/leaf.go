package report

import (
	"fmt"
	"html"
	"net/url"
	"strings"
	"time"

	"hod/internal/view"
	"hod/internal/view/drawing"
)

// LogLeaf is one page of the log as the inside of a web page: the newest first, what to choose from, and what is left
// out.
func LogLeaf(v drawing.LogLeaf, p Page) string {
	p.HTML = true
	s := open(p, v.Units, v.AsOf)
	w := &leaf{sheet: s}
	w.put(`<header class="top"><h1>%s: log</h1></header>`, esc(v.Site))
	w.logChoice(v)
	said := count(v.Found, "entry", "entries") + ", the newest first"
	if v.Pages > 1 {
		said += fmt.Sprintf("; page %d of %d", v.Page, v.Pages)
	}
	if v.LeftOut > 0 {
		said += fmt.Sprintf(". Left out: %s that do not match", count(v.LeftOut, "entry", "entries"))
	} else {
		said += ". Nothing is left out"
	}
	w.put(`<p id="found">%s.</p>`, esc(said))
	w.logSteps(v, "above it")
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
	w.put(`%s`, strings.Join(s.lines, "\n"))
	w.logSteps(v, "below it")
	return w.b.String()
}

// address of the log with a choice and a page.
func (w *leaf) logAddress(q view.LogQuery, page int) string {
	values := url.Values{}
	set := func(name, value string) {
		if value != "" {
			values.Set(name, value)
		}
	}
	set("crew", q.Crew)
	set("kind", q.Kind)
	set("zone", q.Zone)
	if q.SetAside {
		set("aside", "1")
	}
	if page > 1 {
		set("page", fmt.Sprint(page))
	}
	if len(values) == 0 {
		return html.EscapeString(w.root + "log")
	}
	return html.EscapeString(w.root + "log?" + values.Encode())
}

// logChoice offers what to narrow the log down to, as links: the pages have no form.
func (w *leaf) logChoice(v drawing.LogLeaf) {
	if w.root == "" {
		return
	}
	chosen := func(name, value string) string {
		if value == "" {
			return name + ": all"
		}
		return name + ": " + value
	}
	pick := func(name, is string, of []string, with func(q view.LogQuery, x string) view.LogQuery) {
		w.put(`<details id="by-%s"><summary>%s</summary><ul class="pick">`, name, esc(chosen(name, is)))
		for _, x := range append([]string{""}, of...) {
			current, word := "", x
			if x == is {
				current = ` aria-current="true"`
			}
			if x == "" {
				word = "all"
			}
			w.put(`<li><a href="%s"%s>%s</a></li>`, w.logAddress(with(v.Query, x), 1), current, esc(word))
		}
		w.put(`</ul></details>`)
	}
	pick("crew", v.Query.Crew, v.Crews, func(q view.LogQuery, x string) view.LogQuery { q.Crew = x; return q })
	pick("kind", v.Query.Kind, v.Kinds, func(q view.LogQuery, x string) view.LogQuery { q.Kind = x; return q })
	aside := v.Query
	aside.SetAside = !aside.SetAside
	word := "only what was set aside"
	if v.Query.SetAside {
		word = "all, not only what was set aside"
	}
	w.put(`<p><a class="big" href="%s">%s</a></p>`, w.logAddress(aside, 1), word)
	if v.Query.Zone != "" {
		all := v.Query
		all.Zone = ""
		w.put(`<p>Zone %s alone. <a class="big" href="%s">all zones</a></p>`, esc(v.Query.Zone), w.logAddress(all, 1))
	}
}

func (w *leaf) logSteps(v drawing.LogLeaf, where string) {
	if v.Pages < 2 || w.root == "" {
		return
	}
	w.put(`<nav class="more" aria-label="pages of the log, %s">`, where)
	if v.Page > 1 {
		w.put(`<a href="%s">newer</a>`, w.logAddress(v.Query, v.Page-1))
	}
	if v.Page < v.Pages {
		w.put(`<a href="%s">older</a><a href="%s">oldest</a>`, w.logAddress(v.Query, v.Page+1),
			w.logAddress(v.Query, v.Pages))
	}
	w.put(`</nav>`)
}

// Event is one event as the inside of a web page.
func Event(v drawing.EventLeaf, p Page) string {
	p.HTML = true
	s := open(p, v.Units, v.AsOf)
	w := &leaf{sheet: s}
	e := v.Entry
	w.put(`<header class="top"><h1>%s</h1><p>%s, event of the record</p></header>`, esc(e.Name), esc(e.Kind))
	w.put(`<p>%s</p>`, join(" ", standing(e), say(e.Text), reason(e)).html(s.root))
	w.put(`<dl>`)
	pair := func(name string, t text) {
		if !t.empty() {
			w.put(`<dt>%s</dt><dd>%s</dd>`, esc(name), t.html(s.root))
		}
	}
	pair("happened", figure(s.day(e.At)+", "+e.At.In(s.in).Format("15:04:05")))
	pair("written", figure(s.day(e.LoggedAt)+", "+e.LoggedAt.In(s.in).Format("15:04:05")))
	pair("by", join(", ", say(e.Person), say(e.Crew)))
	var zones []text
	for _, z := range v.Zones {
		zones = append(zones, say(z).to("zone", z))
	}
	pair("zone", join(", ", zones...))
	pair("state", say(e.State))
	pair("hash", say(e.Hash))
	w.put(`</dl>`)
	if len(v.Chain) > 0 {
		s.section("As it was written and corrected", nil)
		s.entries(v.Chain, true)
	}
	if len(v.Flags) > 0 {
		s.section("Flags that rest on it", nil)
		for _, f := range v.Flags {
			s.para(0, 0, join(" ", grave(f), say(f.Code+": "+flagText(f)).to("flag", f.FullID)))
		}
	}
	w.put(`%s`, strings.Join(s.lines, "\n"))
	return w.b.String()
}

// Joint is one joint with what it rests on as the inside of a web page.
func Joint(v drawing.JointLeaf, p Page) string {
	p.HTML = true
	s := open(p, v.Units, v.AsOf)
	w := &leaf{sheet: s}
	j := v.Joint
	w.put(`<header class="top"><h1>%s</h1><p>%s</p></header>`, esc(where(j)), esc(v.Site))
	s.joint(j)
	s.section("What it rests on", nil)
	s.named(0, 9, "Figures:", join(", ", sayf("%s of initial set used", s.used(j)),
		sayf("initial set %s at %s", ofMinutes(j.SetMinutes), s.temperature(j.SetReferenceC)),
		sayf("material at %s", s.temperature(j.MaterialC))))
	s.named(0, 9, "Formula:", say(v.Limit.Formula))
	s.named(0, 9, "Limit:", sayf("closing from %s, cold from %s", s.share(v.Limit.Closing), s.share(v.Limit.Cold)))
	s.named(0, 9, "Source:", say(v.Limit.Source))
	s.named(0, 9, "Events:", events(append(append([]string(nil), j.Earlier...), j.Later...)))
	zones := []text{say(j.Zone).to("zone", j.Zone)}
	if j.Other != "" {
		zones = append(zones, say(j.Other).to("zone", j.Other))
	}
	s.named(0, 9, "Zones:", join(", ", zones...))
	if len(v.Flags) > 0 {
		s.section("Flags", nil)
		for _, f := range v.Flags {
			s.para(0, 0, join(" ", grave(f), say(f.Code+": "+flagText(f)).to("flag", f.FullID)))
		}
	}
	w.put(`%s`, strings.Join(s.lines, "\n"))
	return w.b.String()
}

// ZoneList is all zones, each leading to its page.
func ZoneList(v drawing.ZoneList, p Page) string {
	p.HTML = true
	s := open(p, v.Units, v.AsOf)
	w := &leaf{sheet: s}
	w.put(`<header class="top"><h1>%s: zones</h1></header>`, esc(v.Site))
	if len(v.Lines) == 0 {
		w.put(`<p>No zone with a coat is planned yet.</p>`)
		return w.b.String()
	}
	g := grid{caption: "Zones and their coats", columns: []column{
		{name: "coat"},
		{name: "state"},
		{name: "mean of design", right: true},
		{name: "placed", right: true},
		{name: "left", right: true},
		{name: "last at", right: true},
	}}
	for _, l := range v.Lines {
		state := l.State
		if l.Complete != nil && state == "under way" {
			state += " " + s.share(*l.Complete)
		}
		g.row(say(coatName(l.Zone, l.Face, l.Coat)).to("zone", l.Zone), say(state),
			figure(against(s.thickness(l.MeanThicknessM), s.thickness(l.DesignM))),
			figure(s.volume(l.PlacedM3)), figure(s.volume(l.LeftM3)), figure(s.maybeClock(l.LastPlacedAt)))
	}
	w.tableOf(g)
	return w.b.String()
}

// DaySteps are the days before and after one, as links.
func DaySteps(date string, now time.Time, p Page, where string) string {
	d, err := time.Parse(time.DateOnly, date)
	if err != nil || p.Root == "" {
		return ""
	}
	in := p.In
	if in == nil {
		in = time.UTC
	}
	before, after := d.AddDate(0, 0, -1).Format(time.DateOnly), d.AddDate(0, 0, 1).Format(time.DateOnly)
	today := now.In(in).Format(time.DateOnly)
	name := func(date string) string {
		if date == today {
			return "today"
		}
		day, _ := time.Parse(time.DateOnly, date)
		return day.Format("Mon 2 Jan")
	}
	next := ""
	if after <= today {
		next = fmt.Sprintf(`<a href="%sday/%s" rel="next">%s</a>`, html.EscapeString(p.Root), after, name(after))
	}
	return fmt.Sprintf("<nav class=\"more\" aria-label=\"days, %s\"><a href=\"%sday/%s\" rel=\"prev\">%s</a>%s</nav>\n",
		where, html.EscapeString(p.Root), before, name(before), next)
}
