package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"hod/internal/unit"
	"hod/internal/view/daily"
)

// hodAt runs a command as device n1 or n2 in folders under dir, and gives what it prints.
func hodAt(t *testing.T, dir, device, clock string, args ...string) string {
	t.Helper()
	now, err := time.Parse(time.RFC3339, "2026-07-18T"+clock+":00Z")
	if err != nil {
		t.Fatal(err)
	}
	var out, side bytes.Buffer
	code := Run(context.Background(), &Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &side, Now: func() time.Time { return now },
		Local: time.UTC, Random: zeros{}, Getenv: func(key string) string {
			return map[string]string{"HOD_DIR": filepath.Join(dir, device), "HOD_SYNC": "off"}[key]
		},
	})
	if code != 0 {
		t.Fatalf("hod %s ended with code %d: %s", strings.Join(args, " "), code, side.String())
	}
	return out.String()
}

// aWorkedDay is a day with batches, tests, placements and stock.
func aWorkedDay(t *testing.T) (ask func(args ...string) string) {
	t.Helper()
	dir := t.TempDir()
	root := rootJournal(t)
	defer root.Close()
	for _, name := range []string{"n1", "n2"} {
		if err := enrolledFolder(filepath.Join(dir, name), root, scriptDevices[name]); err != nil {
			t.Fatal(err)
		}
	}
	run := func(clock, words string, more ...string) {
		hodAt(t, dir, "n1", clock, append(strings.Fields(words), more...)...)
	}
	run("06:00",
		"mix add face cement=94lb,gravity=3.15 sand=188lb,gravity=2.62,absorption=1% water=4.2gal --limit 0.45 --set 3h@23C --air 4% --unit-weight 137lb/ft3 --tolerance 5%")
	for _, z := range []string{"A1 --area 72ft2", "A2 --area 70ft2 --edge A1=2.4m"} {
		run("06:01", "zone add "+z, "--coat", "outer 1 12mm face")
	}
	run("06:02", "stock receive cement 40x94lb")
	for n, z := range []string{"A1", "A1", "A2"} {
		ready := fmt.Sprintf("07:%02d", 10+15*n)
		batch := strconv.Itoa(n + 1)
		run("09:00", "batch face --crew north --moisture "+strconv.Itoa(3+n)+"% --from 07:0"+batch+" --to "+ready)
		run("09:00", "test north/"+batch+" --gross 36."+batch+"lb --tare 2.6lb --measure 0.25ft3")
		run("09:00", "place north/"+batch+" "+z+" 1/3 --from "+ready+" --to 08:0"+batch)
	}
	return func(args ...string) string { return hodAt(t, dir, "n1", "18:00", args...) }
}

var gaps = regexp.MustCompile(`[\s\x{a0}]+`)

// plain is a text on one line, as the eye reads it.
func plain(s string) string { return strings.TrimSpace(gaps.ReplaceAllString(s, " ")) }

// words of a page, a space between cells.
func wordsOf(t *testing.T, page string) string {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for n := range root.Descendants() {
		if n.Type == html.TextNode && n.Parent.Data != "style" {
			b.WriteString(n.Data)
		} else if n.Data == "td" || n.Data == "th" || n.Data == "p" {
			b.WriteString(" ")
		}
	}
	return plain(b.String())
}

// The same figures are read back from all five forms: from JSON as numbers, and what the site's units make of them from
// the words, the page and the paper; from CSV as numbers again.
func TestTheFiguresAreTheSameInWordsJSONPageCSVAndOnPaper(t *testing.T) {
	ask := aWorkedDay(t)
	var v daily.Day
	if err := json.Unmarshal([]byte(ask("--json", "day")), &v); err != nil {
		t.Fatal(err)
	}
	if len(v.Tests) != 3 || len(v.Zones) != 2 || len(v.Stock.Materials) == 0 {
		t.Fatalf("%d tests, %d coats, %d materials", len(v.Tests), len(v.Zones), len(v.Stock.Materials))
	}
	var rows []string
	three := func(x *float64) string { return strconv.FormatFloat(*x, 'f', 3, 64) }
	for _, k := range v.Tests {
		rows = append(rows, strings.Join([]string{
			strings.Replace(k.Batch, "/2026-07-18", "", 1), k.At.Format("15:04"),
			unit.Metric.Density(unit.Density(*k.UnitWeight)),
			unit.Metric.Volume(unit.Volume(*k.YieldM3)), three(k.RelativeYield), unit.Metric.Share(unit.Share(*k.Air)),
			three(k.WCM),
		}, " "))
	}
	for _, z := range v.Zones {
		rows = append(rows, strings.Join([]string{
			z.Zone, z.Face, fmt.Sprint(z.Coat), strconv.FormatFloat(z.Batches, 'f', 2, 64),
			unit.Metric.Volume(unit.Volume(z.PlacedM3)),
			unit.Metric.Thickness(unit.Length(z.ThicknessM)), unit.Metric.Volume(unit.Volume(z.LeftM3)),
		}, " "))
	}
	for _, m := range v.Stock.Materials {
		if m.Material == "cement" {
			rows = append(rows, "cement "+unit.Metric.Mass(unit.Mass(*m.OnHandKg)))
		}
	}
	for form, text := range map[string]string{
		"words": plain(ask("day", "--all")), "page": wordsOf(t, ask("day", "--html", "-")), "paper": onPaperOf(t,
			ask("day", "--pdf", "-")),
	} {
		if form == "paper" && text == "" {
			t.Log("not checked on paper: there is no pdftotext to read it with")
			continue
		}
		for _, row := range rows {
			if !strings.Contains(text, row) {
				t.Errorf("the %s: %q is not in\n%.3000s", form, row, text)
			}
		}
	}
	cells := readTable(t, ask("day", "--csv", "--table", "tests"))
	for i, k := range v.Tests {
		same(t, cells[i]["unit_weight_kg_m3"], *k.UnitWeight)
		same(t, cells[i]["yield_m3"], *k.YieldM3)
		same(t, cells[i]["w_cm"], *k.WCM)
	}
	cells = readTable(t, ask("day", "--csv"))
	for i, z := range v.Zones {
		same(t, cells[i]["placed_m3"], z.PlacedM3)
		same(t, cells[i]["thickness_m"], z.ThicknessM)
	}
}

// onPaperOf is the text of a PDF; empty where there is no program to read it.
func onPaperOf(t *testing.T, pdf string) string {
	t.Helper()
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		return ""
	}
	c := exec.Command(program, "-layout", "-", "-")
	c.Stdin = strings.NewReader(pdf)
	text, err := c.Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	return plain(string(text))
}

func readTable(t *testing.T, text string) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%d rows of CSV, %v", len(rows), err)
	}
	var all []map[string]string
	for _, r := range rows[1:] {
		row := map[string]string{}
		for i, c := range r {
			row[rows[0][i]] = c
		}
		all = append(all, row)
	}
	return all
}

// same compares to the twelve digits on which machines agree.
func same(t *testing.T, cell string, want float64) {
	t.Helper()
	got, err := strconv.ParseFloat(cell, 64)
	if err != nil || math.Abs(got-want) > 1e-11*math.Abs(want) {
		t.Errorf("CSV has %q (%v), JSON %v", cell, err, want)
	}
}
