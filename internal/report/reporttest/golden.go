package reporttest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hod/internal/report"
)

// Folder holds golden files, which are written anew where Update says so.
type Folder struct {
	Path   string
	Update *bool
}

// Example is a report of the invented site.
type Example struct {
	Name  string
	Write func(units string, p report.Page) string
}

// Texts compares each report, in both systems of units and at two widths, with the golden files.
func (f Folder) Texts(t *testing.T, examples []Example) {
	for _, page := range examples {
		for _, units := range []string{"metric", "us"} {
			for width, suffix := range map[int]string{80: "80", 40: "40"} {
				name := page.Name + "-" + units + "-" + suffix + ".txt"
				t.Run(name, func(t *testing.T) {
					f.Golden(t, name, page.Write(units, report.Page{Width: width, In: In, Now: Now}))
				})
			}
		}
	}
}

// Golden compares what was written with a golden file.
func (f Folder) Golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join(f.Path, name)
	if *f.Update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s (-want +got; write anew with -update):\n%s", name, diff)
	}
}

// ColourIsOnlyAdded sees that colour adds nothing that the words do not say. The caller hears of each report whether it
// has colour.
func ColourIsOnlyAdded(t *testing.T, examples []Example, has func(name string, colour bool)) {
	for _, page := range examples {
		for _, width := range []int{40, 63, 80, 120} {
			bare := page.Write("metric", report.Page{Width: width, In: In, Now: Now})
			coloured := page.Write("metric", report.Page{Width: width, In: In, Now: Now, Colour: true})
			if diff := cmp.Diff(bare, Colour.ReplaceAllString(coloured, "")); diff != "" {
				t.Errorf("%s at %d columns says other words in colour (-bare +coloured):\n%s", page.Name, width, diff)
			}
			has(page.Name, bare != coloured)
		}
	}
}
