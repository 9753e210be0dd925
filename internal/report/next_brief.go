package report

import (
	"fmt"
	"time"

	"hod/internal/view/advice"
)

// NextBrief is where a crew's next batch goes, in one line.
func NextBrief(v advice.Next, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	where := "to " + CoatName(v.Place.Zone, v.Place.Face, v.Place.Coat)
	if len(v.Place.Along) > 0 {
		where += " along " + AndList(v.Place.Along)
	}
	said := fmt.Sprintf("batch %d %s: %s turns cold at %s", v.Batch, where, nextEdge(*v.Turns),
		s.Clock(*v.Turns.TurnsAt))
	if *v.SlackMin >= 0 {
		said += ", " + Minutes(time.Duration(*v.SlackMin)*time.Minute) + " after this batch is placed"
	}
	s.Named(0, 9, "NEXT", Say(said+". `hod next` says more."))
	return s.String()
}
