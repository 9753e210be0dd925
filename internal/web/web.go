package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/trade/curing"
	"hod/internal/trade/mix"
)

// turn is after how many seconds a page asks for itself again where no script runs.
const turn = 30

// Pages answer for one record. They may be asked at once.
type Pages struct {
	record Record
	log    zerolog.Logger
	kept   kept
	gate   gate
	rest   func(context.Context) // after a change that a live page was told
}

// New pages of a record.
func New(r Record, log zerolog.Logger) *Pages { return &Pages{record: r, log: log, rest: rest} }

// Visit is one question to the pages.
type Visit struct {
	Path  string // of the page, under the address at which the pages lie, which ends in a slash
	Until string // when the link runs out, in words; empty: it does not
	From  string // the address that asks, and
	Link  string // the link that it has: each has its share of what may be live; empty: all of it
	// Authority is the address of what is said of the site's own certificate, from the page; empty: there is nothing.
	Authority string
	// Open says whether the pages may still be read: nil or why not, in a sentence. It is asked again while a page is
	// live.
	Open func() error
	// Enter waits for a place among the pages that are worked out, and says why there is none; nil: there always is.
	Enter func() (leave func(), err error)
	// Deadline is until when a line to a page that is live must be written; nil: never.
	Deadline func() time.Time
}

// Answer a question of GET or HEAD.
func (p *Pages) Answer(to http.ResponseWriter, r *http.Request, v Visit) {
	for name, value := range Headers {
		to.Header().Set(name, value)
	}
	// Addresses are relative, so that a page does not carry the link's token a hundred times.
	root := "./" + strings.Repeat("../", strings.Count(v.Path, "/"))
	name, word, _ := strings.Cut(v.Path, "/")
	if name == "live" && word == "" {
		p.live(to, r, v)
		return
	}
	if name == "" {
		name = pages[0].name
	}
	k, ok := pageOf(name)
	if !ok {
		p.Refuse(to, r, http.StatusNotFound, "There is no such page here.")
		return
	}
	leave := func() {}
	if v.Enter != nil {
		var err error
		if leave, err = v.Enter(); err != nil {
			to.Header().Set("Retry-After", "2")
			p.Refuse(to, r, http.StatusTooManyRequests, strings.ToUpper(err.Error()[:1])+err.Error()[1:]+".")
			return
		}
	}
	made, code := p.workedOut(k, word, r, root, leave)
	switch code {
	case http.StatusOK:
		p.write(to, r, code, Frame{
			Site: made.site, Here: name, Root: root, Until: v.Until, Authority: v.Authority, Now: p.record.Now().Unix(),
			Cautions: cautions, Turn: turn, Links: links(),
			Body: made.text, Foot: made.foot,
		})
	case http.StatusNotFound:
		p.Refuse(to, r, code, "There is nothing of that name in the record.")
	default:
		p.Refuse(to, r, code, "The pages met a fault of their own; it is in the log.")
	}
}

// workedOut is body, and gives the place back: before the page is sent, since who reads slowly keeps nobody waiting,
// and also where the page meets a fault of the program.
func (p *Pages) workedOut(k page, word string, r *http.Request, root string, leave func()) (body, int) {
	defer leave()
	return p.body(k, word, r, root)
}

var cautions = []string{mix.Caution, curing.Caution}

// links to the pages that are offered.
func links() [][2]string {
	var all [][2]string
	for _, p := range pages {
		if p.title != "" {
			all = append(all, [2]string{p.name, p.title})
		}
	}
	return all
}

// keptFor is how long what a page shows is given to others who ask for it, too, as long as nothing was written.
const keptFor = 10 * time.Second

// kept are bodies of pages as last written, so that many readers cost what one does.
type kept struct {
	mu  sync.Mutex
	all map[string]body
}

type body struct {
	text, site string
	foot       string // of each sheet in print
	number     uint64
	at         time.Time
}

const mostKept = 64

func (k *kept) get(key string, number uint64, now time.Time) (body, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	b, ok := k.all[key]
	return b, ok && b.number == number && !now.Before(b.at) && now.Sub(b.at) < keptFor
}

func (k *kept) put(key string, b body) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.all == nil || len(k.all) >= mostKept {
		k.all = map[string]body{}
	}
	k.all[key] = b
}

// body of a page, or who asks an error by its code.
func (p *Pages) body(k page, word string, r *http.Request, root string) (body, int) {
	now, number := p.record.Now(), p.record.Latest()
	key := strings.Join([]string{root, k.name, word, r.URL.RawQuery}, "\x00")
	if b, ok := p.kept.get(key, number, now); ok {
		return b, http.StatusOK
	}
	b := body{number: number, at: now}
	var write func() string
	var err error
	p.record.View(func(s *fold.Site) {
		if b.site = s.ID; s.Plan().Name != "" {
			b.site = s.Plan().Name
		}
		sheet := report.Page{HTML: true, In: p.record.Place(s), Now: now, Root: root, Copy: p.record.Copy()}
		b.foot = footOf(b.site, strings.TrimSuffix(k.name+" "+word, " ")+"; "+
			now.In(sheet.In).Format("2006-01-02 15:04"),
			digestOf(s, p.record.Heads()))
		write, err = k.look(asked{site: s, now: now, page: sheet, word: word, query: r.URL.Query()})
	})
	var cannot event.CannotBe
	switch {
	case errors.Is(err, errNoSuch), errors.As(err, &cannot):
		return body{}, http.StatusNotFound
	case err != nil:
		p.log.Error().Err(err).Str("page", k.name).Msg("a page could not be made")
		return body{}, http.StatusInternalServerError
	}
	b.text = write()
	p.kept.put(key, b)
	return b, http.StatusOK
}

// digestOf the record that is shown. Where the heads are not of all its events, as while some are on their way to the
// disk, there is none: it would be another record's.
func digestOf(s *fold.Site, heads []chain.Head) string {
	var events uint64
	for _, h := range heads {
		events += h.Seq
	}
	if events == 0 || events != uint64(s.Len()) {
		return ""
	}
	return chain.Digest(s.ID, heads).String()
}

// Refuse a question in a sentence.
func (p *Pages) Refuse(to http.ResponseWriter, r *http.Request, code int, says string) {
	for name, value := range Headers {
		to.Header().Set(name, value)
	}
	p.write(to, r, code, Frame{Says: says})
}

func (p *Pages) write(to http.ResponseWriter, r *http.Request, code int, f Frame) {
	text := f.text()
	if f.Foot != "" {
		to.Header().Set("Content-Security-Policy", policy(style, f.footStyle()))
	}
	to.Header().Set("Content-Type", "text/html; charset=utf-8")
	to.Header().Set("Vary", "Accept-Encoding")
	if zipped(r) {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, err := z.Write(text)
		if err == nil {
			err = z.Close()
		}
		if err == nil {
			to.Header().Set("Content-Encoding", "gzip")
			text = b.Bytes()
		}
	}
	to.Header().Set("Content-Length", strconv.Itoa(len(text)))
	to.WriteHeader(code)
	if r.Method == http.MethodGet {
		_, _ = to.Write(text) // who no longer reads is not told so
	}
}

// zipped says that whoever asks takes gzip.
func zipped(r *http.Request) bool {
	return slices.ContainsFunc(strings.Split(r.Header.Get("Accept-Encoding"), ","), func(s string) bool {
		name, q, _ := strings.Cut(strings.TrimSpace(s), ";")
		return name == "gzip" && strings.ReplaceAll(q, " ", "") != "q=0"
	})
}
