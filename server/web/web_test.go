package web

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"
	"golang.org/x/time/rate"

	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/web"
	"hod/server/enrol"
	"hod/server/host"
	"hod/server/limit"
)

// What a test started has ended when all are done.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

// still is a stream in which nothing happens.
type still struct{}

func (still) State(context.Context) (bus.State, error) { return bus.State{}, nil }

func (still) Consume(ctx context.Context, _ uint64, _ func(bus.Message) error) error {
	<-ctx.Done()
	return ctx.Err()
}

func (still) Publish(context.Context, event.Device, []byte) error { return nil }

// shown is the pages of a host, without a network.
type shown struct {
	*Web
	host *host.Host
	log  *bytes.Buffer
}

func newShown(t testing.TB) shown {
	t.Helper()
	var log bytes.Buffer
	h, err := host.Open(t.TempDir(), host.Config{
		Site: "dune", Now: func() time.Time { return noon },
		Log: zerolog.Nop(),
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- h.Follow(ctx, still{}) }()
	t.Cleanup(func() {
		cancel()
		if err := errors.Join(<-done, h.Close()); err != nil {
			t.Error(err)
		}
	})
	<-h.Whole()
	w := New(Config{
		Host: h, TLS: &tls.Config{}, Place: func(*fold.Site) *time.Location { return time.UTC },
		Log: zerolog.New(&log),
	})
	return shown{w, h, &log}
}

// enrolled is a device of that role, and its key.
func (s shown) enrolled(t testing.TB, role event.Role) (string, ed25519.PrivateKey) {
	t.Helper()
	i := enrol.Invitation{Role: role, For: time.Hour, Uses: 1}
	if role == event.CrewRole {
		i.Crew = "north"
	}
	secret, err := s.host.Invite(i)
	if err != nil {
		t.Fatal(err)
	}
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	text := secret.String()
	m, err := s.host.Enrol(context.Background(), enrol.Applicant{
		Secret: text, Key: key.Public().(ed25519.PublicKey),
		Proof: ed25519.Sign(key, []byte(text)),
	})
	if err != nil {
		t.Fatal(err)
	}
	return string(m.Device), key
}

func (s shown) get(method, path string) *httptest.ResponseRecorder {
	r := httptest.NewRecorder()
	s.Handler().ServeHTTP(r, httptest.NewRequest(method, path, nil))
	return r
}

func TestOnlyALinkOfAForemanOpensThePages(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	n, crewKey := s.enrolled(t, event.CrewRole)
	lost, lostKey := s.enrolled(t, event.Foreman)
	until := noon.Add(time.Hour)
	made := auth.LinkPath(auth.NewLink("dune", lost, until, lostKey))
	if r := s.get("GET", made); r.Code != http.StatusOK {
		t.Fatalf("before the revocation: %d %s", r.Code, r.Body)
	}
	if err := s.host.Revoke(event.Device(lost), "left in the rain"); err != nil {
		t.Fatal(err)
	}
	_, stranger, _ := ed25519.GenerateKey(nil)
	for _, c := range []struct {
		name, path string
		code       int
		says       string
	}{
		{"a foreman's link", auth.LinkPath(auth.NewLink("dune", f, until, key)), http.StatusOK, "<h1>dune</h1>"},
		{
			"for its last second", auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Second), key)), http.StatusOK,
			"<h1>dune</h1>",
		},
		{
			"run out", auth.LinkPath(auth.NewLink("dune", f, noon, key)), http.StatusForbidden,
			"ran out on 18 Jul 2026 12:00 UTC",
		},
		{
			"for longer than a link may", auth.LinkPath(auth.NewLink("dune", f, noon.Add(32*24*time.Hour), key)),
			http.StatusForbidden, "31 days at most",
		},
		{"of a device that was revoked since", made, http.StatusForbidden, "was revoked"},
		{"a crew's", auth.LinkPath(auth.NewLink("dune", n, until, crewKey)), http.StatusForbidden, "Only a foreman"},
		{
			"signed by a stranger", auth.LinkPath(auth.NewLink("dune", f, until, stranger)), http.StatusForbidden,
			"not a link",
		},
		{"another site's", auth.LinkPath(auth.NewLink("reef", f, until, key)), http.StatusForbidden, "not a link"},
		{"nobody's", auth.LinkPath(auth.NewLink("dune", "z9", until, key)), http.StatusForbidden, "not a link"},
		{"no token", "/see/", http.StatusForbidden, "not a link"},
		{"no link at all", "/", http.StatusNotFound, "not a link"},
		{"a path upwards", "/see/../../etc/passwd", http.StatusForbidden, "not a link"},
	} {
		r := s.get("GET", c.path)
		if r.Code != c.code || !strings.Contains(r.Body.String(), c.says) {
			t.Errorf("%s: %d, want %d and %q:\n%s", c.name, r.Code, c.code, c.says, r.Body)
		}
		if strings.Contains(r.Body.String(), "No crew is planned") != (c.code == http.StatusOK) {
			t.Errorf("%s: the board is shown, or is not:\n%s", c.name, r.Body)
		}
	}
	if strings.Contains(s.log.String(), "see/") {
		t.Errorf("the log holds a link: %s", s.log)
	}
}

func TestThePagesAreForReadingOnly(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	root := auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key))
	before := s.host.Latest()
	for _, method := range []string{"POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "BREW"} {
		if r := s.get(method, root); r.Code != http.StatusMethodNotAllowed || r.Header().Get("Allow") != "GET, HEAD" {
			t.Errorf("%s: %d, allowed is %q", method, r.Code, r.Header().Get("Allow"))
		}
	}
	if r := s.get("HEAD", root); r.Code != http.StatusOK || r.Body.Len() != 0 {
		t.Errorf("HEAD: %d with %d bytes", r.Code, r.Body.Len())
	}
	for _, name := range web.Names() {
		want := http.StatusOK
		if slices.Contains([]string{"zone", "joint", "flag", "why", "event"}, name) {
			want = http.StatusNotFound // there is none of no name
		}
		r := s.get("GET", root+name)
		if r.Code != want {
			t.Errorf("%s: %d:\n%s", name, r.Code, r.Body)
		}
		for header, part := range map[string]string{
			"Content-Security-Policy": "default-src 'none'", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store",
			"X-Content-Type-Options": "nosniff", "Content-Type": "text/html; charset=utf-8",
		} {
			if got := r.Header().Get(header); !strings.Contains(got, part) {
				t.Errorf("%s: %s is %q, want %q in it", name, header, got, part)
			}
		}
		if body := strings.ToLower(r.Body.String()); strings.Count(body, "<script") > strings.Count(body,
			"<script>'use strict';") || strings.Contains(body, "<form") || strings.Contains(body, "src=") {
			t.Errorf("%s has a script of another, a form or loads something", name)
		}
	}
	for _, path := range []string{
		"day/2026-02-30", "day/2199-01-01/x", "day/today", "zone/Z9", "zone/%3Cscript%3E",
		"nothing", "board/../../x",
	} {
		if r := s.get("GET", root+path); r.Code != http.StatusNotFound && r.Code != http.StatusOK ||
			strings.Count(r.Body.String(), "<script") > strings.Count(r.Body.String(), "<script>'use strict';") {
			t.Errorf("%s: %d:\n%s", path, r.Code, r.Body)
		}
	}
	if s.host.Latest() != before {
		t.Error("reading pages wrote an event")
	}
}

func TestStyleAndScriptAreThoseThatThePolicyNames(t *testing.T) {
	s := newShown(t)
	body := s.get("GET", "/").Body.String()
	f, key := s.enrolled(t, event.Foreman)
	body += s.get("GET", auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key))).Body.String()
	for _, element := range []string{"style", "script"} {
		_, rest, _ := strings.Cut(body, "<"+element+">")
		got, _, _ := strings.Cut(rest, "</"+element+">")
		sum := sha256.Sum256([]byte(got))
		if !strings.Contains(web.Headers["Content-Security-Policy"],
			"sha256-"+base64.StdEncoding.EncodeToString(sum[:])) {
			t.Errorf("a browser would not take the %s that is sent", element)
		}
	}
}

func TestManyQuestionsAtOnceAreToldToWait(t *testing.T) {
	s := newShown(t)
	s.asking = limit.NewRate(0, 3)
	for i := range 5 {
		want := http.StatusNotFound
		if i >= 3 {
			want = http.StatusTooManyRequests
		}
		if r := s.get("GET", "/"); r.Code != want {
			t.Errorf("question %d: %d, want %d", i+1, r.Code, want)
		}
	}
}

func TestAFloodOfLinksThatOpenNothingLeavesThePagesToThoseWhoseLinksDo(t *testing.T) {
	s := newShown(t)
	s.asking, s.shown = limit.NewRate(0, 3), rate.NewLimiter(0, 2)
	device, key := s.enrolled(t, event.Foreman)
	link := auth.LinkPath(auth.NewLink("dune", device, noon.Add(time.Hour), key))
	from := func(address, path string) int {
		q, r := httptest.NewRequest("GET", path, nil), httptest.NewRecorder()
		q.RemoteAddr = address
		s.Handler().ServeHTTP(r, q)
		return r.Code
	}
	for i := range 100 {
		from("198.51.100.1:1", fmt.Sprintf("/see/%d/board", i))
		from(fmt.Sprintf("198.51.100.%d:1", 2+i), "/see/nothing/board")
	}
	for range 2 {
		if got := from("203.0.113.9:1", link+"board"); got != http.StatusOK {
			t.Errorf("who has a link is answered %d during a flood from elsewhere", got)
		}
	}
	if got := from("203.0.113.10:1", link+"board"); got != http.StatusTooManyRequests {
		t.Errorf("pages beyond what all may have are answered %d", got)
	}
}

func publicOf(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }
