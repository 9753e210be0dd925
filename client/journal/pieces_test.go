package journal

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"hod/internal/chain"
)

func TestExceptAndInGiveEachEventOnce(t *testing.T) {
	j := create(t, "n2")
	var texts []string
	for i := range 60 {
		texts = append(texts, fmt.Sprint("note ", i))
	}
	appendNotes(t, j, texts...)
	other := inMemory(t, "n3")
	appendNotes(t, other, texts[:25]...)
	if _, err := j.Keep(t.Context(), all(t, other, "n3")...); err != nil {
		t.Fatal(err)
	}
	heads, err := j.Heads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	whole := words(t, j)
	r := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		var spans []Span
		for _, h := range heads {
			for at := uint64(1 + r.IntN(3)); at < h.Seq; at += uint64(2 + r.IntN(9)) {
				to := min(h.Seq, at+uint64(r.IntN(6)))
				spans = append(spans, Span{h.Device, at, to})
				at = to
			}
		}
		rest, now, ok, err := j.Except(t.Context(), heads, spans)
		if err != nil || !ok {
			t.Fatal(ok, err)
		}
		same(t, "heads", now, heads)
		in, err := j.In(t.Context(), heads, spans)
		if err != nil {
			t.Fatal(err)
		}
		n := uint64(0)
		for _, s := range spans {
			n += s.To - s.From + 1
		}
		if uint64(len(in)) != n {
			t.Fatalf("%d events lie in spans of %d", len(in), n)
		}
		got := said(append(in, rest...))
		slices.Sort(got)
		want := slices.Clone(whole)
		slices.Sort(want)
		same(t, "what lies in spans and what does not", got, want)
	}
}

func TestAnotherHistoryAndADamagedPieceAreNoticed(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "one", "two", "three", "four", "five")
	heads, err := j.Heads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	spans := []Span{{"n2", 2, 3}}
	for _, elsewhere := range []chain.Head{{Device: "n2", Seq: 5, Chain: chain.Hash{1}}, {
		Device: "n2", Seq: 9,
		Chain: heads[0].Chain,
	}, {Device: "n7", Seq: 1}} {
		if _, _, ok, err := j.Except(t.Context(), []chain.Head{elsewhere}, spans); ok || err != nil {
			t.Errorf("a record that does not go through %v is given: %t, %v", elsewhere, ok, err)
		}
		if _, err := j.In(t.Context(), []chain.Head{elsewhere}, spans); !errors.Is(err, ErrRewritten) {
			t.Errorf("what lies in spans of another history: %v", err)
		}
	}
	dir := j.dir
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	statement(t, dir, `drop trigger event_never_changes`)
	statement(t, dir, `update event set raw = x'00' where seq = 4`)
	if j, err = Open(dir); err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if _, _, _, err := j.Except(t.Context(), heads, spans); kindOf(err) != Damaged {
		t.Errorf("a changed event that is read: %v", err)
	}
	if _, _, _, err := j.Except(t.Context(), heads, []Span{{"n2", 4, 4}}); err != nil {
		t.Errorf("one that is left out: %v", err)
	}
	if _, err := j.In(t.Context(), heads, []Span{{"n2", 4, 4}}); kindOf(err) != Damaged {
		t.Errorf("one that is fetched: %v", err)
	}
}
