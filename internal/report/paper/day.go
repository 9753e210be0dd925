package paper

import (
	"slices"
	"time"

	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/report/summary"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
)

// dayPages is how many pages the summary of a day takes at most.
const dayPages = 2

// Day puts a day on paper: its exceptions first, what was done and what is left on two pages, to be signed; then all of
// each list as an annex, with the pictures where there are some.
func Day(v drawing.DayLeaf, p report.Page, size Size, digest string) (Paper, error) {
	p.HTML, p.Root = true, ""
	d := Document{Size: size, Site: v.Site, Title: "day " + v.Date, Digest: digest, Made: dayMade(v.Day)}
	if v.Crew != "" {
		d.Title += ", crew " + v.Crew
	}
	brief := Part{Name: "The day on two pages", Sign: []string{"foreman", "inspector"}}
	brief, err := fitted(d, brief, v.Day, p)
	if err != nil {
		return Paper{}, err
	}
	d.Parts = []Part{brief}
	d.Parts = append(d.Parts, Part{Name: "Annex: all of each list", Markup: leaf.DayLeaf(v, p)})
	return Make(d)
}

// briefLetters are the sizes in points that a summary is set in, the most easily read first.
var briefLetters = []float64{usualLetters, 8.3}

// fitted is the summary in the roomiest layout that fits its pages; the tightest where none does.
func fitted(d Document, brief Part, v daily.Day, p report.Page) (Part, error) {
	for layout := range summary.DayLayouts() {
		brief.Markup = summary.DayBrief(v, p, layout)
		for _, brief.Size = range briefLetters {
			d.Parts = []Part{brief}
			_, pages, err := lay(d)
			if err != nil {
				return brief, err
			}
			if pages[0] <= dayPages {
				return brief, nil
			}
		}
	}
	return brief, nil
}

// dayMade is when the newest of what a day rests on was written.
func dayMade(v daily.Day) time.Time {
	if len(v.Record) == 0 {
		return v.AsOf
	}
	return slices.MaxFunc(v.Record, func(a, b daily.DeviceEnd) int { return a.LastAt.Compare(b.LastAt) }).LastAt
}
