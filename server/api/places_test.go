package api

import (
	"context"
	"crypto/ed25519"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"hod/internal/fold"
	hodv1 "hod/proto/hod/v1"
	"hod/server/limit"
)

// One device asks as much as it can: what it asks too much is refused with the reason, another hears that all places
// are taken once they are, and who joins waits for none.
func TestQuestionsBeyondThePlacesAreRefusedWithTheReasonAndJoiningWaitsForNone(t *testing.T) {
	a, m, key := served(t)
	a.places = limit.NewSlots(1, 3, 2)
	other, _ := a.places.Enter(t.Context(), "s1")
	ask := func(ctx context.Context, method string) error {
		ctx = metadata.NewIncomingContext(ctx, signed(key, "dune", string(m.Device), method, noon))
		_, err := a.unaryInterceptor(ctx, nil, &grpc.UnaryServerInfo{FullMethod: method},
			func(context.Context, any) (any, error) { return nil, nil })
		return err
	}
	ctx, cancel := context.WithCancel(t.Context())
	waiting := make(chan error, 2)
	for range 2 {
		go func() { waiting <- ask(ctx, board) }()
	}
	refused := func(says string) bool {
		err := ask(t.Context(), board)
		return status.Code(err) == codes.ResourceExhausted && strings.Contains(status.Convert(err).Message(), says)
	}
	soon(t, "both of its places are taken", func() bool {
		_, err := a.places.Enter(cancelled(), string(m.Device))
		return err == limit.ErrShare
	})
	if !refused("for you already") {
		t.Error("a third question of one device is not refused")
	}
	go func() { _, err := a.places.Enter(ctx, "s2"); waiting <- err }()
	soon(t, "all that may wait do", func() bool {
		_, err := a.places.Enter(cancelled(), "s3")
		return err == limit.ErrBusy
	})
	if err := ask(t.Context(), hodv1.EnrolService_Enrol_FullMethodName); err != nil {
		t.Errorf("who joins: %v", err)
	}
	other()
	for range 2 {
		if err := <-waiting; err != nil {
			t.Errorf("one that waited: %v", err)
		}
	}
	cancel()
	<-waiting
}

// A device that is in contact is told how far its log reaches while somebody else's question is being worked out.
func TestALongQuestionKeepsNobodyFromHearingHowFarTheirLogReaches(t *testing.T) {
	a, m, key := served(t)
	h, heard := a.config.Host, make(chan int, 1)
	h.View(func(*fold.Site) {
		go func() {
			_, in := h.Rights(key.Public().(ed25519.PublicKey))
			if is, ok := h.Member(m.Device); ok && in && is.Device == m.Device {
				heard <- len(h.Heads())
			}
		}()
		select {
		case n := <-heard:
			if n != 1 {
				t.Errorf("%d heads", n)
			}
		case <-time.After(10 * time.Second):
			t.Error("the heads and who may sign in wait for somebody's question")
		}
	})
}

func cancelled() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

func soon(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !holds(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("it never came that %s", what)
		}
	}
}
