package api

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"testing"
	"time"
	"unicode/utf8"

	"golang.org/x/time/rate"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/internal/plan"
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
	"hod/server/enrol"
	"hod/server/limit"
	example "hod/testdata/plan"
)

// gone is a watcher that went away before it was told anything.
type gone struct {
	grpc.ServerStream
	ctx context.Context
}

func (g gone) Context() context.Context        { return g.ctx }
func (gone) SendHeader(metadata.MD) error      { return nil }
func (gone) Send(m *hodv1.WatchResponse) error { _, err := proto.Marshal(m); return err }

// Whatever stands in the fields of a question: an answer that goes on the wire, or an error that says what was wrong
// with the question and not that the server is.
func FuzzQuestions(f *testing.F) {
	a, m, key := served(f)
	a.joining = limit.NewRate(rate.Inf, 0)
	read, err := plan.Read("vault_us.yaml", example.VaultUS, nil)
	if err != nil {
		f.Fatal(err)
	}
	air := unit.Celsius(21)
	for _, b := range []event.Body{
		read.Site, read.Mixes[0], read.Zones[0], read.Coats[0],
		event.WeatherObserved{Station: "mast", Samples: []event.Weather{{At: noon, Air: &air}}},
	} {
		if _, err := a.config.Host.Append(b); err != nil {
			f.Fatalf("%s: %v", event.KindOf(b), err)
		}
	}
	secret, err := a.config.Host.Invite(enrol.Invitation{Role: event.CrewRole, For: time.Hour, Uses: 1})
	if err != nil {
		f.Fatal(err)
	}
	newcomer := ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))
	q, joining := queries{api: a}, enrolments{api: a}
	watcher, cancel := context.WithCancel(metadata.NewIncomingContext(context.Background(),
		signed(key, "dune", string(m.Device), hodv1.QueryService_Watch_FullMethodName, noon)))
	cancel()

	const kinds = 15
	at := noon.Unix()
	for which := range uint8(kinds) {
		f.Add(which, "D1", "north", at, int32(0), int32(0))
		f.Add(which, "2026-07-18", "", int64(-62135596800), int32(0), int32(2000))
		f.Add(which, "n1/3", "note", int64(253402300799), int32(999999999), int32(-1))
		f.Add(which, string(m.Device), "1784376000000", int64(0), int32(-1), int32(2001))
	}
	f.Add(uint8(11), secret.String(), "no/such", at, int32(0), int32(0))
	f.Add(uint8(6), "9999-12-31", "", int64(-1), int32(0), int32(0))
	f.Fuzz(func(t *testing.T, which uint8, text, more string, seconds int64, nanos, number int32) {
		if !utf8.ValidString(text) || !utf8.ValidString(more) {
			return // no message holds such a text
		}
		var when *timestamppb.Timestamp
		if seconds != 0 {
			when = &timestamppb.Timestamp{Seconds: seconds, Nanos: nanos}
		}
		ctx := context.Background()
		var reply proto.Message
		var err error
		switch which % kinds {
		case 0:
			reply, err = q.Board(ctx, &hodv1.BoardRequest{At: when})
		case 1:
			reply, err = q.Joints(ctx, &hodv1.JointsRequest{At: when})
		case 2:
			reply, err = q.Flags(ctx, &hodv1.FlagsRequest{At: when, All: number > 0})
		case 3:
			reply, err = q.Forecast(ctx, &hodv1.ForecastRequest{At: when})
		case 4:
			reply, err = q.Stock(ctx, &hodv1.StockRequest{At: when})
		case 5:
			reply, err = q.Weather(ctx, &hodv1.WeatherRequest{At: when})
		case 6:
			reply, err = q.Day(ctx, &hodv1.DayRequest{At: when, Date: text})
		case 7:
			reply, err = q.Zone(ctx, &hodv1.ZoneRequest{At: when, Zone: text})
		case 8:
			reply, err = q.Log(ctx, &hodv1.LogRequest{
				Zone: text, Crew: more, Kind: more, Since: when,
				SetAside: number%2 == 1, Most: number,
			})
		case 9:
			if err = q.Watch(&hodv1.WatchRequest{Since: text}, gone{ctx: watcher}); err == nil {
				t.Fatal("who went away is still told what changes")
			}
		case 10:
			proof := hex.EncodeToString(ed25519.Sign(key, auth.Call("dune", text, board, more)))
			if number < 0 {
				proof = more
			}
			who, admitted := a.caller(metadata.NewIncomingContext(ctx,
				metadata.Pairs(auth.DeviceHeader, text, auth.TimeHeader, more, auth.ProofHeader, proof)), board)
			if err = admitted; err == nil && who.Device != m.Device {
				t.Fatalf("%q is let in as %+v", text, who)
			}
		case 11:
			proof := ed25519.Sign(newcomer, []byte(text))
			if number < 0 {
				proof = []byte(more)
			}
			reply, err = joining.Enrol(ctx,
				&hodv1.EnrolRequest{
					Secret: text, PublicKey: newcomer.Public().(ed25519.PublicKey), Proof: proof,
					Crew: more, Label: text,
				})
		case 12:
			reply, err = q.Next(ctx, &hodv1.NextRequest{At: when, Crew: more})
		case 13:
			reply, err = q.NextAll(ctx, &hodv1.NextAllRequest{At: when})
		case 14:
			reply, err = q.DayPlans(ctx, &hodv1.DayPlansRequest{At: when})
		}
		if err != nil {
			switch s := status.Convert(a.toStatus(board, err)); s.Code() {
			case codes.InvalidArgument, codes.NotFound, codes.AlreadyExists, codes.PermissionDenied,
				codes.Unauthenticated, codes.Canceled:
				if s.Message() == "" || !utf8.ValidString(s.Message()) || len(s.Message()) > 2000 {
					t.Fatalf("question %d of %q, %q is refused with %q", which%kinds, text, more, s.Message())
				}
			default:
				t.Fatalf("question %d of %q, %q at %v with %d: %v", which%kinds, text, more, when, number, err)
			}
			return
		}
		if reply != nil {
			if _, err := proto.Marshal(reply); err != nil {
				t.Fatalf("question %d of %q, %q: %v", which%kinds, text, more, err)
			}
		}
	})
}
