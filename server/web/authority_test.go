package web

import (
	"bytes"
	"net/http"
	"strings"
	"testing"
	"time"

	"hod/internal/auth"
	"hod/internal/event"
)

func TestAShortLinkOpensThePagesAsALongOneDoesAndEndsAsOneDoes(t *testing.T) {
	s := newShown(t)
	f, key := s.enrolled(t, event.Foreman)
	n, crewKey := s.enrolled(t, event.CrewRole)
	public := publicOf(key)
	short := func(device string, until time.Time) string {
		return auth.NewShortLink(s.host.ShortLinkKey(), s.host.Site(), device, public, until)
	}
	good := short(f, noon.Add(time.Hour))
	for _, path := range []string{auth.ShortPath(good), auth.ShortPath(strings.ToLower(good)), auth.ShortPath(good) +
		"zones"} {
		if r := s.get("GET", path); r.Code != http.StatusOK ||
			!strings.Contains(r.Body.String(), "The link holds until 18 Jul 2026 13:00 UTC.") {
			t.Errorf("%s: %d %.300s", path, r.Code, r.Body)
		}
	}
	if r := s.get("GET", strings.TrimSuffix(auth.ShortPath(good), "/")); r.Code != http.StatusSeeOther ||
		r.Header().Get("Location") != auth.ShortPath(good) {
		t.Errorf("without its slash it leads to %d %q", r.Code, r.Header().Get("Location"))
	}
	ofCrew := auth.NewShortLink(s.host.ShortLinkKey(), s.host.Site(), n, publicOf(crewKey), noon.Add(time.Hour))
	for name, code := range map[string]string{
		"one that ran out": short(f, noon.Add(-time.Minute)), "one of a crew": ofCrew, "one that holds too long": short(
			f, noon.Add(32*24*time.Hour)),
		"one of nobody": short("x9", noon.Add(time.Hour)), "no code": "f1-0000", "nothing": "",
	} {
		if r := s.get("GET", auth.ShortPath(code)); r.Code != http.StatusForbidden {
			t.Errorf("%s: %d %.200s", name, r.Code, r.Body)
		}
	}
	if err := s.host.Revoke(event.Device(f), "lost"); err != nil {
		t.Fatal(err)
	}
	if r := s.get("GET", auth.ShortPath(good)); r.Code != http.StatusForbidden ||
		!strings.Contains(r.Body.String(), "revoked") {
		t.Errorf("after its device was revoked: %d %.200s", r.Code, r.Body)
	}
}

func TestTheAuthorityIsFetchedWithItsWordsAndOnlyWhereThePagesShowIt(t *testing.T) {
	s := newShown(t)
	if r := s.get("GET", "/authority"); r.Code != http.StatusNotFound {
		t.Errorf("pages whose certificate browsers know tell of an authority: %d", r.Code)
	}
	s.config.Authority = []byte("a certificate")
	page := s.get("GET", "/authority")
	words := auth.FingerprintOf(s.config.Authority).Words()
	for _, w := range words {
		if !strings.Contains(page.Body.String(), w) {
			t.Errorf("the page does not say %q", w)
		}
	}
	if !strings.Contains(page.Body.String(), `href="authority.crt"`) ||
		!strings.Contains(page.Body.String(), "only if the foreman reads") {
		t.Errorf("the page leads to no certificate, or does not say what to compare:\n%s", page.Body)
	}
	file := s.get("GET", "/authority.crt")
	if file.Header().Get("Content-Type") != "application/x-x509-ca-cert" ||
		!bytes.Equal(file.Body.Bytes(), s.config.Authority) {
		t.Errorf("the file is %s: %q", file.Header().Get("Content-Type"), file.Body)
	}
	f, key := s.enrolled(t, event.Foreman)
	link := auth.LinkPath(auth.NewLink("dune", f, noon.Add(time.Hour), key))
	if r := s.get("GET", link+"zone/A3"); r.Code != http.StatusNotFound {
		t.Fatalf("a page of no zone: %d", r.Code)
	}
	if r := s.get("GET", link); !strings.Contains(r.Body.String(), `href="../../authority"`) {
		t.Errorf("the pages do not lead to it:\n%.600s", r.Body)
	}
	if r := s.get("GET", link+"day/2026-07-18"); !strings.Contains(r.Body.String(), `href="../../../authority"`) {
		t.Errorf("a page further down does not lead to it")
	}
}
