package next

import (
	"encoding/csv"
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// A shell of the measured comparison, invented, and the recorded day on which its work begins at seven.
type shell struct {
	name           string
	rows, columns  int
	round          bool // the last column adjoins the first
	opening        bool
	crews, minutes int // minutes a batch
	month          string
	day            int
}

var shells = []shell{
	{name: "small vault 2x3, hot", rows: 2, columns: 3, crews: 1, minutes: 30, month: "07", day: 18},
	{name: "dome 4 rings x 12, mild", rows: 4, columns: 12, round: true, crews: 1, minutes: 14, month: "07", day: 13},
	{name: "vault 6x16, 12 min, cool", rows: 6, columns: 16, crews: 1, minutes: 12, month: "01", day: 14},
	{name: "vault 6x16, 20 min, mild", rows: 6, columns: 16, crews: 1, minutes: 20, month: "07", day: 25},
	{name: "vault 6x16, 20 min, hot", rows: 6, columns: 16, crews: 1, minutes: 20, month: "07", day: 18},
	{
		name: "openings 8x12, 2 crews, hot", rows: 8, columns: 12, opening: true, crews: 2, minutes: 22, month: "07",
		day: 18,
	},
	{
		name: "dome 10 rings x 20, 4 crews, mild", rows: 10, columns: 20, round: true, crews: 4, minutes: 22,
		month: "07",
		day:   13,
	},
	{name: "vault 16x25, 4 crews, hot", rows: 16, columns: 25, crews: 4, minutes: 20, month: "07", day: 18},
}

// job of a shell: cells numbered along the long way, a joint permitted on every fourth line across, edges of 2.2 and
// 2.6 m, set 4 h 30 min at 23 °C and 40 kJ/mol, 12 min from water to placing, the first half of the columns 6 °C warmer
// than the air from 9 to 16.
func (s shell) job(t *testing.T) *Job {
	t.Helper()
	set := setting.Set{Initial: 270 * time.Minute, Reference: 23, Ea: 40_000}
	j := grid(s.rows, s.columns, s.minutes, 270)
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
	for r := range s.rows {
		if s.round {
			j.Edges = append(j.Edges, Edge{
				A: r * s.columns, B: r*s.columns + s.columns - 1, Length: 220,
				Permitted: true,
			})
		}
	}
	shade, sun := recorded(t, set, s.month, s.day)
	j.Curves = []Curve{{Ages: shade}, {Ages: sun}}
	for i := range j.Cells {
		if i%s.columns < s.columns/2 {
			j.Cells[i].Curve = 1
		}
	}
	if s.opening {
		j = without(j, func(c int) bool {
			r, k := c/s.columns, c%s.columns
			return r >= 3 && r <= 4 && (k >= 2 && k <= 3 || k >= 8 && k <= 9)
		})
	}
	return j
}

// across is rows across the short way: the order by columns of a job numbered by rows.
func (s shell) across(j *Job) []int {
	order := make([]int, len(j.Cells))
	at := make([][2]int, len(j.Cells))
	for i, c := range j.Cells {
		order[i] = i
		var r rune
		var k int
		fmt.Sscanf(c.Name, "%c%d", &r, &k)
		at[i] = [2]int{k, int(r)}
	}
	slices.SortFunc(order, func(a, b int) int { return slices.Compare(at[a][:], at[b][:]) })
	return order
}

// recorded are the ages that mortar gathers at the air of a recorded day and those after it, in the shade and in the
// sun, at each minute from seven in the morning. A month that ends goes on with its last day.
func recorded(t *testing.T, set setting.Set, month string, day int) (shade, sun []int64) {
	t.Helper()
	f, err := os.Open("../../../../shared/data/weather-2013-" + month + "-lga.csv")
	if os.IsNotExist(err) {
		t.Skip("the recorded weather is not here: ../shared/data is absent")
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	type hour struct{ day, hour int }
	air := map[hour]float64{}
	last := 0
	for _, l := range lines[1:] {
		d, _ := strconv.Atoi(l[3])
		h, _ := strconv.Atoi(l[4])
		if f, err := strconv.ParseFloat(l[5], 64); err == nil {
			air[hour{d, h}] = (f - 32) / 1.8
			last = max(last, d)
		}
	}
	begin := time.Date(2013, 1, day, 7, 0, 0, 0, time.UTC)
	temp := func(at time.Time, sunny bool) unit.Celsius {
		n := int(at.Sub(begin).Hours()) + 7
		k := hour{min(day+n/24, last), n % 24}
		c, ok := air[k]
		for !ok {
			k.hour-- // an hour without a reading is as the one before
			c, ok = air[k]
		}
		if sunny && k.hour >= 9 && k.hour < 16 {
			c += 6
		}
		return unit.Celsius(c)
	}
	for _, sunny := range []bool{false, true} {
		ages, err := setting.Ages(set, begin, 6*1440, func(at time.Time) unit.Celsius { return temp(at, sunny) })
		if err != nil {
			t.Fatal(err)
		}
		shade, sun = sun, ages
	}
	return shade, sun
}

// decision is one that was made, with the chance that was stated and what came.
type decision struct {
	until  int
	stated Chance
	cold   bool // after it, an edge that it did not call lost, up to its horizon
	plan   bool // the same where its plan was followed in another world
}

// worked is a whole job in one world in which crews follow the advice.
type worked struct {
	cost      Cost
	decisions []decision
}

// workOn plays a whole job in one world: who is free asks and follows. Every eighth batch is tested, and the test is
// known once that batch has set; by these tests the set of the day is learned.
func workOn(j *Job, w *table, trials, number int) worked {
	s := w.start()
	var last []int
	oldest := false
	var out worked
	began := make([]bool, len(j.Edges))
	for {
		who, going := s.crew()
		if !going {
			out.cost = s.cost
			return out
		}
		now := s.free[who]
		factor, spreads := UsualSpreads.Learned(tested(j, w, s, now))
		q := Question{
			Job: standing(j, s, factor), Asks: who, Trials: trials, Spreads: spreads, Last: last,
			Oldest: oldest,
		}
		c := j.Curves[0]
		q.Horizon = c.latest(c.At(now)+3*270*msPerMinute, now)
		a, ok := Advise(q)
		if !ok {
			s.stop(who)
			continue
		}
		d := decision{until: q.Horizon, stated: a.Cold}
		other := newTable(q.Job.ended(a.Lost)).scenario(5_000_000+number*1000+len(out.decisions), spreads)
		f := other.follow(who, a.Cell, a.way, q.Horizon)
		d.plan = anyCold(f)
		out.decisions = append(out.decisions, d)
		last, oldest = a.Following(), a.Oldest
		copy(began, s.charged)
		s.take(who, a.Cell, 0)
		for e, gone := range s.charged {
			if !gone || began[e] || s.Edges[e].Permitted || slices.Contains(a.Lost, e) {
				continue
			}
			for i := range out.decisions {
				if out.decisions[i].until > now {
					out.decisions[i].cold = true
				}
			}
		}
	}
}

// anyCold reports whether an edge went cold where no joint is permitted.
func anyCold(s *shift) bool {
	for e, gone := range s.charged {
		if gone && !s.Edges[e].Permitted && !s.Edges[e].Ended {
			return true
		}
	}
	return false
}

// tested are the ratios of tested sets to the stated one, in per mille: of every eighth cell that had set by a minute.
func tested(j *Job, w *table, s *shift, now int) []int {
	var all []int
	for i, t := range s.takes {
		if i%8 == 0 && !t.Stopped && s.due[t.Cell] < now {
			all = append(all, int(w.Cells[t.Cell].Set*1000/j.Cells[t.Cell].Set))
		}
	}
	return all
}

// standing is a job as it stands, as those know it who do not know what is to come: with the set that they reckon with,
// and of what is placed only that which still borders on something.
func standing(j *Job, s *shift, factor int64) *Job {
	now := *j
	now.Cells, now.Crews = slices.Clone(j.Cells), slices.Clone(j.Crews)
	for i := range now.Cells {
		c := &now.Cells[i]
		c.Set = mulDiv(c.Set, factor)
		if s.begin[i] != never {
			c.Placed, c.From, c.To = true, s.begin[i], s.end[i]
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

// inFull is what a shift costs where nobody ends anything on purpose: every cold edge counts by its whole length.
func inFull(s *shift) Cost {
	var sum Cost
	for e, gone := range s.charged {
		if gone {
			sum += Cost(s.Edges[e].Length * 100)
		}
	}
	return sum
}

// measured is what a shell cost, by way of working, in each of some worlds.
type measured struct {
	advised   []Cost
	practice  map[string][]Cost
	decisions []decision
}

var practices = []string{"plan's order", "rows across", "the same, ending on purpose", "oldest first"}

// measure a shell in so many worlds in which mortar sets after so many per cent of what is stated.
func (s shell) measure(t *testing.T, draws, trials int, percent int64) measured {
	j := s.job(t)
	world := *j
	world.Cells = slices.Clone(j.Cells)
	for i := range world.Cells {
		world.Cells[i].Set = world.Cells[i].Set * percent / 100
	}
	base, rows := newTable(&world), s.across(j)
	m := measured{practice: map[string][]Cost{}}
	add := func(i int, c Cost) { m.practice[practices[i]] = append(m.practice[practices[i]], c) }
	for n := range draws {
		spreads := UsualSpreads
		if percent != 100 {
			spreads.Day = 0 // the day is the percentage
		}
		w := base.scenario(*drawn+n, spreads)
		numbered, swept := w.play(w.orders()[0]), w.play(rows)
		add(0, inFull(numbered))
		add(1, inFull(swept))
		add(2, swept.cost)
		add(3, inFull(w.oldestFirst()))
		k := workOn(j, w, trials, n)
		m.advised = append(m.advised, k.cost)
		m.decisions = append(m.decisions, k.decisions...)
	}
	return m
}

// best practice on these draws.
func (m measured) best() (string, []Cost) {
	name := slices.MinFunc(practices, func(a, b string) int {
		switch x, y := mean(m.practice[a]), mean(m.practice[b]); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return name, m.practice[name]
}

// The short form, which every run has, measures two shells with few draws. The table of all:
//
//	go test ./internal/trade/next -run TestAdviceCostsNoMoreThanPractice -jobs 50 -timeout 0 -v
//
// On average over draws advice costs no more than the best of plain practice on the same draws, by more than one
// standard error, in the short form by three. Cost is metres cold and a quarter of those ended on purpose.
func TestAdviceCostsNoMoreThanPractice(t *testing.T) {
	var all []decision
	for i, is := range shells {
		if *jobs <= shortForm && i > 1 {
			t.Log("two shells were measured; -jobs 50 measures all")
			break
		}
		t.Run(is.name, func(t *testing.T) {
			all = append(all, is.compare(t, 100)...)
		})
	}
	tenths(t, all)
}

// The same where mortar sets 12 % sooner than the plan states, which only the tests of the day's batches show.
func TestAdviceCostsNoMoreThanPracticeWhereMortarSetsSooner(t *testing.T) {
	for i, is := range shells {
		if *jobs <= shortForm && i > 1 {
			t.Log("two shells were measured; -jobs 50 measures all")
			break
		}
		t.Run(is.name, func(t *testing.T) { is.compare(t, 88) })
	}
}

func (s shell) compare(t *testing.T, percent int64) []decision {
	draws := *jobs
	if s.rows*s.columns >= 200 && draws > shortForm {
		draws = max(shortForm, draws**large/100)
	}
	m := s.measure(t, draws, *trials, percent)
	line := fmt.Sprintf("%-34s n %3d", s.name, draws)
	for _, name := range practices {
		line += fmt.Sprintf("  %s %.1f", name, mean(m.practice[name]))
	}
	name, best := m.best()
	worse, se := paired(m.advised, best)
	t.Logf("%s  ADVISED %.1f, %+.1f ± %.1f against %s", line, mean(m.advised), worse, se, name)
	chance := se
	if draws <= shortForm {
		chance = 3 * se // of so few draws one standard error is itself hardly known
	}
	if worse > chance {
		t.Errorf("advice costs %.2f m a job more than %s, ± %.2f", worse, name, se)
	}
	return m.decisions
}

// tenths prints, of decisions whose stated chance that no edge goes cold lies in a tenth, in how many none did.
func tenths(t *testing.T, all []decision) {
	for k := range 10 {
		n, stated, came, plan := 0, 0.0, 0, 0
		for _, d := range all {
			p := 1 - float64(d.stated.Happened)/float64(d.stated.Of)
			if min(9, int(10*p)) != k {
				continue
			}
			n++
			stated += p
			if !d.cold {
				came++
			}
			if !d.plan {
				plan++
			}
		}
		if n == 0 {
			continue
		}
		in := func(c float64) float64 { return 100 * c / float64(n) }
		t.Logf("stated %5.1f %%: came %5.1f %%, its plan in another world %5.1f %% (of %d decisions)", in(stated),
			in(float64(came)), in(float64(plan)), n)
		if off := in(float64(plan)) - in(stated); n >= 100 && *jobs > shortForm && (off < -5 || off > 5) {
			t.Errorf("of %d decisions with a stated chance of %.1f %%, it came true in %.1f %%", n, in(stated),
				in(float64(plan)))
		}
	}
}
