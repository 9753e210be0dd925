package store

import (
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

// Any bytes as a file of the data folder end in what the file can say, or in an error of a kind, in words.
func FuzzFolderFiles(f *testing.F) {
	id := Identity{"dune", RootDevice, ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))}
	public := hex.EncodeToString(id.Public())
	hash := strings.Repeat("0a", len(event.Hash{}))
	for _, text := range []string{
		`{}`, `null`, `[]`,
		`{"version":1,"site":"dune","root":"site","root_key":"` + public + `"}`, `{"version":2,"site":"dune"}`,
		hex.EncodeToString(id.Key.Seed()) + "\n", "00",
		`{"at":"2026-07-18T07:00:00Z","dir":"/media/stick","heads":[{"device":"n1","seq":3,"chain":"` + hash + `"}]}`,
		`{"heads":[{"device":"","seq":3}]}`, `{"heads":[{"device":"n1","chain":"0"}]}`,
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if is, err := siteOf(siteFile, text); known(t, siteFile, err) &&
			(bus.CheckSite(is.Site) != nil || bus.CheckDevice(is.Root) != nil ||
				len(is.RootKey) != ed25519.PublicKeySize) {
			t.Fatalf("%s says %+v", siteFile, is)
		}
		if key, err := keyOf(keyFile, text); known(t, keyFile, err) && len(key) != ed25519.PrivateKeySize {
			t.Fatalf("a key of %d bytes", len(key))
		}
		if heads, err := readBackedUp(text); err == nil {
			for _, h := range heads {
				if bus.CheckDevice(h.Device) != nil {
					t.Fatalf("a backup reaches %v", h)
				}
			}
		}
	})
}

// known reports that there is no error; one that there is must be of a kind, in words.
func known(t *testing.T, what string, err error) bool {
	t.Helper()
	var e *fault.Error
	if err != nil && (!errors.As(err, &e) || e.Kind == fault.Internal || e.Msg == "") {
		t.Fatalf("%s is refused with %v, which is of no kind", what, err)
	}
	return err == nil
}

// What cannot be read of a backup counts as none, in whole.
func TestABackupThatIsToldOfWrongIsNone(t *testing.T) {
	good := backupJSON{Heads: []SavedHead{{"n1", 3, event.Hash{1}}}}
	text, err := json.Marshal(good)
	if err != nil {
		t.Fatal(err)
	}
	want := []chain.Head{{Device: "n1", Seq: 3, Chain: chain.Hash{1}}}
	if got, err := readBackedUp(text); err != nil || !reflect.DeepEqual(got, want) {
		t.Fatalf("%v, %v", got, err)
	}
	for _, damaged := range []string{
		strings.Replace(string(text), `"seq":3`, `"seq":-3`, 1), strings.Replace(string(text), `"n1"`, `"n\n1"`, 1),
		strings.TrimSuffix(string(text), "}]}") + `},{"device":"n2","seq":"x"}]}`,
	} {
		if got, err := readBackedUp([]byte(damaged)); err == nil || got != nil {
			t.Errorf("%s tells of %v, %v", damaged, got, err)
		}
	}
}
