package api

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
	"hod/server/host"
)

const (
	// Missed is the kind of an answer that is no event: it says in words what the watcher was not told.
	Missed = "missed"

	// recheck is how often a watcher's right to watch is looked at when nothing happens.
	recheck = 2 * time.Second

	atOnce = 128
)

// Watch reports what changed until the caller goes away or is revoked. A caller that reads slowly delays nobody and
// fills no memory: what went by meanwhile is counted and said.
func (q queries) Watch(r *hodv1.WatchRequest, stream grpc.ServerStreamingServer[hodv1.WatchResponse]) error {
	h := q.api.config.Host
	m, err := q.api.caller(stream.Context(), hodv1.QueryService_Watch_FullMethodName)
	if err != nil {
		return err
	}
	ctx, cancel := q.api.until(stream.Context())
	defer cancel()
	after := h.Latest()
	if since := r.GetSince(); since != "" {
		name, err := event.ParseName(since)
		if err != nil {
			return unreadable(err)
		}
		n, ok := h.ChangeOf(name)
		if ok {
			after = n
		} else if err := stream.Send(&hodv1.WatchResponse{
			Kind: Missed,
			Text: "the server no longer knows what came after that event; ask for the board, and watch from now on",
		}); err != nil {
			return err
		}
	} else if err := stream.SendHeader(nil); err != nil {
		// The header tells the caller that it may ask for the board now: nothing after it is missed.
		return err
	}
	for {
		list, missed, err := changes(ctx, h, after)
		switch {
		case errors.Is(err, context.DeadlineExceeded):
		case stream.Context().Err() != nil:
			return stream.Context().Err()
		case err != nil:
			return status.Error(codes.Unavailable, "the server stops; watch again in a moment")
		}
		if now, ok := h.Member(m.Device); !ok || standing(now) != nil {
			return standing(now)
		}
		if missed > 0 {
			if err := stream.Send(&hodv1.WatchResponse{
				Kind: Missed,
				Text: fmt.Sprintf("%d changes went by faster than they were read; ask for the board", missed),
			}); err != nil {
				return err
			}
		}
		for _, c := range list {
			if err := stream.Send(q.changed(c.Event)); err != nil {
				return err
			}
			after = c.Number
		}
	}
}

func changes(ctx context.Context, h *host.Host, after uint64) ([]host.Change, uint64, error) {
	waiting, cancel := context.WithTimeout(ctx, recheck)
	defer cancel()
	list, missed, err := h.Changes(waiting, after, atOnce)
	if ctx.Err() != nil {
		return nil, 0, context.Canceled
	}
	return list, missed, err
}

// changed is an event in words, as it is read now.
func (q queries) changed(e event.Event) *hodv1.WatchResponse {
	reply := &hodv1.WatchResponse{
		Name: e.Name.String(), Kind: event.KindOf(e.Body), Crew: string(e.Crew),
		At: timestamppb.New(e.At()),
	}
	for _, z := range event.ZonesOf(e.Body) {
		reply.Zones = append(reply.Zones, string(z))
	}
	q.api.config.Host.View(func(s *fold.Site) {
		if r, ok := s.Record(e.Name); ok {
			entry := view.EntryOf(s, q.api.Place(s), r)
			reply.Text, reply.At = entry.Text, timestamppb.New(entry.At)
		}
		if reply.Crew == "" {
			reply.Crew = string(s.CrewOf(e.Device))
		}
	})
	return reply
}
