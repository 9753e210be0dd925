package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"time"
)

const (
	// beat is how often a live page hears that the server is there though nothing changed. The page's script waits for three.
	beat = 10 * time.Second
	// mostLive is how many pages may be live at once; one more is told to wait and asks for itself again.
	mostLive = 500
)

// gate counts the pages that are live.
type gate struct{ open atomic.Int64 }

// live tells an open page of each change, as server-sent events (the HTML standard, section 9.2), until the reader goes, the
// link no longer opens, or the pages are closed, which ends the request's context.
func (p *Pages) live(to http.ResponseWriter, r *http.Request, v Visit) {
	if p.gate.open.Add(1) > mostLive {
		p.gate.open.Add(-1)
		to.Header().Set("Retry-After", "30")
		p.Refuse(to, r, http.StatusServiceUnavailable, "Too many pages are live; this one asks for itself again.")
		return
	}
	defer p.gate.open.Add(-1)
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
		return control.Flush()
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
			err = tell("change", fmt.Sprint(at))
		}
	}
}
