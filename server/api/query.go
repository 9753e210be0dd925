package api

import (
	"errors"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/wire"
	hodv1 "hod/proto/hod/v1"
)

// queries answers QueryService. Each method is a view put on the wire.
type queries struct {
	hodv1.UnimplementedQueryServiceServer
	api *API
}

// asked is the instant and the place in which a question is answered.
type asked struct {
	now time.Time
	in  *time.Location
}

// answer builds a view of the fold, at an instant or now, and fills the message that mirrors it.
func answer[V any](q queries, at *timestamppb.Timestamp, into proto.Message,
	build func(*fold.Site, asked) (V, error),
) error {
	return answerAfter(q, at, into, func(s *fold.Site, a asked) (func() V, error) {
		v, err := build(s, a)
		return func() V { return v }, err
	})
}

// answerAfter is answer where what is built of the fold takes long to work out: that is done once the fold is free
// again.
func answerAfter[V any](q queries, at *timestamppb.Timestamp, into proto.Message,
	build func(*fold.Site, asked) (func() V, error),
) error {
	now, err := instant(at, q.api.config.Host.Now())
	if err != nil {
		return err
	}
	var work func() V
	q.api.config.Host.View(func(s *fold.Site) {
		if at != nil {
			s = s.Until(now)
		}
		work, err = build(s, asked{now, q.api.Place(s)})
	})
	if err != nil {
		return err
	}
	return wire.To(work(), into)
}

var (
	firstInstant = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	lastInstant  = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)
)

// instant that was asked for, or now.
func instant(at *timestamppb.Timestamp, now time.Time) (time.Time, error) {
	if at == nil {
		return now, nil
	}
	if at.CheckValid() != nil || at.AsTime().Before(firstInstant) || !at.AsTime().Before(lastInstant) {
		return time.Time{}, status.Error(codes.InvalidArgument,
			"the instant asked for cannot be; it must be from 1970 to 2199")
	}
	return at.AsTime(), nil
}

// Place is the site's time zone: that of its plan, if the system knows it.
func (a *API) Place(s *fold.Site) *time.Location {
	name := s.Plan().TimeZone
	if name == "" {
		return a.config.Place
	}
	if in, ok := a.zones.Load(name); ok {
		return in.(*time.Location)
	}
	in, err := time.LoadLocation(name)
	if err != nil {
		return a.config.Place
	}
	a.zones.Store(name, in)
	return in
}

// unreadable gives what a person asked in words that cannot be its code.
func unreadable(err error) error {
	var cannot event.CannotBe
	if errors.As(err, &cannot) {
		return status.Error(codes.InvalidArgument, string(cannot))
	}
	return status.Error(codes.InvalidArgument, err.Error())
}
