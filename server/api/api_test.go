package api

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"

	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
	"hod/server/enrol"
	"hod/server/fault"
	"hod/server/host"
	"hod/server/limit"
)

// What a test started has ended when all are done.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

// still is a stream in which nothing happens.
type still struct{}

func (still) State(context.Context) (bus.State, error) { return bus.State{}, nil }

func (still) Consume(ctx context.Context, _ uint64, _ func(bus.Message) error) error {
	<-ctx.Done()
	return ctx.Err()
}

func (still) Publish(context.Context, event.Device, []byte) error { return nil }

// served is an API on a host with one foreman's device, without a network.
func served(t testing.TB) (*API, enrol.Member, ed25519.PrivateKey) {
	t.Helper()
	h, err := host.Open(t.TempDir(), host.Config{
		Site: "dune", Now: func() time.Time { return noon },
		Log: zerolog.Nop(),
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- h.Follow(ctx, still{}) }()
	t.Cleanup(func() {
		cancel()
		if err := errors.Join(<-done, h.Close()); err != nil {
			t.Error(err)
		}
	})
	secret, err := h.Invite(enrol.Invitation{Role: event.Foreman, For: time.Hour, Uses: 1})
	if err != nil {
		t.Fatal(err)
	}
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	text := secret.String()
	m, err := h.Enrol(context.Background(), enrol.Applicant{
		Secret: text, Key: key.Public().(ed25519.PublicKey),
		Proof: ed25519.Sign(key, []byte(text)),
	})
	if err != nil {
		t.Fatal(err)
	}
	a := &API{
		config:  Config{Host: h, Place: time.UTC, Log: zerolog.Nop()},
		closing: make(chan struct{}), places: limit.Answers(),
	}
	return a, m, key
}

const board = "/hod.v1.QueryService/Board"

func signed(key ed25519.PrivateKey, site, device, method string, at time.Time) metadata.MD {
	ms := strconv.FormatInt(at.UnixMilli(), 10)
	return metadata.Pairs(auth.DeviceHeader, device, auth.TimeHeader, ms,
		auth.ProofHeader, hex.EncodeToString(ed25519.Sign(key, auth.Call(site, device, method, ms))))
}

func TestOnlyASignedCallIsAnswered(t *testing.T) {
	a, m, key := served(t)
	d := string(m.Device)
	_, stranger, _ := ed25519.GenerateKey(nil)
	twice := signed(key, "dune", d, board, noon)
	twice.Append(auth.DeviceHeader, d)
	later := signed(key, "dune", d, board, noon)
	later.Set(auth.TimeHeader, strconv.FormatInt(noon.UnixMilli()+1, 10))
	for _, c := range []struct {
		name string
		sent metadata.MD
		want codes.Code
		says string
	}{
		{"signed now", signed(key, "dune", d, board, noon), codes.OK, ""},
		{"a clock almost five minutes behind", signed(key, "dune", d, board, noon.Add(-5*time.Minute)), codes.OK, ""},
		{
			"a clock six minutes behind", signed(key, "dune", d, board, noon.Add(-6*time.Minute)),
			codes.Unauthenticated,
			"6 min behind",
		},
		{
			"a clock six minutes ahead", signed(key, "dune", d, board, noon.Add(6*time.Minute)), codes.Unauthenticated,
			"6 min ahead",
		},
		{"nothing", nil, codes.Unauthenticated, "not signed"},
		{"another's key", signed(stranger, "dune", d, board, noon), codes.Unauthenticated, "not signed"},
		{
			"signed for another method", signed(key, "dune", d, "/hod.v1.QueryService/Log", noon),
			codes.Unauthenticated,
			"not signed",
		},
		{"signed for another site", signed(key, "reef", d, board, noon), codes.Unauthenticated, "not signed"},
		{"an unknown device", signed(key, "dune", "n7", board, noon), codes.Unauthenticated, "not signed"},
		{"another time than the signed one", later, codes.Unauthenticated, "not signed"},
		{"a header twice", twice, codes.Unauthenticated, "not signed"},
	} {
		ctx := metadata.NewIncomingContext(t.Context(), c.sent)
		_, err := a.unaryInterceptor(ctx, nil, &grpc.UnaryServerInfo{FullMethod: board},
			func(context.Context, any) (any, error) { return "the board", nil })
		if status.Code(err) != c.want || !strings.Contains(status.Convert(err).Message(), c.says) {
			t.Errorf("%s: got %v, want %v and %q", c.name, err, c.want, c.says)
		}
	}
}

// Every method of the record's service is closed to who does not sign; a method that is added is closed by itself.
func TestEveryQuestionNeedsASignature(t *testing.T) {
	a, _, _ := served(t)
	for _, m := range hodv1.QueryService_ServiceDesc.Methods {
		if _, err := a.admit(t.Context(), "/hod.v1.QueryService/"+m.MethodName); status.Code(
			err) != codes.Unauthenticated {
			t.Errorf("%s without a signature: %v", m.MethodName, err)
		}
	}
	if _, err := a.admit(t.Context(), hodv1.EnrolService_Enrol_FullMethodName); err != nil {
		t.Errorf("who joins has no signature yet: %v", err)
	}
}

func TestEveryKindOfErrorHasACode(t *testing.T) {
	a, _, _ := served(t)
	for kind := fault.Internal; kind <= fault.Busy; kind++ {
		if _, ok := table[kind]; !ok {
			t.Errorf("kind %d has no code", kind)
		}
		err := a.toStatus(board, &fault.Error{Kind: kind, Msg: "what was wrong"})
		if status.Code(err) == codes.OK || status.Code(err) == codes.Unknown {
			t.Errorf("kind %d: %v", kind, err)
		}
	}
	for _, err := range []error{
		&fault.Error{Kind: fault.Disk, Msg: "/var/lib/secret is full"}, errors.New("/var/lib/secret: no such file"),
	} {
		if got := a.toStatus(board, err).Error(); strings.Contains(got, "secret") {
			t.Errorf("a caller hears of this server's files: %s", got)
		}
	}
}

// A caller hears what is wrong and on which side, and not that nobody answers.
func TestWhatIsWrongAtTheServerIsSaidToBeThere(t *testing.T) {
	a, m, key := served(t)
	for _, c := range []struct {
		err  error
		says string
	}{
		{
			fault.OfFile("/var/lib/secret", &fs.PathError{Op: "write", Path: "/var/lib/secret", Err: syscall.ENOSPC}),
			"the server's disk is full",
		},
		{
			fault.OfFile("/var/lib/secret", &fs.PathError{Op: "write", Path: "/var/lib/secret", Err: syscall.EIO}),
			"the server's disk cannot be written",
		},
		{fault.NotYet("dune"), "has not read its log to the end yet"},
	} {
		err := a.toStatus(board, fmt.Errorf("enrol: %w", c.err))
		if code := status.Code(err); code == codes.Unavailable || code == codes.Internal ||
			!strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "secret") {
			t.Errorf("%v is told as %v, want %q", c.err, err, c.says)
		}
	}
	ask := func(at time.Time) error {
		ctx := metadata.NewIncomingContext(t.Context(), signed(key, "dune", string(m.Device), board, at))
		_, err := a.caller(ctx, board)
		return err
	}
	for _, off := range []time.Duration{-9 * time.Hour, 9 * time.Hour} {
		if err := ask(noon.Add(off)); err == nil ||
			!strings.Contains(err.Error(), noon.UTC().Format("2006-01-02 15:04:05 MST")) ||
			!strings.Contains(err.Error(), noon.Add(off).UTC().Format("15:04")) {
			t.Errorf("a call %v off: %v, want both times in it", off, err)
		}
	}
	a.config.Built = noon.AddDate(1, 0, 0)
	if err := ask(noon.AddDate(1, 2, 0)); err == nil || !strings.Contains(err.Error(), "the server's clock is wrong") {
		t.Errorf("the server's clock says less than when it was built: %v", err)
	}
}

func TestAFaultOfTheProgramFailsOneCall(t *testing.T) {
	a, m, key := served(t)
	ctx := metadata.NewIncomingContext(t.Context(), signed(key, "dune", string(m.Device), board, noon))
	_, err := a.unaryInterceptor(ctx, nil, &grpc.UnaryServerInfo{FullMethod: board},
		func(context.Context, any) (any, error) { panic("a nil map") })
	if status.Code(err) != codes.Internal || strings.Contains(err.Error(), "nil map") {
		t.Errorf("got %v", err)
	}
}

func TestAFloodOfCodesLetsTheDevicesOfOtherAddressesJoin(t *testing.T) {
	a, _, _ := served(t)
	a.joining = limit.NewRate(0, 3)
	join := func(address, secret string) error {
		_, key, err := ed25519.GenerateKey(nil)
		if err != nil {
			t.Fatal(err)
		}
		at, err := net.ResolveTCPAddr("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		_, err = enrolments{api: a}.Enrol(peer.NewContext(t.Context(), &peer.Peer{Addr: at}), &hodv1.EnrolRequest{
			Secret: secret, PublicKey: key.Public().(ed25519.PublicKey), Proof: ed25519.Sign(key, []byte(secret)),
			Crew: "north",
		})
		return err
	}
	for i := range 100 {
		if got, want := status.Code(join("198.51.100.1:1", "a guess")) == codes.ResourceExhausted, i >= 3; got != want {
			t.Fatalf("guess %d of one address is told to wait: %v, want %v", i+1, got, want)
		}
	}
	secret, err := a.config.Host.Invite(enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := join("203.0.113.9:1", secret.String()); err != nil {
		t.Errorf("a device with a code, from another address: %v", err)
	}
}
