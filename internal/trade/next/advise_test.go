package next

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The short form, which every run has, measures two settings; more draws measure all.
const shortForm = 3

var jobs = flag.Int("jobs", shortForm, "draws of each setting when advice is measured against practice")

func TestFactorsAreThoseOfALognormal(t *testing.T) {
	for _, x := range []int64{-2_000_000, -700_000, -1, 0, 1, 125_000, 500_000, 1_000_000, 2_500_000} {
		got, want := float64(exp(x))/million, math.Exp(float64(x)/million)
		if math.Abs(got-want) > 2e-5*max(1, want) {
			t.Errorf("exp(%v) = %v, not %v", float64(x)/million, got, want)
		}
	}
	n, sum, squares := 20_000, 0.0, 0.0
	for i := range n {
		l := math.Log(float64(factor(draw(i, 3, drawBatch), 250)) / million)
		sum, squares = sum+l, squares+l*l
	}
	if mean, sd := sum/float64(n), math.Sqrt(squares/float64(n)); math.Abs(mean) > 0.006 || math.Abs(sd-0.25) > 0.006 {
		t.Errorf("the logarithm has mean %v and standard deviation %v", mean, sd)
	}
	for i, z := range normals { // no rounding that another processor could do otherwise
		if v := 1000 * math.Sqrt2 * math.Erfinv(float64(2*i+1)/1000-1); math.Abs(math.Abs(v-float64(z))-0.5) < 1e-9 {
			t.Errorf("quantile %d lies between two whole numbers", i)
		}
	}
}

// setting of the measured study in our own shapes: cells, crews, minutes a batch, the set at the temperature of the day,
// and a joint permitted on every fourth line.
type setting struct {
	name           string
	rows, columns  int
	round          bool // the last column adjoins the first
	crews, minutes int
	set            int64
	opening        bool
}

func (s setting) job() *Job {
	j := grid(s.rows, s.columns, s.minutes, s.set)
	j.Lead, j.Joint, j.Crews = 12, UsualJoint, nil
	for k := range s.crews {
		j.Crews = append(j.Crews, Crew{Name: fmt.Sprint("crew", k), Pace: 100})
	}
	for i := range j.Edges {
		e := &j.Edges[i]
		e.Length = 260
		if e.B-e.A == 1 {
			e.Length = 220
			e.Permitted = e.B%s.columns%4 == 0
		}
	}
	if s.round {
		for r := range s.rows {
			j.Edges = append(j.Edges, Edge{A: r * s.columns, B: r*s.columns + s.columns - 1, Length: 220, Permitted: true})
		}
	}
	if s.opening {
		gone := func(c int) bool {
			r, k := c/s.columns, c%s.columns
			return r >= 3 && r <= 4 && (k >= 2 && k <= 3 || k >= 8 && k <= 9)
		}
		j = without(j, gone)
	}
	return j
}

// without leaves cells out of a job.
func without(j *Job, gone func(int) bool) *Job {
	at, kept := map[int]int{}, &Job{Lead: j.Lead, Joint: j.Joint, Crews: j.Crews}
	for i, c := range j.Cells {
		if !gone(i) {
			at[i] = len(kept.Cells)
			kept.Cells = append(kept.Cells, c)
		}
	}
	for _, e := range j.Edges {
		a, okA := at[e.A]
		b, okB := at[e.B]
		if okA && okB {
			e.A, e.B = a, b
			kept.Edges = append(kept.Edges, e)
		}
	}
	return kept
}

var settings = []setting{
	{name: "small vault, hot", rows: 2, columns: 3, crews: 1, minutes: 30, set: 123},
	{name: "ring dome 4 x 12", rows: 4, columns: 12, round: true, crews: 1, minutes: 14, set: 190},
	{name: "vault 6 x 16, cool", rows: 6, columns: 16, crews: 1, minutes: 20, set: 300},
	{name: "vault 6 x 16, hot", rows: 6, columns: 16, crews: 1, minutes: 20, set: 123},
	{name: "openings 8 x 12, hot, 2 crews", rows: 8, columns: 12, crews: 2, minutes: 22, set: 123, opening: true},
}

// across is rows across the short way, all crews in one sweep: good practice where nobody computes.
func across(j *Job) []int { return sweep(j) }

// work plays a whole job in one world; who is free asks again and again and follows the advice.
func work(j *Job, w *table) Cost {
	s := w.start()
	var last []int
	for {
		who, going := s.crew()
		if !going {
			return s.cost
		}
		q := Question{Job: standing(j, s), Asks: who, Trials: 48, Spreads: UsualSpreads, Last: last}
		q.Horizon = s.free[who] + 3*int(j.Cells[0].Set/msPerMinute)
		a, ok := Advise(q)
		if !ok {
			s.stop(who)
			continue
		}
		last = slices.DeleteFunc(slices.Clone(a.Order), func(c int) bool { return c == a.Cell })
		s.take(who, a.Cell, 0)
	}
}

// standing is a job as it stands, as those know it who do not know what is to come.
func standing(j *Job, s *shift) *Job {
	now := *j
	now.Cells, now.Crews = slices.Clone(j.Cells), slices.Clone(j.Crews)
	for i := range now.Cells {
		if s.begin[i] != never {
			now.Cells[i].Placed, now.Cells[i].From, now.Cells[i].To = true, s.begin[i], s.end[i]
		}
	}
	for k := range now.Crews {
		now.Crews[k].Free = min(s.free[k], MaxMinutes)
	}
	now.Edges = slices.Clone(j.Edges)
	for e := range now.Edges {
		now.Edges[e].Ended = now.Edges[e].Ended || s.charged[e]
	}
	return &now
}

// On average over draws advice costs no more than the best of plain practice on the same draws, by more than one standard
// error. With -jobs 50 it prints the table of the measured study; the short form has few draws.
func TestAdviceCostsNoMoreThanPractice(t *testing.T) {
	for i, is := range settings {
		if *jobs <= shortForm && i > 1 {
			t.Log("two settings were measured; -jobs 50 measures all")
			return
		}
		t.Run(is.name, func(t *testing.T) {
			j := is.job()
			base := newTable(j)
			var advised, rows, numbered, oldest []Cost
			for n := range *jobs {
				w := base.scenario(1_000_000+n, UsualSpreads)
				advised = append(advised, work(j, w))
				rows = append(rows, w.play(across(j)).cost)
				numbered = append(numbered, w.play(w.orders()[0]).cost)
				oldest = append(oldest, w.oldestFirst().cost)
			}
			t.Logf("m a job: advised %.1f, rows across together %.1f, as numbered %.1f, oldest first %.1f",
				mean(advised), mean(rows), mean(numbered), mean(oldest))
			for name, practice := range map[string][]Cost{"rows across": rows, "as numbered": numbered, "oldest first": oldest} {
				if worse, se := paired(advised, practice); worse > se {
					t.Errorf("advice costs %.1f m a job more than %s, ± %.1f", worse, name, se)
				}
			}
		})
	}
}

func mean(all []Cost) float64 {
	sum := 0.0
	for _, c := range all {
		sum += c.Metres()
	}
	return sum / float64(len(all))
}

func TestAskingTwiceChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop = false
		q := Question{Job: j, Horizon: 2000, Trials: 24, Spreads: UsualSpreads}
		a, ok := Advise(q)
		b, again := Advise(q)
		if ok != again || fmt.Sprint(a.Choice.Cell, a.Cold, a.Mean, a.Slack) != fmt.Sprint(b.Choice.Cell, b.Cold, b.Mean, b.Slack) {
			t.Fatalf("%+v, then %+v", a, b)
		}
		if !ok {
			return
		}
		q.Last = append([]int{a.Cell}, slices.DeleteFunc(slices.Clone(a.Order), func(c int) bool { return c == a.Cell })...)
		if c, ok := Advise(q); !ok || c.Cell != a.Cell {
			t.Fatalf("advised %d, and asked again with that advice %d", a.Cell, c.Cell)
		}
	})
}

func TestAnEdgeThatIsLostChangesNoAdviceWhenItIsLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop = false
		q := Question{Job: j, Horizon: 2000, Trials: 24, Spreads: UsualSpreads}
		before, ok := Advise(q)
		if !ok || len(before.Lost) == 0 {
			t.Skip("nothing is lost")
		}
		for _, e := range before.Lost {
			j.Edges[e].Length *= 10
		}
		if after, _ := Advise(q); after.Cell != before.Cell {
			t.Fatalf("advised %d, and with longer lost edges %d", before.Cell, after.Cell)
		}
	})
}

func TestAdviceSaysWhatItMeetsAndWhatIsLost(t *testing.T) {
	// Two edges wait; the old one can no longer be met.
	j := &Job{
		Cells: []Cell{
			{Name: "old", Placed: true, From: 0, To: 20},
			{Name: "young", Placed: true, From: 60, To: 80},
			{Name: "X", Minutes: 20},
			{Name: "Y", Minutes: 20},
		},
		Edges: []Edge{{A: 0, B: 2, Length: 300}, {A: 1, B: 3, Length: 300}},
		Crews: []Crew{{Name: "north", Free: 80, Pace: 100}}, Lead: 10,
	}
	for i := range j.Cells {
		j.Cells[i].Set = 60 * msPerMinute
	}
	a, ok := Advise(Question{Job: j, Horizon: 300, Spreads: Spreads{}})
	if !ok || j.Cells[a.Cell].Name != "Y" || !slices.Equal(a.Meets, []int{1}) || a.Slack != 10 || !slices.Equal(a.Lost, []int{0}) {
		t.Errorf("%+v", a)
	}
	if a.Trials != UsualTrials || a.Cold.Happened != 0 || a.Instead == nil || a.Instead.Cold.Happened != a.Instead.Cold.Of || a.Either {
		t.Errorf("%+v instead %+v", a, a.Instead)
	}
}
