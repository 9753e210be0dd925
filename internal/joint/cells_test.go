package joint_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view/advice"
)

// lengths of an edge of first coats by what meets along it: placed with to come, and to come with to come.
func lengths(c fold.Cells, a, b event.Zone) (open, ahead float64) {
	for _, k := range c.Borders {
		if k.Edge == nil || k.Edge.A != a || k.Edge.B != b || c.All[k.B].Coat.Number != 1 {
			continue
		}
		if c.All[k.A].Placed != nil {
			open += float64(k.Length)
		} else {
			ahead += float64(k.Length)
		}
	}
	return open, ahead
}

// V1 and V2 are 8 m by 6 m. Two batches of 6 m2 lie in V1 from the south, 0.75 m deep each. V2 is entered at the edge,
// its west side, which is therefore that of its first batch alone.
func TestCellsLieWhereTheSidesSayThatTheyDo(t *testing.T) {
	d := foldtest.NewDesk(t)
	vaultOfTwo(d)
	lay(d, 1, "V1", 0, "south")
	lay(d, 2, "V1", 25, "")
	c := d.Site().CellsLeft(foldtest.Clock(30), 400)
	if !c.Whole || len(c.Unknown) > 0 {
		t.Fatalf("whole %v, unknown %v", c.Whole, c.Unknown)
	}
	open, ahead := lengths(c, "V1", "V2")
	if math.Abs(open-1.5) > 1e-3 || math.Abs(ahead-4.5) > 1e-3 {
		t.Errorf("%.3f m wait and %.3f m are to come on both sides, not 1.5 and 4.5", open, ahead)
	}
	first := -1
	for i, k := range c.All {
		if k.Coat.Zone == "V2" && k.Nth == 1 {
			first = i
		}
	}
	for _, k := range c.Borders {
		if k.Edge != nil && k.Edge.A == "V1" && k.B != first {
			t.Errorf("%.3f m of V1 meet batch %d of V2, not its first", float64(k.Length), c.All[k.B].Nth)
		}
	}
	inside := 0
	for _, k := range c.Borders {
		if k.Edge == nil && c.All[k.A].Coat.Zone == "V1" {
			if inside++; math.Abs(float64(k.Length)-8) > 1e-3 {
				t.Errorf("inside V1 batches meet on %.3f m, not on its 8 m", float64(k.Length))
			}
		}
	}
	if inside == 0 {
		t.Error("inside V1 nothing meets")
	}
}

// Without sides an edge is shared evenly: what is placed holds the share that is placed of the coat.
func TestAnEdgeIsSharedEvenlyWhereNoSideIsKnown(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 5))
	d.By("n1", 10, foldtest.Volume(foldtest.Put(1, "A1", 5, 10), 1000*0.25*9*0.012*1.08))
	c := d.Site().CellsLeft(foldtest.Clock(20), 400)
	if c.Strips {
		t.Error("cells are said to lie by strips where the plan has no sides")
	}
	open, ahead := lengths(c, "A1", "A2")
	if math.Abs(open-0.75) > 1e-3 || math.Abs(ahead-2.25) > 1e-3 {
		t.Errorf("%.3f m wait and %.3f m are to come on both sides, not a quarter and three of 3 m", open, ahead)
	}
	for _, e := range []string{"A2 A3", "A3 A4"} {
		a, b, _ := strings.Cut(e, " ")
		if open, ahead := lengths(c, event.Zone(a), event.Zone(b)); open != 0 || math.Abs(ahead-3) > 1e-6 {
			t.Errorf("edge %s: %.3f and %.3f m, not 0 and 3", e, open, ahead)
		}
	}
}

// A coat of a later pass waits for all that is left of the coat below it, and a batch for those before it in its coat.
func TestWhatComesFirstIsNeeded(t *testing.T) {
	d := foldtest.NewDesk(t)
	c := d.Site().CellsLeft(foldtest.Clock(0), 400)
	below := map[event.Zone]int{}
	for _, k := range c.All {
		if k.Coat.Number == 1 {
			below[k.Coat.Zone]++
		}
	}
	seconds := 0
	for i, k := range c.All {
		want, after := 0, 0
		if k.Nth > 1 {
			after = 1
		}
		if k.Coat.Number == 2 {
			want += below[k.Coat.Zone]
			seconds++
		}
		if len(k.Needs) != want || len(k.After) != after {
			t.Errorf("cell %d, batch %d of %s, needs %d others and comes after %d, not %d and %d", i, k.Nth, k.Coat,
				len(k.Needs), len(k.After), want, after)
		}
	}
	if seconds == 0 || len(c.All) != 16 { // 0.1166 m3 are 1.9 batches of 0.062 m3
		t.Errorf("%d cells, %d of them in second coats", len(c.All), seconds)
	}
	if few := d.Site().CellsLeft(foldtest.Clock(0), 3); few.Whole || len(few.All) != 4 {
		t.Errorf("where three are enough there are %d, whole: %v", len(few.All), few.Whole)
	}
}

func next(s *fold.Site, minute int) advice.Next {
	return advice.NextOf(s, foldtest.Clock(minute), foldtest.Place, "north")
}

// A1 is closed with one batch in it. The next goes to A2, along A1, and not to A4, which is placed as well but 40
// minutes later and lies at the other end.
func TestTheNextBatchMeetsTheEdgeThatTurnsFirst(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 5))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	d.By("f1", 11, event.CoatFinished{Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}})
	v := next(d.Site(), 40)
	if len(v.Missing) > 0 || v.Place == nil {
		t.Fatalf("no advice: %v", v.Missing)
	}
	if v.Place.Zone != "A2" || !slices.Equal(v.Place.Along, []string{"A1"}) || v.Batch != 2 || v.InHand {
		t.Fatalf("batch %d goes to %+v", v.Batch, v.Place)
	}
	// Water at 0, set 150 min at 23 °C, held for want of any air; placed from 40 to 60 by the assumed pace.
	if v.Turns == nil || !v.Turns.TurnsAt.Equal(foldtest.Clock(150)) || *v.SlackMin != 90 {
		t.Errorf("it turns cold first: %+v, %v min to spare", v.Turns, v.SlackMin)
	}
	if v.Risk.Trials != 150 || v.Basis.Trials != 200 || v.Basis.Crews[0].PaceBy != "assumed" {
		t.Errorf("risk %+v, basis %+v", v.Risk, v.Basis)
	}
	late := next(d.Site(), 140) // nobody can have placed there by 150
	if len(late.Lost) != 1 || late.Lost[0].Zone != "A1" || late.Lost[0].Other != "A2" ||
		math.Abs(late.Lost[0].LengthM-3) > 0.01 {
		t.Errorf("lost: %+v", late.Lost)
	}
	if morning := next(d.Site(), 24*60+30); len(morning.Lost) != 0 || morning.Basis.OldEdges == 0 ||
		len(morning.Treat) != 1 {
		t.Errorf("on the next day: lost %+v, %d old, treat %+v", morning.Lost, morning.Basis.OldEdges, morning.Treat)
	}
}

// Three crews: north with a batch in hand, south with a pace of its own, west on its first day.
func TestCrewsAreFreeAndFastAsTheRecordShows(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("f1", 0, event.CrewPlanned{Crew: "west", People: 3})
	for i := range 7 {
		b := foldtest.Mixed(i+1, 5+15*i)
		b.Batch.Crew = "south"
		d.By("s1", 5+15*i, b)
		p := foldtest.Share(foldtest.Put(i+1, "A4", 10+15*i, 12+15*i), 0.1)
		p.Batch.Crew = "south"
		d.By("s1", 13+15*i, p)
		d.By("s1", 13+15*i, event.BatchDiscarded{
			Batch: b.Batch, Part: event.Part{Share: foldtest.Ref(unit.Share(0.9))},
			Why: "small coat",
		})
	}
	d.By("n1", 98, foldtest.Mixed(1, 98))
	v := next(d.Site(), 100)
	if len(v.Missing) > 0 {
		t.Fatal(v.Missing)
	}
	if v.Batch != 1 || !v.InHand || !v.UseBy.Equal(foldtest.Clock(93+90)) {
		t.Errorf("batch %d, in hand %v, to be used by %v", v.Batch, v.InHand, v.UseBy)
	}
	var said []string
	for _, c := range v.Basis.Crews {
		said = append(said, fmt.Sprintf("%s %d %s %d", c.Crew, c.PaceMin, c.PaceBy,
			int(c.FreeAt.Sub(foldtest.Clock(0)).Minutes())))
	}
	want := []string{"north 15 site 100", "south 15 crew 115"} // its last was placed from 100 on
	if !slices.Equal(said, want) {
		t.Errorf("crews %q, not %q: west has not begun its day", said, want)
	}
}

func TestAdviceIsRefusedAndSaysWhatIsMissing(t *testing.T) {
	cold := func(at int, air float64, rain *float64) event.WeatherObserved {
		return event.WeatherObserved{
			Station: "gate", WindHeight: foldtest.As(unit.Length(2)),
			Samples: []event.Weather{{At: foldtest.Clock(at), Air: ref2(air), RainMillimetres: rain}},
		}
	}
	for _, c := range []struct {
		name string
		do   func(d *foldtest.Desk)
		at   int
		want string
	}{
		{"two foremen plan a mix in two ways", func(d *foldtest.Desk) {
			for i, by := range []event.Device{"f1", "f2"} {
				z := event.CrewPlanned{Crew: "west", People: 3 + i}
				d.By(by, 1, z)
			}
		}, 30, "the plan is not settled"},
		{"another crew is silent", func(d *foldtest.Desk) {
			b := foldtest.Mixed(1, 5)
			b.Batch.Crew = "south"
			d.By("s1", 5, b)
			p := foldtest.Put(1, "A4", 5, 10)
			p.Batch.Crew = "south"
			d.By("s1", 10, p)
		}, 10 + 181, "crew south was last heard"},
		{
			"frost", func(d *foldtest.Desk) { d.By("f1", 20, cold(20, 2, nil)) }, 30,
			"cold: 2 °C, under 4 °C, as read at",
		},
		{"rain", func(d *foldtest.Desk) { d.By("f1", 20, cold(20, 15, new(3.0))) }, 30, "rain 3 mm"},
		{"rain to come before the batch is placed", func(d *foldtest.Desk) {
			d.By("f1", 20, event.WeatherForecast{
				Source: "office", IssuedAt: foldtest.Clock(10), WindHeight: foldtest.As(unit.Length(10)),
				Samples: []event.Weather{{At: foldtest.Clock(40), Air: ref2(15), RainMillimetres: new(3.0)}},
			})
		}, 30, "nobody is to place between 07:30 and 07:50: rain 3 mm"},
		{
			"a batch that would be placed beyond its working time",
			func(d *foldtest.Desk) { d.By("n1", 10, foldtest.Mixed(1, 10)) }, 85, // and 15 min to place it
			"past its working time at 08:35",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			c.do(d)
			v := next(d.Site(), c.at)
			if v.Place != nil || len(v.Missing) != 1 || !strings.Contains(v.Missing[0], c.want) {
				t.Errorf("goes to %+v; missing %q, not %q", v.Place, v.Missing, c.want)
			}
		})
	}
}

func ref2(c float64) *unit.Celsius { return new(unit.Celsius(c)) }

// A set that the plan does not state is assumed, and said to be.
func TestAnAssumedSetIsSaid(t *testing.T) {
	d := foldtest.NewDesk(t)
	if v := next(d.Site(), 30); v.Basis.Sets[0].Assumed || v.Basis.Sets[0].SetMin != 150 {
		t.Errorf("sets %+v", v.Basis.Sets)
	}
	for _, b := range foldtest.SmallPlan() {
		if m, ok := b.(event.MixPlanned); ok {
			m.InitialSet, m.Revision = 0, 2
			for _, e := range d.Events {
				if old, is := e.Body.(event.MixPlanned); is && old.Mix == m.Mix {
					m.Replaces = []event.Hash{e.Hash()}
				}
			}
			d.By("f1", 1, m)
		}
	}
	if v := next(d.Site(), 30); v.Place == nil || !v.Basis.Sets[0].Assumed || v.Basis.Sets[0].SetMin != 180 {
		t.Errorf("goes to %+v by sets %+v", v.Place, v.Basis.Sets)
	}
}

func asText(t testing.TB, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Whatever order the events came in, and however often it is asked.
func TestAdviceDoesNotHangOnTheOrderOfArrival(t *testing.T) {
	events := foldtest.SmallJob(t)
	at := func(s *fold.Site, minute int) string {
		now := foldtest.Clock(minute)
		return asText(t, advice.NextOfAll(s, now, foldtest.Place)) + asText(t,
			advice.NextOf(s, now, foldtest.Place, "north"))
	}
	whole := foldtest.Folded(events...)
	advised := 0
	for _, minute := range []int{40, 75, 110, 300} {
		want := at(whole.Until(foldtest.Clock(minute)), minute)
		if strings.Contains(want, `"place":`) {
			advised++
		}
		r := rand.New(rand.NewPCG(uint64(minute), 1))
		for range 3 {
			shuffled := slices.Clone(events)
			r.Shuffle(len(shuffled), func(i, k int) { shuffled[i], shuffled[k] = shuffled[k], shuffled[i] })
			s := foldtest.Folded(shuffled...).Until(foldtest.Clock(minute))
			if got := at(s, minute); got != want {
				t.Fatalf("%d minutes after seven, in another order of arrival:\n%s\nnot\n%s", minute, got, want)
			}
			if again := at(s, minute); again != want {
				t.Fatalf("%d minutes after seven, asked twice:\n%s\nnot\n%s", minute, again, want)
			}
		}
	}
	if advised < 2 {
		t.Errorf("only %d of four instants had any advice", advised)
	}
}

// The same record in hotter air: an edge never has more time, and what is lost is never less.
func TestHotterNeverGivesSlack(t *testing.T) {
	var before advice.Next
	edges := 0
	for i, air := range []float64{8, 14, 20, 26, 32, 38} {
		d := foldtest.NewDesk(t)
		hot := event.WeatherObserved{Station: "gate", WindHeight: foldtest.As(unit.Length(2))}
		for h := range 9 {
			hot.Samples = append(hot.Samples, event.Weather{At: foldtest.Clock(60 * (h - 4)), Air: ref2(air)})
		}
		d.By("f1", 60, hot)
		d.By("n1", 0, foldtest.Mixed(1, 5))
		d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
		d.By("f1", 11, event.CoatFinished{Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}})
		v := next(d.Site(), 60)
		if v.Place == nil {
			t.Fatal(v.Missing)
		}
		if i > 0 && v.Turns != nil {
			edges++
			if before.Turns == nil || *v.SlackMin > *before.SlackMin {
				t.Errorf("at %v °C %d min to spare, more than in cooler air, %v", air, *v.SlackMin, before.SlackMin)
			}
		}
		if i > 0 && len(v.Lost) < len(before.Lost) {
			t.Errorf("at %v °C %d edges lost, fewer than in cooler air", air, len(v.Lost))
		}
		before = v
	}
	if edges < 3 {
		t.Errorf("%d of five had an edge to meet", edges)
	}
}

// A crew that does what it was told, as fast as was reckoned with, is told the rest of the same plan.
func TestFollowingAdviceKeepsThePlan(t *testing.T) {
	d := foldtest.NewDesk(t)
	plan := next(d.Site(), 0).Plan
	if len(plan) < 6 {
		t.Fatalf("a plan of %d batches", len(plan))
	}
	for i, take := range plan[:6] {
		from := int(take.From.Sub(foldtest.Clock(0)).Minutes())
		v := next(d.Site(), from)
		if v.Place == nil || v.Place.Zone != take.Zone {
			t.Fatalf("batch %d was to go to %s and is sent to %+v (%v)", i+1, take.Zone, v.Place, v.Missing)
		}
		d.By("n1", from, foldtest.Mixed(i+1, from))
		p := foldtest.Put(i+1, event.Zone(take.Zone), from, from+20)
		p.Coat.Number = int(take.Coat)
		d.By("n1", from+20, p)
	}
}

// A server answers while it takes in what others write: the answer is of the record as it was when it was asked.
func TestAnAnswerIsOfTheRecordAsItWasAsked(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 5))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	s := d.Site()
	want := asText(t, advice.AskNext(s, foldtest.Clock(30), foldtest.Place, "north").One())
	asked := advice.AskNext(s, foldtest.Clock(30), foldtest.Place, "north")
	for _, e := range []event.Event{
		d.By("n1", 12, foldtest.Mixed(2, 12)), d.By("n1", 13, foldtest.Put(2, "A1", 12, 13)),
		d.By("f1", 14, event.CoatFinished{Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}}),
	} {
		s.Add(e)
	}
	if now := asText(t, advice.NextOf(s, foldtest.Clock(30), foldtest.Place, "north")); now == want {
		t.Fatal("what was added changes nothing, so this test shows nothing")
	}
	if got := asText(t, asked.One()); got != want {
		t.Errorf("asked before and answered after:\n%s\nnot\n%s", got, want)
	}
}

// BenchmarkNext is one answer on a shell of 100 zones in a grid of five by twenty, a hundred placed, four crews.
func BenchmarkNext(b *testing.B) {
	plan := foldtest.SmallPlan()[:4]
	name := func(r, k int) event.Zone { return event.Zone(fmt.Sprintf("%c%02d", 'A'+r, k)) }
	for k := range 20 {
		for r := range 5 {
			plan = append(plan, event.ZonePlanned{
				Zone: name(r, k), Area: foldtest.As(unit.Area(9)),
				Order: 5*k + r + 1,
			},
				event.CoatPlanned{
					Coat:      event.Coat{Zone: name(r, k), Face: event.Outer, Number: 1},
					Thickness: foldtest.As(unit.Length(0.012)), Mix: "face",
				})
			if r > 0 {
				plan = append(plan, event.EdgePlanned{
					A: name(r-1, k), B: name(r, k),
					Length: foldtest.As(unit.Length(3)),
				})
			}
			if k > 0 {
				plan = append(plan, event.EdgePlanned{
					A: name(r, k-1), B: name(r, k),
					Length: foldtest.As(unit.Length(3)),
				})
			}
		}
	}
	for i := range 2 {
		plan = append(plan, event.CrewPlanned{Crew: event.Crew(fmt.Sprint("c", i)), People: 4})
	}
	work, err := sim.Job{Plan: plan, First: foldtest.Midnight, Days: 1, Seed: 3, HotDay: 0}.Work()
	if err != nil {
		b.Fatal(err)
	}
	events, err := simtest.Written(plan, work, foldtest.Midnight)
	if err != nil {
		b.Fatal(err)
	}
	now := foldtest.Midnight.Add(10 * time.Hour)
	s := foldtest.Folded(events...).Until(now)
	var v advice.Next
	for b.Loop() {
		v = advice.NextOf(s, now, foldtest.Place, "north")
	}
	if v.Place == nil {
		b.Fatal(v.Missing)
	}
	b.ReportMetric(float64(len(v.Plan)), "batches")
	b.ReportMetric(float64(len(v.Basis.Crews)), "crews")
}
