package chain_test

import (
	"errors"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/chain"
	"hod/internal/event"
)

// vault is a log of the site vault that holds the first n of a device's segments.
func vault(t testing.TB, segs []chain.Segment) *chain.Log {
	t.Helper()
	ring := chain.NewKeyRing("vault", "root", public(seed(1)))
	ring.Learn(enrol(t, "root", 1, "n2", seed(2), event.CrewRole))
	log := chain.NewLog("vault", ring)
	for _, s := range segs {
		if v, _ := log.Take(s, nil); v != chain.Accepted {
			t.Fatalf("segment %d of n2: %v", s.First(), v)
		}
	}
	return log
}

func other(t testing.TB, d event.Device, seq uint64) event.Event {
	return write(t, d, seq, event.Noted{Text: "sun came out"})
}

func TestEachVerdictHasItsReason(t *testing.T) {
	segs := run(t, "n2", 6)
	two := sign(t, seed(2), segs[0].After, segs[1].Events[0], segs[2].Events[0])
	elsewhere, err := chain.Sign(seed(2), "dome", start("dome", "n2"), notes(t, "n2", 1))
	if err != nil {
		t.Fatal(err)
	}
	long := sign(t, seed(2), segs[1].After, segs[2].Events[0], segs[3].Events[0], segs[4].Events[0])
	for name, c := range map[string]struct {
		segment chain.Segment
		want    chain.Verdict
		taken   int
	}{
		"what goes on":                      {segs[3], chain.Accepted, 1},
		"what overlaps, and goes on":        {long, chain.Accepted, 2},
		"what is held":                      {segs[2], chain.Duplicate, 0},
		"what is held, cut otherwise":       {two, chain.Duplicate, 0},
		"what begins later":                 {segs[4], chain.Gap, 0},
		"another event in the place of one": {sign(t, seed(2), segs[1].After, other(t, "n2", 3)), chain.Fork, 0},
		"another event, and one that goes on": {
			sign(t, seed(2), segs[1].After, other(t, "n2", 3), note(t, "n2", 4)),
			chain.Fork, 0,
		},
		"what goes on from another event": {sign(t, seed(2),
			sign(t, seed(2), segs[1].After, other(t, "n2", 3)).After, note(t, "n2", 4)), chain.Fork, 0},
		"what goes on, in another's hand": {
			sign(t, seed(3), segs[2].After, note(t, "n2", 4)),
			chain.BadSignature, 0,
		},
		"another event, in another's hand": {
			sign(t, seed(3), segs[1].After, other(t, "n2", 3)),
			chain.BadSignature, 0,
		},
		"what begins later, in another's hand": {
			sign(t, seed(3), segs[3].After, note(t, "n2", 5)),
			chain.BadSignature, 0,
		},
		"another site's":                         {elsewhere, chain.WrongSite, 0},
		"of a device that nobody enrolled":       {run(t, "n7", 1)[0], chain.NotEnrolled, 0},
		"a gap of a device that nobody enrolled": {run(t, "n7", 2)[1], chain.NotEnrolled, 0},
	} {
		log := vault(t, segs[:3])
		before := log.Reach("n2")
		v, tail := log.Take(c.segment, nil)
		if v != c.want || len(tail) != c.taken {
			t.Errorf("%s: %v with %d events, want %v with %d", name, v, len(tail), c.want, c.taken)
		}
		if after := log.Reach("n2"); after.Seq != before.Seq+uint64(c.taken) || c.taken > 0 &&
			after != c.segment.After {
			t.Errorf("%s: the log went from %d to %d", name, before.Seq, after.Seq)
		}
	}
}

func TestWhatTrustVouchesForIsTakenWithoutItsSignatureButNotOfAStranger(t *testing.T) {
	all := func(chain.Head) bool { return true }
	log := vault(t, nil)
	if v, _ := log.Take(sign(t, seed(3), start("vault", "n2"), note(t, "n2", 1)), all); v != chain.Accepted {
		t.Errorf("%v, want that the signature is not looked at again", v)
	}
	if v, _ := log.Take(run(t, "n7", 1)[0], all); v != chain.NotEnrolled {
		t.Errorf("%v, want that the device must be enrolled all the same", v)
	}
}

func TestAnEnrolmentCountsOnlyOnceItsSegmentIsTakenIn(t *testing.T) {
	log := vault(t, nil)
	first := sign(t, seed(1), start("vault", "root"), note(t, "root", 1))
	rival := sign(t, seed(1), start("vault", "root"), enrol(t, "root", 1, "n7", seed(7), event.CrewRole))
	late := sign(t, seed(1), sign(t, seed(1), first.After, note(t, "root", 2)).After,
		enrol(t, "root", 3, "n8", seed(8), event.CrewRole))
	for _, s := range []chain.Segment{first, rival, late} {
		log.Take(s, nil)
	}
	if log.Keys().Key("n7") != nil || log.Keys().Key("n8") != nil {
		t.Error("a segment that forks, or leaves a gap, enrolled a device")
	}
}

// scan judges event by event, as one would who has all the time there is.
func scan(held []event.Event, s chain.Segment) (chain.Verdict, uint64) {
	at := start("vault", "n2").Chain
	for i := range s.Before.Seq {
		if i >= uint64(len(held)) {
			return chain.Gap, 0
		}
		at = at.Next(held[i].Bytes())
	}
	if at != s.Before.Chain {
		return chain.Fork, s.Before.Seq
	}
	for _, e := range s.Events {
		if e.Seq > uint64(len(held)) {
			return chain.Accepted, 0
		}
		if !slices.Equal(e.Bytes(), held[e.Seq-1].Bytes()) {
			return chain.Fork, e.Seq
		}
	}
	return chain.Duplicate, 0
}

func TestJudgeAgreesWithAComparisonOfEachEvent(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		history := func(what string) (events []event.Event) {
			fork := rapid.IntRange(0, 12).Draw(r, what)
			for seq := uint64(1); seq <= 12; seq++ {
				e := note(t, "n2", seq)
				if int(seq) > fork {
					e = other(t, "n2", seq)
				}
				events = append(events, e)
			}
			return events
		}
		held := history("one")[:rapid.IntRange(0, 12).Draw(r, "held")]
		log := vault(t, nil)
		if len(held) > 0 {
			log.Take(sign(t, seed(2), start("vault", "n2"), held...), nil)
		}
		theirs := history("other")
		from := rapid.IntRange(0, 11).Draw(r, "from")
		to := rapid.IntRange(from+1, 12).Draw(r, "to")
		before := start("vault", "n2")
		for _, e := range theirs[:from] {
			before.Seq, before.Chain = e.Seq, before.Chain.Next(e.Bytes())
		}
		s := sign(t, seed(2), before, theirs[from:to]...)
		got, err := chain.Judge(s, log)
		if err != nil {
			r.Fatal(err)
		}
		want, differs := scan(held, s)
		if got.Verdict != want || got.Fork != differs {
			r.Fatalf("%v, from event %d on; want %v, from %d on", got.Verdict, got.Fork, want, differs)
		}
		if want == chain.Accepted && got.Held+len(got.New) != len(s.Events) {
			r.Errorf("%d held and %d new of %d", got.Held, len(got.New), len(s.Events))
		}
	})
}

// broken holds less than it says.
type broken struct{ end chain.Head }

func (b broken) Head(event.Device) (chain.Head, error) { return b.end, nil }
func (b broken) HeadAt(event.Device, uint64) (chain.Head, bool, error) {
	return chain.Head{}, false, nil
}

func TestAHoleInWhatIsHeldIsAnErrorAndNoVerdict(t *testing.T) {
	segs := run(t, "n2", 3)
	if j, err := chain.Judge(segs[2], broken{segs[2].After}); err == nil {
		t.Errorf("%+v, want an error", j)
	}
}

func TestSettleTriesAgainAsLongAsThatSettlesSomething(t *testing.T) {
	settled := map[int]bool{0: true}
	after := func(n int) (bool, error) { // n needs n-1
		if !settled[n-1] {
			return true, nil
		}
		settled[n] = true
		return false, nil
	}
	left, err := chain.Settle([]int{5, 3, 2, 1, 9}, after)
	if err != nil || !slices.Equal(left, []int{5, 9}) {
		t.Errorf("left %v, %v; want 5 and 9", left, err)
	}
	failed := errors.New("the disk is full")
	if _, err := chain.Settle([]int{1}, func(int) (bool, error) { return true, failed }); !errors.Is(err, failed) {
		t.Errorf("%v, want what the try said", err)
	}
}

func TestADeviceKnowsItsOwnHandUntilItsEnrolmentSaysOtherwise(t *testing.T) {
	ring := chain.NewKeyRing("vault", "root", public(seed(1)))
	ring.TrustOwn("n2", public(seed(2)))
	s := sign(t, seed(2), start("vault", "n2"), enrol(t, "n2", 1, "n9", seed(9), event.CrewRole))
	if err := ring.Admit(s); err != nil {
		t.Errorf("its own hand: %v", err)
	}
	if ring.Key("n9") != nil {
		t.Error("to be known gives the right to enrol")
	}
	if err := ring.Verify(sign(t, seed(3), start("vault", "n2"), note(t, "n2", 1))); !errors.Is(err,
		chain.ErrBadSignature) {
		t.Errorf("another's hand under its name: %v", err)
	}
	ring.Learn(enrol(t, "root", 1, "n2", seed(4), event.CrewRole))
	if err := ring.Verify(s); !errors.Is(err, chain.ErrBadSignature) {
		t.Errorf("%v: the site enrolled another key under this name", err)
	}
}
