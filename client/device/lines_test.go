package device

import (
	"bytes"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/client/crew"
	"hod/client/journal"
	"hod/client/session/sessiontest"
	"hod/client/sync"
	"hod/internal/event"
)

type line = sessiontest.Line

// worked is crew north's device after a batch and a placement of it.
func worked(t *testing.T) *sessiontest.Device {
	t.Helper()
	d := sessiontest.NewDevice(t, "n2")
	d.Must(crew.NewBatch, "batch body --moisture 4% --to 12:40")
	d.Must(crew.NewPlace, "place A1 --face outer --at 12:50")
	return d
}

func TestWhatOneDeviceExportsAnotherTakesInOnce(t *testing.T) {
	n, s := worked(t), sessiontest.NewDevice(t, "s1")
	file := filepath.Join(t.TempDir(), "tuesday")
	n.Check(t, NewExport, line{
		Name: "a file without an ending gets one", Line: "export " + file,
		Says: "in " + file + ".hodlog",
	})
	file += ".hodlog"
	n.Check(t, NewExport, line{
		Name: "a file that is there", Line: "export " + file,
		Err: "is there already; it was left as it is",
	})
	s.Check(t, NewImport,
		line{Name: "what is new and what is known", Line: "import " + file, Says: "2 new, "},
		line{Name: "once more", Line: "import " + file, Says: "0 new, "},
	)
	s.Check(t, crew.NewPlace, line{
		Name: "the other crew knows the batch", Line: "place north/1 A2 --face outer",
		Err: "nothing is left of batch north/1",
	})
}

func TestOnlyWhatTheServerLacksIsCarried(t *testing.T) {
	d := worked(t)
	j := d.Journal()
	heads, err := j.Heads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	known := heads[:0:0]
	for _, h := range heads {
		if h.Device == "n2" { // of its own two, the server has the first
			at, ok, err := j.HeadAt(t.Context(), "n2", 1)
			if err != nil || !ok {
				t.Fatal(ok, err)
			}
			h = at
		}
		known = append(known, h)
	}
	if err := j.SetContact(t.Context(), journal.Contact{At: sessiontest.Noon, Server: known}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "unsent.hodlog")
	d.Check(t, NewExport, line{Name: "the second event", Line: "export --unsent " + file, Says: "  n2/2 to 2\n"})
	d.Check(t, NewStatus, line{
		Line: "status",
		Says: "Of its own events: 2 kept here, 1 of them at the server, 0 of them backed up\nWaiting: 1 event, the oldest for less than a second",
	})
	for i := range known { // where the server has another history of this device, all of it goes along
		if known[i].Device == "n2" {
			known[i].Chain[0] ^= 1
		}
	}
	if err := j.SetContact(t.Context(), journal.Contact{At: sessiontest.Noon, Server: known}); err != nil {
		t.Fatal(err)
	}
	d.Check(t, NewExport, line{Name: "another history", Line: "export --unsent " + file + "3", Says: "  n2/1 to 2\n"})
	if err := j.SetContact(t.Context(), journal.Contact{At: sessiontest.Noon, Server: heads}); err != nil {
		t.Fatal(err)
	}
	d.Check(t, NewExport, line{
		Name: "nothing waits", Line: "export --unsent " + file + "2",
		Err: "nothing waits to be carried, and nothing was written",
	})
}

func TestAFileThatIsNoneOfThisSiteIsNotTakenIn(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	d := sessiontest.NewDevice(t, "n2")
	whole := filepath.Join(dir, "whole.hodlog")
	d.Must(NewExport, "export "+whole)
	text, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	torn := put("torn.hodlog", string(text[:len(text)-10]))
	flipped := bytes.Clone(text)
	flipped[len(flipped)/2] ^= 1
	bad := put("bad.hodlog", string(flipped))
	other := put("other.hodlog", strings.Replace(string(text), "vault", "vaunt", 1))
	d.Check(t, NewImport,
		line{Name: "no file", Line: "import " + filepath.Join(dir, "none"), Err: "see how the stick is called here"},
		line{
			Name: "a folder", Line: "import " + dir,
			Err: "is no file but a folder; name a file that `hod export` wrote",
		},
		line{Name: "something else", Line: "import " + put("list.txt", "cement 40 bags\n"), Err: "cannot be read"},
		line{Name: "an empty file", Line: "import " + put("empty", ""), Err: "empty"},
		line{Name: "cut off", Line: "import " + torn, Err: "is damaged; what of it is whole was taken in"},
		line{Name: "a flipped bit", Line: "import " + bad, Err: "is damaged; what of it is whole was taken in"},
		line{Name: "its head changed", Line: "import " + other, Err: "is damaged"},
	)
	d.Check(t, NewVerify,
		line{Name: "whole", Line: "verify " + whole, Says: "No fault found."},
		line{Name: "verify cut off", Line: "verify " + torn, Err: "fault"},
		line{Name: "verify a flipped bit", Line: "verify " + bad, Err: "the record is not as it was written"},
		line{
			Name: "another root key", Line: "verify --root-key " + strings.Repeat("ab", 32) + " " + whole,
			Err: "found",
		},
		line{Name: "no root key", Line: "verify --root-key abc " + whole, Err: "a root key has 64 hexadecimal digits"},
	)
}

func TestTheRecordIsVerifiedFromTheRootKeyAndADayHasOneDigest(t *testing.T) {
	d := worked(t)
	d.Env.JSON = true
	digest := func(line string) string {
		t.Helper()
		var doc struct {
			Root    string `json:"root_key"`
			From    string `json:"root_key_from"`
			Events  int
			Faults  []any
			Record  string `json:"record_digest"`
			Day     struct{ Date, Digest string }
			Checked []string
		}
		ran := d.Must(NewVerify, line)
		if err := json.Unmarshal([]byte(ran.Out), &doc); err != nil {
			t.Fatal(err)
		}
		root := hex.EncodeToString(sessiontest.Key("host").Public().(ed25519.PublicKey))
		if doc.Root != root || doc.From != "this device" || len(doc.Faults) != 0 || doc.Day.Date != "2026-07-18" ||
			len(doc.Record) != 64 {
			t.Errorf("%+v", doc)
		}
		return doc.Day.Digest
	}
	own := digest("verify --day 2026-07-18")
	file := filepath.Join(t.TempDir(), "all.hodlog")
	d.Must(NewExport, "export "+file)
	if of := digest("verify --day 2026-07-18 " + file); of != own || len(own) != 64 {
		t.Errorf("the file's day is %s, the record's %s", of, own)
	}
	d.Must(crew.NewBatch, "batch body --moisture 4%")
	if later := digest("verify --day 2026-07-18"); later == own {
		t.Error("another batch changes nothing in the digest of its day")
	}
}

func TestStatusSaysHowTheClockStands(t *testing.T) {
	for offset, want := range map[time.Duration]string{
		0:                       "within 1 s of the server's",
		-900 * time.Millisecond: "within 1 s of the server's",
		12 * time.Second:        "within 12 s of the server's",
		31 * time.Second:        "31 s slow against the server's; set it",
		-2 * time.Minute:        "2 min fast against the server's; set it",
	} {
		if got := clockWord(offset); got != want {
			t.Errorf("%v: %q; want %q", offset, got, want)
		}
	}
	for ago, want := range map[time.Duration]string{
		200 * time.Millisecond: "less than a second", 59 * time.Second: "59 s", 61 * time.Second: "1 min", 90 * time.Minute: "1 h 30 min",
	} {
		if got := since(sessiontest.Noon, sessiontest.Noon.Add(-ago)); got != want {
			t.Errorf("%v ago: %q; want %q", ago, got, want)
		}
	}
}

func TestADeviceThatNeverMetTheServerSaysSo(t *testing.T) {
	d := worked(t)
	d.Check(t, NewStatus, line{
		Line: "status", Says: "Device n2 (crew) of site vault; ",
	})
	ran := d.Must(NewStatus, "status")
	for _, want := range []string{
		"2 kept here, 0 of them at the server", "No contact with the server at 127.0.0.1:1 yet.",
	} {
		if !strings.Contains(ran.Out, want) {
			t.Errorf("it does not say %q:\n%s", want, ran.Out)
		}
	}
}

func TestWithoutANetworkSyncSaysWhatWaits(t *testing.T) {
	worked(t).Check(t, NewSync, line{Line: "sync", Err: "2 events are waiting here, safe on this disk"})
}

func TestWhatAContactDidIsSaid(t *testing.T) {
	for _, c := range []struct {
		name string
		out  sync.Outcome
		want string
	}{
		{"what was sent and fetched", sync.Outcome{Pushed: 2, Pulled: 3}, "2 sent, 3 fetched.\n"},
		{
			"not confirmed",
			sync.Outcome{Pushed: 2, Unconfirmed: 1},
			"1 of those sent are not yet confirmed by the server; they are offered again.",
		},
		{"waiting", sync.Outcome{Waiting: 4}, "4 pieces wait for what comes before them."},
		{
			"a clock that is off",
			sync.Outcome{Offset: -40 * time.Second},
			"This device's clock is 40 s off the server's",
		},
		{"a clock that is nearly right", sync.Outcome{Offset: 29 * time.Second}, "0 sent, 0 fetched.\n"},
		{
			"a clock that was set",
			sync.Outcome{Set: -2 * time.Minute},
			"This device's clock was set by 2 min since the contact before",
		},
		{
			"the server's clock",
			sync.Outcome{ServerClock: sessiontest.Noon.AddDate(90, 0, 0)},
			"it says 2116-07-18 12:00 UTC",
		},
		{
			"the server's notice",
			sync.Outcome{Notice: "no backup for 9 days\x1b[2J"},
			"At the server: no backup for 9 days",
		},
		{"forks", sync.Outcome{Forks: []string{"n2 was copied"}}, "\nn2 was copied\n"},
	} {
		var text strings.Builder
		sayOutcome(&text, c.out)
		if !strings.Contains(text.String(), c.want) || strings.Contains(text.String(), "\x1b") {
			t.Errorf("%s: %q; want %q", c.name, text.String(), c.want)
		}
	}
}

func TestACodeThatIsNoneIsRefusedBeforeAnybodyIsAsked(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Check(t, NewJoin,
		line{Line: "join", Err: "hod join needs the code"},
		line{Line: "join hello", Err: "code"},
		line{Line: "join hod.example:7420/4GQ0", Err: "code"},
	)
	if before := d.Must(NewStatus, "status").Out; !strings.Contains(before, "Device n2") {
		t.Errorf("the device is another:\n%s", before)
	}
}

// Figures that differ in the last digit between machines have one digest; others have another.
func TestTheDigestOfADayIsOfNineDigits(t *testing.T) {
	doc := map[string]any{"a": json.Number("0.1234567891"), "b": []any{json.Number("3"), "x"}}
	got := rounded(doc).(map[string]any)
	if got["a"] != json.Number("0.123456789") || got["b"].([]any)[0] != json.Number("3") || got["b"].([]any)[1] != "x" {
		t.Errorf("%v", got)
	}
	d := worked(t)
	events, err := d.Journal().Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !enrols(events[0]) || enrols(event.Event{Body: event.Noted{}}) {
		t.Error("an enrolment is not told from a note")
	}
}
