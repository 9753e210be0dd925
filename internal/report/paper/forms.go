package paper

import (
	"fmt"
	"html"
	"strings"
	"time"

	"hod/internal/report"
	"hod/internal/view/forms"
)

// cardLetters are read from a step away, with wet gloves on.
const cardLetters = 15.0

// MixCard puts a mix's card on paper, for the mixer.
func MixCard(v forms.Card, p report.Page, size Size) (Paper, error) {
	p.HTML, p.Root = true, ""
	d := Document{Size: size, Site: v.Site, Title: "mix " + v.Mix, Made: v.AsOf}
	for _, letters := range []float64{cardLetters, 13, 11.5, usualLetters} { // one sheet, as large as it can be
		d.Parts = []Part{{Name: "Mix " + v.Mix, Markup: report.MixCard(v, p), Size: letters}}
		_, pages, err := lay(d)
		if err != nil {
			return Paper{}, err
		}
		if pages[0] == 1 {
			break
		}
	}
	return Make(d)
}

// Blank puts forms on paper, each on sheets of its own. They are of no day: the same plan gives the same bytes.
func Blank(v forms.Blank, size Size) (Paper, error) {
	d := Document{Size: size, Site: v.Site, Title: "forms for a day without a phone", Made: time.Unix(0, 0).UTC()}
	for _, f := range v.Forms {
		d.Parts = append(d.Parts, Part{Name: f.Title, Markup: form(f, v), Sign: []string{"written by", "typed in by"}})
	}
	return Make(d)
}

func form(f forms.Form, v forms.Blank) string {
	var b strings.Builder
	put := func(format string, args ...string) {
		words := make([]any, len(args))
		for i, a := range args {
			words[i] = html.EscapeString(report.Clean(a))
		}
		fmt.Fprintf(&b, format, words...)
	}
	crew := "____________"
	if v.Crew != "" {
		crew = v.Crew
	}
	put("<h1>%s</h1><p>crew <b>%s</b>&nbsp;&nbsp; date ____________________</p>", f.Title, crew)
	put("<p>Typed in later: <b>%s</b></p>", f.Command)
	for _, n := range f.Notes {
		put("<p>%s</p>", n)
	}
	b.WriteString(`<table class="form"><tr>`)
	for _, c := range f.Columns {
		put(`<th>%s</th>`, c)
	}
	b.WriteString("</tr>")
	for n := range f.Rows {
		b.WriteString("<tr>")
		for i := range f.Columns {
			number := ""
			if i == 0 && f.First > 0 {
				number = fmt.Sprint(f.First + n)
			}
			put("<td>%s</td>", number)
		}
		b.WriteString("</tr>")
	}
	b.WriteString("</table>")
	return b.String()
}
