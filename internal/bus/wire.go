package bus

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"hod/internal/chain"
	"hod/internal/event"
)

// timeout is how long one question to the site may wait for its answer.
const timeout = 10 * time.Second

// Limits of one batch of a read. The server stops after the message that passes the bytes.
const (
	maxRead      = 1000
	maxReadBytes = 2 << 20
)

// Message is a segment as it lies in the stream. Nothing in it has been checked.
type Message struct {
	Seq     uint64       // its place in the stream; not an identity, see the package's words
	Carrier event.Device // who brought it, which need not be who wrote it
	At      time.Time    // when the site's server stored it, by the server's clock
	Data    []byte
}

// wire is a connection and the questions that wait on it.
type wire struct {
	nc   *nats.Conn
	site string

	mu      sync.Mutex
	waiting map[*inflight]struct{}
	closed  chan struct{} // closed when the connection is
	shut    sync.Once
}

// question is what fails at once when the server refuses one of its subjects or the connection goes, instead of waiting
// for an answer that cannot come.
type inflight struct {
	subjects []string
	cancel   context.CancelCauseFunc
}

var (
	errClosed = errors.New("the connection to the site was closed")
	errCut    = errors.New("the connection to the site was cut")
)

func newWire(site string) *wire {
	return &wire{site: site, waiting: map[*inflight]struct{}{}, closed: make(chan struct{})}
}

// onError hears what the server reports out of turn: a refused publish or subscription has no other answer.
func (w *wire) onError(_ *nats.Conn, _ *nats.Subscription, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for q := range w.waiting {
		if slices.ContainsFunc(q.subjects, func(s string) bool { return refuses(err, s) }) {
			q.cancel(err)
		}
	}
}

// refuses reports whether err is the server's refusal of a subject, which it names in quotes.
func refuses(err error, subject string) bool {
	return errors.Is(err, nats.ErrPermissionViolation) && strings.Contains(err.Error(), strconv.Quote(subject))
}

func (w *wire) onClose(*nats.Conn) {
	w.shut.Do(func() { close(w.closed) })
	w.endAll(errClosed)
}

// onCut ends what waits: its answer went with the connection, even if another comes.
func (w *wire) onCut(*nats.Conn, error) { w.endAll(errCut) }

func (w *wire) endAll(why error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for q := range w.waiting {
		q.cancel(why)
	}
}

// begin a question over subjects; end must be called, with the error that the question met, and says it in words.
func (w *wire) begin(ctx context.Context, what string, subjects ...string) (context.Context, func(error) error) {
	limited, stop := context.WithTimeout(ctx, timeout)
	asking, cancel := context.WithCancelCause(limited)
	q := &inflight{subjects, cancel}
	w.mu.Lock()
	w.waiting[q] = struct{}{}
	w.mu.Unlock()
	return asking, func(err error) error {
		w.mu.Lock()
		delete(w.waiting, q)
		w.mu.Unlock()
		cause := context.Cause(asking)
		cancel(nil)
		stop()
		if err == nil {
			return nil
		}
		return w.explain(ctx, what, err, cause)
	}
}

func (w *wire) explain(ctx context.Context, what string, err, cause error) error {
	var known *Error
	switch {
	case errors.As(err, &known):
		return err
	case errors.Is(cause, nats.ErrPermissionViolation), errors.Is(err, nats.ErrPermissionViolation):
		return fail(Forbidden, errors.Join(err, cause),
			"the site %s does not let this device %s; if it was let in under another name, enrol it again", w.site,
			what)
	case errors.Is(cause, errClosed), errors.Is(err, nats.ErrConnectionClosed):
		return fail(Gone, errors.Join(err, cause), "the connection to the site %s was closed before it could %s",
			w.site, what)
	case errors.Is(err, nats.ErrMaxPayload):
		return fail(TooLarge, err, "to %s is more than the bus carries; the most is %d bytes", what, MaxPayload)
	case errors.Is(ctx.Err(), context.Canceled):
		return ctx.Err()
	case errors.Is(err, nats.ErrNoResponders):
		return fail(Unreachable, err, "the site %s runs, but what would %s is not ready there; try again", w.site, what)
	case errors.Is(cause, errCut):
		return fail(Unreachable, errors.Join(err, cause), "the connection to the site %s was cut before it could %s",
			w.site, what)
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled), errors.Is(err, nats.ErrTimeout):
		return fail(Unreachable, errors.Join(err, cause), "the site %s did not answer in time when asked to %s", w.site,
			what)
	}
	return fail(Unreachable, err, "could not %s at the site %s (%v)", what, w.site, err)
}

// ask sends data and gives the one answer.
func (w *wire) ask(ctx context.Context, what, subject string, data []byte) (*nats.Msg, error) {
	ctx, end := w.begin(ctx, what, subject)
	m, err := w.nc.RequestMsgWithContext(ctx, &nats.Msg{Subject: subject, Data: data})
	if err := end(err); err != nil {
		return nil, err
	}
	return m, nil
}

// Error codes that JetStream answers a publish with.
const (
	codeStorage  = 10047 // insufficient storage resources
	codeTooLarge = 10054 // message exceeds the stream's maximum
	codeStore    = 10077 // the store refused, one of its limits being reached among the reasons
)

// publish returns nil only when the stream says that the segment is stored.
func (w *wire) publish(ctx context.Context, carrier event.Device, segment []byte) error {
	if len(segment) == 0 || len(segment) > chain.MaxSegmentBytes {
		return fail(TooLarge, nil, "a segment has 1 to %d bytes, this one %d: it was not sent", chain.MaxSegmentBytes,
			len(segment))
	}
	m, err := w.ask(ctx, "put segments on the log as "+string(carrier), LogSubject(w.site, carrier), segment)
	if err != nil {
		return err
	}
	return acknowledged(w.site, len(segment), m.Data)
}

// acknowledged is nil where an answer says that the site's stream stored a segment of that size.
func acknowledged(site string, size int, answer []byte) error {
	var ack struct {
		Error    *jetstream.APIError `json:"error"`
		Stream   string              `json:"stream"`
		Sequence uint64              `json:"seq"`
	}
	if err := json.Unmarshal(answer, &ack); err != nil {
		return fail(Internal, err, "the site %s answered a segment with what is no acknowledgement", site)
	}
	switch {
	case ack.Error == nil && ack.Stream == Stream(site) && ack.Sequence > 0:
		return nil
	case ack.Error == nil:
		return fail(WrongSite, nil, "a segment for site %s was acknowledged by %q", site, ack.Stream)
	case ack.Error.ErrorCode == codeTooLarge:
		return fail(TooLarge, ack.Error, "the site %s takes no segment of %d bytes; the most is %d", site, size,
			chain.MaxSegmentBytes)
	case ack.Error.ErrorCode == codeStore && strings.Contains(ack.Error.Description, "per subject"):
		return fail(Full, ack.Error,
			"this device has put on the log of site %s as many segments as one may, %d: what it holds waits here, and another device may carry it (hod export, hod import); tell the foreman", site, MaxCarried)
	case ack.Error.ErrorCode == codeStore && strings.Contains(ack.Error.Description, "maximum bytes"):
		return fail(Full, ack.Error, "the server of site %s takes no new events now: its space is used up, or it is "+
			"behind with what it was sent. What is written here stays here and is sent later; if it stays so, tell whoever "+
			"runs the server, who finds what to do with `hodd space`", site)
	case ack.Error.ErrorCode == codeStorage, ack.Error.ErrorCode == codeStore:
		return fail(Full, ack.Error,
			"the site %s could not store a segment (%s): its disk may be full; tell the foreman", site,
			ack.Error.Description)
	}
	return fail(Internal, ack.Error, "the site %s did not take a segment (%s)", site, ack.Error.Description)
}

// read gives up to most messages from the number on, and the number to go on from; nothing, and the same number or a
// later one, where the stream ends. What is damaged the server steps over by itself; to step over more here would pass
// what a lagging copy of the stream does not have yet.
func (w *wire) read(ctx context.Context, from uint64, most int) ([]Message, uint64, error) {
	from, most = max(from, 1), min(max(most, 1), maxRead)
	for {
		messages, next, err := w.batch(ctx, from, most)
		if err != nil || len(messages) > 0 {
			return messages, next, err
		}
		if next > from {
			from = next // all of the batch was unreadable; what follows it may not be
			continue
		}
		return nil, from, nil
	}
}

// batch is one direct get. It reads past headers that a stranger may have put on a message: the server's own come last,
// and an answer of the server's that is no message has no number.
func (w *wire) batch(ctx context.Context, from uint64, most int) (messages []Message, next uint64, err error) {
	request, err := json.Marshal(struct {
		Seq   uint64 `json:"seq"`
		Batch int    `json:"batch"`
		Bytes int    `json:"max_bytes"`
	}{from, most, maxReadBytes})
	if err != nil {
		return nil, from, fmt.Errorf("encode a read: %w", err)
	}
	next = from
	err = w.many(ctx, "read the log", request, most, func(m *nats.Msg) (bool, error) {
		if m.Header == nil { // headers that cannot be read, so a stranger's message: its number is in the end's
			return false, nil
		}
		if seq := lastNumber(m, jetstream.SequenceHeader); seq > 0 {
			if seq < next || seq == ^uint64(0) {
				return false, fail(Internal, nil, "the site %s answered a read of its log from %d with number %d",
					w.site, next, seq)
			}
			messages, next = append(messages, w.message(m, seq)), seq+1
			return false, nil
		}
		switch status := m.Header.Get("Status"); status {
		case "204":
			if seq := lastNumber(m, jetstream.LastSequenceHeader); seq >= next && seq < ^uint64(0) {
				next = seq + 1
			}
			return true, nil
		case "404":
			return true, nil
		default:
			return false, fail(Internal, nil, "the site %s did not read its log from %d (%s %s)", w.site, from, status,
				m.Header.Get("Description"))
		}
	})
	if err != nil {
		return nil, from, err
	}
	return messages, next, nil
}

func (w *wire) message(m *nats.Msg, seq uint64) Message {
	carrier, _ := strings.CutPrefix(lastValue(m, jetstream.SubjectHeader), LogSubject(w.site, ""))
	// zero, which is unknown, if it is none
	at, _ := time.Parse(time.RFC3339Nano, lastValue(m, jetstream.TimeStampHeaer))
	return Message{Seq: seq, Carrier: event.Device(carrier), At: at, Data: m.Data}
}

// many sends one request to the stream and hands on its answers until take says that there are no more.
func (w *wire) many(ctx context.Context, what string, request []byte, most int,
	take func(*nats.Msg) (done bool, err error),
) error {
	inbox, subject := w.nc.NewInbox(), ReadSubject(w.site)
	ctx, end := w.begin(ctx, what, inbox, subject)
	answers := make(chan *nats.Msg, most+8)
	sub, err := w.nc.ChanSubscribe(inbox, answers)
	if err != nil {
		return end(err)
	}
	defer func() { _ = sub.Unsubscribe() }() // it fails only with the connection, which ends it too
	if err := w.nc.PublishRequest(subject, inbox, request); err != nil {
		return end(err)
	}
	for {
		select {
		case m := <-answers:
			if done, err := take(m); done || err != nil {
				return end(err)
			}
		case <-ctx.Done():
			return end(ctx.Err())
		}
	}
}

// lastValue is the last of a header's values: the server appends its own to those that came with the message.
func lastValue(m *nats.Msg, name string) string {
	values := m.Header[name]
	if len(values) == 0 {
		return ""
	}
	return values[len(values)-1]
}

func lastNumber(m *nats.Msg, name string) uint64 {
	n, err := strconv.ParseUint(lastValue(m, name), 10, 64)
	if err != nil {
		return 0
	}
	return n
}
