package report

import (
	"testing"
)

func TestTheNameOfAnEventInWordsLeadsToTheEventAndABatchDoesNot(t *testing.T) {
	for _, c := range []struct {
		words string
		names []string
		want  string
	}{
		{
			"wetted (n1/14), of batch north/14",
			[]string{"n1/14"},
			`wetted (<a href="/p/event/n1/14">n1/14</a>), of batch north/14`,
		},
		{
			"by n1/14, n1/1",
			[]string{"n1/1", "n1/14"},
			`by <a href="/p/event/n1/14">n1/14</a>, <a href="/p/event/n1/1">n1/1</a>`,
		},
		{"in n1/145", []string{"n1/14"}, `in n1/145`},
		{"by <b>", []string{""}, `by &lt;b&gt;`},
		{"", []string{"n1/1"}, ""},
	} {
		if got := Linked(c.words, c.names...).HTML("/p/"); got != c.want {
			t.Errorf("%q is written %s, want %s", c.words, got, c.want)
		}
	}
	if got := Linked("wetted (n1/14)", "n1/14").String(); got != "wetted (n1/14)" {
		t.Errorf("on a terminal it is %q", got)
	}
}
