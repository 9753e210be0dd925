package bus

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"hod/internal/event"
)

// look is how often the host looks at the stream when nothing tells it to.
const look = 2 * time.Second

// Host is the site's side of the bus, over the broker's own connection, which has all rights.
type Host struct {
	*wire
	js jetstream.JetStream
}

// NewHost takes the connection that a broker gives. It hears the connection's errors from now on.
func NewHost(nc *nats.Conn, site string) (*Host, error) {
	if err := CheckSite(site); err != nil {
		return nil, err
	}
	js, err := jetstream.New(nc)
	if err != nil {
		return nil, fail(Internal, err, "could not speak to the stream of site %s", site)
	}
	h := &Host{wire: newWire(site), js: js}
	h.nc = nc
	nc.SetErrorHandler(h.onError)
	nc.SetClosedHandler(h.onClose)
	nc.SetDisconnectErrHandler(h.onCut)
	return h, nil
}

// Publish puts a segment on the log as the device carrier, with the promise of Line.Publish.
func (h *Host) Publish(ctx context.Context, carrier event.Device, segment []byte) error {
	if err := CheckDevice(carrier); err != nil {
		return err
	}
	return h.publish(ctx, carrier, segment)
}

// State is what the stream says of itself.
type State struct {
	First, Last uint64    // numbers of its first and last message; Last may be below First when it is empty
	Messages    uint64    // fewer than the numbers between them say when some are lost
	Created     time.Time // when it was made; it changes when the stream was made anew
	Bytes       int64     // that its messages take
	Limit       int64     // bytes that it takes; below 1: all that the disk holds
}

// ErrNoStream is returned when the site has no stream, or no more.
var ErrNoStream = errors.New("the site has no stream")

// State asks the stream itself, never a copy that may lag.
func (h *Host) State(ctx context.Context) (State, error) {
	ctx, end := h.begin(ctx, "say what its log holds")
	s, err := h.js.Stream(ctx, Stream(h.site))
	if err := end(err); err != nil {
		if errors.Is(err, jetstream.ErrStreamNotFound) {
			return State{}, fail(Internal, errors.Join(err, ErrNoStream),
				"the site %s has no stream; it must be made anew and filled from the archive", h.site)
		}
		return State{}, err
	}
	i := s.CachedInfo()
	return State{
		First: i.State.FirstSeq, Last: i.State.LastSeq, Messages: i.State.Msgs, Created: i.Created,
		Bytes: int64(min(i.State.Bytes, 1<<62)), Limit: i.Config.MaxBytes, //nolint:gosec // bounded
	}, nil
}

// SetLimit has the stream take no message with which it would hold more bytes than most; what it holds stays. Whoever
// publishes then gets an *Error of kind Full.
func (h *Host) SetLimit(ctx context.Context, most int64) error {
	ctx, end := h.begin(ctx, "set how much its log may hold")
	s, err := h.js.Stream(ctx, Stream(h.site))
	if err == nil {
		want := s.CachedInfo().Config
		if want.MaxBytes != most {
			want.MaxBytes = most
			_, err = h.js.UpdateStream(ctx, want)
		}
	}
	return end(err)
}

// Remove takes the stream away with all that it holds, so that it can be made anew. What it held and nobody else has is
// gone: its caller has seen that there is no such thing.
func (h *Host) Remove(ctx context.Context) error {
	ctx, end := h.begin(ctx, "make its log anew")
	return end(h.js.DeleteStream(ctx, Stream(h.site)))
}

// StreamResetError is that the stream no longer holds what it held: it ends before the number that was read already, or
// is another one. Its numbers mean nothing any more; read again from the first.
type StreamResetError struct {
	Read uint64 // the number of the last message read
	Last uint64 // that of the last one there now
}

func (r *StreamResetError) Error() string {
	return fmt.Sprintf(
		"the stream was read to %d and now ends at %d, or was made anew: it lost messages, and must be read again from the first", r.Read, r.Last)
}

// Consume hands each message from the number from on to take, in order, and waits for more until ctx ends or take
// returns an error, which is then returned. It outlasts a lost connection that comes back. It returns a
// *StreamResetError when the stream went backwards or was made anew, and an *Error of kind Gone when the connection was
// closed for good. The next from is the number of the last message taken, plus one.
func (h *Host) Consume(ctx context.Context, from uint64, take func(Message) error) error {
	from = max(from, 1)
	wake := make(chan struct{}, 1)
	sub, err := h.nc.Subscribe(NewSubjects(h.site), func(*nats.Msg) {
		select {
		case wake <- struct{}{}:
		default: // it will look anyway
		}
	})
	if err != nil {
		return h.explain(ctx, "follow its log", err, nil)
	}
	defer func() { _ = sub.Unsubscribe() }() // it fails only with the connection
	tick := time.NewTicker(look)
	defer tick.Stop()
	var created time.Time
	for {
		s, err := h.State(ctx)
		if err == nil {
			if s.Last+1 < from || !created.IsZero() && !s.Created.Equal(created) {
				return &StreamResetError{Read: from - 1, Last: s.Last}
			}
			created = s.Created
			before := from
			if from, err = h.drain(ctx, from, s.Last, take); err == nil && before < from && from <= s.Last {
				continue
			}
		}
		var taken *refused
		var failed *Error
		switch {
		case errors.As(err, &taken):
			return taken.error
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.As(err, &failed) && failed.Kind != Unreachable:
			return err
		}
		select { // a connection that was cut comes back, or is closed
		case <-wake:
		case <-tick.C:
		case <-h.closed:
			return fail(Gone, errClosed, "the host's connection to the stream of site %s was closed", h.site)
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// refused marks an error of the one who takes, which ends Consume as it is.
type refused struct{ error }

// drain hands on what there is up to last and gives the number to go on from.
func (h *Host) drain(ctx context.Context, from, last uint64, take func(Message) error) (uint64, error) {
	for from <= last {
		messages, next, err := h.read(ctx, from, maxRead)
		if err != nil {
			return from, err
		}
		for _, m := range messages {
			if err := take(m); err != nil {
				return from, &refused{err}
			}
			from = m.Seq + 1
		}
		from = max(from, next)
		if len(messages) == 0 { // damaged, or a copy that lags: what comes later shows which
			return from, nil
		}
	}
	return from, nil
}

// ServeHeads answers each device that asks how far the log reaches, until stop is called. Several hosts of one site
// share the questions. A zero Now is taken from the clock.
func (h *Host) ServeHeads(heads func() Heads) (stop func(), err error) {
	sub, err := h.nc.QueueSubscribe(HeadsSubject(h.site), "host", func(m *nats.Msg) {
		now := heads()
		if now.Now.IsZero() {
			now.Now = time.Now()
		}
		reply, err := answer(now)
		if err == nil {
			_ = m.RespondMsg(reply) // who asked asks again
		}
	})
	if err != nil {
		return nil, fail(Internal, err, "could not answer for the heads of site %s", h.site)
	}
	// a device that asks from here on is answered, not told to try again
	if err := h.nc.FlushTimeout(timeout); err != nil {
		_ = sub.Unsubscribe()
		return nil, fail(Internal, err, "could not answer for the heads of site %s: %v", h.site, err)
	}
	return func() { _ = sub.Unsubscribe() }, nil // it fails only on a closed connection, which answers nobody
}

// Ensure makes the site's stream, or brings the one that is there to what this version wants of it. Replicas are 1, or
// 3 or 5 in a cluster. It refuses a server that cannot do what the stream needs.
func Ensure(ctx context.Context, nc *nats.Conn, site string, replicas int) error {
	if err := CheckSite(site); err != nil {
		return err
	}
	js, err := jetstream.New(nc)
	if err != nil {
		return fail(Internal, err, "could not speak to the stream of site %s", site)
	}
	ctx, stop := context.WithTimeout(ctx, timeout)
	defer stop()
	want := streamOf(site, replicas)
	if old, err := js.Stream(ctx, want.Name); err == nil { // a stream that is closed stays so
		want.MaxBytes = old.CachedInfo().Config.MaxBytes
	}
	s, err := js.CreateOrUpdateStream(ctx, want)
	if err != nil {
		return fail(Internal, err, "could not make the stream of site %s: %v", site, err)
	}
	got := s.CachedInfo().Config
	if !got.AllowDirect || !got.DenyDelete || !got.DenyPurge || got.RePublish == nil ||
		got.Storage != jetstream.FileStorage {
		return fail(Internal, nil,
			"the stream %s is not what hod asked for: it must be kept in files, readable directly, and never deleted from", want.Name)
	}
	return nil
}

func streamOf(site string, replicas int) jetstream.StreamConfig {
	return jetstream.StreamConfig{
		Name:        Stream(site),
		Description: "The log of a site: segments as devices signed them",
		Subjects:    []string{LogSubjects(site)},
		Storage:     jetstream.FileStorage,
		Retention:   jetstream.LimitsPolicy,
		Discard:     jetstream.DiscardNew, // a full stream refuses; it forgets nothing
		MaxMsgs:     -1,
		MaxBytes:    -1,
		// One device that goes wrong fills no more than its own share, and hears of it.
		MaxMsgsPerSubject:    MaxCarried,
		DiscardNewPerSubject: true,
		MaxMsgSize:           MaxMessage,
		Replicas:             replicas,
		AllowDirect:          true,
		DenyDelete:           true,
		DenyPurge:            true,
		// the least there is: the fold drops repeats, and a stranger could name another's id
		Duplicates: 100 * time.Millisecond,
		RePublish: &jetstream.RePublish{
			Source:      LogSubjects(site),
			Destination: "hod.new." + site + ".{{wildcard(1)}}",
		},
	}
}
