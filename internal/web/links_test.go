package web

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/unit"
)

var leads = regexp.MustCompile(`<a[^>]* href="([^"]*)"`)

// Whatever leads on from a page leads to one that opens, as a browser follows it. Of each kind of page the first so
// many are followed.
func TestWhateverLeadsOnFromAPageOpens(t *testing.T) {
	odd := append(shell(2, 2, 1, false), event.ZonePlanned{Zone: "rim-a_b", Area: unit.As[unit.Area]{SI: 4}},
		event.CoatPlanned{
			Coat:      event.Coat{Zone: "rim-a_b", Face: event.AnyFace, Number: 1},
			Thickness: unit.As[unit.Length]{SI: 0.01}, Mix: "face",
		})
	for name, r := range map[string]*invented{"vault": vault(t), "odd": inWork(t, odd)} {
		const most = 4 // of a kind
		seen, kinds := map[string]bool{"/p/": true}, map[string]int{}
		for next := []string{"/p/"}; len(next) > 0; next = next[1:] {
			from, err := url.Parse(next[0])
			if err != nil {
				t.Fatal(err)
			}
			w := get(r, strings.TrimPrefix(next[0], "/p/"))
			if w.Code != http.StatusOK {
				t.Errorf("%s: %s does not open: %d", name, next[0], w.Code)
				continue
			}
			for _, m := range leads.FindAllStringSubmatch(w.Body.String(), -1) {
				to, err := from.Parse(html.UnescapeString(m[1]))
				if err != nil || !strings.HasPrefix(to.EscapedPath(), "/p/") {
					t.Errorf("%s: %s leads to %q, which is %v", name, next[0], m[1], to)
					continue
				}
				to.Fragment = ""
				kind, rest, _ := strings.Cut(strings.TrimPrefix(to.EscapedPath(), "/p/"), "/")
				if kind == "why" {
					kind += strings.Split(rest, "/")[0]
				}
				if at := to.String(); !seen[at] && kinds[kind] < most {
					seen[at], next = true, append(next, at)
					kinds[kind]++
				}
			}
		}
		want := []string{"zone", "event", "whydrying", "whycoat", "log", "day"}
		if name == "vault" {
			want = append(want, "joint", "flag", "whystock", "whyleft")
		}
		for _, kind := range want {
			if kinds[kind] == 0 {
				t.Errorf("%s: nothing leads to a page of %s; seen: %v", name, kind, kinds)
			}
		}
	}
}

// The log is narrowed down to a day and a person, says what that leaves out, and offers the others.
func TestTheLogIsNarrowedToADayAndAPerson(t *testing.T) {
	whole := vault(t)
	events := slices.Clone(whole.wrote.Events)
	for i := range events {
		if events[i].Crew == "north" {
			events[i].Person = "Ana Reis"
		}
	}
	r := recordOf(t, events, whole.in, whole.now())
	all, day := get(r, "log").Body.String(), get(r, "log?day=2031-05-12").Body.String()
	if !strings.Contains(all, "Nothing is left out") || strings.Contains(day, "Nothing is left out") ||
		!strings.Contains(day, "Left out: ") || strings.Contains(day, "Tue 13 May 2031") ||
		!strings.Contains(day, "Mon 12 May 2031") {
		t.Errorf("the log of a day is\n%.1500s", day[strings.Index(day, "<main"):])
	}
	person := regexp.MustCompile(`href="[^"]*log\?person=([^"&]+)"`).FindStringSubmatch(all)
	if person == nil {
		t.Fatal("the log offers no person to choose")
	}
	name, _ := url.QueryUnescape(person[1])
	of := get(r, "log?day=2031-05-12&person="+person[1]).Body.String()
	if !strings.Contains(of, "person: "+html.EscapeString(name)) || !strings.Contains(of, "day: 2031-05-12") ||
		!strings.Contains(of, "Left out: ") {
		t.Errorf("the log of %s on a day is\n%.1500s", name, of[strings.Index(of, "<main"):])
	}
}
