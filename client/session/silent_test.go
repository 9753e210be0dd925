package session

import (
	"bytes"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/terminal"
	"hod/internal/event"
)

// anAuthority is a certificate that signs for itself, as a site's authority does.
func anAuthority(t *testing.T) []byte {
	t.Helper()
	key := shelfKey("authority")
	of := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: shelfNow.AddDate(-9, 0, 0), NotAfter: shelfNow.AddDate(9, 0, 0),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
	}
	signed, err := x509.CreateCertificate(rand.Reader, of, of, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: signed})
}

func TestASilentServerIsTriedOnceAndThenNotForAWhile(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0") // it takes calls and never says a word
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	var calls atomic.Int32
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			calls.Add(1)
			defer c.Close()
		}
	}()
	dir := filepath.Join(t.TempDir(), "d0")
	seasonIn(t, dir, "d0", nil)
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if err := j.SetServer(t.Context(), "s.example:1", ln.Addr().String(), anAuthority(t)); err != nil {
		t.Fatal(err)
	}
	now := shelfNow
	if _, err := j.Append(t.Context(), now, event.Event{HappenedAt: now, Body: event.Noted{Text: "wind"}}); err != nil {
		t.Fatal(err)
	}
	var told bytes.Buffer
	s := &Session{dir: dir, Journal: j, Device: j.Device(), Env: &Env{
		Streams: &terminal.Streams{Stderr: &told, Stdout: &told, Getenv: func(string) string { return "" }},
		Now:     func() time.Time { return now },
	}}
	for _, k := range []struct {
		what  string
		later time.Duration
		calls int32
		said  string
	}{
		{"first", 0, 1, "1 event waits; "},
		{"at once after", 0, 1, "1 event waits (the server did not answer a moment ago); "},
		{"a while after", silentFor, 2, "1 event waits; "},
		{"once the clock was set back", -time.Hour, 3, "1 event waits; "},
	} {
		told.Reset()
		now = now.Add(k.later)
		s.Send(t.Context())
		if got := calls.Load(); got != k.calls {
			t.Errorf("%s: the server was called %d times by now, not %d", k.what, got, k.calls)
		}
		if !strings.Contains(told.String(), k.said) {
			t.Errorf("%s: it said %q", k.what, told.String())
		}
	}
}

func TestAServerThatAnsweredSinceItWasSilentIsTriedAtOnce(t *testing.T) {
	dir := t.TempDir()
	env := &Env{Dir: dir, Now: func() time.Time { return shelfNow }}
	s := &Session{dir: dir, Env: env}
	if s.setSilent(); !s.isSilent() {
		t.Fatal("nothing was remembered")
	}
	if env.answered(); s.isSilent() {
		t.Error("the server answered, and is not tried")
	}
}
