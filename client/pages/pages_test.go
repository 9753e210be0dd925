package pages

import (
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"hod/client/session"
	"hod/client/session/sessiontest"
	"hod/internal/web"
)

// opened is the record of a session in memory, without its journal.
func opened(t *testing.T) (*record, *session.Session) {
	t.Helper()
	s := sessiontest.Vault(t)
	s.Refresh()
	return &record{session: s, fold: s.Fold, number: 1, more: make(chan struct{}), copy: copyOf(s.Contact, s.Now)}, s
}

func TestOnlyThisDeviceIsShownItsOwnPages(t *testing.T) {
	r, _ := opened(t)
	h := handler(web.New(r, zerolog.Nop()), "127.0.0.1:7423", "/secret/")
	for _, c := range []struct {
		name, method, host, path string
		code                     int
		says                     string
	}{
		{"the address as it was said", "GET", "127.0.0.1:7423", "/secret/", http.StatusOK, "never met the server"},
		{"by the device's own name", "GET", "localhost:7423", "/secret/zone/A1", http.StatusOK, "A1"},
		{"another name for it", "GET", "crew.example:7423", "/secret/", http.StatusForbidden, "this device alone"},
		{"without the secret", "GET", "127.0.0.1:7423", "/now", http.StatusNotFound, "hod pages says"},
		{"to write", "POST", "127.0.0.1:7423", "/secret/", http.StatusMethodNotAllowed, ""},
	} {
		q := httptest.NewRequest(c.method, c.path, nil)
		q.Host = c.host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, q)
		if w.Code != c.code || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s: %d, want %d and %q:\n%.600s", c.name, w.Code, c.code, c.says, w.Body)
		}
	}
}

func TestAFileIsWholeOrAsItWas(t *testing.T) {
	_, s := opened(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "monday")
	for _, body := range []string{"<p>first</p>", "<p>second</p>"} {
		if err := Save(s, path, "day", "d1", body); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(path + ".html")
		if err != nil || !strings.Contains(string(text), body) || strings.Contains(string(text), "<script") ||
			strings.Contains(string(text), "<nav") {
			t.Errorf("%s: %v in\n%s", body, err, text)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "taken.html"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, says := range map[string]string{
		"taken.html": "a folder has that name", "nowhere/x.html": "there is no such folder",
	} {
		if err := Save(s, filepath.Join(dir, name), "day", "", "<p>third</p>"); err == nil ||
			!strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", name, err, says)
		}
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 2 {
		t.Errorf("what is left in the folder: %v, %v", left, err)
	}
}

func TestADevicesClockIsBroughtToTheSites(t *testing.T) {
	r, s := opened(t)
	r.offset = -3 * time.Minute
	if got := r.Now(); !got.Equal(s.Env.Now().Add(-3 * time.Minute)) {
		t.Errorf("the pages' clock is %s, the device's %s", got, s.Env.Now())
	}
}

func TestTheAddressIsNotAmongTheWordsThatOpenABrowser(t *testing.T) {
	const address = "http://127.0.0.1:7423/secret/"
	dir := t.TempDir()
	has := func(names ...string) func(string) (string, error) {
		return func(name string) (string, error) {
			if slices.Contains(names, name) {
				return "/bin/" + name, nil
			}
			return "", exec.ErrNotFound
		}
	}
	words, left := opener(dir, address, has("xdg-open", "open", "rundll32"))
	if len(words) < 2 || words[len(words)-1] != left || strings.Contains(strings.Join(words, " "), "secret") {
		t.Errorf("a browser is asked for by %q", words)
	}
	about, err := os.Stat(left)
	if err != nil || filepath.Dir(left) != dir || !filepath.IsAbs(left) || runtime.GOOS != "windows" &&
		about.Mode().Perm() != 0o600 {
		t.Fatalf("%s: %v, %v", left, about, err)
	}
	if text, err := os.ReadFile(left); err != nil ||
		!strings.Contains(string(text), `http-equiv="refresh" content="0;url=`+address+`"`) ||
		!strings.Contains(string(text), "no-referrer") {
		t.Errorf("it does not lead on: %v\n%s", err, text)
	}
	if words, left := opener(dir, address, has("xdg-open", "termux-open-url")); !slices.Equal(words,
		[]string{"/bin/termux-open-url", address}) || left != "" {
		t.Errorf("on Android by %q, and leaves %q", words, left)
	}
	for what, got := range map[string]struct {
		dir string
		has []string
	}{"no browser": {dir, nil}, "a folder that cannot be written": {
		filepath.Join(dir, "nowhere"),
		[]string{"xdg-open", "open", "rundll32"},
	}} {
		if words, left := opener(got.dir, address, has(got.has...)); words != nil || left != "" {
			t.Errorf("%s: %q, and leaves %q", what, words, left)
		}
	}
}
