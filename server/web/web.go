package web

import (
	"cmp"
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/time/rate"

	"hod/internal/auth"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/web"
	"hod/server/host"
	"hod/server/limit"
)

// Limits of what one caller may cost.
const (
	maxHeader = 16 << 10 // bytes
	slowest   = 10 * time.Second
	idle      = time.Minute
	maxConns  = 256 // of one address
	lingering = 5 * time.Second

	opensASecond = 10 // of one address, before a link is looked at
	opensAtOnce  = 50
	pagesASecond = 50 // of all whose links open them
	pagesAtOnce  = 100
)

// Config of the pages.
type Config struct {
	Host *host.Host
	TLS  *tls.Config // nil: a proxy on this machine has the certificate, and says who asks
	// Authority is the certificate of the site's authority, DER, where the pages show one that it signed: a phone may
	// install it. Nil where browsers know the certificate.
	Authority []byte
	Place     func(*fold.Site) *time.Location
	Log       zerolog.Logger
	// Places are those for answers that are worked out, shared with the calls; nil: the pages have their own.
	Places *limit.Slots
	// Notice is what people should know of the server, in sentences; nil: nothing ever.
	Notice func() string
}

// Web serves the pages.
type Web struct {
	config Config
	pages  *web.Pages
	server *http.Server
	end    context.CancelFunc // ends what is live
	asking *limit.Rate        // before a link is looked at
	shown  *rate.Limiter      // pages to those whose link opens them
	places *limit.Slots
	holds  func(auth.Link, string, ed25519.PublicKey) bool
}

// record is the host's log as the pages ask for it.
type record struct {
	*host.Host
	place  func(*fold.Site) *time.Location
	notice func() string
}

func (r record) Place(s *fold.Site) *time.Location { return r.place(s) }

func (r record) Copy() *report.Copy {
	if r.notice == nil || r.notice() == "" {
		return nil
	}
	return &report.Copy{Notice: r.notice()}
}

func (r record) Changed(ctx context.Context, after uint64) (uint64, error) {
	if _, _, err := r.Changes(ctx, after, 1); err != nil {
		return after, err
	}
	return r.Latest(), nil
}

// New makes the server; Serve starts it.
func New(c Config) *Web {
	ctx, end := context.WithCancel(context.Background())
	w := &Web{
		config: c, pages: web.New(record{c.Host, c.Place, c.Notice}, c.Log), end: end,
		asking: limit.NewRate(opensASecond, opensAtOnce), shown: rate.NewLimiter(pagesASecond, pagesAtOnce),
		holds: auth.Link.Holds, places: cmp.Or(c.Places, limit.Answers()),
	}
	w.server = &http.Server{
		Handler: w.Handler(), MaxHeaderBytes: maxHeader,
		ReadHeaderTimeout: slowest, ReadTimeout: slowest, WriteTimeout: slowest, IdleTimeout: idle,
		ErrorLog: nobody(), BaseContext: func(net.Listener) context.Context { return ctx },
	}
	if c.TLS != nil {
		w.server.TLSConfig = c.TLS.Clone()
	}
	return w
}

// nobody is where net/http's own lines go: they quote what strangers send.
func nobody() *log.Logger { return log.New(io.Discard, "", 0) }

// Serve answers on l until Stop.
func (w *Web) Serve(l net.Listener) error {
	serve := func() error { return w.server.ServeTLS(limit.Listen(l, maxConns), "", "") }
	if w.config.TLS == nil {
		serve = func() error { return w.server.Serve(l) } // all connections are the proxy's
	}
	if err := serve(); err != nil && !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve pages at %s: %w", l.Addr(), err)
	}
	return nil
}

// Stop ends what is live, lets the pages that are being sent end, and takes no more.
func (w *Web) Stop() {
	w.end()
	ctx, cancel := context.WithTimeout(context.Background(), lingering)
	defer cancel()
	if w.server.Shutdown(ctx) != nil {
		_ = w.server.Close() // what is left is a reader that does not read
	}
}

// Handler answers for the pages, without the network.
func (w *Web) Handler() http.Handler {
	return http.HandlerFunc(func(to http.ResponseWriter, r *http.Request) {
		defer func() {
			if fault := recover(); fault != nil {
				w.config.Log.Error().Interface("fault", fault).Msg("a page failed")
				w.refuse(to, r, http.StatusInternalServerError, "The server met a fault of its own; it is in its log.")
			}
		}()
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			to.Header().Set("Allow", "GET, HEAD")
			w.refuse(to, r, http.StatusMethodNotAllowed, "These pages are for reading only.")
		case !w.asking.Allow(w.caller(r)):
			w.wait(to, r, "Too many pages are asked for from this address at once; wait a moment.")
		default:
			w.answer(to, r)
		}
	})
}

// caller is the address of who asks: behind a proxy the last that it names, which is the one that it saw itself.
func (w *Web) caller(r *http.Request) string {
	if w.config.TLS != nil {
		return r.RemoteAddr
	}
	names := strings.Split(r.Header.Get("X-Forwarded-For"), ",")
	if last := strings.TrimSpace(names[len(names)-1]); last != "" {
		return net.JoinHostPort(last, "0")
	}
	return r.RemoteAddr
}

// answer a question of the form /see/TOKEN/PAGE/WORD, or /s/CODE/PAGE/WORD by a short link; or for the certificate of
// the site's authority, which is no secret and needs no link.
func (w *Web) answer(to http.ResponseWriter, r *http.Request) {
	if name, is := strings.CutPrefix(r.URL.Path, "/authority"); is && len(w.config.Authority) > 0 {
		w.authority(to, r, name)
		return
	}
	rest, long := strings.CutPrefix(r.URL.Path, "/see/")
	opened, pathOf := w.open, auth.LinkPath
	if !long {
		short := false
		if rest, short = strings.CutPrefix(r.URL.Path, "/s/"); !short {
			w.refuse(to, r, http.StatusNotFound, string(notALink))
			return
		}
		opened, pathOf = w.openShort, auth.ShortPath
	}
	token, rest, slash := strings.Cut(rest, "/")
	link, still, err := opened(token)
	if err != nil {
		w.refuse(to, r, http.StatusForbidden, err.Error())
		return
	}
	if !slash { // addresses of pages are relative to it
		http.Redirect(to, r, pathOf(token), http.StatusSeeOther)
		return
	}
	if !w.shown.Allow() {
		w.wait(to, r, "Too many pages are asked for at once; wait a moment.")
		return
	}
	w.pages.Answer(to, r, web.Visit{
		Path: rest, Until: link.until.Format("2 Jan 2006 15:04") + " UTC",
		// not the token: one link can be spelled in many ways
		From: limit.Address(w.caller(r)), Link: string(link.device) + " " + link.until.String(),
		Authority: w.authorityPage(rest),
		Open:      still,
		Deadline:  func() time.Time { return time.Now().Add(slowest) },
		Enter:     func() (func(), error) { return w.places.Enter(r.Context(), string(link.device)) },
	})
}

func (w *Web) wait(to http.ResponseWriter, r *http.Request, says string) {
	to.Header().Set("Retry-After", "2")
	w.refuse(to, r, http.StatusTooManyRequests, says)
}

func (w *Web) refuse(to http.ResponseWriter, r *http.Request, code int, says string) {
	w.pages.Refuse(to, r, code, says)
}
