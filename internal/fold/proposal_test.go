package fold_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
)

// What a clock made is brought to the site's clock, the bays' last beginnings as the start; the event keeps its own.
func TestAllTimesOfADaysOrderAreBroughtToTheSitesClock(t *testing.T) {
	d := foldtest.NewDesk(t)
	fast := -time.Hour
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "f1", Seq: d.By("f1", 0, event.Noted{Text: "tomorrow"}).Seq + 1}, Crew: "office",
		HappenedAt: foldtest.Clock(60), LoggedAt: foldtest.Clock(60), Offset: &fast,
		Body: event.DayOrdered{
			Day: "2031-05-13", Start: foldtest.Clock(120), Crews: []event.Crew{"north"},
			Bays: []event.DayBay{
				{Zones: []event.Zone{"A1"}, BeginBy: foldtest.Clock(180)},
				{Zones: []event.Zone{"A2"}},
			},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	s := foldtest.Folded(append(d.Events, e)...)
	for range 2 {
		o := s.OrderOf("2031-05-13", foldtest.Clock(600))
		if o == nil {
			t.Fatal("there is no order")
		}
		if !o.Start.Equal(foldtest.Clock(60)) || !o.Bays[0].BeginBy.Equal(foldtest.Clock(120)) ||
			!o.Bays[1].BeginBy.IsZero() {
			t.Errorf("start %s, bays %v", o.Start, o.Bays)
		}
	}
	if own := e.Body.(event.DayOrdered).Bays[0].BeginBy; !own.Equal(foldtest.Clock(180)) {
		t.Errorf("the event's own bay is to be begun by %s now", own)
	}
}
