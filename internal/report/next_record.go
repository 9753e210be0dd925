package report

import (
	"fmt"

	"hod/internal/view/advice"
)

// NextRecord compares the chances that taken proposals stated with what came.
func NextRecord(v advice.NextRecord, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "what proposals came to")
	if v.Taken == 0 {
		s.Para(0, 2,
			Say(
				"No crew has taken a proposal yet: `hod next --take` writes down what was stated, and here it is compared with what came."))
		return s.String()
	}
	s.Para(0, 2,
		Sayf(
			"%s taken: %d followed by what the crew placed next, %d not, %d with nothing placed since; of %d the joints are still being counted.",
			Count(int(v.Taken), "proposal", "proposals"), v.Followed, v.Taken-v.Followed-v.Unplaced, v.Unplaced,
			v.Pending))
	if len(v.Tenths) > 0 {
		t := Table{Columns: []Column{
			{Name: "stated that no edge goes cold", Least: 12},
			{Name: "mean", Right: true},
			{Name: "came true", Right: true},
			{Name: "decisions", Right: true},
		}}
		for _, k := range v.Tenths {
			t.Row(Say(fmt.Sprintf("%.0f to %.0f %%", 100*k.From, 100*k.To)),
				Figure(fmt.Sprintf("%.0f %%", 100*k.Stated)),
				Figure(fmt.Sprintf("%.0f %%", 100*float64(k.Came)/float64(k.Decisions))),
				Figure(fmt.Sprint(k.Decisions)))
		}
		s.Table(0, t)
		s.Para(0, 2,
			Say(
				"A stated chance is that of following one plan; asking again after each batch changes it, and decisions of one day hang together. Read few as few."))
	}
	return s.String()
}
