//go:build browser

package web

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"

	"hod/internal/event"
	"hod/internal/plan"
	example "hod/testdata/plan"
)

// These tests look at the pages as a person does, in a headless Chromium. They want one:
//
//	go test ./internal/web -tags browser
//	HOD_SCREENSHOTS=/tmp/seen go test ./internal/web -tags browser -run TestScreens    # and pictures of all pages there
//	HOD_AXE=axe.min.js go test ./internal/web -tags browser -run TestNoBarriers        # with axe-core, as .ci/run browser fetches it

// chromium of this machine; skips where there is none.
func chromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Skip("not checked: there is no Chromium here (Debian: apt-get install chromium)")
	return ""
}

// browser is one that ends with the test.
func browser(t *testing.T) context.Context {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox,
		chromedp.Flag("disable-gpu", true))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	ctx, cancel = context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// served shows a record on loopback until the test ends.
func served(t *testing.T, r Record) *httptest.Server {
	t.Helper()
	pages := New(r, zerolog.Nop())
	s := httptest.NewServer(http.HandlerFunc(func(to http.ResponseWriter, q *http.Request) {
		pages.Answer(to, q, Visit{Path: strings.TrimPrefix(q.URL.Path, "/p/")})
	}))
	t.Cleanup(func() {
		s.CloseClientConnections()
		s.Close()
	})
	return s
}

func do(t *testing.T, ctx context.Context, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// value of an expression in the page.
func value[V any](t *testing.T, ctx context.Context, expression string) V {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[V](expression))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// until an expression in the page is true.
func until(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	if _, err := chromedp.Run(ctx,
		chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(50*time.Second))); err != nil {
		t.Fatalf("%s: %v; the page says %q", expression, err,
			value[string](t, ctx, `document.body.innerText.slice(0, 600)`))
	}
}

// look is how a page is looked at.
type look struct {
	name  string
	width int64
	dark  bool
	print bool
}

var looks = []look{
	{"360", 360, false, false},
	{"768", 768, false, false},
	{"1280", 1280, false, false},
	{"360-dark", 360, true, false},
	{"1280-dark", 1280, true, false},
	{"print", 794, false, true},
}

func (l look) set() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		scheme, media := "light", "screen"
		if l.dark {
			scheme = "dark"
		}
		if l.print {
			media = "print"
		}
		_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{
				Width: l.width, Height: 800, DeviceScaleFactor: 1,
				Mobile: l.width < 500,
			})
		if err != nil {
			return err
		}
		_, err = cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Media: media, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
		})
		return err
	})
}

// shown are the pages that are looked at.
var shown = []string{
	"now", "now?coat=all", "joints", "zones", "zone/A3", "day", "log", "weather", "forecast", "stock",
	"charts", "flags", "map?coat=inner-1",
}

// Each page at each width: nothing lies outside of it to the right, and on demand a picture of it is written.
func TestScreens(t *testing.T) {
	ctx := browser(t)
	folder := os.Getenv("HOD_SCREENSHOTS")
	if folder != "" {
		if err := os.MkdirAll(folder, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for name, r := range map[string]*invented{
		"vault": vault(t), "forty": inWork(t, shell(5, 8, 3, true)), "ring": ring(t), "great": inWork(t,
			shell(20, 20, 2, false)), "empty": recordOf(t, nil, time.UTC, noon),
	} {
		s := served(t, r)
		paths := shown
		if name != "vault" {
			paths = []string{"now"}
		}
		for _, path := range paths {
			for _, l := range looks {
				if only := os.Getenv("HOD_LOOKS"); only != "" && !strings.Contains(only, l.name) {
					continue
				}
				do(t, ctx, l.set(), chromedp.Navigate(s.URL+"/p/"+path), chromedp.WaitReady("main"))
				if wide, own := value[float64](t, ctx, `document.documentElement.scrollWidth`), value[float64](t, ctx,
					`innerWidth`); wide > own {
					t.Errorf("%s %s at %s is %.0f wide in %.0f", name, path, l.name, wide, own)
				}
				if folder == "" {
					continue
				}
				picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
				if err != nil {
					t.Fatal(err)
				}
				file := fmt.Sprintf("%s-%s-%s.png", name, strings.NewReplacer("/", "_", "?", "_", "=",
					"_").Replace(path), l.name)
				if err := os.WriteFile(filepath.Join(folder, file), picture, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// write an event of a crew's device now.
func (r *invented) write(t testing.TB, on event.Device, crew event.Crew, body event.Body) {
	t.Helper()
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.wrote.Write(on, crew, r.now(), true, body); err != nil {
		t.Fatal(err)
	}
	r.site.Add(r.wrote.Events[len(r.wrote.Events)-1])
	r.number++
	close(r.more)
	r.more = make(chan struct{})
}

// ring is a dome of six slices whose plan says nothing of a map.
func ring(t testing.TB) *invented {
	t.Helper()
	p, err := plan.Read("vault_us.yaml", example.VaultUS, nil)
	if err != nil {
		t.Fatal(err)
	}
	return inWork(t, p.Events())
}
