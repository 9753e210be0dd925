package leaf

import (
	"fmt"
	"strings"

	"hod/internal/report"
	"hod/internal/view/drawing"
)

// Record is the whole record of a shell, to be handed over, as the inside of a web page.
func Record(v drawing.Whole, p report.Page) string {
	p.HTML, p.Root = true, ""
	s := report.Open(p, v.Units, v.AsOf)
	w := &leaf{Sheet: s}
	w.put(`<header class="top"><h1>%s</h1><p>%s</p></header>`, esc(v.Site),
		esc(strings.Trim(v.Place+"; record as of "+s.Day(v.AsOf)+", "+v.AsOf.In(s.In).Format("15:04 UTC-07:00"), "; ")))
	s.OwnCopy()
	s.Excluded(v.Excluded)
	p.Copy = nil // it is said once
	w.flush()
	for i, m := range v.Maps {
		if i == 0 {
			w.section("maps", "The shell, laid flat")
		}
		for k, part := range m.Parts {
			if m.Shown != nil {
				w.put(`<h3>%s</h3>`, esc(report.CoatName("", m.Shown.Face, m.Shown.Coat)))
			}
			w.partDrawn(m, part, fmt.Sprintf("c%dp%d", i, k))
		}
		if i == len(v.Maps)-1 {
			w.endSection()
		}
	}
	w.put(`%s`, ZoneList(drawing.ZoneList{Site: v.Site, AsOf: v.AsOf, Units: v.Units, Lines: v.Lines}, p))
	for i, z := range v.Zones {
		z.Joints = nil // they are told once, below
		part := &leaf{Sheet: s, prefix: fmt.Sprintf("z%d", i)}
		part.zoneLeaf(z, p)
		w.put(`<section>%s</section>`, part.b.String())
	}
	w.put(`<section><h1>Charts</h1><div class="cols">`)
	w.charts(v.Charts)
	w.put(`</div></section>`)
	w.put(`<section>%s</section>`, report.Joints(v.Joints, p))
	w.put(`<section>%s</section>`, report.Flags(v.Flags, p))
	w.put(`<section>%s</section>`, report.Stock(v.Stock, p))
	if v.LeftOut > 0 {
		w.put(`<p>%s</p>`, esc(fmt.Sprintf("Of the log the %d oldest entries are left out here; hod export writes all.",
			v.LeftOut)))
	}
	w.put(`<section>%s</section>`, report.Log(v.Log, p))
	return w.b.String()
}

// flush puts what the sheet was told to write in its place.
func (w *leaf) flush() {
	if len(w.Lines) > 0 {
		w.put(`%s`, strings.Join(w.Lines, "\n"))
		w.Lines = nil
	}
}
