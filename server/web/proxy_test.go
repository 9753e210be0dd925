package web

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"golang.org/x/time/rate"

	"hod/server/limit"
)

func TestReadersBehindAProxyHaveAShareEach(t *testing.T) {
	s := newShown(t)
	s.config.TLS = nil
	s.asking, s.shown = limit.NewRate(0, 2), rate.NewLimiter(rate.Inf, 0)
	from := func(names string) int {
		q, r := httptest.NewRequest("GET", "/", nil), httptest.NewRecorder()
		q.RemoteAddr = "127.0.0.1:9"
		q.Header.Set("X-Forwarded-For", names)
		s.Handler().ServeHTTP(r, q)
		return r.Code
	}
	for i, want := range []int{http.StatusNotFound, http.StatusNotFound, http.StatusTooManyRequests} {
		if got := from("203.0.113.1, 198.51.100.7"); got != want {
			t.Errorf("question %d of one reader: %d, want %d", i+1, got, want)
		}
	}
	if got := from("198.51.100.7, 198.51.100.8"); got != http.StatusNotFound {
		t.Errorf("another reader, who claims to be the first: %d", got)
	}
}
