package report

import (
	"fmt"

	"hod/internal/view/advice"
)

// NextRecord compares the chances that taken proposals stated with what came.
func NextRecord(v advice.NextRecord, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "what proposals came to")
	if v.Taken == 0 {
		s.para(0, 2,
			say(
				"No crew has taken a proposal yet: `hod next --take` writes down what was stated, and here it is compared with what came."))
		return s.String()
	}
	s.para(0, 2,
		sayf(
			"%s taken: %d followed by what the crew placed next, %d not, %d with nothing placed since; of %d the joints are still being counted.",
			count(int(v.Taken), "proposal", "proposals"), v.Followed, v.Taken-v.Followed-v.Unplaced, v.Unplaced,
			v.Pending))
	if len(v.Tenths) > 0 {
		t := table{columns: []column{
			{name: "stated that no edge goes cold", least: 12},
			{name: "mean", right: true},
			{name: "came true", right: true},
			{name: "decisions", right: true},
		}}
		for _, k := range v.Tenths {
			t.row(say(fmt.Sprintf("%.0f to %.0f %%", 100*k.From, 100*k.To)),
				figure(fmt.Sprintf("%.0f %%", 100*k.Stated)),
				figure(fmt.Sprintf("%.0f %%", 100*float64(k.Came)/float64(k.Decisions))),
				figure(fmt.Sprint(k.Decisions)))
		}
		s.table(0, t)
		s.para(0, 2,
			say(
				"A stated chance is that of following one plan; asking again after each batch changes it, and decisions of one day hang together. Read few as few."))
	}
	return s.String()
}
