package bench

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/view"
)

func TestSize(t *testing.T) {
	end := time.Date(2031, 5, 14, 15, 0, 0, 0, time.UTC)
	for _, n := range []int{10_000, 100_000} {
		at := time.Now()
		d, err := invented(n, end)
		if err != nil {
			t.Fatal(err)
		}
		e, err := events(d)
		if err != nil {
			t.Fatal(err)
		}
		kinds := map[string]int{}
		bytes := 0
		for _, e := range e {
			kinds[event.KindOf(e.Body)]++
			bytes += len(e.Bytes())
		}
		t.Log(n, len(e), bytes, kinds, d[0].at, time.Since(at))
		at = time.Now()
		s := fold.New("bench", sim.Root)
		for _, e := range e {
			s.Add(e)
		}
		t.Log("add", time.Since(at))
		s.Plan()
		t.Log("plan", time.Since(at))
		b := view.BoardOf(s, end, time.UTC)
		t.Log("board", time.Since(at), len(b.Zones))
		_ = view.JointsOf(s, end, time.UTC)
		t.Log("joints", time.Since(at))
		aside := 0
		for _, r := range s.Records() {
			if r.State == fold.SetAside {
				aside++
				if aside < 5 {
					t.Log(r.Name, r.Aside.Why)
				}
			}
		}
		t.Log("aside", aside)
	}
}
