package journal

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/chain"
	"hod/internal/event"
)

const site = "quarry-shell"

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

func keyOf(name event.Device) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte("a key for tests of " + name))
	return ed25519.NewKeyFromSeed(seed[:])
}

func deviceNamed(name event.Device) Device {
	return Device{
		Site: site, Name: name, Crew: "north", Role: event.CrewRole, Key: keyOf(name),
		Bus: "site.example:4222", Server: "site.example:7443", CA: []byte("-----BEGIN CERTIFICATE-----\n"),
		Root: "site", RootKey: publicOf("site"),
	}
}

func create(t testing.TB, name event.Device) *Journal {
	t.Helper()
	j, err := Create(filepath.Join(t.TempDir(), "hod"), deviceNamed(name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

func inMemory(t testing.TB, name event.Device) *Journal {
	t.Helper()
	j, err := InMemory(deviceNamed(name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

func note(text string) event.Event { return event.Event{Body: event.Noted{Text: text}} }

func appendNotes(t testing.TB, j *Journal, texts ...string) []event.Event {
	t.Helper()
	var drafts []event.Event
	for _, s := range texts {
		drafts = append(drafts, note(s))
	}
	written, err := j.Append(t.Context(), noon, drafts...)
	if err != nil {
		t.Fatal(err)
	}
	return written
}

// words gives "n2/1 first" for each event that is held.
func words(t testing.TB, j *Journal) []string {
	t.Helper()
	events, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return said(events)
}

func said(events []event.Event) []string {
	var s []string
	for _, e := range events {
		text := "?"
		if b, ok := e.Body.(event.Noted); ok {
			text = b.Text
		}
		s = append(s, e.Name.String()+" "+text)
	}
	return s
}

func same[T any](t testing.TB, what string, got, want T) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s: got %v, want %v (-want +got):\n%s", what, got, want, d)
	}
}

func kindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

func TestWhatWasAppendedIsThereAfterReopening(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "of Ana's?phone%20#1")
	j, err := Create(dir, deviceNamed("n2"))
	if err != nil {
		t.Fatal(err)
	}
	typed := event.Event{
		HappenedAt: noon.Add(-time.Hour), Typed: true, Crew: "south", Person: "Ana",
		Body: event.Noted{Text: "typed"},
	}
	written, err := j.Append(t.Context(), noon, note("first"), typed)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j, err = Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	same(t, "the device", j.Device(), deviceNamed("n2"))
	events, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the events", said(events), []string{"n2/1 first", "n2/2 typed"})
	for i := range events {
		same(t, "the hash of "+events[i].Name.String(), events[i].Hash(), written[i].Hash())
	}
	same(t, "crew where none was said", events[0].Crew, "north")
	same(t, "crew as said", events[1].Crew, "south")
	same(t, "happened where not said", events[0].HappenedAt, noon)
	same(t, "happened as typed", events[1].HappenedAt, noon.Add(-time.Hour))
	same(t, "logged", events[1].LoggedAt, noon)
	if events[0].Offset != nil {
		t.Errorf("an event before the first contact has the offset %v; want none", *events[0].Offset)
	}
	for name, want := range map[string]os.FileMode{"": 0o700 | os.ModeDir, keyFile: 0o600, dbFile: 0o600, dbFile +
		"-wal": 0o600} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		same(t, "mode of "+name, info.Mode(), want)
	}
	db, err := os.ReadFile(filepath.Join(dir, dbFile))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(db), string(keyOf("n2").Seed())) {
		t.Error("the device's key lies in the database")
	}
}

func TestOffsetOfTheLastContactIsKeptWithLaterEvents(t *testing.T) {
	j := create(t, "n2")
	if err := j.SetContact(t.Context(), Contact{At: noon, Offset: -90 * time.Second}); err != nil {
		t.Fatal(err)
	}
	e := appendNotes(t, j, "after")[0]
	if e.Offset == nil || *e.Offset != -90*time.Second {
		t.Errorf("offset %v, want -1m30s", e.Offset)
	}
	same(t, "when it happened by the site's clock", e.At(), noon.Add(-90*time.Second))
}

func TestAppendIsAllOrNothing(t *testing.T) {
	j := create(t, "n2")
	_, err := j.Append(t.Context(), noon, note("good"), event.Event{}, note("good too"))
	if err == nil || !strings.Contains(err.Error(), "event 2 of 3") {
		t.Errorf("error %v; want one that says which draft is wrong", err)
	}
	_, err = j.Append(t.Context(), noon, event.Event{Name: event.Name{Device: "n9"}, Body: event.Noted{Text: "x"}})
	if err == nil || !strings.Contains(err.Error(), `"n9"`) {
		t.Errorf("an event of another device: error %v", err)
	}
	if got := words(t, j); len(got) != 0 {
		t.Errorf("held %v after refusals, want nothing", got)
	}
	same(t, "seq after refusals", appendNotes(t, j, "next")[0].Seq, 1)
}

func TestCreateAndOpenRefuse(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "kept")
	if _, err := Create(j.dir, deviceNamed("n3")); kindOf(err) != Exists {
		t.Errorf("creating over a journal: %v, want Exists", err)
	}
	same(t, "what the refused one left", words(t, j), []string{"n2/1 kept"})

	orphan := t.TempDir()
	if err := writeKey(orphan, keyOf("n3")); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(orphan, deviceNamed("n4")); kindOf(err) != Exists {
		t.Errorf("creating over a key: %v, want Exists", err)
	}
	if key, err := readKey(orphan); err != nil || !key.Equal(keyOf("n3")) {
		t.Errorf("the key that was there is gone: %v", err)
	}
	if _, err := Create(filepath.Join(t.TempDir(), "x"), Device{Site: site}); err == nil {
		t.Error("a device without a name was created")
	}
	_, err := Open(t.TempDir())
	if kindOf(err) != Missing || !strings.Contains(err.Error(), "hod join") {
		t.Errorf("opening an empty folder: %v, want Missing and a word on `hod join`", err)
	}
}

// A join that is killed may leave any of these; the next one with the same key finishes it.
func TestCreateFinishesWhatWasCutShort(t *testing.T) {
	begin := func(t *testing.T, dir string) {
		t.Helper()
		j, err := connect(dir, address(filepath.Join(dir, dbFile), "rwc"))
		if err != nil {
			t.Fatal(err)
		}
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	key := func(text string) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			t.Helper()
			begin(t, dir)
			if err := os.WriteFile(filepath.Join(dir, keyFile), []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	for name, left := range map[string]func(*testing.T, string){
		"a journal without tables":     begin,
		"and the key's file, empty":    key(""),
		"and the beginning of the key": key(keyText(keyOf("n2"))[:17]),
		"and the key":                  key(keyText(keyOf("n2"))),
		"the key without a journal": func(t *testing.T, dir string) {
			key(keyText(keyOf("n2")))(t, dir)
			_ = os.Remove(filepath.Join(dir, dbFile))
		},
		"a file of no bytes for the journal": func(t *testing.T, dir string) {
			_ = os.WriteFile(filepath.Join(dir, dbFile), nil, 0o600)
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			left(t, dir)
			if _, err := Open(dir); kindOf(err) != Missing || !strings.Contains(err.Error(), "hod join") {
				t.Errorf("opening what was cut short: %v, want Missing and a word on `hod join`", err)
			}
			j, err := Create(dir, deviceNamed("n2"))
			if err != nil {
				t.Fatalf("joining again: %v", err)
			}
			appendNotes(t, j, "kept")
			if err := j.Close(); err != nil {
				t.Fatal(err)
			}
			again, err := Open(dir)
			if err != nil {
				t.Fatal(err)
			}
			defer again.Close()
			same(t, "record", words(t, again), []string{"n2/1 kept"})
		})
	}
}

// A journal whose file was emptied is no join that was cut short: what was kept may still be found on that disk.
func TestCreateLeavesAJournalThatWasEmptied(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "kept")
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{dbFile + "-wal", dbFile + "-shm"} {
		_ = os.Remove(filepath.Join(j.dir, name))
	}
	if err := os.Truncate(filepath.Join(j.dir, dbFile), 0); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(j.dir, deviceNamed("n2")); kindOf(err) != Exists {
		t.Errorf("creating over it: %v, want Exists", err)
	}
}

func TestOpenRefusesNewerAndForeign(t *testing.T) {
	for name, tc := range map[string]struct {
		spoil func(t *testing.T, dir string)
		want  Kind
		word  string
	}{
		"a newer form": {
			func(t *testing.T, dir string) { statement(t, dir, `pragma user_version = 2`) }, Newer,
			"newer program",
		},
		"the key of another device": {func(t *testing.T, dir string) {
			if err := os.Remove(filepath.Join(dir, keyFile)); err != nil {
				t.Fatal(err)
			}
			if err := writeKey(dir, keyOf("n3")); err != nil {
				t.Fatal(err)
			}
		}, Damaged, "put the right one back"},
		"no key": {func(t *testing.T, dir string) {
			if err := os.Remove(filepath.Join(dir, keyFile)); err != nil {
				t.Fatal(err)
			}
		}, Missing, keyFile},
		"half a key": {func(t *testing.T, dir string) {
			if err := os.Truncate(filepath.Join(dir, keyFile), 20); err != nil {
				t.Fatal(err)
			}
		}, Damaged, "64 hexadecimal digits"},
		"not a database": {func(t *testing.T, dir string) {
			if err := os.WriteFile(filepath.Join(dir, dbFile), []byte(strings.Repeat("mortar ", 2000)),
				0o600); err != nil {
				t.Fatal(err)
			}
			for _, s := range []string{"-wal", "-shm"} {
				_ = os.Remove(filepath.Join(dir, dbFile+s))
			}
		}, Damaged, "write it on paper"},
		"an unfinished one": {func(t *testing.T, dir string) {
			for _, s := range []string{"", "-wal", "-shm"} {
				_ = os.Remove(filepath.Join(dir, dbFile+s))
			}
			if err := os.WriteFile(filepath.Join(dir, dbFile), nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}, Missing, "never finished"},
	} {
		t.Run(name, func(t *testing.T) {
			j := create(t, "n2")
			appendNotes(t, j, "kept")
			if err := j.Close(); err != nil {
				t.Fatal(err)
			}
			tc.spoil(t, j.dir)
			got, err := Open(j.dir)
			if kindOf(err) != tc.want || err == nil || !strings.Contains(err.Error(), tc.word) {
				t.Errorf("%v of kind %d, want kind %d and the words %q", err, kindOf(err), tc.want, tc.word)
			}
			if err == nil {
				_ = got.Close()
			}
		})
	}
}

// statement runs SQL as another program would, through a connection of its own.
func statement(t testing.TB, dir, text string) {
	t.Helper()
	other, err := connect(dir, address(filepath.Join(dir, dbFile), "rw"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := other.conn.ExecContext(t.Context(), text); err != nil {
		t.Fatal(err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestEventsAreNeverChangedOrDeleted(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "kept")
	for _, text := range []string{
		`delete from event`, `update event set raw = x'00'`, `update event set seq = 7`,
		`insert or replace into event (device, seq, chain, raw) values ('n2', 1, zeroblob(32), x'00')`,
	} {
		if _, err := j.conn.ExecContext(t.Context(), text); err == nil {
			t.Errorf("%s: went through", text)
		}
	}
	same(t, "held", words(t, j), []string{"n2/1 kept"})
}

func TestSinceGivesEachEventOnce(t *testing.T) {
	j := create(t, "n2")
	var mark Mark
	var got []string
	for i := range 5 {
		appendNotes(t, j, fmt.Sprint("a", i), fmt.Sprint("b", i))
		events, next, err := j.Since(t.Context(), mark)
		if err != nil {
			t.Fatal(err)
		}
		got, mark = append(got, said(events)...), next
	}
	same(t, "in pieces", got, words(t, j))
	if events, _, err := j.Since(t.Context(), mark); err != nil || len(events) != 0 {
		t.Errorf("after the last: %v, %v", said(events), err)
	}
}

func TestStatusCountsWhereOwnEventsAre(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "one")
	if _, err := j.Append(t.Context(), noon.Add(time.Hour), note("two"), note("three")); err != nil {
		t.Fatal(err)
	}
	first, _, _ := j.HeadAt(t.Context(), "n2", 1)
	second, _, _ := j.HeadAt(t.Context(), "n2", 2)
	other := first
	other.Chain[0]++
	for name, tc := range map[string]struct {
		server, backup []chain.Head
		want           Status
	}{
		"no contact yet": {nil, nil, Status{Kept: 3, Oldest: noon}},
		"one at the server": {
			[]chain.Head{first},
			nil,
			Status{Kept: 3, AtServer: 1, Oldest: noon.Add(time.Hour)},
		},
		"two at the server, one in a backup": {
			[]chain.Head{second},
			[]chain.Head{first},
			Status{Kept: 3, AtServer: 2, BackedUp: 1, Oldest: noon.Add(time.Hour)},
		},
		"another history at the server": {[]chain.Head{other}, nil, Status{Kept: 3, Oldest: noon, Forked: true}},
		"more at the server than here": {
			[]chain.Head{{Device: "n2", Seq: 9}},
			nil,
			Status{Kept: 3, Oldest: noon, Forked: true},
		},
		"only others' at the server": {
			[]chain.Head{{Device: "n3", Seq: 9}},
			nil,
			Status{Kept: 3, Oldest: noon},
		},
	} {
		t.Run(name, func(t *testing.T) {
			if err := j.SetContact(t.Context(), Contact{At: noon, Server: tc.server, BackedUp: tc.backup}); err != nil {
				t.Fatal(err)
			}
			got, err := j.Status(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			tc.want.Contact = noon
			same(t, "status", got, tc.want)
		})
	}
}

func TestContactComesBackAsStored(t *testing.T) {
	j := create(t, "n2")
	if got, err := j.Contact(t.Context()); err != nil || !got.At.IsZero() {
		t.Errorf("before the first: %+v, %v", got, err)
	}
	want := Contact{
		At: noon, Offset: 1500 * time.Millisecond, Position: Position{12, event.Hash{1, 2}},
		Whole: noon.Add(-time.Hour), Fetched: noon.Add(-9 * time.Minute),
		Server: []chain.Head{
			{Device: "n2", Seq: 4, Chain: chain.Hash{4}},
			{Device: "n3", Seq: 1 << 63, Chain: chain.Hash{5}},
		},
		BackedUp: []chain.Head{{Device: "n2", Seq: 3, Chain: chain.Hash{3}}},
		Missing:  []chain.Head{{Device: "n4", Seq: 3, Chain: chain.Hash{3}}},
		Uptime:   Uptime{"this start", 41 * time.Hour},
	}
	for range 2 {
		if err := j.SetContact(t.Context(), want); err != nil {
			t.Fatal(err)
		}
		got, err := j.Contact(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		same(t, "contact", got, want)
	}
}

// A version that knows no uptime stores the time of its contact alone; what an older contact knew is not taken for its.
func TestAnUptimeCountsOnlyWithTheContactThatItIsOf(t *testing.T) {
	j := create(t, "n2")
	c := Contact{At: noon, Offset: time.Second, Uptime: Uptime{"this start", time.Hour}}
	if err := j.SetContact(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	if _, err := j.conn.ExecContext(t.Context(), `update contact set at_ms = at_ms + 1`); err != nil {
		t.Fatal(err)
	}
	if got, err := j.Contact(t.Context()); err != nil || got.Uptime != (Uptime{}) {
		t.Errorf("%+v, %v", got.Uptime, err)
	}
}

func TestAnOffsetIsCarriedOnByTheUptimeWhateverTheClockWasSetTo(t *testing.T) {
	c := Contact{At: noon, Offset: -4 * time.Minute, Uptime: Uptime{"this start", time.Hour}}
	for _, tc := range []struct {
		name  string
		now   time.Time
		up    Uptime
		want  time.Duration
		basis event.ClockBasis
	}{
		{"nothing was set", noon.Add(time.Hour), Uptime{"this start", 2 * time.Hour}, -4 * time.Minute, event.Carried},
		{
			"the clock crept by a second", noon.Add(time.Hour + time.Second),
			Uptime{"this start", 2 * time.Hour},
			-4 * time.Minute, event.Carried,
		},
		{
			"it was set an hour ahead", noon.Add(2 * time.Hour),
			Uptime{"this start", 2 * time.Hour},
			-64 * time.Minute,
			event.Carried,
		},
		{"it was set right", noon.Add(56 * time.Minute), Uptime{"this start", 2 * time.Hour}, 0, event.Carried},
		{
			"it was set back to before the contact", noon.Add(-time.Hour),
			Uptime{"this start", 2 * time.Hour},
			116 * time.Minute, event.Carried,
		},
		{
			"the device was started anew", noon.Add(2 * time.Hour),
			Uptime{"another", time.Minute},
			-4 * time.Minute,
			event.AtContact,
		},
		{"it has no uptime", noon.Add(2 * time.Hour), Uptime{}, -4 * time.Minute, event.AtContact},
		{
			"its uptime ran back", noon.Add(time.Hour),
			Uptime{"this start", time.Minute},
			-4 * time.Minute,
			event.AtContact,
		},
	} {
		if got, basis := c.OffsetAt(tc.now, tc.up); got != tc.want || basis != tc.basis {
			t.Errorf("%s: %s, %d; want %s, %d", tc.name, got, basis, tc.want, tc.basis)
		}
	}
}

func TestAJournalPutBackIsTheRecordAsItStood(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "one", "two")
	file := filepath.Join(t.TempDir(), "copy.db")
	backUp(t, j, file)
	appendNotes(t, j, "three")
	restored := restore(t, j, file)
	same(t, "restored", words(t, restored), []string{"n2/1 one", "n2/2 two"})
	if v, err := restored.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
		t.Errorf("verify: %v, %v", v.Faults, err)
	}
	same(t, "the original", words(t, j), []string{"n2/1 one", "n2/2 two", "n2/3 three"})
}

// backUp copies the record as it stands into a new file, as a person's backup of the phone may hold it.
func backUp(t testing.TB, j *Journal, file string) {
	t.Helper()
	if _, err := j.conn.ExecContext(t.Context(), `vacuum into ?`, file); err != nil {
		t.Fatal(err)
	}
}

// restore puts a backup into a folder of its own with the device's key, as a copied phone would have it.
func restore(t testing.TB, j *Journal, file string) *Journal {
	t.Helper()
	dir := t.TempDir()
	if err := writeKey(dir, j.device.Key); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(file, filepath.Join(dir, dbFile)); err != nil {
		t.Fatal(err)
	}
	restored, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = restored.Close() })
	return restored
}

func TestCancelledAppendKeepsNothing(t *testing.T) {
	j := create(t, "n2")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := j.Append(ctx, noon, note("too late")); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want that it was cancelled", err)
	}
	same(t, "after it", said(appendNotes(t, j, "next")), []string{"n2/1 next"})
	same(t, "held", words(t, j), []string{"n2/1 next"})
}

func offered(t testing.TB, j *Journal, device event.Device, after chain.Head) []chain.Segment {
	t.Helper()
	segs, err := j.Offer(t.Context(), device, after)
	if err != nil {
		t.Fatal(err)
	}
	return segs
}

// all gives every segment of a device, over as many calls of Offer as it takes.
func all(t testing.TB, j *Journal, device event.Device) (segs []chain.Segment) {
	t.Helper()
	var after chain.Head
	for {
		more := offered(t, j, device, after)
		if len(more) == 0 {
			return segs
		}
		if len(more) > MaxOffer {
			t.Fatalf("%d segments in one offer, the most is %d", len(more), MaxOffer)
		}
		segs, after = slices.Concat(segs, more), more[len(more)-1].After
	}
}

func publicOf(name event.Device) ed25519.PublicKey { return keyOf(name).Public().(ed25519.PublicKey) }

// A journal that an earlier hod left readable to others, in a folder that lets them in, is closed to them when it is
// opened.
func TestAJournalIsItsOwnersAlone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "hod")
	j, err := Create(dir, deviceNamed("n2"))
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, dbFile)
	if err := errors.Join(os.Chmod(dir, 0o755), os.Chmod(path, 0o644)); err != nil {
		t.Fatal(err)
	}
	j, err = Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v; want -rw-------", info.Mode(), err)
	}
}
