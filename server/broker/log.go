package broker

import (
	"fmt"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// listener passes on what the NATS server says of itself: in a field, quoted, because a stranger's words may be in it,
// and low, because the host says what matters in its own words.
type listener struct {
	log zerolog.Logger
	now func() time.Time

	mu    sync.Mutex
	last  error     // the last thing that it called fatal
	since time.Time // when the minute began in which said and left are counted
	said  int
	left  int // errors that were not written
}

// mostErrors is how many errors are written in a minute. A device can cause as many as it likes, one by each publish
// that is refused.
const mostErrors = 20

func (l *listener) say(e *zerolog.Event, format string, args []any) {
	e.Str("nats", fmt.Sprintf("%+q", fmt.Sprintf(format, args...))).Msg("broker")
}

func (l *listener) Noticef(format string, args ...any) { l.say(l.log.Trace(), format, args) }
func (l *listener) Debugf(format string, args ...any)  { l.say(l.log.Trace(), format, args) }
func (l *listener) Tracef(format string, args ...any)  { l.say(l.log.Trace(), format, args) }
func (l *listener) Warnf(format string, args ...any)   { l.say(l.log.Debug(), format, args) }

// Errorf writes the first errors of a minute, and then how many there were beyond them.
func (l *listener) Errorf(format string, args ...any) {
	write, left := l.count()
	if left > 0 {
		l.log.Info().Int("left_out", left).Msg("the broker met more errors than are written in a minute")
	}
	if write {
		l.say(l.log.Info(), format, args)
	}
}

// count one error. It reports whether it is to be written, and how many of a minute that is over were not.
func (l *listener) count() (write bool, left int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if now := l.now(); now.Sub(l.since) >= time.Minute || now.Before(l.since) {
		left, l.since, l.said, l.left = l.left, now, 0, 0
	}
	if l.said >= mostErrors {
		l.left++
		return false, left
	}
	l.said++
	return true, left
}

// Fatalf does not end the process: Start returns what was said.
func (l *listener) Fatalf(format string, args ...any) {
	l.say(l.log.Error(), format, args)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.last = fmt.Errorf("%+q", fmt.Sprintf(format, args...))
}

func (l *listener) fatal() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.last
}
