package forecast_test

import (
	"encoding/json"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

var planted = flag.Bool("planted", false,
	"build the forecast with each fault in turn, which must turn TestKeepsItsWord red")

// Each fault is a change of one line. The test that counts how often intervals hold must not pass with it.
func TestPlantedFaultsAreFound(t *testing.T) {
	if !*planted {
		t.Skip("builds the forecast once for each fault; run it with -planted")
	}
	root, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []struct{ name, file, is, becomes, jobs, scenario string }{
		{
			"a coat is finished at 95 % of plan", "internal/view/ahead/job.go",
			"		if k.State != forecast.Finished {\n			j.volume",
			"		if k.State = min(k.State, forecast.Open); c.Volume >= 0.95*c.Needed {\n			k.State = forecast.Finished\n		}\n		if k.State != forecast.Finished {\n			j.volume", "30", "thin 0",
		},
		{
			"what the site's coats share has no spread", "internal/forecast/needs.go",
			"x[j] += float64(node.root[j*b.n+k] * z[k])", "x[j] += float64(0 * z[k])", "120", "thick 0-12 %, loss 4",
		},
		{
			"what is in transit is forgotten", "internal/view/ahead/job.go", "	j.gatherTransit(of)\n", "", "40",
			"together, own",
		},
	} {
		t.Run(f.name, func(t *testing.T) {
			source, err := os.ReadFile(filepath.Join(root, f.file))
			if err != nil {
				t.Fatal(err)
			}
			if strings.Count(string(source), f.is) != 1 {
				t.Fatalf("%s has no line %q to plant the fault in", f.file, f.is)
			}
			dir := t.TempDir()
			with, overlay := filepath.Join(dir, "with.go"), filepath.Join(dir, "overlay.json")
			if err := os.WriteFile(with, []byte(strings.Replace(string(source), f.is, f.becomes, 1)),
				0o600); err != nil {
				t.Fatal(err)
			}
			list, err := json.Marshal(map[string]any{"Replace": map[string]string{filepath.Join(root, f.file): with}})
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(overlay, list, 0o600); err != nil {
				t.Fatal(err)
			}
			run := exec.Command("go", "test", "-overlay", overlay, "./internal/forecast", "-run", "TestKeepsItsWord",
				"-jobs", f.jobs, "-scenario", f.scenario)
			run.Dir = root
			out, err := run.CombinedOutput()
			if err == nil {
				t.Errorf("nothing turned red:\n%s", out)
			} else if !strings.Contains(string(out), "--- FAIL: TestKeepsItsWord") {
				t.Errorf("it did not run: %v\n%s", err, out)
			}
			t.Logf("%s", out)
		})
	}
}
