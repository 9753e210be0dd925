package journal

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protowire"

	"hod/internal/chain"
	"hod/internal/event"
)

// fork gives two journals of one device that share two events, each with more of its own.
func fork(t *testing.T) (phone, copied *Journal) {
	t.Helper()
	phone, copied = inMemory(t, "n2"), inMemory(t, "n2")
	appendNotes(t, phone, "one", "two")
	if _, err := copied.Keep(t.Context(), all(t, phone, "n2")...); err != nil {
		t.Fatal(err)
	}
	appendNotes(t, phone, "three", "four")
	appendNotes(t, copied, "copied three", "copied four", "copied five")
	return phone, copied
}

func headOf(t testing.TB, j *Journal, device event.Device) chain.Head {
	t.Helper()
	h, err := j.Head(t.Context(), device)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func sound(t testing.TB, j *Journal) {
	t.Helper()
	if v, err := j.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
		t.Errorf("verify: %v, %v", v.Faults, err)
	}
}

func TestUnknownContinuationOfTheOwnRecordIsTakenIn(t *testing.T) {
	before, after := inMemory(t, "n2"), inMemory(t, "n2")
	appendNotes(t, before, "one")
	if _, err := after.Keep(t.Context(), all(t, before, "n2")...); err != nil {
		t.Fatal(err)
	}
	appendNotes(t, after, "two", "three")
	kept, err := before.Keep(t.Context(), all(t, after, "n2")...)
	if err != nil || kept.New != 2 || len(kept.Forks) > 0 {
		t.Errorf("kept %+v, %v; want two new events", kept, err)
	}
	same(t, "next", said(appendNotes(t, before, "four")), []string{"n2/4 four"})
}

func TestRewriteTakesTheAcceptedHistoryAndWritesTheRestOnTop(t *testing.T) {
	phone, copied := fork(t)
	written := appendNotes(t, copied, "copied six")
	accepted := headOf(t, phone, "n2")
	_, mark, err := copied.Since(t.Context(), Mark{})
	if err != nil {
		t.Fatal(err)
	}
	kept, err := copied.Keep(t.Context(), all(t, phone, "n2")...)
	if err != nil || !slices.Equal(kept.Forks, []Fork{{"n2", 3}}) {
		t.Fatalf("kept %+v, %v; want a fork at n2/3", kept, err)
	}
	done, err := copied.Rewrite(t.Context(), noon, accepted, all(t, phone, "n2")...)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "ancestor", done.Ancestor.Seq, 2)
	same(t, "accepted", done.Accepted, 2)
	same(t, "superseded", said(done.Superseded), []string{
		"n2/3 copied three", "n2/4 copied four", "n2/5 copied five",
		"n2/6 copied six",
	})
	want := []string{"n2/5 copied three", "n2/6 copied four", "n2/7 copied five", "n2/8 copied six"}
	same(t, "again", said(done.Again), want)
	for i, e := range done.Again {
		same(t, "what "+e.Name.String()+" stands for", e.StandsFor, done.Superseded[i].Hash())
		same(t, "logged", e.LoggedAt, done.Superseded[i].LoggedAt)
	}
	same(t, "the last stands for", done.Again[3].StandsFor, written[0].Hash())
	same(t, "held", words(t, copied), slices.Concat([]string{"n2/1 one", "n2/2 two", "n2/3 three", "n2/4 four"}, want))
	if _, _, err := copied.Since(t.Context(), mark); !errors.Is(err, ErrRewritten) {
		t.Errorf("a mark from before the rewrite: %v, want ErrRewritten", err)
	}
	var superseded int
	if err := copied.conn.QueryRowContext(t.Context(), `select count(*) from superseded`).Scan(
		&superseded); err != nil || superseded != 4 {
		t.Errorf("%d events lie in superseded, want 4 (%v)", superseded, err)
	}
	if _, err := copied.conn.ExecContext(t.Context(), `delete from superseded`); err == nil {
		t.Error("superseded events can be deleted")
	}
	// The first phone takes in what was written on top, and both go on as one.
	if kept, err := phone.Keep(t.Context(), offered(t, copied, "n2", accepted)...); err != nil || kept.New != 4 {
		t.Errorf("the first phone kept %+v, %v", kept, err)
	}
	same(t, "heads", headOf(t, phone, "n2"), headOf(t, copied, "n2"))
	sound(t, copied)
	sound(t, phone)
}

func TestRewriteGoesOnlyAsFarAsWasAccepted(t *testing.T) {
	phone, copied := fork(t)
	// its segment goes on to 4
	done, err := copied.Rewrite(t.Context(), noon, headAt(t, phone, 3), all(t, phone, "n2")...)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "accepted", done.Accepted, 1)
	same(t, "again", said(done.Again), []string{"n2/4 copied three", "n2/5 copied four", "n2/6 copied five"})
	sound(t, copied)
}

func TestRewriteFindsItsWayAmongSegmentsOfBothHistories(t *testing.T) {
	phone, copied := fork(t)
	var segs []chain.Segment
	for _, j := range []*Journal{phone, copied} {
		for from := uint64(0); from < headOf(t, j, "n2").Seq; from++ {
			segs = append(segs, offered(t, j, "n2", headAt(t, j, from))...)
		}
	}
	slices.Reverse(segs)
	other := inMemory(t, "n3")
	appendNotes(t, other, "x", "y", "z")
	segs = append(segs, all(t, other, "n3")...)
	done, err := copied.Rewrite(t.Context(), noon, headOf(t, phone, "n2"), segs...)
	if err != nil || done.Accepted != 2 || len(done.Again) != 3 {
		t.Errorf("accepted %d, again %d, %v; want 2 and 3", done.Accepted, len(done.Again), err)
	}
	sound(t, copied)
}

// One segment may hold what both histories share and then go on in the other one. It leads to the shared head, no
// further.
func TestASegmentThatGoesOnInTheOtherHistoryLeadsNobodyAstray(t *testing.T) {
	phone, copied := fork(t)
	accepted, shared := headOf(t, copied, "n2"), all(t, phone, "n2") // the phone's whole record, in one segment
	if len(shared) != 1 || len(shared[0].Events) != 4 {
		t.Fatalf("the phone offers %d segments", len(shared))
	}
	one, err := copied.Offer(t.Context(), "n2", chain.Head{Device: "n2"})
	if err != nil {
		t.Fatal(err)
	}
	split := func(from chain.Head, events []event.Event) chain.Segment {
		s, err := chain.Sign(copied.Device().Key, copied.Device().Site, from, events)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	two := split(one[0].Before, one[0].Events[:2])
	segs := append(shared, two, split(two.After, one[0].Events[2:]))
	reader := inMemory(t, "n3")
	if kept, err := reader.Keep(t.Context(), shared...); err != nil || kept.New != 4 {
		t.Fatalf("kept %+v, %v", kept, err)
	}
	for _, order := range [][]chain.Segment{segs, {segs[2], segs[1], segs[0]}} {
		way, err := path(accepted, order)
		if err != nil || len(way) != 2 || way[0].to != two.After {
			t.Errorf("the way is %+v, %v; want it by %d events and then 3", way, err, len(two.Events))
		}
	}
	if done, err := phone.Rewrite(t.Context(), noon, accepted, shared[0], segs[2]); err != nil || done.Accepted != 3 ||
		len(done.Again) != 2 {
		t.Errorf("rewritten by the one that goes on: %+v, %v; want 3 taken in and 2 written again", done, err)
	}
	sound(t, phone)
	if done, err := reader.Follow(t.Context(), noon, accepted, segs...); err != nil || done.Accepted != 3 {
		t.Errorf("followed: %+v, %v; want 3 taken in", done, err)
	}
	sound(t, reader)
	carried, err := reader.Offer(t.Context(), "n2", chain.Head{Device: "n2"})
	if err != nil || len(carried) != 2 || carried[1].After != accepted {
		t.Errorf("carries on %d segments, %v; want the two of the accepted history", len(carried), err)
	}
}

func TestRewriteChangesNothingWithoutTheWholeWay(t *testing.T) {
	phone, copied := fork(t)
	before := words(t, copied)
	late := offered(t, phone, "n2", headAt(t, phone, 3)) // event 3 of the accepted history is missing
	if _, err := copied.Rewrite(t.Context(), noon, headOf(t, phone, "n2"), late...); !errors.Is(err, ErrNoPath) {
		t.Errorf("error %v, want ErrNoPath", err)
	}
	if _, err := copied.Rewrite(t.Context(), noon, headOf(t, phone, "n2")); !errors.Is(err, ErrNoPath) {
		t.Errorf("error %v, want ErrNoPath", err)
	}
	same(t, "held", words(t, copied), before)
	sound(t, copied)
}

func TestRewriteToABareServer(t *testing.T) {
	// A server that lost everything took the copied phone's record first, from its first event on.
	phone, copied := inMemory(t, "n2"), inMemory(t, "n2")
	appendNotes(t, phone, "a")
	appendNotes(t, copied, "b")
	done, err := phone.Rewrite(t.Context(), noon, headOf(t, copied, "n2"), all(t, copied, "n2")...)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "ancestor", done.Ancestor, chain.Head{Device: "n2", Chain: chain.Root(site, "n2")})
	same(t, "held", words(t, phone), []string{"n2/1 b", "n2/2 a"})
	sound(t, phone)
}

func TestAnEventIsWrittenAgainOnce(t *testing.T) {
	// Two copies hold the same unaccepted events; one has written them again, and that was accepted.
	phone, copied := fork(t)
	twin := inMemory(t, "n2")
	if _, err := twin.Keep(t.Context(), all(t, copied, "n2")...); err != nil {
		t.Fatal(err)
	}
	appendNotes(t, twin, "twin's own")
	if _, err := copied.Rewrite(t.Context(), noon, headOf(t, phone, "n2"), all(t, phone, "n2")...); err != nil {
		t.Fatal(err)
	}
	done, err := twin.Rewrite(t.Context(), noon, headOf(t, copied, "n2"), all(t, copied, "n2")...)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "again", said(done.Again), []string{"n2/8 twin's own"})
	// And when that server loses it all to the first phone's other history, each still stands for its first writing.
	third := inMemory(t, "n2")
	appendNotes(t, third, "third")
	done, err = twin.Rewrite(t.Context(), noon, headOf(t, third, "n2"), all(t, third, "n2")...)
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]int{}
	for _, e := range append(done.Again, all(t, third, "n2")[0].Events...) {
		texts[e.Body.(event.Noted).Text]++
	}
	for _, s := range []string{
		"one", "two", "three", "four", "copied three", "copied four", "copied five",
		"twin's own", "third",
	} {
		if texts[s] != 1 {
			t.Errorf("%q is held %d times, want once", s, texts[s])
		}
	}
	sound(t, twin)
}

func TestUnknownBodyIsWrittenAgainAsItWas(t *testing.T) {
	phone, copied := inMemory(t, "n2"), inMemory(t, "n2")
	appendNotes(t, phone, "accepted")
	plain := appendNotes(t, inMemory(t, "n2"), "x")[0].Bytes()
	// A newer version's field beside those that this one knows.
	raw := protowire.AppendString(protowire.AppendTag(slices.Clone(plain), 900, protowire.BytesType), "from the future")
	newer, err := event.Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	s, err := chain.Sign(keyOf("n2"), site, chain.Head{Device: "n2", Chain: chain.Root(site, "n2")},
		[]event.Event{newer})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := copied.Keep(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	done, err := copied.Rewrite(t.Context(), noon, headOf(t, phone, "n2"), all(t, phone, "n2")...)
	if err != nil || len(done.Again) != 1 {
		t.Fatalf("%+v, %v", done, err)
	}
	if got := string(done.Again[0].Bytes()); !strings.Contains(got, "from the future") ||
		done.Again[0].StandsFor != newer.Hash() {
		t.Errorf("written again as %q, standing for %v", got, done.Again[0].StandsFor)
	}
}

func TestFollowBringsAReaderToTheAcceptedHistory(t *testing.T) {
	phone, copied := fork(t)
	reader := inMemory(t, "n5")
	if _, err := reader.Keep(t.Context(), all(t, copied, "n2")...); err != nil { // one segment over the fork
		t.Fatal(err)
	}
	if _, err := reader.Follow(t.Context(), noon, headOf(t, phone, "n2"),
		offered(t, phone, "n2", headAt(t, phone, 2))...); !errors.Is(err, ErrNoPath) {
		t.Errorf("without the segments from the start, which could not be carried on: %v, want ErrNoPath", err)
	}
	done, err := reader.Follow(t.Context(), noon, headOf(t, phone, "n2"), all(t, phone, "n2")...)
	if err != nil || done.Accepted != 2 || len(done.Superseded) != 3 || len(done.Again) != 0 {
		t.Errorf("%+v, %v; want 2 accepted, 3 superseded, none again", done, err)
	}
	same(t, "held", words(t, reader), []string{"n2/1 one", "n2/2 two", "n2/3 three", "n2/4 four"})
	fresh := inMemory(t, "n6")
	if _, err := fresh.Keep(t.Context(), all(t, reader, "n2")...); err != nil {
		t.Fatal(err)
	}
	same(t, "carried on", headOf(t, fresh, "n2"), headOf(t, phone, "n2"))
	sound(t, reader)
	if _, err := reader.Rewrite(t.Context(), noon, headOf(t, phone, "n2")); err == nil {
		t.Error("a device rewrote another's record")
	}
	if _, err := phone.Follow(t.Context(), noon, headOf(t, phone, "n2")); err == nil {
		t.Error("a device followed its own record")
	}
}

func TestAgainWritesWhatIsInForceNowhere(t *testing.T) {
	phone, copied := fork(t)
	late := offered(t, copied, "n2", headAt(t, copied, 4)) // it leaves no gap here, but one after the next
	appendNotes(t, copied, "copied six")
	gap := offered(t, copied, "n2", headAt(t, copied, 5))
	kept, err := phone.Keep(t.Context(), append(all(t, copied, "n2"), append(late, gap...)...)...)
	if err != nil || kept.New != 0 || len(kept.Forks) != 2 || len(kept.Waiting) != 1 {
		t.Fatalf("kept %+v, %v; want two forks and one that waits", kept, err)
	}
	want := []string{"n2/5 copied three", "n2/6 copied four", "n2/7 copied five", "n2/8 copied six"}
	for _, want := range [][]string{want, nil} { // the second time there is nothing left to write
		written, err := phone.Again(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		same(t, "written again", said(written), want)
	}
	// The copy finds its own events written again in what was accepted, and adds none.
	done, err := copied.Rewrite(t.Context(), noon, headOf(t, phone, "n2"), all(t, phone, "n2")...)
	if err != nil || len(done.Again) != 0 {
		t.Errorf("the copy wrote %v again, %v", said(done.Again), err)
	}
	same(t, "held", words(t, copied), words(t, phone))
	sound(t, phone)
}

func TestAnEventWrittenAgainTwiceStillStandsForItsFirstWriting(t *testing.T) {
	phone, copied, twin, third := inMemory(t, "n2"), inMemory(t, "n2"), inMemory(t, "n2"), inMemory(t, "n2")
	appendNotes(t, phone, "phone's")
	x := appendNotes(t, copied, "x")[0]
	appendNotes(t, third, "third's")
	if _, err := twin.Keep(t.Context(), all(t, copied, "n2")...); err != nil {
		t.Fatal(err)
	}
	for _, accepted := range []*Journal{phone, third} { // the server took one history, lost it, and took another
		done, err := copied.Rewrite(t.Context(), noon, headOf(t, accepted, "n2"), all(t, accepted, "n2")...)
		if err != nil {
			t.Fatal(err)
		}
		last := done.Again[len(done.Again)-1]
		same(t, "what "+last.Name.String()+" stands for", last.StandsFor, x.Hash())
	}
	done, err := twin.Rewrite(t.Context(), noon, headOf(t, copied, "n2"), all(t, copied, "n2")...)
	if err != nil || len(done.Again) != 0 {
		t.Errorf("who held x as first written wrote %v again (%v)", said(done.Again), err)
	}
	same(t, "held", words(t, twin), []string{"n2/1 third's", "n2/2 phone's", "n2/3 x"})
}
