package leaf_test

import (
	"strings"
	"testing"

	"hod/internal/report"
	"hod/internal/report/reporttest"
	"hod/internal/report/summary"
)

func TestADaysDryingSaysThatItRestsOnTheAirsTemperature(t *testing.T) {
	text := summary.DayAll(reporttest.Day("metric"), report.Page{Width: 72, In: reporttest.In})
	if flat := strings.Join(strings.Fields(text), " "); !strings.Contains(flat,
		"at the air's temperature; warmer fresh") {
		t.Errorf("it does not say on what the drying rests:\n%s", text)
	}
}
