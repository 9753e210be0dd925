package leaf

import (
	"fmt"
	"html"
	"net/url"
	"strings"
	"time"

	"hod/internal/report"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// LogLeaf is one page of the log as the inside of a web page: the newest first, what to choose from, and what is left
// out.
func LogLeaf(v drawing.LogLeaf, p report.Page) string {
	p.HTML = true
	s := report.Open(p, v.Units, v.AsOf)
	w := &leaf{Sheet: s}
	w.put(`<header class="top"><h1>%s: log</h1></header>`, esc(v.Site))
	w.logChoice(v)
	said := report.Count(v.Found, "entry", "entries") + ", the newest first"
	if v.Pages > 1 {
		said += fmt.Sprintf("; page %d of %d", v.Page, v.Pages)
	}
	if v.LeftOut > 0 {
		said += fmt.Sprintf(". Left out: %s that do not match", report.Count(v.LeftOut, "entry", "entries"))
	} else {
		said += ". Nothing is left out"
	}
	w.put(`<p id="found">%s.</p>`, esc(said))
	w.logSteps(v, "above it")
	for from := 0; from < len(v.Entries); {
		day := s.Day(v.Entries[from].At)
		to := from + 1
		for to < len(v.Entries) && s.Day(v.Entries[to].At) == day {
			to++
		}
		s.Section(day, nil)
		s.Entries(v.Entries[from:to], false)
		from = to
	}
	s.Legend(v.Entries)
	w.put(`%s`, strings.Join(s.Lines, "\n"))
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
	set("person", q.Person)
	if !q.Since.IsZero() {
		set("day", q.Since.In(w.In).Format(time.DateOnly))
	}
	if q.SetAside {
		set("aside", "1")
	}
	if page > 1 {
		set("page", fmt.Sprint(page))
	}
	if len(values) == 0 {
		return html.EscapeString(w.Root + "log")
	}
	return html.EscapeString(w.Root + "log?" + values.Encode())
}

// logChoice offers what to narrow the log down to, as links: the pages have no form.
func (w *leaf) logChoice(v drawing.LogLeaf) {
	if w.Root == "" {
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
	pick("person", v.Query.Person, v.People, func(q view.LogQuery, x string) view.LogQuery { q.Person = x; return q })
	pick("kind", v.Query.Kind, v.Kinds, func(q view.LogQuery, x string) view.LogQuery { q.Kind = x; return q })
	day := ""
	if !v.Query.Since.IsZero() {
		day = v.Query.Since.In(w.In).Format(time.DateOnly)
	}
	pick("day", day, v.Days, func(q view.LogQuery, x string) view.LogQuery { return q.OnDay(x, w.In) })
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
	if v.Pages < 2 || w.Root == "" {
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
func Event(v drawing.EventLeaf, p report.Page) string {
	p.HTML = true
	s := report.Open(p, v.Units, v.AsOf)
	w := &leaf{Sheet: s}
	e := v.Entry
	w.put(`<header class="top"><h1>%s</h1><p>%s, event of the record</p></header>`, esc(e.Name), esc(e.Kind))
	w.put(`<p>%s</p>`, report.Join(" ", report.Standing(e), report.Say(e.Text), report.Reason(e)).HTML(s.Root))
	w.put(`<dl>`)
	pair := func(name string, t report.Text) {
		if !t.Empty() {
			w.put(`<dt>%s</dt><dd>%s</dd>`, esc(name), t.HTML(s.Root))
		}
	}
	pair("happened", report.Figure(s.Day(e.At)+", "+e.At.In(s.In).Format("15:04:05")))
	pair("written", report.Figure(s.Day(e.LoggedAt)+", "+e.LoggedAt.In(s.In).Format("15:04:05")))
	pair("by", report.Join(", ", report.Say(e.Person), report.Say(e.Crew)))
	var zones []report.Text
	for _, z := range v.Zones {
		zones = append(zones, report.Say(z).To("zone", z))
	}
	pair("zone", report.Join(", ", zones...))
	pair("state", report.Say(e.State))
	pair("hash", report.Say(e.Hash))
	w.put(`</dl>`)
	if len(v.Chain) > 0 {
		s.Section("As it was written and corrected", nil)
		s.Entries(v.Chain, true)
	}
	if len(v.Flags) > 0 {
		s.Section("Flags that rest on it", nil)
		for _, f := range v.Flags {
			s.Para(0, 0, report.Join(" ", report.Grave(f), report.Say(f.Code+": "+report.FlagText(f)).To("flag",
				f.FullID)))
		}
	}
	w.put(`%s`, strings.Join(s.Lines, "\n"))
	return w.b.String()
}

// Joint is one joint with what it rests on as the inside of a web page.
func Joint(v drawing.JointLeaf, p report.Page) string {
	p.HTML = true
	s := report.Open(p, v.Units, v.AsOf)
	w := &leaf{Sheet: s}
	j := v.Joint
	w.put(`<header class="top"><h1>%s</h1><p>%s</p></header>`, esc(report.Where(j)), esc(v.Site))
	s.Joint(j)
	s.Section("What it rests on", nil)
	s.Named(0, 9, "Figures:", report.Join(", ", report.Sayf("%s of initial set used", s.Used(j)),
		report.Sayf("initial set %s at %s", report.OfMinutes(j.SetMinutes), s.Temperature(j.SetReferenceC)),
		report.Sayf("material at %s", s.Temperature(j.MaterialC))))
	s.Named(0, 9, "Formula:", report.Say(v.Limit.Formula))
	s.Named(0, 9, "Limit:", report.Sayf("closing from %s, cold from %s", s.Share(v.Limit.Closing),
		s.Share(v.Limit.Cold)))
	s.Named(0, 9, "Source:", report.Say(v.Limit.Source))
	s.Named(0, 9, "Events:", report.Events(append(append([]string(nil), j.Earlier...), j.Later...)))
	zones := []report.Text{report.Say(j.Zone).To("zone", j.Zone)}
	if j.Other != "" {
		zones = append(zones, report.Say(j.Other).To("zone", j.Other))
	}
	s.Named(0, 9, "Zones:", report.Join(", ", zones...))
	if len(v.Flags) > 0 {
		s.Section("Flags", nil)
		for _, f := range v.Flags {
			s.Para(0, 0, report.Join(" ", report.Grave(f), report.Say(f.Code+": "+report.FlagText(f)).To("flag",
				f.FullID)))
		}
	}
	w.put(`%s`, strings.Join(s.Lines, "\n"))
	return w.b.String()
}

// ZoneList is all zones, each leading to its page.
func ZoneList(v drawing.ZoneList, p report.Page) string {
	p.HTML = true
	s := report.Open(p, v.Units, v.AsOf)
	w := &leaf{Sheet: s}
	w.put(`<header class="top"><h1>%s: zones</h1></header>`, esc(v.Site))
	if len(v.Lines) == 0 {
		w.put(`<p>No zone with a coat is planned yet.</p>`)
		return w.b.String()
	}
	g := grid{caption: "Zones and their coats", columns: []report.Column{
		{Name: "coat"},
		{Name: "state"},
		{Name: "mean of design", Right: true},
		{Name: "placed", Right: true},
		{Name: "left", Right: true},
		{Name: "last at", Right: true},
	}}
	for _, l := range v.Lines {
		state := l.State
		if l.Complete != nil && state == "under way" {
			state += " " + s.Share(*l.Complete)
		}
		g.row(report.Say(report.CoatName(l.Zone, l.Face, l.Coat)).To("zone", l.Zone), report.Say(state),
			report.Figure(report.Against(s.Thickness(l.MeanThicknessM), s.Thickness(l.DesignM))).
				To("why", report.WhyCoat(l.Zone, l.Face, l.Coat)),
			report.Figure(s.Volume(l.PlacedM3)), report.Figure(s.Volume(l.LeftM3)),
			report.Figure(s.MaybeClock(l.LastPlacedAt)))
	}
	w.tableOf(g)
	return w.b.String()
}

// DaySteps are the days before and after one, as links.
func DaySteps(date string, now time.Time, p report.Page, where string) string {
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
