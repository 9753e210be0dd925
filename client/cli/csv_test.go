package cli

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"hod/internal/report/csvtable"
	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
)

// shownAsTables are the views that commands show, in the order of the help.
var shownAsTables = []struct {
	command string
	view    any
}{
	{"hod board", daily.Board{}},
	{"hod next CREW", advice.Next{}},
	{"hod next --all", advice.NextAll{}},
	{"hod tomorrow", advice.DayPlans{}},
	{"hod joints", view.Joints{}},
	{"hod forecast", ahead.Forecast{}},
	{"hod day", daily.Day{}},
	{"hod flags", daily.Flags{}},
	{"hod log", view.Log{}},
	{"hod stock list", view.Stock{}},
	{"hod weather now", view.Conditions{}},
	{"hod zone show", view.Zone{}},
}

// The page is a promise to scripts: a column that goes, or moves, is seen here.
func TestThePageOfTablesNamesEachColumn(t *testing.T) {
	const path, head = "../../deploy/csv.md", "## The tables\n"
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rules, _, ok := strings.Cut(string(text), head)
	if !ok {
		t.Fatalf("%s has no part %q", path, head)
	}
	var b strings.Builder
	b.WriteString(rules + head)
	for _, s := range shownAsTables {
		fmt.Fprintf(&b, "\n### `%s`\n\n", s.command)
		for _, k := range csvtable.Of(s.view) {
			fmt.Fprintf(&b, "- **%s**: %s\n", k.Name, strings.Join(k.Columns(), ", "))
		}
	}
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if string(text) != b.String() {
		t.Errorf("%s is not what the tables are; where the change is meant: go test ./client/cli -run %s -update", path,
			t.Name())
	}
}

func TestNoTwoTablesOrColumnsHaveOneName(t *testing.T) {
	for _, s := range shownAsTables {
		names := map[string]bool{}
		for _, k := range csvtable.Of(s.view) {
			if names[k.Name] {
				t.Errorf("%s has two tables %s", s.command, k.Name)
			}
			names[k.Name] = true
			columns := map[string]bool{}
			for _, c := range k.Columns() {
				if columns[c] || !regexp.MustCompile(`^[A-Za-z0-9_]+$`).MatchString(c) {
					t.Errorf("%s, %s: a column %q", s.command, k.Name, c)
				}
				columns[c] = true
			}
		}
	}
}
