package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// keyboard gives one key a read and sets the clock to when it is struck.
type keyboard struct {
	keys []keyAt
	now  *time.Time
}

type keyAt struct {
	key rune
	at  string // 10:30:00
}

func (k *keyboard) Read(p []byte) (int, error) {
	if len(k.keys) == 0 {
		return 0, context.Canceled // a person who walked off; not reached where a test is right
	}
	t, err := time.Parse(time.DateTime, "2026-07-18 "+k.keys[0].at)
	if err != nil {
		return 0, err
	}
	*k.now = t
	n := copy(p, string(k.keys[0].key))
	k.keys = k.keys[1:]
	return n, nil
}

// led runs `hod batch face --lead` on a device of crew north at a terminal, with these keys.
func led(t *testing.T, keys ...keyAt) (code int, out, side string, events []event.Event) {
	t.Helper()
	return ledWith(t, nil, keys...)
}

// ledWith adds words to the command; the mix allows w/cm 0.40, the site's clock is that of Lisbon, an hour on.
func ledWith(t *testing.T, words []string, keys ...keyAt) (code int, out, side string, events []event.Event) {
	t.Helper()
	dir := ledFolder(t, words...)
	code, out, side = ledIn(t, dir, words, keys...)
	return code, out, side, ownEvents(t, dir)
}

func ledFolder(t *testing.T, words ...string) string {
	t.Helper()
	dir := t.TempDir() + "/n2"
	root := rootJournal(t)
	defer root.Close()
	mix := event.MixPlanned{
		Mix: "face", Revision: 1, WaterLimit: 0.40,
		Constituents: []event.Constituent{
			{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42.6}, Gravity: 3.15},
			{Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 85}, Gravity: 2.62},
			{Name: "water", Kind: event.Water, Amount: event.Amount{Volume: 0.016, ByVolume: true}},
		},
		Steps: []event.Step{
			{Constituent: "water", Share: &unit.As[unit.Share]{SI: 0.75, Entered: "3/4"}},
			{Constituent: "cement", Wait: 2 * time.Minute, LookFor: "flows by itself"},
			{Constituent: "water", Share: &unit.As[unit.Share]{SI: 0.25, Entered: "1/4"}},
			{Constituent: "sand", Wait: time.Minute},
		},
	}
	if _, err := root.Append(t.Context(), time.Date(2026, 7, 1, 7, 0, 0, 0, time.UTC),
		event.Event{Body: mix}); err != nil {
		t.Fatal(err)
	}
	if len(words) > 0 {
		site := event.SitePlanned{Name: "Vault", TimeZone: "Europe/Lisbon"}
		if _, err := root.Append(t.Context(), time.Date(2026, 7, 1, 7, 0, 0, 0, time.UTC),
			event.Event{Body: site}); err != nil {
			t.Fatal(err)
		}
	}
	if err := enrolledFolder(dir, root, scriptDevices["n2"]); err != nil {
		t.Fatal(err)
	}
	return dir
}

func ledIn(t *testing.T, dir string, words []string, keys ...keyAt) (code int, out, side string) {
	t.Helper()
	now := time.Date(2026, 7, 18, 10, 29, 0, 0, time.UTC)
	if len(keys) > 0 { // the command is typed a little before the first key
		if first, err := time.Parse(time.DateTime, "2026-07-18 "+keys[0].at); err == nil && first.After(now) {
			now = first.Add(-30 * time.Second)
		}
	}
	var stdout, stderr bytes.Buffer
	code = Run(t.Context(), &Env{
		Args:  append([]string{"batch", "face", "--lead", "--json", "--dir", dir}, words...),
		Stdin: &keyboard{keys, &now}, Stdout: &stdout, Stderr: &stderr,
		Now: func() time.Time { return now }, Local: time.UTC, Random: zeros{}, StdinTerminal: true,
		Getenv: func(key string) string { return map[string]string{"HOD_SYNC": "off"}[key] },
	})
	return code, stdout.String(), stderr.String()
}

func ownEvents(t *testing.T, dir string) (events []event.Event) {
	t.Helper()
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	all, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if e.Device == "n2" {
			events = append(events, e)
		}
	}
	return events
}

func TestLeadKeepsEachTime(t *testing.T) {
	code, out, side, events := led(t, keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"}, keyAt{'\r', "10:33:30"},
		keyAt{' ', "10:35:00"}, keyAt{'\r', "10:37:00"})
	if code != 0 || len(events) != 1 {
		t.Fatalf("code %d and %d events, want 0 and 1:\n%s", code, len(events), side)
	}
	b := events[0].Body.(event.BatchMixed)
	clock := func(at time.Time) string { return at.Format(time.TimeOnly) }
	var got []string
	for _, c := range b.Charges {
		got = append(got, string(c.Constituent)+" "+clock(c.At))
	}
	if want := "water 10:30:00, cement 10:31:00, water 10:33:30, sand 10:35:00"; strings.Join(got, ", ") != want {
		t.Errorf("charged %s; want %s", strings.Join(got, ", "), want)
	}
	if b.Charges[0].Amount.Volume != 0.012 || b.Charges[2].Amount.Volume != 0.004 {
		t.Errorf("the water went in as %v and %v m³; want 0.012 and 0.004, three quarters and a quarter of it",
			b.Charges[0].Amount.Volume, b.Charges[2].Amount.Volume)
	}
	if clock(b.MixedFrom) != "10:30:00" || clock(b.WaterAt) != "10:31:00" || clock(b.MixedTo) != "10:37:00" {
		t.Errorf(
			"mixed %s, water met cement %s, ready %s; want 10:30:00, 10:31:00 (when the cement came to the water), 10:37:00", clock(b.MixedFrom), clock(b.WaterAt), clock(b.MixedTo))
	}
	if len(b.CutShort) != 0 {
		t.Errorf("cut short: %q; every wait was kept", b.CutShort)
	}
	if events[0].Typed {
		t.Error("the times are the device's clock's, and the event says that they were typed")
	}
	var doc struct {
		Schema  string
		Charges []struct{ At string }
	}
	if err := json.Unmarshal([]byte(out), &doc); err != nil || doc.Schema != "hod.batch.v1" ||
		doc.Charges[2].At != "2026-07-18T10:33:30.000Z" {
		t.Errorf("the document is %s (%v)", out, err)
	}
	for _, want := range []string{
		"1/4  water: 12 L", "2/4  cement: 42.6 kg", "then wait 2 min; go on when: flows by itself", "wait until 10:33:00", "Enter when the batch is ready",
	} {
		if !strings.Contains(side, want) {
			t.Errorf("it did not say %q:\n%s", want, side)
		}
	}
}

func TestLeadWarnsWhenWaterGoesInBeforeAWaitIsOver(t *testing.T) {
	// 40 s into the wait of 2 min: the first answer waits on, the second time water goes in all the same.
	code, _, side, events := led(t, keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"},
		keyAt{'\r', "10:31:40"}, keyAt{'n', "10:31:41"}, keyAt{'\r', "10:32:00"}, keyAt{'y', "10:32:02"},
		keyAt{'\r', "10:33:00"}, keyAt{'\r', "10:33:20"})
	if code != 0 || len(events) != 1 {
		t.Fatalf("code %d and %d events, want 0 and 1:\n%s", code, len(events), side)
	}
	if want := "WAIT: 1 min 20 s of the 2 min after cement are left before water goes in"; !strings.Contains(side,
		want) {
		t.Errorf("it did not warn with %q:\n%s", want, side)
	}
	b := events[0].Body.(event.BatchMixed)
	if want := []string{
		"waited 1 min of 2 min after cement, then water went in",
		"waited 20 s of 1 min after sand",
	}; strings.Join(b.CutShort, "; ") != strings.Join(want, "; ") {
		t.Errorf("cut short: %q; want %q", b.CutShort, want)
	}
	if got := b.Charges[2].At.Format(time.TimeOnly); got != "10:32:02" {
		t.Errorf("the water went in at %s; want 10:32:02, when it was said again", got)
	}
}

func TestLeadStoppedRecordsNothing(t *testing.T) {
	for _, key := range []rune{'q', 3 /* Ctrl-C, where single keys are passed */} {
		code, out, side, events := led(t, keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"}, keyAt{key, "10:31:10"})
		if code != terminal.Interrupted.Code() || len(events) != 0 || out != "" {
			t.Errorf("key %q: code %d, %d events, printed %q; want %d, 0 and nothing", key, code, len(events), out,
				terminal.Interrupted.Code())
		}
		if want := "/n2 --from 10:30:00 --water-at 10:31:00`"; !strings.Contains(side, want) ||
			!strings.Contains(side, "`hod batch face --json --dir ") {
			t.Errorf("key %q: it did not give back what was kept, as %q:\n%s", key, want, side)
		}
	}
}

func TestLeadNeverLosesABatch(t *testing.T) {
	// w/cm is far over the mix's limit, and nobody is asked for a reason after five steps.
	code, out, side, events := ledWith(t, []string{"+water=6l", "--moisture", "6%"},
		keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"}, keyAt{'\r', "10:33:30"}, keyAt{' ', "10:35:00"},
		keyAt{'\r', "10:37:00"})
	if code != 0 || len(events) != 1 {
		t.Fatalf("code %d and %d events, want 0 and 1: a batch that is mixed is recorded whatever the rules say\n%s",
			code, len(events), side)
	}
	if b := events[0].Body.(event.BatchMixed); b.MixedFrom.IsZero() || b.MixedTo.IsZero() || b.WaterAt.IsZero() {
		t.Errorf("its times are not all kept: %v, %v, %v", b.MixedFrom, b.WaterAt, b.MixedTo)
	}
	if !strings.Contains(side, "w/cm") || !strings.Contains(out, `"warnings"`) {
		t.Errorf("nothing says that it is over the limit:\n%s%s", side, out)
	}
}

func TestLeadLeadsWithTheAmountsCorrectedForMoisture(t *testing.T) {
	_, _, side, events := ledWith(t, []string{"--moisture", "4%"},
		keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"}, keyAt{'\r', "10:33:30"}, keyAt{' ', "10:35:00"},
		keyAt{'\r', "10:37:00"})
	if len(events) != 1 {
		t.Fatalf("%d events, want 1:\n%s", len(events), side)
	}
	var sand, water unit.Mass
	for _, c := range events[0].Body.(event.BatchMixed).Charges {
		switch c.Constituent {
		case "sand":
			sand += c.Amount.Mass
		case "water":
			water += c.Amount.Mass
		}
	}
	// 85 kg of sand, which the mix does not say to absorb anything, holds 4 % of its dry mass: 3.4 kg, that is missing
	// from the 16 L of water.
	if math.Abs(float64(sand)-88.4) > 0.01 || math.Abs(float64(water)-12.57) > 0.06 {
		t.Errorf("sand %.2f kg and water %.2f kg; want 88.40 and about 12.57 (16 L at 0.998 kg/L, less 3.4 kg)", sand,
			water)
	}
}

func TestLeadShowsTheSitesClockAndKeepsEveryFlag(t *testing.T) {
	code, _, side, events := ledWith(t, []string{"--moisture", "4%", "--because", "the foreman's word"},
		keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"}, keyAt{'q', "10:31:10"})
	if code != terminal.Interrupted.Code() || len(events) != 0 {
		t.Fatalf("code %d and %d events", code, len(events))
	}
	for _, want := range []string{
		"wait until 11:33:00", `--moisture 4% --because 'the foreman'\''s word' --from 11:30:00 --water-at 11:31:00`,
	} {
		if !strings.Contains(side, want) {
			t.Errorf("it did not say %q; Lisbon is an hour ahead of UTC in July:\n%s", want, side)
		}
	}
}

func TestLeadHelpsAndStepsBack(t *testing.T) {
	code, _, side, events := led(t, keyAt{'b', "10:29:10"}, keyAt{'\r', "10:30:00"}, keyAt{'?', "10:30:10"},
		keyAt{'\r', "10:30:30"}, keyAt{'b', "10:30:40"},
		keyAt{'\r', "10:31:00"}, keyAt{'\r', "10:33:30"}, keyAt{'#', "10:34:00"}, keyAt{'x', "10:35:00"},
		keyAt{'\r', "10:37:00"})
	if code != 0 || len(events) != 1 {
		t.Fatalf("code %d and %d events, want 0 and 1:\n%s", code, len(events), side)
	}
	b := events[0].Body.(event.BatchMixed)
	var got []string
	for _, c := range b.Charges {
		got = append(got, string(c.Constituent)+" "+c.At.Format(time.TimeOnly))
	}
	if want := "water 10:30:00, cement 10:31:00, water 10:33:30, sand 10:35:00"; strings.Join(got, ", ") != want {
		t.Errorf("charged %s; want %s: the cement was taken back and done again", strings.Join(got, ", "), want)
	}
	if got := b.WaterAt.Format(time.TimeOnly); got != "10:31:00" {
		t.Errorf("water met cement at %s; want 10:31:00, by the step done again", got)
	}
	for _, want := range []string{
		"b: one step back. ?: help", "nothing is done yet", "b takes the last step back",
		"not understood",
	} {
		if !strings.Contains(side, want) {
			t.Errorf("it did not say %q:\n%s", want, side)
		}
	}
}

// A phone that dies in the middle of a batch has its steps still, and goes on with them once.
func TestALedBatchThatWasBrokenOffIsGoneOnWith(t *testing.T) {
	dir := ledFolder(t)
	run := func(keys ...keyAt) (int, string) {
		t.Helper()
		code, _, side := ledIn(t, dir, nil, keys...)
		return code, side
	}
	// The keyboard ends without a word, as when the process is killed: nothing is recorded, and nothing is lost.
	if code, side := run(keyAt{'\r', "10:30:00"}, keyAt{'\r', "10:31:00"}); code == 0 {
		t.Fatalf("it ended well without its last steps:\n%s", side)
	}
	if code, side := run(keyAt{'\r', "10:33:00"}, keyAt{'\r', "10:33:30"}, keyAt{' ', "10:35:00"},
		keyAt{'\r', "10:37:00"}); code != 0 || !strings.Contains(side, "broken off after its step 2 at 10:31:00") {
		t.Fatalf("code %d:\n%s", code, side)
	}
	events := ownEvents(t, dir)
	if len(events) != 1 {
		t.Fatalf("%d events, want one batch", len(events))
	}
	b := events[0].Body.(event.BatchMixed)
	if got := b.MixedFrom.Format(time.TimeOnly) + " " + b.Charges[1].At.Format(time.TimeOnly) + " " +
		b.MixedTo.Format(time.TimeOnly); got != "10:30:00 10:31:00 10:37:00" {
		t.Errorf("begun, cement in, ready: %s", got)
	}
	// What is recorded is not gone on with; and a batch that is begun anew forgets the other.
	if code, side := run(keyAt{'\r', "11:00:00"}); code == 0 || strings.Contains(side, "broken off") {
		t.Fatalf("code %d:\n%s", code, side)
	}
	if code, side := run(keyAt{'b', "11:05:00"}, keyAt{'\r', "11:06:00"}, keyAt{'\r', "11:07:00"},
		keyAt{'\r', "11:10:00"}, keyAt{' ', "11:11:00"}, keyAt{'\r', "11:13:00"}); code != 0 {
		t.Fatalf("code %d:\n%s", code, side)
	}
	if events = ownEvents(t, dir); len(events) != 2 ||
		events[1].Body.(event.BatchMixed).MixedFrom.Format(time.TimeOnly) != "11:06:00" {
		t.Errorf("%d events; the second begun at %v, want 11:06", len(events),
			events[len(events)-1].Body.(event.BatchMixed).MixedFrom)
	}
	// One that was stopped is given back in a line, and not kept twice.
	if code, side := run(keyAt{'\r', "12:00:00"}, keyAt{'q', "12:01:00"}); code == 0 ||
		!strings.Contains(side, "--from") {
		t.Fatalf("code %d:\n%s", code, side)
	}
	if _, side := run(keyAt{'\r', "12:05:00"}); strings.Contains(side, "broken off") {
		t.Errorf("what was stopped is gone on with:\n%s", side)
	}
}
