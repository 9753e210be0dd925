package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/time/rate"

	"hod/internal/auth"
	"hod/internal/fold"
	"hod/internal/trade/curing"
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
	// turn is how often a page that is open asks for itself again.
	turn = 30 * time.Second
)

// Config of the pages.
type Config struct {
	Host  *host.Host
	TLS   *tls.Config // as the site's authority gives it
	Place func(*fold.Site) *time.Location
	Log   zerolog.Logger
}

// Web serves the pages.
type Web struct {
	config Config
	server *http.Server
	asking *limit.Rate   // before a link is looked at
	shown  *rate.Limiter // pages to those whose link opens them
}

// New makes the server; Serve starts it.
func New(c Config) *Web {
	w := &Web{config: c, asking: limit.NewRate(opensASecond, opensAtOnce), shown: rate.NewLimiter(pagesASecond, pagesAtOnce)}
	w.server = &http.Server{
		Handler: w.Handler(), TLSConfig: c.TLS.Clone(), MaxHeaderBytes: maxHeader,
		ReadHeaderTimeout: slowest, ReadTimeout: slowest, WriteTimeout: slowest, IdleTimeout: idle,
		ErrorLog: nobody(),
	}
	return w
}

// Serve answers on l until Stop.
func (w *Web) Serve(l net.Listener) error {
	if err := w.server.ServeTLS(limit.Listen(l, maxConns), "", ""); err != nil && !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve pages at %s: %w", l.Addr(), err)
	}
	return nil
}

// Stop lets the pages that are being sent end, and takes no more.
func (w *Web) Stop() {
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
		for name, value := range headers {
			to.Header().Set(name, value)
		}
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			to.Header().Set("Allow", "GET, HEAD")
			w.refuse(to, r, http.StatusMethodNotAllowed, "These pages are for reading only.")
		case !w.asking.Allow(r.RemoteAddr):
			w.wait(to, r, "Too many pages are asked for from this address at once; wait a moment.")
		default:
			w.answer(to, r)
		}
	})
}

// answer a question of the form /see/TOKEN/PAGE/WORD.
func (w *Web) answer(to http.ResponseWriter, r *http.Request) {
	rest, ok := strings.CutPrefix(r.URL.Path, "/see/")
	if !ok {
		w.refuse(to, r, http.StatusNotFound, string(notALink))
		return
	}
	token, rest, _ := strings.Cut(rest, "/")
	link, err := w.open(token)
	if err != nil {
		w.refuse(to, r, http.StatusForbidden, err.Error())
		return
	}
	if !w.shown.Allow() {
		w.wait(to, r, "Too many pages are asked for at once; wait a moment.")
		return
	}
	name, word, _ := strings.Cut(rest, "/")
	if name == "" {
		name = pages[0].name
	}
	p, ok := pageOf(name)
	if !ok {
		w.refuse(to, r, http.StatusNotFound, "There is no such page here.")
		return
	}
	body, site, zones, code := w.show(p, word)
	switch code {
	case http.StatusOK:
		w.write(to, r, code, sheet{Site: site, Here: name, Root: auth.LinkPath(token), Pages: pages, Zones: zones, Word: word, Cautions: []string{fold.Caution, curing.Caution}, Body: template.HTML(body), Until: link.Until.Format("2 Jan 2006 15:04") + " UTC", Turn: int(turn.Seconds())}) //nolint:gosec // the report escapes every text, which its tests show
	case http.StatusNotFound:
		w.refuse(to, r, code, "There is nothing of that name in the record.")
	default:
		w.refuse(to, r, code, "The server met a fault of its own; it is in its log.")
	}
}

func (w *Web) wait(to http.ResponseWriter, r *http.Request, says string) {
	to.Header().Set("Retry-After", "2")
	w.refuse(to, r, http.StatusTooManyRequests, says)
}

func (w *Web) refuse(to http.ResponseWriter, r *http.Request, code int, says string) {
	w.write(to, r, code, sheet{Says: says})
}

func (w *Web) write(to http.ResponseWriter, r *http.Request, code int, s sheet) {
	s.Style = style
	var b bytes.Buffer
	if err := frame.Execute(&b, s); err != nil {
		w.config.Log.Error().Err(err).Msg("a page could not be framed")
		http.Error(to, "The server met a fault of its own; it is in its log.", http.StatusInternalServerError)
		return
	}
	to.Header().Set("Content-Type", "text/html; charset=utf-8")
	to.WriteHeader(code)
	if r.Method == http.MethodGet {
		_, _ = to.Write(b.Bytes()) // who no longer reads is not told so
	}
}

var headers = map[string]string{
	"Content-Security-Policy": "default-src 'none'; style-src '" + sourceOf(string(style)) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
	"Referrer-Policy":         "no-referrer", // the address is the key
	"X-Content-Type-Options":  "nosniff",
	"Cache-Control":           "no-store",
	"X-Robots-Tag":            "noindex",
}

// sourceOf names a style in a policy by its digest.
func sourceOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
