//go:build browser

package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/rs/zerolog"

	"hod/internal/event"
)

// A note of a crew is on the page of a foreman who looks at it, in a second; what was open, in focus and scrolled to
// stays.
func TestAnOpenPageFollowsTheRecordAndKeepsItsPlace(t *testing.T) {
	ctx := browser(t)
	r := vault(t)
	s := served(t, r)
	do(t, ctx, looks[0].set(), chromedp.Navigate(s.URL+"/p/now"), chromedp.WaitReady("main"))
	until(t, ctx, `document.getElementById('live').textContent === 'Live.'`)
	value[bool](t, ctx,
		`(() => { const d = document.getElementById('maptable'); d.open = true; document.querySelector('#settle a').focus(); scrollTo(0, 900); return true })()`)
	at := value[float64](t, ctx, `scrollY`)
	href := value[string](t, ctx, `document.activeElement.getAttribute('href')`)
	began := time.Now()
	r.write(t, "n3", "north", event.Noted{Text: "the line is dry"})
	until(t, ctx, `document.getElementById('crews').textContent.includes('the line is dry')`)
	t.Logf("the page shows it after %s", time.Since(began).Round(time.Millisecond))
	if !value[bool](t, ctx, `document.getElementById('maptable').open`) {
		t.Error("what was folded out is closed")
	}
	if got := value[string](t, ctx,
		`document.activeElement.getAttribute('href') || document.activeElement.tagName`); got != href {
		t.Errorf("the focus went from %s to %s", href, got)
	}
	if got := value[float64](t, ctx, `scrollY`); got < at-60 || got > at+60 {
		t.Errorf("the page went from %.0f to %.0f", at, got)
	}
}

// lossy is a server that can be lost and come back under the same address.
type lossy struct {
	*httptest.Server
	lost, closed atomic.Bool
}

func newLossy(t *testing.T, r Record) *lossy {
	t.Helper()
	l := &lossy{}
	pages := New(r, zerolog.Nop())
	l.Server = httptest.NewServer(http.HandlerFunc(func(to http.ResponseWriter, q *http.Request) {
		switch {
		case l.lost.Load():
			panic(http.ErrAbortHandler) // the line is cut
		case l.closed.Load():
			pages.Refuse(to, q, http.StatusForbidden, "This link ran out.")
		default:
			pages.Answer(to, q, Visit{Path: strings.TrimPrefix(q.URL.Path, "/p/")})
		}
	}))
	t.Cleanup(func() {
		l.CloseClientConnections()
		l.Close()
	})
	return l
}

// A page that hears nothing says how old it is, stays, opens no browser's error, and is live again by itself.
func TestALostServerIsSaidAndComesBackByItself(t *testing.T) {
	ctx := browser(t)
	r := vault(t)
	s := newLossy(t, r)
	do(t, ctx, chromedp.Navigate(s.URL+"/p/now"), chromedp.WaitReady("main"))
	until(t, ctx, `document.getElementById('live').textContent === 'Live.'`)
	s.lost.Store(true)
	s.CloseClientConnections()
	until(t, ctx,
		`document.getElementById('live').className === 'stale' && /old/.test(document.getElementById('age').textContent)`)
	do(t, ctx, chromedp.Click(chromedp.CSS(`#more a[href$="joints"]`)))
	until(t, ctx, `document.getElementById('live').textContent.includes('does not answer')`)
	if got := value[string](t, ctx, `document.querySelector('h1').textContent`); !strings.Contains(got, "Aldeira") {
		t.Errorf("the page is gone: %s", got)
	}
	s.lost.Store(false)
	r.write(t, "n3", "north", event.Noted{Text: "back again"})
	until(t, ctx,
		`document.getElementById('live').textContent === 'Live.' && document.getElementById('crews').textContent.includes('back again')`)
}

func TestALinkThatRunsOutWhileThePageIsOpenIsSaidAndThePageStays(t *testing.T) {
	ctx := browser(t)
	r := vault(t)
	s := newLossy(t, r)
	do(t, ctx, chromedp.Navigate(s.URL+"/p/now"), chromedp.WaitReady("main"))
	until(t, ctx, `document.getElementById('live').textContent === 'Live.'`)
	s.closed.Store(true)
	r.write(t, "n3", "north", event.Noted{Text: "unseen"})
	until(t, ctx, `document.getElementById('live').textContent.includes('This link ran out.')`)
	if got := value[string](t, ctx, `document.querySelector('h1').textContent`); !strings.Contains(got, "Aldeira") {
		t.Errorf("the page is gone: %s", got)
	}
}

func TestAPageWithoutScriptSaysThatItRefreshes(t *testing.T) {
	ctx := browser(t)
	s := served(t, vault(t))
	off := chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled,
			emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	})
	do(t, ctx, off, chromedp.Navigate(s.URL+"/p/now"), chromedp.WaitReady("main"))
	text, err := chromedp.Run(ctx, chromedp.Text(chromedp.CSS("body")))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, "asks for itself again every 30 seconds") || !strings.Contains(text, "B2 at A2 and C2") {
		t.Errorf("without script the page says:\n%.400s", text)
	}
}

// All that leads on is reached by the tab key alone, in the order in which it stands, and is seen to be in focus.
func TestEverythingIsReachedByKeyboardAlone(t *testing.T) {
	ctx := browser(t)
	s := served(t, vault(t))
	do(t, ctx, looks[0].set(), chromedp.Navigate(s.URL+"/p/now"), chromedp.WaitReady("main"))
	count := value[int](t, ctx,
		`[...document.querySelectorAll('a[href], summary, [tabindex="0"]')].filter(e => e.checkVisibility()).length`)
	do(t, ctx, chromedp.KeyEvent(kb.Tab))
	if got := value[string](t, ctx, `document.activeElement.className`); got != "skip" {
		t.Errorf("the first that is reached is %q", got)
	}
	seen := map[string]bool{}
	for range count + 20 {
		do(t, ctx, chromedp.KeyEvent(kb.Tab))
		id := value[string](t, ctx,
			`(() => { const e = document.activeElement; const o = getComputedStyle(e).outlineStyle; return [...document.querySelectorAll('*')].indexOf(e) + ' ' + (o === 'none' && e !== document.body && !e.closest('svg') ? 'unseen ' + e.outerHTML.slice(0, 80) : '') })()`)
		if strings.Contains(id, "unseen") {
			t.Errorf("in focus and not seen to be: %s", id)
			break
		}
		seen[id] = true
	}
	if len(seen) < count {
		t.Errorf("%d of %d were reached", len(seen), count)
	}
}

// At twice the size of letters nothing is cut off to the right.
func TestTwiceTheSizeOfLetters(t *testing.T) {
	ctx := browser(t)
	s := served(t, vault(t))
	for _, path := range shown {
		do(t, ctx, looks[1].set(), chromedp.Navigate(s.URL+"/p/"+path), chromedp.WaitReady("main"))
		value[bool](t, ctx, `(document.documentElement.style.fontSize = '32px', true)`)
		if wide, own := value[float64](t, ctx, `document.documentElement.scrollWidth`), value[float64](t, ctx,
			`innerWidth`); wide > own {
			t.Errorf("%s is %.0f wide in %.0f", path, wide, own)
		}
	}
}

// axe-core finds nothing, with the rules of AA, of good practice and of AAA's contrast, light and dark.
func TestNoBarriers(t *testing.T) {
	file := os.Getenv("HOD_AXE")
	if file == "" {
		t.Skip("not checked: HOD_AXE names no axe.min.js; .ci/run browser fetches it")
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	ctx := browser(t)
	records := map[string]*invented{
		"vault": vault(t), "great": inWork(t, shell(20, 20, 2, false)),
		"empty": recordOf(t, nil, time.UTC, noon),
	}
	for name, r := range records {
		s := served(t, r)
		paths := append([]string{"event/n3/45", "why/coat/A3/inner/1"}, shown...)
		if name != "vault" {
			paths = []string{"now", "map", "log"}
		}
		for _, path := range paths {
			for _, l := range []look{looks[0], looks[4]} {
				do(t, ctx, l.set(), chromedp.Navigate(s.URL+"/p/"+path), chromedp.WaitReady("main"))
				if _, err := chromedp.Run(ctx, chromedp.Evaluate[chromedp.Void](string(axe)+";undefined")); err != nil {
					t.Fatal(err)
				}
				found, err := chromedp.Run(ctx,
					chromedp.Evaluate[string](
						`axe.run(document, {runOnly: {type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}, rules: {'color-contrast-enhanced': {enabled: true}}}).then(r => r.violations.map(v => v.id + ' (' + v.nodes.length + '): ' + v.nodes.slice(0, 2).map(n => n.html.slice(0, 160) + ' ' + (n.any[0] ? n.any[0].message : '')).join(' | ')).join('\n'))`, chromedp.EvalAwaitPromise))
				if err != nil {
					t.Fatal(err)
				}
				if found != "" {
					t.Errorf("%s %s at %s:\n%s", name, path, l.name, found)
				}
			}
		}
	}
}
