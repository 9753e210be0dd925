package report

import (
	"strings"
	"testing"
	"time"

	"hod/internal/view/daily"
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

func TestTheEventThatAnsweredAFlagIsReachedFromItsAnswer(t *testing.T) {
	const link = `<a href="/p/event/n3/74">n3/74</a>`
	l := daily.FlagLine{ID: "aaaaa", FullID: "aaaaaa", Answer: "treated: wetted (n3/74)", Events: []string{"n3/74"}}
	alone := daily.Flag{ID: "bbbbb", Answer: l.Answer, Events: l.Events}
	several := daily.Flag{ID: "bbbbb", Answer: l.Answer, Events: l.Events, Lines: []daily.FlagLine{l, l}}
	p := Page{HTML: true, Root: "/p/", In: time.UTC}
	for name, f := range map[string]daily.Flag{"alone": alone, "of several facts": several} {
		s := Open(p, "", time.Time{})
		s.Flag(f)
		if got := s.String(); strings.Count(got, link) < max(1, len(f.Lines)) {
			t.Errorf("the list has no link in the flag %s:\n%s", name, got)
		}
		if got := Flag(f, p); strings.Count(got, link) < 1+max(1, len(f.Lines)) { // and once beneath Events
			t.Errorf("the page has no link in the flag %s:\n%s", name, got)
		}
	}
}
