package journal

import (
	"slices"
	"testing"

	"hod/internal/chain"
	"hod/internal/event"
)

// siteSays keeps what the site's own device wrote, as it comes over the bus.
func siteSays(t *testing.T, j *Journal, bodies ...event.Body) {
	t.Helper()
	head, err := j.Head(t.Context(), "site")
	if err != nil {
		t.Fatal(err)
	}
	var events []event.Event
	for i, b := range bodies {
		e, err := event.Write(event.Event{
			Name:       event.Name{Device: "site", Seq: head.Seq + 1 + uint64(i)},
			HappenedAt: noon, LoggedAt: noon, Body: b,
		})
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, e)
	}
	if head.Seq == 0 {
		head = j.root("site")
	}
	s, err := chain.Sign(keyOf("site"), site, head, events)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := j.Keep(t.Context(), s); err != nil {
		t.Fatal(err)
	}
}

func TestWhatTheSiteExcludedIsKeptAndOfferedAndNotReadForFolding(t *testing.T) {
	j := create(t, "n1")
	appendNotes(t, j, "good", "flood", "flood again")
	counted := func() []string {
		t.Helper()
		events, err := j.Counted(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		var all []string
		for _, e := range events {
			if e.Device != "site" {
				all = append(all, e.Name.String())
			}
		}
		return all
	}
	for _, step := range []struct {
		says []event.Body
		want []string
	}{
		{[]event.Body{event.DeviceRevoked{Device: "n1", LastSeq: 3}}, []string{"n1/1", "n1/2", "n1/3"}},
		{[]event.Body{event.DeviceExcluded{Device: "n1", FromSeq: 1}, event.DeviceExcluded{
			Device: "n1", FromSeq: 2,
			Why: "a flood",
		}}, []string{"n1/1"}},
		{
			[]event.Body{event.DeviceExcluded{Device: "site", FromSeq: 1}, event.Noted{Text: "of no device"}},
			[]string{"n1/1"},
		},
		{[]event.Body{event.DeviceExcluded{Device: "n1"}}, []string{"n1/1", "n1/2", "n1/3"}},
	} {
		siteSays(t, j, step.says...)
		if got := counted(); !slices.Equal(got, step.want) {
			t.Errorf("after %+v there count %v, want %v", step.says, got, step.want)
		}
	}
	events, err := j.Events(t.Context())
	if err != nil || len(events) != 9 {
		t.Errorf("it holds %d events, %v; want all 9", len(events), err)
	}
	if segs, err := j.Offer(t.Context(), "n1", chain.Head{}); err != nil || len(segs) != 1 || len(segs[0].Events) != 3 {
		t.Errorf("it offers %v, %v; want all that it wrote", segs, err)
	}
}
