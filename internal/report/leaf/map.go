package leaf

import (
	"fmt"
	"html"
	"net/url"
	"slices"

	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// Map is the shell laid flat as a page of its own, with all its numbers.
func Map(v drawing.Map, bay int, p report.Page) string {
	p.HTML = true
	w := &leaf{Sheet: report.Open(p, v.Units, v.AsOf)}
	w.put(`<header class="top"><h1>%s: map</h1></header>`, esc(v.Site))
	if bay > 0 {
		w.bayPage(v, bay)
	} else {
		w.mapSection(v, "map", true)
	}
	return w.b.String()
}

// coatQuery is the part of an address that names the coat that a map shows.
func coatQuery(c *drawing.MapCoat) string {
	if c == nil {
		return "?coat=all"
	}
	if c.Face == "" {
		return fmt.Sprintf("?coat=%d", c.Coat)
	}
	return fmt.Sprintf("?coat=%s-%d", url.QueryEscape(c.Face), c.Coat)
}

// mapSection is the map with its key, its coats to choose from, and its numbers as tables; whole has them all.
func (w *leaf) mapSection(v drawing.Map, page string, whole bool) {
	large := slices.ContainsFunc(v.Parts, func(p drawing.MapPart) bool { return len(p.Zones) > picture.MapMost })
	wide := !large && slices.ContainsFunc(v.Parts, func(p drawing.MapPart) bool { return p.Columns > 5 })
	w.sectionOf("map", "The shell, laid flat", wide)
	if len(v.Parts) == 0 {
		w.put(`<p>No zone is planned yet.</p>`)
		w.endSection()
		return
	}
	w.coatSwitch(v, page)
	var zones, edges []string
	for i, p := range v.Parts {
		id := fmt.Sprintf("m%d", i)
		if len(p.Zones) > picture.MapMost {
			w.overview(v, p, i, id)
		} else {
			w.partDrawn(v, p, id)
		}
		z, e := picture.Words(p)
		zones, edges = both(zones, z), both(edges, e)
		w.apartEdges(p)
	}
	w.key(zones, edges, !large)
	for _, n := range v.Notes {
		w.put(`<p class="note">%s</p>`, esc(report.Sentence(n)))
	}
	if whole || count1(v) <= 24 {
		w.mapTables(v, "maptable")
	} else if w.Root != "" {
		w.put(`<p><a class="big" href="%smap%s">The numbers of the map</a></p>`, w.Root,
			html.EscapeString(coatQuery(v.Shown)))
	}
	w.endSection()
}

func count1(v drawing.Map) (n int) {
	for _, p := range v.Parts {
		n += len(p.Zones)
	}
	return n
}

func both(all, more []string) []string {
	for _, m := range more {
		if !slices.Contains(all, m) {
			all = append(all, m)
		}
	}
	return all
}

// coatSwitch chooses the coat that is shown.
func (w *leaf) coatSwitch(v drawing.Map, page string) {
	if w.Root == "" || len(v.Coats) < 2 {
		if v.Shown != nil {
			w.put(`<p>%s.</p>`, esc(report.SentenceStart(picture.CoatName(*v.Shown))))
		}
		return
	}
	w.put(`<p class="face" role="group" aria-label="coat shown">`)
	const most = 8
	for i, c := range append(slices.Clone(v.Coats), drawing.MapCoat{}) {
		last := i == len(v.Coats)
		if i >= most && !last {
			continue
		}
		is, query, name := v.Shown != nil && *v.Shown == c, coatQuery(&c), picture.CoatName(c)
		if last {
			is, query, name = v.Shown == nil, coatQuery(nil), "all coats"
		}
		current := ""
		if is {
			current = ` aria-current="true"`
		}
		w.put(`<a href="%s%s%s#map"%s>%s</a>`, w.Root, page, html.EscapeString(query), current, esc(name))
	}
	w.put(`</p>`)
}

// partDrawn is one part as a picture; a wide one is moved sideways, so that its letters stay large.
func (w *leaf) partDrawn(v drawing.Map, p drawing.MapPart, id string) {
	drawn := picture.Map(w.frame(id), v, p)
	if p.Columns <= 4 {
		w.put(`<div class="map">%s</div>`, drawn)
		return
	}
	size := "w8"
	switch {
	case p.Columns <= 6:
		size = "w6"
	case p.Columns > 8:
		size = "w12"
	}
	w.put(
		`<div class="map wide" role="region" aria-label="map, to be moved sideways" tabindex="0"><div class="%s">%s</div></div>`, size, drawn)
}

func (w *leaf) overview(v drawing.Map, p drawing.MapPart, part int, id string) {
	at := func(n int) string { return fmt.Sprintf("map%s&bay=%d", coatQuery(v.Shown), part*1000+n) }
	w.put(`<div class="map">%s</div>`, picture.Overview(w.frame(id), v, p, at))
	g := grid{caption: "Bays", columns: []report.Column{{Name: "bay"}, {Name: "zones"}, {Name: "state"}}}
	for _, b := range picture.Bays(p) {
		first, last := b.Part.Zones[0].Zone, b.Part.Zones[len(b.Part.Zones)-1].Zone
		name := report.Say(fmt.Sprintf("bay %d", b.Number))
		for i := range name {
			name[i].To = at(b.Number)
		}
		g.row(name, report.Say(first+" to "+last), report.Say(picture.BaySays(b)))
	}
	w.grid(id+"bays", g)
}

// bayPage is one bay of a large part.
func (w *leaf) bayPage(v drawing.Map, bay int) {
	part, number := bay/1000, bay%1000
	w.section("map", fmt.Sprintf("Bay %d", number))
	defer w.endSection()
	if part >= len(v.Parts) {
		w.put(`<p>There is no such bay.</p>`)
		return
	}
	bays := picture.Bays(v.Parts[part])
	if number < 1 || number > len(bays) {
		w.put(`<p>There is no such bay.</p>`)
		return
	}
	b := bays[number-1]
	w.put(`<p>%s</p>`, esc(report.Sentence(picture.BaySays(b))))
	w.partDrawn(v, b.Part, "b")
	z, e := picture.Words(b.Part)
	w.key(z, e, true)
	if w.Root != "" {
		w.put(`<nav class="more" aria-label="bays">`)
		for _, step := range []struct {
			to   int
			word string
		}{{number - 1, "bay before"}, {0, "all bays"}, {number + 1, "bay after"}} {
			switch {
			case step.to == 0 && step.word == "all bays":
				w.put(`<a href="%smap%s">all bays</a>`, w.Root, html.EscapeString(coatQuery(v.Shown)))
			case step.to >= 1 && step.to <= len(bays):
				w.put(`<a href="%smap%s">%s</a>`, w.Root,
					html.EscapeString(fmt.Sprintf("%s&bay=%d", coatQuery(v.Shown), part*1000+step.to)), step.word)
			}
		}
		w.put(`</nav>`)
	}
	shown := v
	p := b.Part
	p.Edges = append(slices.Clone(p.Edges), b.Across...)
	shown.Parts = []drawing.MapPart{p}
	w.mapTables(shown, "baytable")
}

// apartEdges are the open edges between zones that do not touch on the map.
func (w *leaf) apartEdges(p drawing.MapPart) {
	at := map[string]drawing.MapZone{}
	for _, z := range p.Zones {
		at[z.Zone] = z
	}
	var all []string
	for _, e := range p.Edges {
		if picture.Touch(at[e.A], at[e.B]) || e.State == view.NotMet || e.State == view.MadeLive {
			continue
		}
		words := fmt.Sprintf("%s to %s, %s", e.A, e.B, e.State)
		if m := picture.EdgeMinutes(e.TurnsAt, e.TurnsLatest, w.Now); m != "" &&
			(e.State == "live" || e.State == "closing" || e.State == view.MayBeCold) {
			words += ", " + m + " min"
		}
		all = append(all, w.a("joint", e.Joint, words))
	}
	if len(all) > 0 {
		w.put(`<p>Edges of zones that lie apart on the map: %s.</p>`, joined(all, "; "))
	}
}

func joined(all []string, sep string) string {
	s := ""
	for i, a := range all {
		if i > 0 {
			s += sep
		}
		s += a
	}
	return s
}

// key says what pattern and line mean what, and what stands written in the cells, where anything does.
func (w *leaf) key(zones, edges []string, written bool) {
	w.put(`<ul class="keys" aria-label="key to the map">`)
	for i, word := range zones {
		w.put(`<li>%s%s</li>`, picture.Key(picture.Frame{ID: fmt.Sprintf("k%d", i)}, word), esc(word))
	}
	for i, word := range edges {
		mark := ""
		if m := picture.Mark(word); m != "" {
			mark = " (" + m + ")"
		}
		w.put(`<li>%s%s%s</li>`, picture.Key(picture.Frame{ID: fmt.Sprintf("l%d", i)}, word), esc(word), mark)
	}
	w.put(`</ul>`)
	if len(edges) > 0 && written {
		in := "mm"
		if w.System == unit.US {
			in = "inches"
		}
		w.put(`<p class="note">In a cell: thickness placed / planned, %s, or its share. `+
			`On an edge: minutes until it is cold, from the soonest to the latest.</p>`, in)
	}
}

// mapTables are the map's numbers: zones, and the edges that are open or went wrong.
func (w *leaf) mapTables(v drawing.Map, id string) {
	z := grid{caption: "Zones on the map", columns: []report.Column{
		{Name: "zone"},
		{Name: "state"},
		{Name: "mean of design", Right: true},
		{Name: "last at", Right: true},
	}}
	e := grid{caption: "Edges on the map", columns: []report.Column{
		{Name: "edge"},
		{Name: "state"},
		{Name: "min", Right: true},
		{Name: "cold at", Right: true},
		{Name: "length", Right: true},
	}}
	for _, p := range v.Parts {
		for _, k := range p.Zones {
			mean := report.Text(nil)
			if k.DesignM > 0 {
				mean = report.Figure(report.Against(w.Thickness(k.MeanM), w.Thickness(k.DesignM)))
			} else if k.Planned > 1 {
				mean = report.Figure(fmt.Sprintf("%d of %d coats done", k.Done, k.Planned))
			}
			state := picture.ZoneWord(k)
			if k.Surface != "" {
				state += ", " + k.State
			}
			z.row(report.Say(k.Zone).To("zone", k.Zone), report.Say(state), mean, report.Figure(w.MaybeClock(k.LastAt)))
		}
		for _, k := range p.Edges {
			if k.State == view.NotMet {
				continue
			}
			left, at := "", ""
			if k.State == "live" || k.State == "closing" || k.State == view.MayBeCold {
				left, at = picture.EdgeMinutes(k.TurnsAt, k.TurnsLatest, w.Now), w.Clocks(k.TurnsAt, k.TurnsLatest)
			}
			e.row(report.Say(k.A+" to "+k.B).To("joint", k.Joint), report.Say(k.State), report.Figure(left),
				report.Figure(at),
				report.Figure(w.Length(k.LengthM)))
		}
	}
	w.put(`<details id="%s"><summary>The numbers of the map</summary>`, id)
	w.tableOf(z)
	if len(e.rows) > 0 {
		w.tableOf(e)
	}
	w.put(`</details>`)
}
