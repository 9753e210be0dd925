package broker

import (
	"fmt"
	"sync"

	"github.com/rs/zerolog"
)

// listener passes on what the NATS server says of itself: in a field, quoted, because a stranger's words may be in it,
// and low, because the host says what matters in its own words.
type listener struct {
	log zerolog.Logger

	mu   sync.Mutex
	last error // the last thing that it called fatal
}

func (l *listener) say(e *zerolog.Event, format string, args []any) {
	e.Str("nats", fmt.Sprintf("%+q", fmt.Sprintf(format, args...))).Msg("broker")
}

func (l *listener) Noticef(format string, args ...any) { l.say(l.log.Trace(), format, args) }
func (l *listener) Debugf(format string, args ...any)  { l.say(l.log.Trace(), format, args) }
func (l *listener) Tracef(format string, args ...any)  { l.say(l.log.Trace(), format, args) }
func (l *listener) Warnf(format string, args ...any)   { l.say(l.log.Debug(), format, args) }
func (l *listener) Errorf(format string, args ...any)  { l.say(l.log.Info(), format, args) }

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
