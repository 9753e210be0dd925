package bench

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/fold"
)

func TestProf(t *testing.T) {
	dirs, _ := filepath.Glob(os.Getenv("HOD_BENCH") + "/100000-*/c0")
	if len(dirs) == 0 {
		t.Skip()
	}
	for range 3 {
		cpu := used()
		j, err := journal.Open(dirs[0])
		if err != nil {
			t.Fatal(err)
		}
		ev, err := j.Events(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		t.Log("events", used()-cpu)
		cpu = used()
		s := fold.New(j.Device().Site, j.Device().Root)
		for _, e := range ev {
			s.Add(e)
		}
		t.Log("add", used()-cpu)
		cpu = used()
		s.Plan()
		t.Log("plan", used()-cpu)
		cpu = used()
		s.Records()
		t.Log("records", used()-cpu)
		cpu = used()
		s.Fronts()
		t.Log("fronts", used()-cpu)
		cpu = used()
		s.Findings()
		t.Log("findings", used()-cpu)
		_ = time.Now
		j.Close()
	}
}
