package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/time/rate"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/internal/plan"
	"hod/internal/web"
	"hod/server/limit"
	example "hod/testdata/plan"
)

// Any address ends in a page, or in being told that there is none: no fault, nothing of what was asked for in the page
// as markup, nothing written, no page without a link. LINK in an address stands for a foreman's token.
func FuzzPages(f *testing.F) {
	s := newShown(f)
	s.asking, s.shown = limit.NewRate(rate.Inf, 0), rate.NewLimiter(rate.Inf, 0)
	read, err := plan.Read("vault_us.yaml", example.VaultUS, nil)
	if err != nil {
		f.Fatal(err)
	}
	for _, b := range []event.Body{
		read.Site, read.Mixes[0], read.Zones[0], read.Coats[0], event.Noted{Text: "<script>alert(1)</script>"},
	} {
		if _, err := s.host.Append(b); err != nil {
			f.Fatal(err)
		}
	}
	device, key := s.enrolled(f, event.Foreman)
	token := auth.NewLink("dune", device, noon.Add(time.Hour), key)
	before := s.host.Latest()
	for _, name := range web.Names() {
		f.Add("/see/LINK/" + name)
	}
	for _, path := range []string{
		"/", "/see/", "/see/LINK", "/see/LINK/", "/see/LINK/zone/D1", "/see/LINK/map?coat=outer-1&bay=1", "/see/LINK/log?kind=note&page=9", "/see/LINK/event/zik0zj/1", "/see/LINK/joint/aaaaa", "/see/LINK/flag/aaaaa", "/see/LINK/live", "/see/LINK/zone/%3Cscript%3E", "/see/LINK/day/2026-07-18", "/see/LINK/day/0000-01-01",
		"/see/LINK/day/9999-12-31?at=1", "/see/LINK//board", "/see/LINK/board/../log", "/see/..", "http://hod.example/see/LINK/log", "/see/ZjE.zik0zj.AA/board", "*",
	} {
		f.Add(path)
	}
	handler := s.Handler()
	f.Fuzz(func(t *testing.T, path string) {
		at, err := url.ParseRequestURI(strings.ReplaceAll(path, "LINK", token))
		if err != nil {
			return // net/http answers such a request itself
		}
		r := httptest.NewRecorder()
		gone, leave := context.WithCancel(context.Background())
		leave()
		handler.ServeHTTP(r, (&http.Request{Method: http.MethodGet, URL: at, Header: http.Header{}}).WithContext(gone))
		body := r.Body.String()
		switch r.Code {
		case http.StatusOK:
			if !strings.Contains(at.Path, token) {
				t.Fatalf("%q opens a page without a link", path)
			}
		case http.StatusSeeOther: // to the address with its last slash
		case http.StatusForbidden, http.StatusNotFound:
			if strings.Contains(body, "<nav") {
				t.Fatalf("%q: code %d, and the pages are offered", path, r.Code)
			}
		default:
			t.Fatalf("%q: code %d", path, r.Code)
		}
		if strings.Contains(path, "/live") && r.Code == http.StatusOK {
			return // what is live ends with its reader
		}
		if strings.Count(body, "<script") > strings.Count(body, "<script>'use strict';") || len(body) > 1<<20 {
			t.Fatalf("%q: a page of %d bytes: %.2000s", path, len(body), body)
		}
		if s.log.Len() > 0 {
			t.Fatalf("%q: %s", path, s.log)
		}
		if s.host.Latest() != before {
			t.Fatalf("%q wrote an event", path)
		}
	})
}
