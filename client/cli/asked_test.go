package cli

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
	"hod/internal/view"
)

// A rule that is passed over needs a reason; at a terminal it is asked for, and what was written with it says it.
func TestAReasonIsAskedForAtATerminal(t *testing.T) {
	now := time.Date(2026, 7, 18, 10, 45, 0, 0, time.UTC)
	for _, c := range []struct {
		name, typed string
		words       []string
		code        int
		kept        bool
	}{
		{"a reason", "sand was driest on top\n", nil, 0, true},
		{"none", "\n", nil, 3, false},
		{"nobody there to type", "", nil, 3, false},
		{"no questions wanted", "sand was driest on top\n", []string{"--no-input"}, 3, false},
	} {
		dir := t.TempDir() + "/n2"
		root := rootJournal(t)
		defer root.Close()
		mix := event.MixPlanned{
			Mix: "face", Revision: 1, WaterLimit: 0.40,
			Constituents: []event.Constituent{
				{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42.6}, Gravity: 3.15},
				{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}},
			},
		}
		if _, err := root.Append(t.Context(), now.AddDate(0, 0, -7), event.Event{Body: mix}); err != nil {
			t.Fatal(err)
		}
		if err := enrolledFolder(dir, root, scriptDevices["n2"]); err != nil {
			t.Fatal(err)
		}
		var stdout, stderr bytes.Buffer
		code := Run(context.Background(), &Env{
			Args:  append([]string{"batch", "face", "water=20kg", "--dir", dir}, c.words...),
			Stdin: strings.NewReader(c.typed), Stdout: &stdout, Stderr: &stderr,
			Now: func() time.Time { return now }, Local: time.UTC, Random: zeros{}, StdinTerminal: true,
			Getenv: func(key string) string { return map[string]string{"HOD_SYNC": "off"}[key] },
		})
		if code != c.code || strings.Contains(stdout.String(), "kept here") != c.kept {
			t.Errorf("%s: code %d, printed %q, said %q; want %d, and that it was kept: %v", c.name, code, &stdout,
				&stderr, c.code, c.kept)
		}
		if c.kept && !strings.Contains(stderr.String(), "because: sand was driest on top") {
			t.Errorf("%s: the reason is not in the record: %s", c.name, &stderr)
		}
	}
}

// A value that the trade does not know is asked about once at a terminal: y takes the other unit, s says that so it
// was.
func TestAValueThatTheTradeDoesNotKnowIsAskedAboutOnce(t *testing.T) {
	now := time.Date(2026, 7, 18, 10, 45, 0, 0, time.UTC)
	for _, c := range []struct {
		name, typed string
		words       []string
		code        int
		want        string // of what is printed
		asked       int
	}{
		{"the other unit", "y\n", nil, 0, "weather: air 29.4 °C", 1},
		{"so it was", "s\n", nil, 0, "weather: air 85 C (185 °F)", 1},
		{"neither", "\n", nil, 3, "", 1},
		{"nobody there to type", "", nil, 3, "", 1},
		{"no questions wanted", "y\n", []string{"--no-input"}, 3, "", 0},
		{"sure from the start", "", []string{"--sure"}, 0, "weather: air 85 C (185 °F)", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir() + "/n2"
			root := rootJournal(t)
			defer root.Close()
			if err := enrolledFolder(dir, root, scriptDevices["n2"]); err != nil {
				t.Fatal(err)
			}
			var stdout, stderr bytes.Buffer
			code := Run(context.Background(), &Env{
				Args:  append([]string{"weather", "--air", "85C", "--dir", dir}, c.words...),
				Stdin: strings.NewReader(c.typed), Stdout: &stdout, Stderr: &stderr,
				Now: func() time.Time { return now }, Local: time.UTC, Random: zeros{}, StdinTerminal: true,
				Getenv: func(key string) string { return map[string]string{"HOD_SYNC": "off"}[key] },
			})
			if code != c.code || !strings.Contains(stdout.String(), c.want) ||
				strings.Contains(stdout.String(), "kept here") != (c.code == 0) {
				t.Errorf("code %d, printed %q, said %q; want %d and %q", code, &stdout, &stderr, c.code, c.want)
			}
			if n := strings.Count(stderr.String(),
				"Was it 85 °F? [y: that; s: so it was, 85 °C; Enter alone: nothing is recorded]"); n != c.asked {
				t.Errorf("it asked %d times, want %d: %s", n, c.asked, &stderr)
			}
		})
	}
}

// At a terminal a file's columns that are not understood are asked about one by one, and the unit where none is said.
func TestColumnsThatAreNotUnderstoodAreAskedAbout(t *testing.T) {
	now := time.Date(2026, 7, 18, 10, 45, 0, 0, time.UTC)
	for _, c := range []struct {
		name, file, typed string
		code              int
		want              string // of what is printed
		asked             int
	}{
		{
			"said and left out", "time,temp_c,humidity_%,mood\n2026-07-18 08:00,29,62,good\n", "humidity\ni\n", 0,
			"(air (°C), humidity (%))", 2,
		},
		{
			"with its unit", "time,temp_c,RH share now\n2026-07-18 08:00,29,0.62\n", "humidity:1\n", 0,
			"humidity (0 to 1)", 1,
		},
		{"nothing said", "time,temp_c,mood\n2026-07-18 08:00,29,good\n", "\n", 3, "", 1},
		{"a unit that nobody said", "time,temp\n2026-07-18 08:00,84\n", "F\n", 0, "air (°F)", 1},
		{"the other unit", "time,temp_c\n2026-07-18 08:00,84\n2026-07-18 09:00,86\n", "y\n", 0, "air (°F)", 1},
		{"as they are written", "time,temp_c\n2026-07-18 08:00,84\n2026-07-18 09:00,86\n", "s\n", 0, "air (°C)", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			root := rootJournal(t)
			defer root.Close()
			if err := enrolledFolder(dir+"/n2", root, scriptDevices["n2"]); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(dir+"/july.csv", []byte(c.file), 0o600); err != nil {
				t.Fatal(err)
			}
			var stdout, stderr bytes.Buffer
			code := Run(context.Background(), &Env{
				Args:  []string{"weather", "--csv", dir + "/july.csv", "--dir", dir + "/n2"},
				Stdin: strings.NewReader(c.typed), Stdout: &stdout, Stderr: &stderr,
				Now: func() time.Time { return now }, Local: time.UTC, Random: zeros{}, StdinTerminal: true,
				Getenv: func(key string) string { return map[string]string{"HOD_SYNC": "off"}[key] },
			})
			if code != c.code || !strings.Contains(stdout.String(), c.want) ||
				strings.Contains(stdout.String(), "kept here") != (c.code == 0) {
				t.Errorf("code %d, printed %q, said %q; want %d and %q", code, &stdout, &stderr, c.code, c.want)
			}
			if n := strings.Count(stderr.String(), "Enter alone: nothing is recorded]"); n != c.asked {
				t.Errorf("it asked %d times, want %d: %s", n, c.asked, &stderr)
			}
		})
	}
}

func TestWhatOfAPlanDiffersIsNamed(t *testing.T) {
	share := func(x unit.Share, said string) *unit.As[unit.Share] {
		return &unit.As[unit.Share]{SI: x, Entered: said}
	}
	site := event.SitePlanned{
		Name: "Harrow Mill", WorkFrom: 6*time.Hour + 30*time.Minute, WorkTo: 17 * time.Hour,
		Loss: share(0.08, "8%"),
	}
	more := site
	more.Loss, more.WorkTo = share(0.1, "10%"), 16*time.Hour
	if got, want := view.Differs(site, more), "work to 16:00, was 17:00, loss 10%, was 8%"; got != want {
		t.Errorf("the site: %q; want %q", got, want)
	}
	if got := view.Differs(site, site); got != "" {
		t.Errorf("nothing differs, and it says %q", got)
	}
	mix := event.MixPlanned{Mix: "face", Revision: 1, WaterLimit: 0.42, Constituents: []event.Constituent{
		{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42.6, Entered: "94lb"}},
		{Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 85, Entered: "85kg"}},
	}}
	other := event.MixPlanned{Mix: "face", Revision: 2, WaterLimit: 0.4, Constituents: []event.Constituent{
		{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 40, Entered: "40kg"}},
		{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16, Entered: "16kg"}},
	}}
	if got, want := view.Differs(mix, other),
		"cement amount 40 kg, was 94 lb, water 16 kg is new, sand is left out, revision 2, was 1, water limit 0.4, was 0.42"; got != want {
		t.Errorf("the mix: %q; want %q", got, want)
	}
}
