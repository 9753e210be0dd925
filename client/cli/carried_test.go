package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
)

var tuesday = time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC)

// What the tests read of the documents hod.export.v1, hod.import.v1 and hod.verify.v1.
type (
	deviceDoc struct {
		Device      string
		First, Last uint64
	}
	exportDoc struct {
		Whole   bool
		Devices []deviceDoc
	}
	importDoc struct {
		New, Waiting, Refused int
		Why, Forks            []string
	}
	verifyDoc struct{ Faults []archive.Fault }
)

// stick is a file with what n2 wrote, and where it lies.
func stick(t *testing.T) string {
	t.Helper()
	dir := joined(t, "n2")
	for _, text := range []string{"one", "two", "three"} {
		if code, _, side := at(dir, tuesday, "note", text); code != 0 {
			t.Fatalf("code %d: %s", code, side)
		}
	}
	file := filepath.Join(t.TempDir(), "stick.hodlog")
	if code, _, side := at(dir, tuesday, "export", file, "--unsent"); code != 0 {
		t.Fatalf("export: code %d: %s", code, side)
	}
	return file
}

func changed(t *testing.T, file string, change func([]byte) []byte) string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	bad := filepath.Join(t.TempDir(), "bad.hodlog")
	if err := os.WriteFile(bad, change(data), 0o600); err != nil {
		t.Fatal(err)
	}
	return bad
}

func doc[D any](t *testing.T, out string) (d D) {
	t.Helper()
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return d
}

// Wherever a byte of an export is changed, both commands say so by code 5, and neither takes in a word that was not
// written.
func TestAnExportThatWasTamperedWith(t *testing.T) {
	file := stick(t)
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	reader := joined(t, "s1")
	for n := 0; n < len(data); n += 17 {
		bad := changed(t, file, func(b []byte) []byte { b[n] ^= 4; return b })
		code, out, side := at(reader, tuesday, "verify", bad, "--json")
		if code != 5 && code != 2 {
			t.Errorf("byte %d changed: verify ends with code %d: %s", n, code, side)
		}
		if code == 5 && out != "" {
			named := false
			for _, f := range doc[verifyDoc](t, out).Faults {
				named = named || f.At <= int64(n)
			}
			if !named {
				t.Errorf("byte %d changed: no fault names where: %s", n, out)
			}
		}
		if code, _, side := at(reader, tuesday, "import", bad); code != 5 && code != 2 && code != 3 {
			t.Errorf("byte %d changed: import ends with code %d: %s", n, code, side)
		}
	}
	j, err := journal.Open(reader)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	events, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if b, ok := e.Body.(event.Noted); ok && b.Text != "one" && b.Text != "two" && b.Text != "three" {
			t.Errorf("%s says %q, which nobody wrote", e.Name, b.Text)
		}
	}
}

func TestWhatAnImportRefuses(t *testing.T) {
	file := stick(t)
	reader := joined(t, "s1")
	cut := changed(t, file, func(b []byte) []byte { return b[:len(b)-40] })
	if code, out, side := at(reader, tuesday, "import", cut); code != 5 ||
		!strings.HasPrefix(out, "3 new, 4 repeated, 0 waiting, 0 refused") ||
		!strings.Contains(side, "is damaged; what of it is whole was taken in") {
		t.Errorf("a file without its end: code %d, %s%s", code, out, side)
	}

	// The same name, another root key.
	h := archive.Header{Site: "vault", Root: "host", RootKey: public(keyOf("another host"))}
	if code, _, side := at(reader, tuesday, "import", written(t, h)); code != 3 ||
		!strings.Contains(side, "its root key is another one") {
		t.Errorf("another site of the same name: code %d, %s", code, side)
	}
	h = archive.Header{Site: "reef", Root: "host", RootKey: public(keyOf("host"))}
	if code, _, side := at(reader, tuesday, "import", written(t, h)); code != 3 ||
		!strings.Contains(side, `of the site "reef", this device is of "vault"`) {
		t.Errorf("another site: code %d, %s", code, side)
	}

	// What is signed by others than it says, by devices that nobody enrolled, or comes after a gap.
	h = archive.Header{Site: "vault", Root: "host", RootKey: public(keyOf("host"))}
	forged := signedNotes(t, "i1", "thief", 0, 2)
	stranger := signedNotes(t, "x9", "x9", 0, 1)
	late := signedNotes(t, "n1", "n1", 3, 1)
	code, out, side := at(reader, tuesday, "import", written(t, h, forged, stranger, late), "--json")
	if d := doc[importDoc](t, out); code != 3 || d.New != 0 || d.Refused != 2 || d.Waiting != 2 || len(d.Why) != 1 {
		t.Errorf("forged, strange and late: code %d, %s%s", code, out, side)
	}
	first := signedNotes(t, "n1", "n1", 0, 3)
	code, out, side = at(reader, tuesday, "import", written(t, h, after(t, first, 1), first), "--json")
	if d := doc[importDoc](t, out); code != 0 || d.New != 4 || d.Waiting != 0 {
		t.Errorf("in the wrong order: code %d, %s%s", code, out, side)
	}
	other := signedNotes(t, "n1", "n1", 0, 1, "told otherwise")
	code, out, side = at(reader, tuesday, "import", written(t, h, other), "--json")
	if d := doc[importDoc](t, out); code != 3 || d.New != 0 || len(d.Forks) != 1 {
		t.Errorf("another history: code %d, %s%s", code, out, side)
	}
}

func TestNothingToExportIsSaid(t *testing.T) {
	dir := joined(t, "n2")
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	heads, err := j.Heads(t.Context())
	if err == nil {
		err = j.SetContact(t.Context(), journal.Contact{At: tuesday, Server: heads})
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "x.hodlog")
	if code, _, side := at(dir, tuesday, "export", file, "--unsent"); code != 4 ||
		!strings.Contains(side, "all that this device holds is at the server") {
		t.Errorf("code %d, %s", code, side)
	}
	if _, err := os.Stat(file); !os.IsNotExist(err) {
		t.Errorf("a file was written: %v", err)
	}
	at(dir, tuesday, "note", "the only one")
	_, out, _ := at(dir, tuesday, "export", file, "--unsent", "--json")
	if d := doc[exportDoc](t, out); d.Whole || len(d.Devices) != 2 || d.Devices[1] != (deviceDoc{"n2", 1, 1}) {
		t.Errorf("exported %s; want n2/1 and whom the site enrolled", out)
	}
}

func written(t *testing.T, h archive.Header, segments ...chain.Segment) string {
	t.Helper()
	var b bytes.Buffer
	w, err := archive.NewWriter(&b, h)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range segments {
		if err := w.Add(s); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := w.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "written.hodlog")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// signedNotes are n notes of a device after the first skip of them, signed with a key; as many notes lie before them.
func signedNotes(t *testing.T, name, key string, skip, n int, words ...string) chain.Segment {
	t.Helper()
	head := chain.Head{Device: event.Device(name), Chain: chain.Root("vault", event.Device(name))}
	text := strings.Join(append([]string{"note"}, words...), " ")
	var run []event.Event
	for i := range skip + n {
		e, err := event.Write(event.Event{
			Name:       event.Name{Device: event.Device(name), Seq: uint64(i) + 1},
			HappenedAt: tuesday, LoggedAt: tuesday, Body: event.Noted{Text: text},
		})
		if err != nil {
			t.Fatal(err)
		}
		if i < skip {
			head = chain.Head{Device: head.Device, Seq: e.Seq, Chain: head.Chain.Next(e.Bytes())}
			continue
		}
		run = append(run, e)
	}
	s, err := chain.Sign(keyOf(key), "vault", head, run)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// after is what n more notes of the same device look like, behind a segment.
func after(t *testing.T, s chain.Segment, n int) chain.Segment {
	t.Helper()
	return signedNotes(t, string(s.After.Device), string(s.After.Device), int(s.After.Seq), n)
}
