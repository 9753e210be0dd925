package web

import (
	"bufio"
	"compress/gzip"
	"context"
	"crypto/ed25519"
	"io"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/time/rate"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/server/limit"
)

// words of a live page, one a line that says what kind of event it is.
func liveWords(t *testing.T, s shown, root string) (next func() string, leave func()) {
	t.Helper()
	server := httptest.NewServer(s.Handler())
	r, err := http.Get(server.URL + root + "live") //nolint:bodyclose // leave closes it
	if err != nil {
		t.Fatal(err)
	}
	if r.StatusCode != http.StatusOK || !strings.HasPrefix(r.Header.Get("Content-Type"), "text/event-stream") {
		t.Fatalf("live: %d %s", r.StatusCode, r.Header.Get("Content-Type"))
	}
	lines := bufio.NewScanner(r.Body)
	next = func() string {
		for lines.Scan() {
			if kind, is := strings.CutPrefix(lines.Text(), "event: "); is {
				return kind
			}
		}
		return "ended"
	}
	leave = func() {
		_ = r.Body.Close()
		server.Close()
		http.DefaultClient.CloseIdleConnections()
	}
	return next, leave
}

func TestALivePageHearsOfEachChangeAndOfTheEndOfItsLink(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	next, leave := liveWords(t, s, auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key)))
	defer leave()
	if got := next(); got != "beat" {
		t.Fatalf("a page that becomes live hears %q first", got)
	}
	for range 2 {
		if _, err := s.host.Append(event.Noted{Text: "the line is dry"}); err != nil {
			t.Fatal(err)
		}
		if got := next(); got != "change" {
			t.Fatalf("after an event it hears %q", got)
		}
	}
	if err := s.host.Revoke(event.Device(f), "lost"); err != nil {
		t.Fatal(err)
	}
	if got := next(); got != "over" {
		t.Errorf("once the device that made the link is revoked it hears %q", got)
	}
	if got := next(); got != "ended" {
		t.Errorf("and then %q", got)
	}
}

func TestWhatIsLiveEndsWithTheServer(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	root := auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key))
	server := httptest.NewUnstartedServer(s.Handler())
	server.Config.BaseContext = s.server.BaseContext
	server.Start()
	defer server.Close()
	r, err := http.Get(server.URL + root + "live")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	s.Stop()
	if _, err := io.ReadAll(r.Body); err != nil {
		t.Errorf("a live page of a server that stops: %v", err)
	}
	http.DefaultClient.CloseIdleConnections()
}

func TestAPageIsSmallerWhereGzipIsAskedForAndSaysTheSame(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	root := auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key))
	plain := s.get("GET", root).Body.String()
	for accept, zipped := range map[string]bool{
		"gzip": true, "br, gzip;q=0.5": true, "gzip;q=0": false, "br": false, "": false,
	} {
		q, r := httptest.NewRequest("GET", root, nil), httptest.NewRecorder()
		q.Header.Set("Accept-Encoding", accept)
		s.Handler().ServeHTTP(r, q)
		if got := r.Header().Get("Content-Encoding") == "gzip"; got != zipped {
			t.Errorf("%q is answered by %q", accept, r.Header().Get("Content-Encoding"))
			continue
		}
		if !zipped {
			continue
		}
		size := r.Body.Len()
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(z)
		if err != nil || string(text) != plain || size >= len(plain)/2 {
			t.Errorf("%q: %d bytes for %d, %v", accept, size, len(plain), err)
		}
	}
}

func TestALivePagesLinkIsVerifiedOnceAndItsMakerBeforeEachWord(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	var verified atomic.Int64
	s.holds = func(l auth.Link, site string, key ed25519.PublicKey) bool {
		verified.Add(1)
		return l.Holds(site, key)
	}
	next, leave := liveWords(t, s, auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key)))
	defer leave()
	next()
	if _, err := s.host.Append(event.Noted{Text: "the line is dry"}); err != nil {
		t.Fatal(err)
	}
	if got := next(); got != "change" {
		t.Fatalf("after an event it hears %q", got)
	}
	if err := s.host.Revoke(event.Device(f), "lost"); err != nil {
		t.Fatal(err)
	}
	if got := next(); got != "over" {
		t.Errorf("once the device that made the link is revoked it hears %q", got)
	}
	if n := verified.Load(); n != 1 {
		t.Errorf("the link's signature was verified %d times for one connection", n)
	}
}

func TestAReaderBehindAProxyOrALinkSpelledAnewHasNoMoreThanItsShareOfLivePages(t *testing.T) {
	s := newShown(t)
	s.config.TLS = nil
	s.asking, s.shown = limit.NewRate(rate.Inf, 0), rate.NewLimiter(rate.Inf, 0)
	f, key := s.enrolled(t, event.Foreman)
	server := httptest.NewServer(s.Handler())
	ctx, leave := context.WithCancel(context.Background())
	defer func() {
		leave()
		server.Close()
	}()
	live := func(token, from string) int {
		q, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL+auth.LinkPath(token)+"live", nil)
		if err != nil {
			t.Fatal(err)
		}
		q.Header.Set("X-Forwarded-For", "203.0.113.1, "+from)
		r, err := http.DefaultClient.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = r.Body.Close() })
		return r.StatusCode
	}
	links := make([]string, 2)
	for i := range links {
		links[i] = auth.NewLink("dune", f, noon.Add(time.Duration(1+i)*time.Hour), key)
	}
	parts := strings.Split(links[0], ".")
	spelled := strings.Join([]string{parts[0], "0" + strings.ToUpper(parts[1]), parts[2]}, ".")
	for n := range 100 {
		from := "198.51.100." + strconv.Itoa(n/20)
		if got := live([]string{links[0], spelled}[n%2], from); got != http.StatusOK {
			t.Fatalf("page %d by one link, from %s: %d", n+1, from, got)
		}
	}
	for _, c := range []struct {
		what, token, from string
		want              int
	}{
		{"a reader who has its share, by another link", links[1], "198.51.100.0", http.StatusTooManyRequests},
		{"another reader by the link that has its share", links[0], "198.51.100.9", http.StatusTooManyRequests},
		{"the same with the link spelled anew", spelled, "198.51.100.9", http.StatusTooManyRequests},
		{"another reader by another link", links[1], "198.51.100.9", http.StatusOK},
	} {
		if got := live(c.token, c.from); got != c.want {
			t.Errorf("%s: %d, want %d", c.what, got, c.want)
		}
	}
}
