package cli

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
)

// A tablet met the server when its clock was right, and then somebody set it an hour ahead. It has run on since, so
// that what it writes is at the right time all the same; when it was started anew, nothing can be told, and nothing is
// shifted.
func TestAClockThatWasSetSinceTheLastContactIsCorrectedByTheUptime(t *testing.T) {
	for _, c := range []struct{ name, boot, at, status string }{
		{"it ran on", "this start", "2026-07-18T10:20:00.000Z", "It was set by 1 h since that contact"},
		{"it was started anew", "another", "2026-07-18T11:20:00.000Z", "within 1 s of the server's"},
	} {
		dir := joined(t, "n2")
		j, err := journal.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := j.SetContact(t.Context(),
			journal.Contact{At: tuesday, Uptime: journal.Uptime{Boot: "this start", Since: time.Hour}}); err != nil {
			t.Fatal(err)
		}
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		run := func(args ...string) string {
			t.Helper()
			var out, side bytes.Buffer
			env := &Env{
				Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &side, Local: time.UTC, Random: zeros{},
				Now:    func() time.Time { return tuesday.Add(80 * time.Minute) }, // 20 min later, and an hour ahead
				Uptime: func() journal.Uptime { return journal.Uptime{Boot: c.boot, Since: 80 * time.Minute} },
				Getenv: func(key string) string { return map[string]string{"HOD_DIR": dir, "HOD_SYNC": "off"}[key] },
			}
			if code := Run(context.Background(), env); code != 0 {
				t.Fatalf("%s: hod %s: code %d: %s", c.name, strings.Join(args, " "), code, side.String())
			}
			return out.String()
		}
		if k := doc[struct {
			At string `json:"at"`
		}](t, run("note", "so", "--json")); k.At != c.at {
			t.Errorf("%s: what was written 20 min after the contact is at %s, not %s", c.name, k.At, c.at)
		}
		if out := run("note", "typed", "--at", "-5m", "--json"); !strings.Contains(out,
			strings.Replace(c.at, ":20:", ":15:", 1)) {
			t.Errorf("%s: five minutes ago: %s", c.name, out)
		}
		if out := run("status"); !strings.Contains(out, c.status) {
			t.Errorf("%s: the status is\n%s", c.name, out)
		}
	}
}
