package journal

import (
	"testing"
	"time"
)

func TestOfOneEdgeAndStageAWarningIsGivenOnce(t *testing.T) {
	j := create(t, "n2")
	closing, cold, other := Warning{"W1 W2 n2/7", "closing"}, Warning{"W1 W2 n2/7", "cold"}, Warning{
		"W1 W2 n2/9",
		"closing",
	}
	for _, k := range []struct {
		at   time.Time
		ask  []Warning
		want []Warning
	}{
		{noon, nil, nil},
		{noon, []Warning{closing}, []Warning{closing}},
		{noon.Add(time.Minute), []Warning{closing}, nil},
		{noon.Add(2 * time.Minute), []Warning{closing, other}, []Warning{other}},
		{noon.Add(time.Hour), []Warning{cold, closing, other}, []Warning{cold}},
		{noon.Add(time.Hour), []Warning{cold, closing, other}, nil},
		// forgotten by then
		{noon.Add(30 * 24 * time.Hour), []Warning{other, {"new", "cold"}}, []Warning{other, {"new", "cold"}}},
	} {
		got, err := j.WarnOnce(t.Context(), k.at, k.ask...)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "warned of at "+k.at.Format(time.RFC3339), got, k.want)
	}
	if v, err := j.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
		t.Errorf("verify: %v, %v", v.Faults, err)
	}
}
