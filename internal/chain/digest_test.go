package chain

import (
	"slices"
	"testing"
	"time"

	"hod/internal/event"
)

func TestTheDigestOfARecordIsOfItsEventsAloneAndOfEachOfThem(t *testing.T) {
	written := func(d event.Device, seq uint64, text string) event.Event {
		at := time.Date(2026, 7, 18, 9, 0, 0, 0, time.UTC)
		e, err := event.Write(event.Event{
			Name: event.Name{Device: d, Seq: seq}, HappenedAt: at, LoggedAt: at,
			Body: event.Noted{Text: text},
		})
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	all := []event.Event{written("n1", 1, "one"), written("n1", 2, "two"), written("s1", 1, "three")}
	want := Digest("vault", HeadsOf("vault", all))
	heads := HeadsOf("vault", all)
	slices.Reverse(heads)
	if Digest("vault", append(heads, Head{Device: "q1"})) != want {
		t.Error("the order of the heads, or a device that wrote nothing, is of account")
	}
	for name, other := range map[string][]event.Event{
		"an event less":      all[:2],
		"another word in it": {all[0], written("n1", 2, "twp"), all[2]},
		"another's event":    {all[0], all[1], written("s2", 1, "three")},
	} {
		if Digest("vault", HeadsOf("vault", other)) == want {
			t.Errorf("%s: the digest is the same", name)
		}
	}
	if Digest("other", HeadsOf("other", all)) == want {
		t.Error("another site has the same digest")
	}
}
