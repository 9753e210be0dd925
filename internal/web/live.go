package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"
)

const (
	// beat is how often a live page hears that the server is there though nothing changed. The page's script waits for
	// three.
	beat = 10 * time.Second
	// mostLive is how many pages may be live at once; one more is told to wait and asks for itself again.
	mostLive = 500
	// mostLiveAddress is how many of them one address may have: a crew's phones and screens, and not the share of all.
	mostLiveAddress = 20
	// mostLiveLink is how many of them one link may open, from however many addresses.
	mostLiveLink = 100
	// pause is how long a live page that was told of a change is told of no other, so that many events are one line.
	pause = 500 * time.Millisecond
)

// gate counts the pages that are live: all of them, and those of each address and link.
type gate struct {
	mu   sync.Mutex
	open int
	from map[string]int
	link map[string]int
}

// full says why one more page cannot be live.
type full struct {
	code int
	says string
}

// enter counts a page in, or says why not; leave counts it out again. An address or link that is not named has no share
// of its own.
func (g *gate) enter(from, link string) (leave func(), no *full) {
	g.mu.Lock()
	defer g.mu.Unlock()
	switch {
	case g.open >= mostLive:
		return nil, &full{http.StatusServiceUnavailable, "Too many pages are live; this one asks for itself again."}
	case from != "" && g.from[from] >= mostLiveAddress:
		return nil, &full{
			http.StatusTooManyRequests,
			fmt.Sprintf(
				"%d pages are live at this address already, and it may have no more; close one, or load this one anew.",
				mostLiveAddress),
		}
	case link != "" && g.link[link] >= mostLiveLink:
		return nil, &full{
			http.StatusTooManyRequests,
			fmt.Sprintf(
				"%d pages are live by this link already, and it may open no more; ask the foreman for another: hod link.", mostLiveLink),
		}
	}
	if g.from == nil {
		g.from, g.link = map[string]int{}, map[string]int{}
	}
	g.open++
	g.from[from]++
	g.link[link]++
	return func() { g.leave(from, link) }, nil
}

func (g *gate) leave(from, link string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.open--
	if g.from[from]--; g.from[from] <= 0 {
		delete(g.from, from)
	}
	if g.link[link]--; g.link[link] <= 0 {
		delete(g.link, link)
	}
}

// rest waits for the pause after a change, or until ctx ends.
func rest(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, pause)
	defer cancel()
	<-ctx.Done()
}

// live tells an open page of each change, as server-sent events (the HTML standard, section 9.2), until the reader
// goes, the link no longer opens, or the pages are closed, which ends the request's context.
func (p *Pages) live(to http.ResponseWriter, r *http.Request, v Visit) {
	leave, no := p.gate.enter(v.From, v.Link)
	if no != nil {
		to.Header().Set("Retry-After", "30")
		p.Refuse(to, r, no.code, no.says)
		return
	}
	defer leave()
	to.Header().Set("Content-Type", "text/event-stream")
	to.Header().Set("X-Accel-Buffering", "no") // a proxy in front is not to gather the lines
	to.WriteHeader(http.StatusOK)
	if r.Method != http.MethodGet {
		return
	}
	control := http.NewResponseController(to)
	_ = control.SetReadDeadline(time.Time{}) // that for reading the question would end the answer
	tell := func(kind, data string) error {
		if v.Deadline != nil {
			_ = control.SetWriteDeadline(v.Deadline()) // what cannot have one has none
		}
		if _, err := fmt.Fprintf(to, "event: %s\ndata: %s\n\n", kind, strings.ReplaceAll(data, "\n", " ")); err != nil {
			return err
		}
		err := control.Flush()
		// The deadline is for the line alone: one that passed between two lines would end an HTTP/2 stream, which is
		// what a browser has.
		_ = control.SetWriteDeadline(time.Time{})
		return err
	}
	if _, err := fmt.Fprint(to, "retry: 2000\n\n"); err != nil {
		return
	}
	at := p.record.Latest()
	err := tell("beat", fmt.Sprint(at))
	for err == nil {
		ctx, cancel := context.WithTimeout(r.Context(), beat)
		next, waited := p.record.Changed(ctx, at)
		cancel()
		if v.Open != nil {
			if closed := v.Open(); closed != nil {
				_ = tell("over", closed.Error())
				return
			}
		}
		switch {
		case r.Context().Err() != nil:
			return
		case errors.Is(waited, context.DeadlineExceeded):
			err = tell("beat", fmt.Sprint(at))
		case waited != nil:
			return
		default:
			at = next
			if err = tell("change", fmt.Sprint(at)); err == nil {
				p.rest(r.Context())
			}
		}
	}
}
