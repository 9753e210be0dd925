package journal

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/chain"
	"hod/internal/event"
)

func TestKeep(t *testing.T) {
	author := inMemory(t, "n3")
	events := appendNotes(t, author, "a", "b", "c", "d", "e", "f")
	heads := []chain.Head{{Device: "n3", Chain: chain.Root(site, "n3")}}
	for _, e := range events {
		last := heads[len(heads)-1]
		heads = append(heads, chain.Head{Device: "n3", Seq: e.Seq, Chain: last.Chain.Next(e.Bytes())})
	}
	seg := func(from, to int) chain.Segment { // seqs from to to
		t.Helper()
		s, err := chain.Sign(keyOf("n3"), site, heads[from-1], events[from-1:to])
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	copied := inMemory(t, "n3") // writes other things under the same name
	appendNotes(t, copied, "a", "b", "other c", "other d", "other e")
	others := all(t, copied, "n3")
	if len(others) != 1 {
		t.Fatalf("%d segments, want 1", len(others))
	}
	forkLate, err := chain.Sign(keyOf("n3"), site, headAt(t, copied, 3), others[0].Events[3:])
	if err != nil {
		t.Fatal(err)
	}

	for name, tc := range map[string]struct {
		before, segs     []chain.Segment
		fresh, repeated  int
		waiting, forkSeq int
		last             uint64
	}{
		"a run":                           {nil, []chain.Segment{seg(1, 3)}, 3, 0, 0, 0, 3},
		"the same again":                  {[]chain.Segment{seg(1, 3)}, []chain.Segment{seg(1, 3)}, 0, 3, 0, 0, 3},
		"an overlap":                      {[]chain.Segment{seg(1, 3)}, []chain.Segment{seg(2, 5)}, 2, 2, 0, 0, 5},
		"a part of what is held":          {[]chain.Segment{seg(1, 5)}, []chain.Segment{seg(2, 4)}, 0, 3, 0, 0, 5},
		"a gap":                           {[]chain.Segment{seg(1, 2)}, []chain.Segment{seg(4, 5)}, 0, 0, 1, 0, 2},
		"a gap that the same call closes": {nil, []chain.Segment{seg(5, 6), seg(3, 4), seg(1, 2)}, 6, 0, 0, 0, 6},
		"another history from the third":  {[]chain.Segment{seg(1, 4)}, others, 0, 0, 0, 3, 4},
		"another history, seen late":      {[]chain.Segment{seg(1, 6)}, []chain.Segment{forkLate}, 0, 0, 0, 3, 6},
		"another history beside a good run": {
			[]chain.Segment{seg(1, 3)},
			append([]chain.Segment{seg(4, 6)}, others...),
			3, 0, 0, 3, 6,
		},
	} {
		t.Run(name, func(t *testing.T) {
			j := inMemory(t, "n2")
			if _, err := j.Keep(t.Context(), tc.before...); err != nil {
				t.Fatal(err)
			}
			kept, err := j.Keep(t.Context(), tc.segs...)
			if err != nil {
				t.Fatal(err)
			}
			same(t, "new", kept.New, tc.fresh)
			same(t, "repeated", kept.Repeated, tc.repeated)
			same(t, "waiting", len(kept.Waiting), tc.waiting)
			var forks []Fork
			if tc.forkSeq > 0 {
				forks = []Fork{{"n3", uint64(tc.forkSeq)}}
			}
			same(t, "forks", kept.Forks, forks)
			head, err := j.Head(t.Context(), "n3")
			if err != nil {
				t.Fatal(err)
			}
			same(t, "head", head, heads[tc.last])
			if v, err := j.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
				t.Errorf("verify: %v, %v", v.Faults, err)
			}
		})
	}
}

func headAt(t testing.TB, j *Journal, seq uint64) chain.Head {
	t.Helper()
	h, ok, err := j.HeadAt(t.Context(), j.device.Name, seq)
	if err != nil || !ok {
		t.Fatalf("no head at %d: %v", seq, err)
	}
	return h
}

func TestKeepRefusesAnotherSite(t *testing.T) {
	d := deviceNamed("n3")
	d.Site = "elsewhere"
	author, err := InMemory(d)
	if err != nil {
		t.Fatal(err)
	}
	defer author.Close()
	appendNotes(t, author, "a")
	j := inMemory(t, "n2")
	if _, err := j.Keep(t.Context(), all(t, author, "n3")...); err == nil {
		t.Error("a segment of another site was kept")
	}
}

func TestPositionIsKeptWithTheEffect(t *testing.T) {
	author, j := inMemory(t, "n3"), inMemory(t, "n2")
	appendNotes(t, author, "a")
	if err := j.SetContact(t.Context(), Contact{At: noon, Offset: 7}); err != nil {
		t.Fatal(err)
	}
	at := Position{9, event.Hash{9}}
	if _, err := j.IngestAt(t.Context(), at, all(t, author, "n3")...); err != nil {
		t.Fatal(err)
	}
	c, err := j.Contact(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "contact", c, Contact{At: noon, Offset: 7, Position: at})
}

// Whatever order segments of several devices come in, however cut and however often, once all have come the record is
// that of their authors, and each can be carried on from here to someone who has nothing.
func TestKeepInAnyOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var sent []chain.Segment
		want := map[event.Device]chain.Head{}
		for _, device := range []event.Device{"n3", "n4", "n2"}[:rapid.IntRange(1, 3).Draw(rt, "devices")] {
			before := chain.Head{Device: device, Chain: chain.Root(site, device)}
			heads, events := []chain.Head{before}, []event.Event(nil)
			for i := range rapid.IntRange(1, 12).Draw(rt, "events") {
				e, err := event.Write(event.Event{
					Name: event.Name{Device: device, Seq: uint64(i + 1)}, Crew: "north", HappenedAt: noon,
					LoggedAt: noon,
					Body:     event.Noted{Text: fmt.Sprint(device, i)},
				})
				if err != nil {
					rt.Fatal(err)
				}
				last := heads[len(heads)-1]
				heads = append(heads, chain.Head{Device: device, Seq: e.Seq, Chain: last.Chain.Next(e.Bytes())})
				events = append(events, e)
			}
			want[device] = heads[len(events)]
			cut := func(from, to int) {
				s, err := chain.Sign(keyOf(device), site, heads[from], events[from:to])
				if err != nil {
					rt.Fatal(err)
				}
				sent = append(sent, s)
			}
			for at := 0; at < len(events); { // once without a hole
				to := rapid.IntRange(at+1, len(events)).Draw(rt, "to")
				cut(at, to)
				at = to
			}
			for range rapid.IntRange(0, 4).Draw(rt, "extra") { // and some again, cut otherwise
				from := rapid.IntRange(0, len(events)-1).Draw(rt, "from")
				cut(from, rapid.IntRange(from+1, len(events)).Draw(rt, "to"))
			}
		}
		j := inMemory(t, "n2")
		defer j.Close()
		arrived := rapid.Permutation(slices.Concat(sent, sent)).Draw(rt, "arrived")
		fresh := 0
		for waiting := arrived; len(waiting) > 0; { // a peer offers again what was not kept
			before := fresh
			var again []chain.Segment
			for len(waiting) > 0 {
				n := rapid.IntRange(1, len(waiting)).Draw(rt, "at once")
				kept, err := j.Keep(t.Context(), waiting[:n]...)
				if err != nil {
					rt.Fatal(err)
				}
				if len(kept.Forks) > 0 {
					rt.Fatalf("forks %v among segments of one history", kept.Forks)
				}
				fresh, again, waiting = fresh+kept.New, append(again, kept.Waiting...), waiting[n:]
			}
			if waiting = again; fresh == before && len(waiting) > 0 {
				rt.Fatalf("%d segments wait although all were offered", len(waiting))
			}
		}
		carried := inMemory(t, "n9")
		defer carried.Close()
		for device, head := range want {
			got, err := j.Head(t.Context(), device)
			if err != nil || got != head {
				rt.Fatalf("head of %s is %v, want %v (%v)", device, got, head, err)
			}
			if _, err := carried.Keep(t.Context(), all(t, j, device)...); err != nil {
				rt.Fatal(err)
			}
			if got, err := carried.Head(t.Context(), device); err != nil || got != head {
				rt.Fatalf("carried on, the head of %s is %v, want %v (%v)", device, got, head, err)
			}
		}
		if v, err := j.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
			rt.Fatalf("verify: %v, %v", v.Faults, err)
		}
	})
}

func TestOfferSendsWhatTheServerLacks(t *testing.T) {
	j, reader := create(t, "n2"), inMemory(t, "n5")
	var texts []string
	for i := range 1000 {
		texts = append(texts, fmt.Sprint("note ", i))
	}
	appendNotes(t, j, texts...)
	if _, err := reader.Keep(t.Context(), all(t, j, "n2")...); err != nil {
		t.Fatal(err)
	}
	for _, from := range []*Journal{j, reader} {
		for _, accepted := range []uint64{0, 1, 255, 256, 257, 999, 1000} {
			after := headAt(t, j, accepted)
			seq := accepted
			for _, s := range offered(t, from, "n2", after) {
				if s.Before.Seq > seq {
					t.Fatalf("offer of %s after %d leaves a hole before %d", from.device.Name, accepted, s.First())
				}
				if err := s.Verify(publicOf("n2")); err != nil {
					t.Fatal(err)
				}
				seq = s.After.Seq
			}
			same(t, fmt.Sprintf("end of the offer of %s after %d", from.device.Name, accepted), seq, 1000)
		}
		if segs := offered(t, from, "n2", chain.Head{Device: "n2", Seq: 1001}); len(segs) > 0 {
			t.Errorf("offered %d segments to a server that has more", len(segs))
		}
		wrong := headAt(t, j, 500)
		wrong.Chain[3]++
		var fork *Fork
		if _, err := from.Offer(t.Context(), "n2", wrong); !errors.As(err, &fork) || fork.Device != "n2" ||
			fork.Seq != 500 {
			t.Errorf("offer to a server with another history: %v, want a fork at n2/500", err)
		}
	}
}

func TestOfferIsBounded(t *testing.T) {
	j := inMemory(t, "n2")
	var drafts []event.Event
	for range 40_000 {
		drafts = append(drafts, note("x"))
	}
	if _, err := j.Append(t.Context(), noon, drafts...); err != nil {
		t.Fatal(err)
	}
	segs := all(t, j, "n2")
	n := 0
	for _, s := range segs {
		n += len(s.Events)
	}
	same(t, "events offered", n, 40_000)
	if len(segs) <= MaxOffer {
		t.Errorf("%d segments; the test needs more than one offer", len(segs))
	}
}
