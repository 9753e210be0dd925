package broker

import (
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"hod/internal/auth"
)

// A program that is built from a copy of the sources, or from a second working tree, knows no time of its build but the
// one that the sources name. It is moved on by hand: no build writes it, so that two builds of one source are the same.
func TestTheTimeThatTheSourcesNameIsLessThanAYearBeforeTheirLastChange(t *testing.T) {
	out, err := exec.CommandContext(t.Context(), "git", "log", "-1", "--format=%ct").Output()
	if err != nil {
		t.Skip("these sources have no history here: ", err)
	}
	seconds, err := strconv.ParseInt(strings.TrimSpace(string(out)), 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	changed := time.Unix(seconds, 0).UTC()
	if old := changed.Sub(auth.FirstBuilt); old < 0 || old > 365*24*time.Hour {
		t.Errorf("auth.FirstBuilt is %s and the sources were last changed at %s: name a later day of the year before",
			auth.FirstBuilt.Format(time.DateOnly), changed.Format(time.DateOnly))
	}
	if Built().Before(auth.FirstBuilt) {
		t.Errorf("this program takes itself to be built at %v, before %v", Built(), auth.FirstBuilt)
	}
}
