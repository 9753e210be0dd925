package paper

import (
	"fmt"
	"html"
	"strings"
	"time"

	"hod/internal/report"
)

// Link is a sheet to hang up in the site's hut: a code for a phone's camera and the address beneath it.
func Link(site, address, until string, trust []string, at time.Time, size Size) (Paper, error) {
	say := func(s string) string { return html.EscapeString(report.Clean(s)) }
	var b strings.Builder
	fmt.Fprintf(&b,
		"<h1>%s</h1><p>The site's pages, for reading: point a phone's camera here, or type the address.</p>", say(site))
	fmt.Fprintf(&b, "<p>The address holds until %s. Whoever has it reads the pages and writes nothing.</p>", say(until))
	for _, line := range trust {
		fmt.Fprintf(&b, "<p>%s</p>", say(line))
	}
	return Make(Document{
		Size: size, Site: site, Title: "link to the pages", Made: at,
		Parts: []Part{{Name: "Link to the pages", Markup: b.String(), Size: 14, Code: address}},
	})
}
