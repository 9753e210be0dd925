package next

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// cuts are the permitted edges of a job.
func cuts(j *Job) map[int]bool {
	all := map[int]bool{}
	for i, e := range j.Edges {
		all[i] = e.Permitted
	}
	return all
}

func dayJob() *Job {
	j := grid(4, 12, 20, 300)
	for i := range j.Edges {
		e := &j.Edges[i]
		e.Permitted = e.B-e.A == 1 && e.B%12%4 == 0
	}
	return j
}

func TestADayBeginsOnlyWhatItFinishes(t *testing.T) {
	q := DayQuestion{Job: dayJob(), End: 600, Spreads: UsualSpreads}
	p, ok := PlanDay(q, cuts(q.Job))
	if !ok || len(p.Bays) != 1 || len(p.Takes) != 16 || p.LastEnd > 600 {
		t.Fatalf("one bay of 16 batches of 20 min fits into ten hours: %+v", p)
	}
	if len(p.Rim) != 4 || p.Bays[0].BeginBy != p.Bays[0].Begins+600-p.LastEnd {
		t.Errorf("it ends along four edges, and may be begun while it can be finished: %+v", p)
	}
	if _, ok := PlanDay(DayQuestion{Job: dayJob(), End: 250, Spreads: UsualSpreads}, cuts(q.Job)); ok {
		t.Error("a bay of 16 batches does not fit into 250 minutes")
	}
	j := dayJob()
	j.Crews = append(j.Crews, Crew{Name: "south", Pace: 100})
	if two, ok := PlanDay(DayQuestion{Job: j, End: 600, Spreads: UsualSpreads}, cuts(j)); !ok ||
		len(two.Takes) <= len(p.Takes) {
		t.Errorf("two crews place more: %+v", two)
	}
}

func TestNobodyPlacesInAClosedHourOrABreak(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 7)
		j.MayStop = false
		from := rapid.IntRange(0, 100).Draw(t, "closed")
		j.Closed = []Span{{from, from + 60}}
		j.Crews[0].Away = []Span{{from + 70, from + 100}}
		for _, take := range newTable(j).play([]int{0, 1, 2, 3, 4, 5, 6}[:len(j.Cells)]).takes {
			spans := j.Closed
			if take.Crew == 0 {
				spans = slices.Concat(spans, j.Crews[0].Away)
			}
			for _, c := range spans {
				if take.From < c.To && take.To > c.From {
					t.Fatalf("crew %d places from %d to %d, closed from %d to %d", take.Crew, take.From, take.To,
						c.From, c.To)
				}
			}
		}
	})
}
