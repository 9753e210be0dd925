package host

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/invite"
)

// Any bytes as a file of the data folder end in what the file can say, or in an error: an order, an answer, how far the
// stream was read, the site, its key, an invitation, the last backup.
func FuzzFolderFiles(f *testing.F) {
	id := identity{"dune", rootDevice, ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))}
	public := hex.EncodeToString(publicKey(id.key))
	hash := strings.Repeat("0a", len(event.Hash{}))
	r := reached{Stream: checkpoint{Settled: position{Seq: 3}, Top: position{7, event.Hash{1}}, Seen: map[event.Device][]run{"n1": {{1, 4}, {9, 9}}}}, Heads: []savedHead{{"n1", 4, event.Hash{2}}}}
	message, err := r.signed(id.site)
	if err != nil {
		f.Fatal(err)
	}
	r.Signature = hex.EncodeToString(ed25519.Sign(id.key, message))
	saved, err := json.Marshal(r)
	if err != nil {
		f.Fatal(err)
	}
	secret := invite.Secret{1, 2, 3}
	sum := digest(secret.String())
	for _, text := range []string{
		string(saved), strings.Replace(string(saved), `"seq":7`, `"seq":8`, 1),
		`{"revoke":"n2","why":"left in the rain"}`, `{"check_stream":true}`, `{}`, `{"revoke":"n2","check_stream":true}`, `null`, `[]`,
		`{"kind":4,"wrong":"no device"}`, `{"kind":0,"checked":{}}`,
		`{"version":1,"site":"dune","root":"site","root_key":"` + public + `"}`, `{"version":2,"site":"dune"}`,
		hex.EncodeToString(id.key.Seed()) + "\n", "00",
		`{"secret_sha256":"` + hex.EncodeToString(sum[:]) + `","role":"crew","crew":"north","expires":"2026-07-18T08:00:00Z","uses":2,"taken":[{"device":"n9","key":"00","at":"2026-07-18T07:00:00Z"}]}`,
		`{"at":"2026-07-18T07:00:00Z","dir":"/media/stick","heads":[{"device":"n1","seq":3,"chain":"` + hash + `"}]}`,
		`{"heads":[{"device":"","seq":3}]}`, `{"heads":[{"device":"n1","chain":"0"}]}`,
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		o, err := readOrder(text)
		if known(t, "an order", err) && (o.Revoke == "") != o.Check {
			t.Fatalf("the order %+v", o)
		}
		_, _ = readAnswer(text) // and does not panic
		if is, err := siteOf(siteFile, text); known(t, siteFile, err) &&
			(bus.CheckSite(is.Site) != nil || bus.CheckDevice(is.Root) != nil || len(is.RootKey) != ed25519.PublicKeySize) {
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
		var r reached
		if json.Unmarshal(text, &r) == nil {
			// What is signed again as it was read is read as the same.
			message, err := r.signed(id.site)
			if err != nil {
				t.Fatalf("what was read cannot be signed: %v", err)
			}
			if _, err := reachedOf(text, id); err == nil && !strings.EqualFold(r.Signature, hex.EncodeToString(ed25519.Sign(id.key, message))) {
				t.Fatalf("it counts under the signature %q", r.Signature)
			}
			r.Signature = hex.EncodeToString(ed25519.Sign(id.key, message))
			whole, err := json.Marshal(r)
			if err != nil {
				t.Fatal(err)
			}
			again, err := reachedOf(whole, id)
			if err != nil {
				t.Fatalf("%s\nis read anew with %v", whole, err)
			}
			if b, err := json.Marshal(again); err != nil || string(b) != string(whole) {
				t.Fatalf("%s\nis read anew as\n%s, %v", whole, b, err)
			}
			r.trusted()(chain.Head{})
			at := r.checkpoint()
			at.has("n1", 1, 2)
			_, _ = r.compare(newLog(id))
		}
		one := &invitation{}
		if json.Unmarshal(text, one) == nil {
			if found := find([]*invitation{one}, secret.String()); (found != nil) != strings.EqualFold(one.Secret, hex.EncodeToString(sum[:])) {
				t.Fatalf("the secret opens %q: %v", one.Secret, found != nil)
			}
			promised([]*invitation{one}, "")
			if b, err := bodyOf(one, Applicant{Crew: "south", Key: publicKey(id.key)}); known(t, "an invitation", err) && b.Role == event.NoRole {
				t.Fatalf("it lets in %+v", b)
			}
		}
	})
}

// known says that there is no error; one that there is must be of a kind, in words.
func known(t *testing.T, what string, err error) bool {
	t.Helper()
	var e *Error
	if err != nil && (!errors.As(err, &e) || e.Kind == Internal || e.Msg == "") {
		t.Fatalf("%s is refused with %v, which is of no kind", what, err)
	}
	return err == nil
}

// An order that is none is answered with what is wrong with it, and changes nothing; what is no file of an order is left.
func TestAnOrderThatCannotBeReadIsAnsweredSo(t *testing.T) {
	dir := t.TempDir()
	r := start(t, dir, newStream())
	folder := filepath.Join(dir, ordersDir)
	if err := os.MkdirAll(filepath.Join(folder, "deep"+orderEnd, "er"), 0o700); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		r.TakeOrders(ctx, Orders{
			Revoked: func(d event.Device) { t.Errorf("%s was revoked", d) },
			Check: func(context.Context) (StreamChecked, error) {
				t.Error("the stream was checked")
				return StreamChecked{}, nil
			},
		})
		close(done)
	}()
	for name, c := range map[string]struct{ text, says string }{
		"a": {"revoke n2", "no JSON"},
		"b": {"{}", "does not say which"},
		"c": {`{"revoke":"n2","check_stream":true}`, "does not say which"},
		"d": {`{"why":"` + strings.Repeat("x", maxOrder) + `"}`, "65536 bytes at most"},
		"e": {`{"revoke":"n2"}`, "no device n2"},
	} {
		path := filepath.Join(folder, name)
		if err := replaceFile(path+orderEnd, []byte(c.text)); err != nil {
			t.Fatal(err)
		}
		r.until("the order "+name+" is answered", func() bool { return exists(path + answerEnd) })
		text, err := os.ReadFile(path + answerEnd)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := readAnswer(text); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%.40q is answered with %v; want %q", c.text, err, c.says)
		}
	}
	cancel()
	select {
	case <-done:
	case <-time.After(time.Minute):
		t.Error("orders are still taken")
	}
	if !exists(filepath.Join(folder, "deep"+orderEnd, "er")) {
		t.Error("what is no file was taken for an order")
	}
}

// What cannot be read of a backup counts as none, in whole.
func TestABackupThatIsToldOfWrongIsNone(t *testing.T) {
	good := backupRecord{Heads: []savedHead{{"n1", 3, event.Hash{1}}}}
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
