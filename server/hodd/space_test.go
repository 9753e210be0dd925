package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
	"hod/server/admin"
	"hod/server/enrol"
	"hod/server/space"
)

// filled has a device publish notes until the stream refuses some, and gives these and the refusal.
func filled(t *testing.T, line *bus.Line, by *record) (chain.Segment, error) {
	t.Helper()
	long := strings.Repeat("a long note ", 300)
	for range 2000 {
		s := by.segment(t, event.Noted{Text: long}, event.Noted{Text: long}, event.Noted{Text: long})
		if err := line.Publish(t.Context(), s.Bytes()); err != nil {
			return s, err
		}
	}
	t.Fatal("the stream took 20 MB")
	return chain.Segment{}, nil
}

func TestAQuotaRefusesNewEventsWithASentenceWhileAllElseGoesOn(t *testing.T) {
	dir := t.TempDir()
	s := here(dir)
	s.space = spaceFlags{stream: 2 << 20, archive: 64 << 20, reserve: 1}
	w := started(t, s)
	crew := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	line, err := bus.Dial(t.Context(), crew.access())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	first, refused := filled(t, line, crew)
	if !strings.Contains(refused.Error(), "space is used up") || !strings.Contains(refused.Error(), "hodd space") {
		t.Errorf("refused with %q", refused)
	}
	acknowledged := crew.head.Seq - 3
	until(t, "all that was acknowledged is in the archive", func() bool {
		h := reached(w, crew.Name)
		return len(h) == 1 && h[0].Seq == acknowledged
	})
	operator, err := admin.Dial(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer operator.Close()
	is, err := operator.Space(t.Context(), admin.SpaceOrder{})
	if err != nil || is.State != "full" || !strings.Contains(strings.Join(is.Why, " "), "--stream-quota") {
		t.Errorf("full, it says %+v, %v", is, err)
	}
	if text := spaceText(is); !strings.Contains(text, "of 2 MiB") || !strings.Contains(text, "no new events") {
		t.Errorf("in words: %s", text)
	}
	// Signing in, reading, joining and revoking go on, and devices hear of it.
	if h, err := line.Heads(t.Context()); err != nil || !strings.Contains(h.Notice, "no new events") {
		t.Errorf("asked for its heads it says %q, %v", h.Notice, err)
	}
	if got, err := line.Read(t.Context(), 1, 10); err != nil || len(got) == 0 {
		t.Errorf("read %d messages, %v", len(got), err)
	}
	if b, err := crew.queries(t).Board(t.Context(), &hodv1.BoardRequest{}); err != nil ||
		!strings.Contains(b.GetBoard().GetServerNotice(), "quota") {
		t.Errorf("the board says %q, %v", b.GetBoard().GetServerNotice(), err)
	}
	other := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "south", For: time.Hour, Uses: 1}))
	if err := operator.Revoke(t.Context(), other.Name, "to see it reach the stream"); err != nil {
		t.Fatal(err)
	}
	until(t, "the stream has the server's own events", func() bool {
		read := 0
		for from := uint64(1); ; {
			got, err := line.Read(t.Context(), from, 1000)
			if err != nil || len(got) == 0 {
				state, failed := w.stream.State(t.Context())
				return read == 3 && failed == nil && state.Limit == 1
			}
			for _, m := range got {
				if m.Carrier == "site" {
					read++
				}
			}
			from = got[len(got)-1].Seq + 1
		}
	})
	second := crew.segment(t, event.Noted{Text: "short"})
	if err := line.Publish(t.Context(), second.Bytes()); err == nil {
		t.Error("it takes events although it is full")
	}
	if is, err = operator.Space(t.Context(), admin.SpaceOrder{Stream: 1}); err == nil ||
		!strings.Contains(err.Error(), "1 MiB") {
		t.Errorf("a quota of one byte: %+v, %v", is, err)
	}
	if is, err = operator.Space(t.Context(), admin.SpaceOrder{Stream: 64 << 20}); err != nil || is.State != "fine" {
		t.Fatalf("given more, it says %+v, %v", is, err)
	}
	for _, s := range []chain.Segment{first, second} {
		if err := line.Publish(t.Context(), s.Bytes()); err != nil {
			t.Fatalf("with room again: %v", err)
		}
	}
	until(t, "what was refused is in the archive", func() bool { return reached(w, crew.Name)[0].Seq == crew.head.Seq })
}

func TestAStreamIsMadeAnewWithoutRepeatsAndNothingAcknowledgedIsLost(t *testing.T) {
	dir := t.TempDir()
	s := here(dir)
	s.space = spaceFlags{stream: 4 << 20, archive: 64 << 20, reserve: 1}
	w := started(t, s)
	crew := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	line, err := bus.Dial(t.Context(), crew.access())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	one := crew.segment(t, event.Noted{Text: "the first of all"})
	lost := crew.segment(t, event.Noted{Text: "the second, which comes late"})
	waits := crew.segment(t, event.Noted{Text: "the third, which waits for it"})
	junk := make([]byte, 60<<10)
	for _, m := range [][]byte{one.Bytes(), waits.Bytes()} {
		if err := line.Publish(t.Context(), m); err != nil {
			t.Fatal(err)
		}
	}
	for err == nil {
		err = line.Publish(t.Context(), junk)
	}
	operator, err := admin.Dial(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer operator.Close()
	until(t, "the server is full", func() bool {
		is, err := operator.Space(t.Context(), admin.SpaceOrder{})
		return err == nil && is.State == "full"
	})
	is, err := operator.Space(t.Context(), admin.SpaceOrder{Compact: true})
	if err != nil || is.State != "fine" || is.StreamBefore == nil || *is.StreamBefore < 3<<20 ||
		is.Used.Stream > 64<<10 {
		t.Fatalf("made anew: %+v, %v", is, err)
	}
	if text := spaceText(is); !strings.Contains(text, "The stream was made anew: it held 3.9") ||
		!strings.Contains(text, "New events are taken") {
		t.Errorf("in words: %s", text)
	}
	if err := line.Publish(t.Context(), lost.Bytes()); err != nil {
		t.Fatal(err)
	}
	until(t, "what waited stands once what it waited for came",
		func() bool { return reached(w, crew.Name)[0].Seq == 3 })
	held := map[string]bool{}
	got, err := line.Read(t.Context(), 1, 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range got {
		held[string(m.Data)] = true
	}
	for name, s := range map[string][]byte{
		"the first": one.Bytes(), "the third": waits.Bytes(), "the second": lost.Bytes(),
	} {
		if !held[string(s)] {
			t.Errorf("the stream does not hold %s", name)
		}
	}
	if held[string(junk)] {
		t.Error("the stream holds the junk still")
	}
}

func TestADiskThatIsNearlyFullClosesTheServerToNewEvents(t *testing.T) {
	s := here(t.TempDir())
	s.space = spaceFlags{reserve: 1 << 49}
	if space.Free(s.data) < 0 {
		t.Skip("this system does not say how much of a disk is free")
	}
	w := started(t, s)
	crew := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	line, err := bus.Dial(t.Context(), crew.access())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	until(t, "the enrolment is on the stream, which is closed again", func() bool {
		state, err := w.stream.State(t.Context())
		return err == nil && state.Messages == 1 && state.Limit == 1
	})
	if err := line.Publish(t.Context(), crew.segment(t, event.Noted{Text: "one more"}).Bytes()); err == nil {
		t.Error("it takes an event")
	}
	if says := w.space.notice(); !strings.Contains(says, "Make room on the disk") {
		t.Errorf("it says %q", says)
	}
}

func TestAStreamThatIsBeingMadeAnewTakesNothingWhateverRoomThereIs(t *testing.T) {
	w := started(t, here(t.TempDir()))
	limit := func() int64 {
		t.Helper()
		if err := w.space.look(t.Context()); err != nil {
			t.Fatal(err)
		}
		state, err := w.stream.State(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return state.Limit
	}
	w.space.setShut(true)
	if is := limit(); is != 1 || w.space.notice() != "" {
		t.Errorf("while it is made anew it may hold %d, and says %q", is, w.space.notice())
	}
	w.space.setShut(false)
	if is := limit(); is <= 1 {
		t.Errorf("afterwards it may hold %d", is)
	}
}

func TestQuotasFollowFromTheDiskWhenItIsFirstMeasuredHoweverLateThatIs(t *testing.T) {
	w := started(t, here(t.TempDir()))
	joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	g := newGuard(w)
	ended, end := context.WithCancel(t.Context())
	end()
	if g.begin(ended, spaceFlags{archive: 64 << 20}) == nil {
		t.Fatal("it measured although it was given no time")
	}
	if err := g.look(t.Context()); err != nil {
		t.Fatal(err)
	}
	is := g.report()
	if is.State == "full" || is.Quotas.Archive != 64<<20 || is.Quotas.Stream < space.LeastQuota ||
		is.Used.Archive == 0 {
		t.Errorf("measured late, it says %+v", is)
	}
}

func TestWhatIsSaidOfTheSpaceWaitsForNoStream(t *testing.T) {
	w := started(t, here(t.TempDir()))
	joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	g := newGuard(w)
	w.stream.lifting.Lock() // as while the stream does not answer
	looked := make(chan error, 1)
	go func() { looked <- g.look(t.Context()) }()
	until(t, "it is measured", func() bool { return g.report().Used.Archive > 0 })
	if says := g.notice(); says != "" {
		t.Errorf("it says %q", says)
	}
	w.stream.lifting.Unlock()
	if err := <-looked; err != nil {
		t.Fatal(err)
	}
}

func TestAQuotaInWhichNoStreamCouldBeKeptIsRefusedAtTheStart(t *testing.T) {
	for given, cannot := range map[spaceFlags]bool{
		{}:                                  false,
		{stream: space.LeastQuota}:          false,
		{stream: 10 << 10}:                  true,
		{archive: space.LeastQuota - 1}:     true,
		{stream: 1 << 30, archive: 1 << 30}: false,
		{reserve: 1}:                        false,
	} {
		if err := given.check(); (err != nil) != cannot {
			t.Errorf("%+v: %v", given, err)
		}
	}
}
