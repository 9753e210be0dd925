package joint_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/report"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// Through two days of a job, each half hour: the board shows exactly the open joints that press, and says that none is
// live only where none does.
func TestTheBoardAndTheCheckGoByOneRule(t *testing.T) {
	s := foldtest.Folded(foldtest.SmallJob(t)...)
	none, some := 0, 0
	for now := foldtest.Midnight; now.Before(foldtest.Midnight.Add(60 * time.Hour)); now = now.Add(30 * time.Minute) {
		past := s.Until(now)
		board, joints := daily.BoardOf(past, now, foldtest.Place), view.JointsOf(past, now, foldtest.Place)
		var press, old []string
		for _, j := range joints.Joints {
			if j.Presses() {
				press = append(press, j.ID)
			}
			if j.Old {
				old = append(old, j.ID)
			}
		}
		var shown []string
		for _, j := range board.LiveEdges {
			shown = append(shown, j.ID)
		}
		if !slices.Equal(shown, press) || int(board.OldEdges) != len(old) {
			t.Fatalf("%s: the board shows %v and %d old ones, the check goes by %v and %v", now, shown, board.OldEdges,
				press, old)
		}
		says := strings.Contains(report.Board(board, report.Page{In: foldtest.Place, Now: now}), "No edge is live.")
		if says != (len(press) == 0) {
			t.Fatalf("%s: the board says that no edge is live: %v; %d press", now, says, len(press))
		}
		if says {
			none++
		} else {
			some++
		}
	}
	if none == 0 || some == 0 {
		t.Errorf("%d boards without a live edge and %d with: both are to be seen", none, some)
	}
}

// A1, A2, A3 lie in a row. What was placed in A2 waits for both neighbours; it sets 150 min after its water at 23 °C.
func TestTheNextColdEdgeNamesAllItsNeighbours(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 5))
	d.By("n1", 10, foldtest.Put(1, "A2", 5, 10))
	n := daily.BoardOf(d.Site(), foldtest.Clock(20), foldtest.Place).NextCold
	if n == nil || n.Zone != "A2" || !slices.Equal(n.Others, []string{"A1", "A3"}) ||
		!n.TurnsAt.Equal(foldtest.Clock(150)) {
		t.Fatalf("next cold is %+v, not A2 to A1 and A3 at %s", n, foldtest.Clock(150))
	}
	if n := daily.BoardOf(d.Site(), foldtest.Clock(151), foldtest.Place).NextCold; n != nil {
		t.Errorf("a minute after, next cold is %+v", n)
	}
	d.By("n1", 40, foldtest.Mixed(2, 45)) // in A4, which A3 alone borders; 40 minutes later
	d.By("n1", 50, foldtest.Put(2, "A4", 45, 50))
	if n := daily.BoardOf(d.Site(), foldtest.Clock(60), foldtest.Place).NextCold; n == nil || n.Zone != "A2" {
		t.Errorf("with A4 placed after it, next cold is %+v, not A2", n)
	}
	if n := daily.BoardOf(d.Site(), foldtest.Clock(160), foldtest.Place).NextCold; n == nil || n.Zone != "A4" ||
		!slices.Equal(n.Others, []string{"A3"}) {
		t.Errorf("once A2 is cold, next cold is %+v, not A4 to A3", n)
	}
}

// Cold on the day on which it turned, old on the next, and neither once it was treated.
func TestAnEdgeIsOldOnTheNextDayUntilItIsTreated(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 5))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	const next = 24 * 60
	at := func(minute int) (edges int, old int32) {
		b := daily.BoardOf(d.Site(), foldtest.Clock(minute), foldtest.Place)
		return len(b.LiveEdges), b.OldEdges
	}
	if edges, old := at(600); edges != 2 || old != 0 { // inside A1, and to A2
		t.Errorf("in the evening %d edges, %d old; wanted 2 and 0", edges, old)
	}
	if edges, old := at(next); edges != 0 || old != 2 {
		t.Errorf("the next morning %d edges, %d old; wanted 0 and 2", edges, old)
	}
	d.By("n1", next+5, event.JointTreated{
		Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, OtherZone: "A2",
		Method: "slurried",
	})
	if edges, old := at(next + 10); edges != 0 || old != 1 {
		t.Errorf("once treated %d edges, %d old; wanted 0 and 1", edges, old)
	}
}
