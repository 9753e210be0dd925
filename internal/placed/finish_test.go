package placed_test

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
	"hod/internal/view/daily"
)

// litres into A1 of a batch each; the coat takes 117 L by the plan, loss counted.
func filled(d *foldtest.Desk, litres ...float64) (last int) {
	for i, l := range litres {
		m := 20 * i
		d.By("n1", m, foldtest.Mixed(i+1, m))
		d.By("n1", m+10, foldtest.Volume(foldtest.Put(i+1, "A1", m+5, m+10), l))
		last = m + 10
	}
	return last
}

func firstCoat(t *testing.T, s *fold.Site) fold.CoatIs {
	t.Helper()
	z, ok := s.Zone("A1")
	if !ok {
		t.Fatal("no zone A1")
	}
	return z.Coats[0]
}

var a1 = event.Coat{Zone: "A1", Face: event.Outer, Number: 1}

func complete(of unit.Share) event.ProgressStated {
	return event.ProgressStated{Coat: a1, Complete: foldtest.As(of)}
}

// Ten per cent thin and covered is finished; ten per cent thick with nothing said and its crew still at it is not.
func TestACoatIsFinishedByWhatPeopleSayOrDo(t *testing.T) {
	elsewhere := func(d *foldtest.Desk, at int) {
		d.By("n1", at, foldtest.Mixed(9, at))
		d.By("n1", at+10, foldtest.Put(9, "A2", at+5, at+10))
	}
	for name, k := range map[string]struct {
		litres []float64
		write  func(d *foldtest.Desk, at int)
		want   string
		how    string
	}{
		"nothing placed":                         {nil, func(*foldtest.Desk, int) {}, "waiting", ""},
		"all of the plan and more, nothing said": {[]float64{64, 64}, func(*foldtest.Desk, int) {}, "under way", ""},
		"thin, and covered": {
			[]float64{55, 48},
			func(d *foldtest.Desk, at int) { d.By("n1", at+5, cover("A1", event.Outer, event.Covered)) }, "done",
			"covered with wet burlap",
		},
		"thin, and the other face covered": {
			[]float64{55, 48},
			func(d *foldtest.Desk, at int) { d.By("n1", at+5, cover("A1", event.Inner, event.Covered)) }, "under way",
			"",
		},
		"half full, and covered for the night": {
			[]float64{58},
			func(d *foldtest.Desk, at int) { d.By("n1", at+5, cover("A1", event.Outer, event.Covered)) }, "under way",
			"",
		},
		"its crew went on": {
			[]float64{55, 48},
			func(d *foldtest.Desk, at int) { elsewhere(d, at+5) },
			"done", "crew north went on to A2 outer 1",
		},
		"half full, and its crew went on": {
			[]float64{58},
			func(d *foldtest.Desk, at int) { elsewhere(d, at+5) },
			"under way", "",
		},
		"the rest of its batch went elsewhere": {
			[]float64{55, 48},
			func(d *foldtest.Desk, at int) { d.By("n1", at+5, foldtest.Put(2, "A2", at+1, at+5)) }, "under way", "",
		},
		"one of its two crews went on": {[]float64{55, 48}, func(d *foldtest.Desk, at int) {
			b := foldtest.Mixed(1, at)
			b.Batch.Crew = "south"
			p := foldtest.Volume(foldtest.Put(1, "A1", at+5, at+10), 10)
			p.Batch = b.Batch
			d.By("s1", at, b)
			d.By("s1", at+10, p)
			elsewhere(d, at+20)
		}, "under way", ""},
		"closed by the foreman": {
			[]float64{58},
			func(d *foldtest.Desk, at int) { d.By("f1", at+5, event.CoatFinished{Coat: a1}) }, "done",
			"closed by device f1",
		},
		"closed with nothing in it": {
			nil, func(d *foldtest.Desk, at int) { d.By("f1", at+5, event.CoatFinished{Coat: a1}) },
			"done", "closed by device f1",
		},
		"all of it said to be complete": {
			[]float64{58},
			func(d *foldtest.Desk, at int) { d.By("n1", at+5, complete(1)) },
			"done", "all of it said to be complete",
		},
		"covered, and said to be 60 % of it": {[]float64{55, 48}, func(d *foldtest.Desk, at int) {
			d.By("n1", at+5, cover("A1", event.Outer, event.Covered))
			d.By("n1", at+6, complete(0.6))
		}, "under way", ""},
		"said to be 60 % of it, then covered": {[]float64{55, 48}, func(d *foldtest.Desk, at int) {
			d.By("n1", at+1, complete(0.6))
			d.By("n1", at+6, cover("A1", event.Outer, event.Covered))
		}, "under way", ""},
		"closed, and then found to be 60 %": {
			[]float64{58},
			func(d *foldtest.Desk, at int) {
				d.By("f1", at+5, event.CoatFinished{Coat: a1})
				d.By("n1", at+6, complete(0.6))
			},
			"under way", "",
		},
		"closed, and more mortar after that": {[]float64{58}, func(d *foldtest.Desk, at int) {
			d.By("f1", at+1, event.CoatFinished{Coat: a1})
			d.By("n1", at+5, foldtest.Mixed(2, at+5))
			d.By("n1", at+20, foldtest.Volume(foldtest.Put(2, "A1", at+10, at+20), 40))
		}, "under way", ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			at := filled(d, k.litres...)
			k.write(d, at)
			s := d.Site()
			if set := foldtest.Aside(s); set != "" {
				t.Fatalf("set aside: %s", set)
			}
			c := firstCoat(t, s)
			if c.State.String() != k.want || c.Finish.How != k.how {
				t.Errorf("the coat is %s (%q), not %s (%q)", c.State, c.Finish.How, k.want, k.how)
			}
			line := daily.BoardOf(s, foldtest.Clock(24*60), foldtest.Place).Zones[0]
			if line.State != k.want || line.FinishedBy != k.how || (line.FinishedAt != nil) != (k.want == "done") {
				t.Errorf("the board has it %s, finished %v by %q", line.State, line.FinishedAt, line.FinishedBy)
			}
			if k.want == "done" && line.LeftM3 != 0 {
				t.Errorf("%.3f m³ left of a finished coat", line.LeftM3)
			}
		})
	}
}

func TestAFinishedCoatThatGetsMortarIsOpenAgain(t *testing.T) {
	d := foldtest.NewDesk(t)
	at := filled(d, 55, 48)
	d.By("n1", at+5, cover("A1", event.Outer, event.Covered))
	if c := firstCoat(t, d.Site()); !c.Done() || c.Again != nil {
		t.Fatalf("covered, the coat is %s, again %v", c.State, c.Again)
	}
	d.By("n1", at+30, foldtest.Mixed(3, at+30))
	d.By("n1", at+40, foldtest.Volume(foldtest.Put(3, "A1", at+35, at+40), 10))
	c := firstCoat(t, d.Site())
	if c.Done() || c.Again == nil || !c.Again.From.Equal(foldtest.Clock(at+35)) {
		t.Errorf("the coat is %s, open again by %+v", c.State, c.Again)
	}
	if line := daily.BoardOf(d.Site(), foldtest.Clock(at+50), foldtest.Place).Zones[0]; line.OpenedAgainAt == nil ||
		!line.OpenedAgainAt.Equal(foldtest.Clock(at+35)) {
		t.Errorf("the board has it open again at %v", line.OpenedAgainAt)
	}
}

// 60 % was said when 58 L were in; 48 L came since.
func TestWhatWasSaidOfACoatKeepsWhatWasInItThen(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	p := foldtest.Volume(foldtest.Put(1, "A1", 5, 10), 58)
	p.Complete = foldtest.Ref(unit.Share(0.6))
	d.By("n1", 10, p)
	d.By("n1", 20, foldtest.Mixed(2, 20))
	d.By("n1", 30, foldtest.Volume(foldtest.Put(2, "A1", 25, 30), 48))
	k := firstCoat(t, d.Site()).Complete
	if k == nil || k.Share != 0.6 || !k.At.Equal(foldtest.Clock(10)) || !foldtest.Near(float64(k.Volume), 0.058) {
		t.Errorf("said %+v", k)
	}
}

func TestOnlyAForemanClosesACoatAndAnyoneWhoPlacesSaysHowFarItIs(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 1, event.CoatFinished{Coat: a1})
	d.By("n1", 2, complete(0.5))
	d.By("s1", 3, event.MethodChanged{What: "one pass less"})
	d.By("f1", 4, event.MethodChanged{What: "one pass more"})
	d.By("n1", 5, event.MaterialPlanned{Material: "sand", Bulk: foldtest.Ref(unit.Density(1500))})
	d.By("i1", 6, complete(0.5))
	z9 := complete(0.5)
	z9.Coat.Zone = "Z9"
	d.By("n1", 7, z9)
	s := d.Site()
	if got, want := foldtest.Aside(s), "i1/1:no-right n1/1:no-right n1/4:unknown-zone"; got != want {
		t.Errorf("set aside: %s, not %s", got, want)
	}
	if n := len(s.MethodChanges()); n != 2 {
		t.Errorf("%d changes of method", n)
	}
}

// The edge of a coat whose crew went on while it is short of its plan may yet be met: it stays on the board until it
// turns.
func TestACrewThatWentOnLeavesAnOpenEdgeWhereTheCoatIsShortOfItsPlan(t *testing.T) {
	inside := func(litres ...float64) (n int) {
		d := foldtest.NewDesk(t)
		at := filled(d, litres...)
		d.By("n1", at+5, foldtest.Mixed(9, at+5))
		d.By("n1", at+15, foldtest.Put(9, "A3", at+10, at+15))
		s := d.Site()
		for _, f := range s.Fronts() {
			if f.Kind == fold.Inside && f.Coat == a1 {
				n++
			}
		}
		return n
	}
	if n := inside(55, 48); n != 1 {
		t.Errorf("%d open edges inside a coat at nine tenths of its plan that its crew left, not 1", n)
	}
	if n := inside(64, 64); n != 0 {
		t.Errorf("%d open edges inside a full coat that its crew left", n)
	}
}

func TestABatchOnItsWayIsInTransitUntilItsTimeIsUp(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Share(foldtest.Put(1, "A1", 5, 10), 0.25))
	s := d.Site()
	for minute, want := range map[int]int{20: 1, 170: 1, 200: 0} {
		got := s.InTransit(foldtest.Clock(minute))
		if len(got) != want || want == 1 && (got[0].Crew != "north" || got[0].Left != 0.75) {
			t.Errorf("after %d min in transit: %+v", minute, got)
		}
	}
}

func days(d *foldtest.Desk, dates ...string) {
	for _, date := range dates {
		day, err := time.ParseInLocation(time.DateOnly, date, foldtest.Place)
		if err != nil {
			d.TB.Fatal(err)
		}
		b := foldtest.Mixed(1, int(day.Sub(foldtest.Midnight).Minutes()))
		b.Batch.Day = date
		d.By("n1", int(day.Sub(foldtest.Midnight).Minutes()), b)
	}
}

// The plan says no working days: Sundays go by what the record shows. 2031-05-12 is a Monday.
func TestWorkingDaysAreGuessedFromTheRecordWhereThePlanIsSilent(t *testing.T) {
	for name, k := range map[string]struct {
		worked   []string
		now      string
		saturday float64
		sunday   float64
	}{
		"no batch yet":                    {nil, "2031-05-12", 1, 0.5},
		"no Sunday has passed":            {[]string{"2031-05-12", "2031-05-14"}, "2031-05-15", 1, 0.5},
		"a Sunday passed without a batch": {[]string{"2031-05-16", "2031-05-17", "2031-05-19"}, "2031-05-20", 1, 0},
		"a Sunday was worked":             {[]string{"2031-05-17", "2031-05-18"}, "2031-05-19", 1, 1},
		"two weekends passed": {
			[]string{"2031-05-16", "2031-05-19", "2031-05-23", "2031-05-26"},
			"2031-05-27", 0, 0,
		},
		"the site stood still for a month":  {[]string{"2031-05-12", "2031-05-13", "2031-06-16"}, "2031-06-17", 1, 0.5},
		"a clock was set back by ten years": {[]string{"2021-05-12", "2031-05-13"}, "2031-05-14", 1, 0.5},
		"it has not worked since a month":   {[]string{"2031-05-12", "2031-05-13"}, "2031-06-30", 1, 0.5},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			days(d, k.worked...)
			now, _ := time.ParseInLocation(time.DateOnly, k.now, foldtest.Place)
			c := d.Site().Calendar(now, foldtest.Place)
			// the 4th is a Monday
			day := func(n int) fold.WorkDay { return c.On(time.Date(2031, 8, n, 0, 0, 0, 0, foldtest.Place)) }
			if got := day(4); got.Chance != 1 || got.From != fold.DefaultWorkFrom || got.To != fold.DefaultWorkTo {
				t.Errorf("a Monday is %+v", got)
			}
			if sat, sun := day(9).Chance, day(10).Chance; sat != k.saturday || sun != k.sunday {
				t.Errorf("Saturdays %v, Sundays %v; not %v, %v", sat, sun, k.saturday, k.sunday)
			}
			if said := c.Guessed(); !strings.HasPrefix(said, "guessed from the record") {
				t.Errorf("it says %q", said)
			}
		})
	}
}

func TestWorkingDaysAreThoseOfThePlan(t *testing.T) {
	d := foldtest.NewDesk(t)
	site := foldtest.SmallPlan()[0].(event.SitePlanned)
	site.Replaces = []event.Hash{planOf(t, d, "site").Hash()}
	site.Week = []event.WorkDays{
		{Days: []time.Weekday{time.Monday, time.Tuesday}, From: 7 * time.Hour, To: 17 * time.Hour},
		{Days: []time.Weekday{time.Saturday}, From: 8 * time.Hour, To: 12 * time.Hour},
	}
	site.Except = []event.WorkException{{Date: "2031-05-19"}, {
		Date: "2031-05-18", From: 9 * time.Hour,
		To: 11 * time.Hour,
	}}
	d.By("f1", 1, site)
	c := d.Site().Calendar(foldtest.Clock(0), foldtest.Place)
	for date, want := range map[string]fold.WorkDay{
		"2031-05-12": {
			From: 7 * time.Hour, To: 17 * time.Hour,
			Chance: 1,
		}, "2031-05-14": {}, "2031-05-17": {From: 8 * time.Hour, To: 12 * time.Hour, Chance: 1},
		"2031-05-18": {From: 9 * time.Hour, To: 11 * time.Hour, Chance: 1}, "2031-05-19": {}, "2031-05-25": {},
	} {
		at, _ := time.ParseInLocation(time.DateOnly, date, foldtest.Place)
		if got := c.On(at); got != want {
			t.Errorf("%s is %+v, not %+v", date, got, want)
		}
	}
	if said := c.Guessed(); said != "" {
		t.Errorf("it guesses: %q", said)
	}
}

func planOf(t *testing.T, d *foldtest.Desk, kind string) event.Event {
	t.Helper()
	for _, e := range d.Events {
		if event.KindOf(e.Body) == kind {
			return e
		}
	}
	t.Fatalf("no %s is written", kind)
	return event.Event{}
}

// A1 takes 117 L by the plan. 84 L, 72 %, and a cover: it counts as finished, and a foreman is shown how thin it is.
func TestACoatThatWasClosedThinIsShownOnce(t *testing.T) {
	covered := func(d *foldtest.Desk, at int) { d.By("n1", at+5, cover("A1", event.Outer, event.Covered)) }
	wentOn := func(d *foldtest.Desk, at int) {
		d.By("n1", at+5, foldtest.Mixed(9, at+5))
		d.By("n1", at+15, foldtest.Share(foldtest.Put(9, "A2", at+10, at+15), 0.5))
	}
	for name, k := range map[string]struct {
		litres []float64
		write  func(d *foldtest.Desk, at int)
		want   int
	}{
		"covered at seven tenths":        {[]float64{44, 40}, covered, 1},
		"covered at nine tenths":         {[]float64{55, 50}, covered, 0},
		"half full, covered, still open": {[]float64{40}, covered, 0},
		"said to be complete": {[]float64{44}, func(d *foldtest.Desk, at int) {
			d.By("n1", at+5, complete(1))
		}, 1},
		"closed by the foreman": {
			[]float64{44, 40},
			func(d *foldtest.Desk, at int) { d.By("f1", at+5, event.CoatFinished{Coat: a1}) }, 0,
		},
		"covered, then closed by the foreman": {[]float64{44, 40}, func(d *foldtest.Desk, at int) {
			covered(d, at)
			d.By("f1", at+9, event.CoatFinished{Coat: a1})
		}, 0},
		"covered, then said to be under way": {[]float64{44, 40}, func(d *foldtest.Desk, at int) {
			covered(d, at)
			d.By("n1", at+9, complete(0.7))
		}, 0},
		"its crew went on and may come back": {[]float64{44, 40}, wentOn, 0},
		"its crew went on, and a coat lies on it": {[]float64{44, 40}, func(d *foldtest.Desk, at int) {
			wentOn(d, at)
			over := foldtest.Put(9, "A1", at+20, at+25)
			over.Coat.Number = 2
			d.By("n1", at+30, foldtest.Share(over, 0.2))
		}, 1},
		"closed with nothing in it": {nil, func(d *foldtest.Desk, at int) { d.By("n1", at+5, complete(1)) }, 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			k.write(d, filled(d, k.litres...))
			s := d.Site()
			if got := foldtest.Count(s, fold.ClosedThin); got != k.want {
				t.Errorf("%d are shown, not %d; the coat is %s", got, k.want, firstCoat(t, s).State)
			}
		})
	}
}

// What a gauge read is how thick it is, whatever the volume says.
func TestACoatThatWasGaugedIsNotCalledThinByItsVolume(t *testing.T) {
	d := foldtest.NewDesk(t)
	at := filled(d, 44)
	d.By("n1", at+10, foldtest.Mixed(2, at+10))
	p := foldtest.Volume(foldtest.Put(2, "A1", at+15, at+20), 40)
	p.Gauges = []unit.As[unit.Length]{foldtest.As(unit.Length(0.012))}
	d.By("n1", at+20, p)
	d.By("n1", at+25, cover("A1", event.Outer, event.Covered))
	if s := d.Site(); !firstCoat(t, s).Done() || foldtest.Count(s, fold.ClosedThin) != 0 {
		t.Errorf("the coat is %s, %d are shown", firstCoat(t, s).State, foldtest.Count(s, fold.ClosedThin))
	}
}

// Four zones closed thin in one day are one flag with four lines; it names the day and the thinnest first.
func TestCoatsClosedThinOnOneDayAreOneFlag(t *testing.T) {
	d := foldtest.NewDesk(t)
	for i, z := range []event.Zone{"A1", "A2", "A3", "A4"} {
		at := 30 * i
		d.By("n1", at, foldtest.Mixed(i+1, at))
		d.By("n1", at+10, foldtest.Volume(foldtest.Put(i+1, z, at+5, at+10), 30))
		said := event.ProgressStated{
			Coat:     event.Coat{Zone: z, Face: event.Outer, Number: 1},
			Complete: foldtest.As(unit.Share(1)),
		}
		d.By("n1", at+15, said)
	}
	s := d.Site()
	var found []fold.Flag
	for _, f := range s.Flags(s.Findings()) {
		if f.Code == fold.ClosedThin {
			found = append(found, f)
		}
	}
	if len(found) != 1 || len(found[0].Lines) != 4 || found[0].Grave ||
		!strings.Contains(found[0].Text, "4 coats count as finished") {
		t.Errorf("%+v", found)
	}
}
