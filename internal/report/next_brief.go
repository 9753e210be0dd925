package report

import (
	"fmt"
	"time"

	"hod/internal/view/advice"
)

// NextBrief is where a crew's next batch goes, in one line.
func NextBrief(v advice.Next, p Page) string {
	s := open(p, v.Units, v.AsOf)
	where := "to " + coatName(v.Place.Zone, v.Place.Face, v.Place.Coat)
	if len(v.Place.Along) > 0 {
		where += " along " + andList(v.Place.Along)
	}
	said := fmt.Sprintf("batch %d %s: %s turns cold at %s", v.Batch, where, nextEdge(*v.Turns),
		s.clock(*v.Turns.TurnsAt))
	if *v.SlackMin >= 0 {
		said += ", " + minutes(time.Duration(*v.SlackMin)*time.Minute) + " after this batch is placed"
	}
	s.named(0, 9, "NEXT", say(said+". `hod next` says more."))
	return s.String()
}
