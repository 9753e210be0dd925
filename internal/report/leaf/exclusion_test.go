package leaf_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/report/summary"
	"hod/internal/sim/simtest"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
	"hod/internal/view/handover"
)

func TestWhatIsExcludedStandsInTheDayTheRecordAndThePagesWithHowManyWhyAndSinceWhen(t *testing.T) {
	d := foldtest.NewDesk(t)
	for n := 1; n <= 4; n++ {
		d.By("n1", 30*n, foldtest.Mixed(n, 30*n))
	}
	now := foldtest.Clock(300)
	written := func() map[string]string {
		s := d.Site()
		p := report.Page{Width: 100, In: foldtest.Place}
		day, err := daily.DayOf(s, now, foldtest.Place, "2031-05-12")
		if err != nil {
			t.Fatal(err)
		}
		record, over := handover.Of(s, now, foldtest.Place), drawing.OverviewOf(s, now, foldtest.Place, nil, false)
		whole := drawing.RecordOf(s, now, foldtest.Place)
		all := map[string]string{
			"the day in short": summary.Day(day, p), "the day": summary.DayAll(day, p),
			"the day's page": leaf.DayLeaf(drawing.DayLeaf{Day: day}, p), "the overview": leaf.OverviewWords(over, p),
			"the record's coats": summary.HandoverCoats(record, p), "its flags": summary.HandoverSettled(record, p),
			"the page now": leaf.Foreman(over, p), "the whole record": leaf.Record(whole, p),
		}
		for name, v := range map[string]any{"day": day, "record": record, "overview": over} {
			text, err := json.Marshal(v)
			if err != nil {
				t.Fatal(err)
			}
			all["JSON of the "+name] = string(text)
		}
		return all
	}
	for name, text := range written() {
		if strings.Contains(strings.ToLower(text), "excluded") {
			t.Errorf("%s tells of an exclusion before there is one", name)
		}
	}
	d.By(simtest.Root, 200, event.DeviceRevoked{Device: "n1", LastSeq: 4, Why: "lost"})
	d.By(simtest.Root, 210, event.DeviceExcluded{Device: "n1", FromSeq: 2, Why: "flooded"})
	by := d.Events[len(d.Events)-1].Name.String()
	for name, text := range written() {
		want := []string{"EXCLUDED", "device n1", "3 events", "event 2 on", "flooded", "10:30", by}
		if strings.HasPrefix(name, "JSON") {
			want = []string{
				`"excluded":[{"device":"n1","from_seq":2,"last_seq":4,"events":3,"why":"flooded",` +
					`"since":"` + foldtest.Clock(210).UTC().Format(time.RFC3339) + `","event":"` + by + `"}]`,
			}
		}
		flat := strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
		for _, w := range want {
			if !strings.Contains(flat, w) {
				t.Errorf("%s does not say %q", name, w)
			}
		}
	}
}
