package admin

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	"hod/internal/event"
	"hod/server/fault"
	"hod/server/host"
)

// What a test started has ended when all are done.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func serve(t *testing.T, dir string, do Orders) *Client {
	t.Helper()
	s, err := Listen(dir, do, zerolog.Nop())
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- s.Serve() }()
	t.Cleanup(func() {
		s.Stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return dial(t, dir)
}

func dial(t *testing.T, dir string) *Client {
	t.Helper()
	c, err := Dial(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := c.Close(); err != nil {
			t.Error(err)
		}
	})
	return c
}

func kindOf(err error) fault.Kind {
	var e *fault.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return -1
}

func TestARefusalReachesWhoOrderedWithItsKindAndItsWords(t *testing.T) {
	var refusal error
	c := serve(t, t.TempDir(), Orders{Revoke: func(context.Context, event.Device, string) error { return refusal }})
	for kind := range byKind {
		refusal = fault.New(kind, nil, "no device n2 is enrolled here")
		if err := c.Revoke(t.Context(), "n2", ""); kindOf(err) != kind ||
			err.Error() != "no device n2 is enrolled here" {
			t.Errorf("kind %d came back as %v, of kind %d", kind, err, kindOf(err))
		}
	}
	refusal = errors.New("a secret of the server's disk")
	if err := c.Revoke(t.Context(), "n2", ""); kindOf(err) != fault.Internal ||
		strings.Contains(err.Error(), "secret") {
		t.Errorf("an error that nobody classified came back as %v", err)
	}
}

func TestAnOrderIsCarriedOutAsItWasGiven(t *testing.T) {
	var revoked []string
	want := host.StreamChecked{Messages: 7, Events: 9, Faults: []string{"one"}, Notes: []string{"two", "three"}}
	c := serve(t, t.TempDir(), Orders{
		Revoke: func(_ context.Context, d event.Device, why string) error {
			revoked = append(revoked, string(d)+": "+why)
			return nil
		},
		CheckStream: func(context.Context) (host.StreamChecked, error) { return want, nil },
	})
	if err := c.Revoke(t.Context(), "n2", "left in the rain"); err != nil ||
		!reflect.DeepEqual(revoked, []string{"n2: left in the rain"}) {
		t.Errorf("revoked %q, %v", revoked, err)
	}
	if got, err := c.CheckStream(t.Context()); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, %v; want %+v", got, err, want)
	}
	if err := c.Revoke(t.Context(), "", ""); kindOf(err) != fault.Invalid || len(revoked) != 1 {
		t.Errorf("an order without a device: %v", err)
	}
	if err := c.Revoke(t.Context(), "n2", strings.Repeat("x", maxOrder)); err == nil || len(revoked) != 1 {
		t.Errorf("an order that is too long: %v", err)
	}
	if err := c.Revoke(t.Context(), "n2", "bad\xff text"); err != nil || len(revoked) != 2 {
		t.Errorf("a reason that is no text: %v", err)
	}
}

func TestWithoutAServerAnOrderSaysSo(t *testing.T) {
	dir := t.TempDir()
	if err := dial(t, dir).Revoke(t.Context(), "n2", ""); kindOf(err) != fault.Offline ||
		!strings.Contains(err.Error(), "no hodd runs on the data folder "+dir) {
		t.Errorf("%v", err)
	}
}

func TestASocketThatWasLeftBehindIsTakenOver(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, socketFile), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, addressFile), []byte("/gone/admin.sock\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := serve(t, dir, Orders{Revoke: func(context.Context, event.Device, string) error { return nil }})
	if err := c.Revoke(t.Context(), "n2", ""); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(filepath.Join(dir, socketFile)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the socket is %v, %v; want that this user alone may use it", info, err)
	}
}

// A socket's path may have some hundred bytes; a data folder's may have more.
func TestADataFolderWithALongPathTakesOrders(t *testing.T) {
	dir := filepath.Join(t.TempDir(), strings.Repeat("deep", 20), strings.Repeat("down", 20))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	done := 0
	c := serve(t, dir, Orders{Revoke: func(context.Context, event.Device, string) error { done++; return nil }})
	if err := c.Revoke(t.Context(), "n2", ""); err != nil || done != 1 {
		t.Errorf("carried out %d times: %v", done, err)
	}
}

func TestAnOrderThatIsNotAnsweredInTimeSaysThatItWasTaken(t *testing.T) {
	ctx, giveUp := context.WithCancel(t.Context())
	c := serve(t, t.TempDir(), Orders{Revoke: func(ctx context.Context, _ event.Device, _ string) error {
		giveUp()
		<-ctx.Done()
		return nil
	}})
	if err := c.Revoke(ctx, "n2", ""); kindOf(err) != fault.Offline ||
		!strings.Contains(err.Error(), "took the order to revoke n2") {
		t.Errorf("%v", err)
	}
}
