package cli

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
)

// ownFolder is crew north's folder after its last contacts.
func ownFolder(t *testing.T, d journal.Device, contacts ...journal.Contact) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "n2")
	root := rootJournal(t)
	defer root.Close()
	j, err := journal.Create(dir, d)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if err := bring(root, j); err != nil {
		t.Fatal(err)
	}
	for _, c := range contacts {
		if err := j.SetContact(t.Context(), c); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// A board says how old the copy is that it was made of, and never that it is the site's of now.
func TestAViewOfTheOwnCopySaysWhenItLastMetTheServer(t *testing.T) {
	now := time.Date(2026, 7, 18, 13, 29, 30, 0, time.UTC)
	met := now.Add(-9*time.Minute - 10*time.Second)
	for name, k := range map[string]struct {
		contacts   []journal.Contact
		line, json string
	}{
		"it never met the server": {
			nil, "Own copy, which has never met the server: what others wrote is not in it.",
			`"own_copy":{"met_the_server":false}}`,
		},
		"nine minutes ago": {
			[]journal.Contact{{At: met, Fetched: met}},
			"Own copy, as of 13:20, 9 min ago.",
			`"own_copy":{"met_the_server":true,"as_of":"2026-07-18T13:20:20.000Z","age_s":550}}`,
		},
		"nine minutes ago, by a clock that is two minutes slow": {
			[]journal.Contact{{At: met, Fetched: met.Add(2 * time.Minute), Offset: 2 * time.Minute}},
			"Own copy, as of 13:22, 9 min ago.",
			`"as_of":"2026-07-18T13:22:20.000Z","age_s":550}}`,
		},
		"a later contact broke off": {
			[]journal.Contact{{At: met, Fetched: met}, {At: now.Add(-time.Minute), Fetched: met}},
			"Own copy, as of 13:20, 9 min ago.", `"age_s":550}}`,
		},
		"the only contact broke off": {
			[]journal.Contact{{At: met}},
			"Own copy, never fetched in full: `hod sync` fetches what others wrote.",
			`"own_copy":{"met_the_server":true}}`,
		},
		"just now": {
			[]journal.Contact{{At: now, Fetched: now}},
			"Own copy, as of 13:29, now.",
			`"age_s":0}}`,
		},
		"the clock was set back": {
			[]journal.Contact{{At: now.Add(time.Hour), Fetched: now.Add(time.Hour)}},
			"Own copy, as of 14:29, and this device's clock was set back since.", `"age_s":-3600}}`,
		},
	} {
		dir := ownFolder(t, deviceOf("n2"), k.contacts...)
		for _, words := range []string{
			"board", "joints", "joints --old", "day", "flags", "log", "forecast", "stock list", "zone list", "mix list",
		} {
			out := func(more ...string) string {
				var stdout, stderr bytes.Buffer
				if code := Run(t.Context(), &Env{
					Args: append(strings.Fields(words), append(more, "--dir", dir)...), Stdin: strings.NewReader(""),
					Stdout: &stdout, Stderr: &stderr, Width: 120,
					Now: func() time.Time { return now }, Local: time.UTC, Random: zeros{},
					Getenv: func(string) string { return "" },
				}); code != 0 {
					t.Fatalf("%s: %s ended with %d: %s", name, words, code, &stderr)
				}
				return stdout.String()
			}
			plain := strings.Join(strings.Fields(out()), " ") // a page may be narrow
			if !strings.Contains(plain, k.line) {
				t.Errorf("%s: %s does not say %q:\n%s", name, words, k.line, out())
			}
			if doc := out("--json"); !strings.HasSuffix(doc, k.json+"\n") {
				t.Errorf("%s: %s does not end with %s:\n%s", name, words, k.json, doc)
			}
		}
	}
}

// anyAuthority is a certificate that a device can be told to trust.
func anyAuthority(t *testing.T) []byte {
	t.Helper()
	public, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	form := &x509.Certificate{SerialNumber: big.NewInt(1)}
	der, err := x509.CreateCertificate(rand.Reader, form, form, public, key)
	if err != nil {
		t.Fatal(err)
	}
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
}

// A board that stays tries to fetch before each showing; the server here hangs up on it, and it is shown all the same.
func TestABoardThatStaysFetchesEachTurn(t *testing.T) {
	server, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer server.Close()
	d := deviceOf("n2")
	d.Bus, d.CA = server.Addr().String(), anyAuthority(t)
	met := time.Date(2026, 7, 18, 13, 20, 0, 0, time.UTC)
	dir := ownFolder(t, d, journal.Contact{At: met, Fetched: met})
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var stdout, stderr bytes.Buffer
	done, tries := make(chan int, 1), make(chan struct{}, 100)
	go func() {
		for {
			c, err := server.Accept()
			if err != nil {
				return
			}
			tries <- struct{}{}
			c.Close()
		}
	}()
	turn := met.Add(9*time.Minute + 59*time.Second + 999*time.Millisecond) // the next minute is a millisecond away
	go func() {
		done <- Run(ctx, &Env{
			Args: []string{"board", "--stay", "--dir", dir}, Stdin: strings.NewReader(""), Stdout: &stdout,
			Stderr: &stderr, Width: 120,
			Now: func() time.Time { return turn }, Local: time.UTC, Random: zeros{},
			Getenv: func(string) string { return "" },
		})
	}()
	for range 3 {
		select {
		case <-tries:
		case code := <-done:
			t.Fatalf("it ended with %d: %s", code, &stderr)
		}
	}
	cancel()
	if code := <-done; code != 0 {
		t.Errorf("it ended with %d: %s", code, &stderr)
	}
	if n := strings.Count(stdout.String(), "Own copy, as of 13:20, 9 min ago."); n < 2 {
		t.Errorf("the board was shown %d times with its age:\n%s", n, &stdout)
	}
}
