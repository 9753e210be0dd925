package limit

import (
	"fmt"
	"io"
	"net"
	"testing"
)

func TestAFloodFromOneAddressLeavesTheOthersTheirShare(t *testing.T) {
	r := NewRate(0, 3)
	for i := range 100 {
		if got, want := r.Allow(fmt.Sprintf("10.0.0.1:%d", 1000+i)), i < 3; got != want {
			t.Fatalf("call %d of one address: %v, want %v", i+1, got, want)
		}
	}
	for _, other := range []string{"10.0.0.2:1", "[2001:db8:0:1::1]:1"} {
		if !r.Allow(other) {
			t.Errorf("%s has to wait for a flood from elsewhere", other)
		}
	}
	for i := range 10 { // one subscriber has as many IPv6 addresses as it likes
		if got, want := r.Allow(fmt.Sprintf("[2001:db8:0:1::%d]:1", i+2)), i < 2; got != want {
			t.Errorf("call %d of one network: %v, want %v", i+2, got, want)
		}
	}
}

func TestWhatIsKeptOfAddressesIsBounded(t *testing.T) {
	r := NewRate(0, 1)
	for i := range 2 * mostAddresses {
		r.Allow(fmt.Sprintf("10.%d.%d.%d:1", i>>16, i>>8&255, i&255))
	}
	if len(r.of) > mostAddresses {
		t.Errorf("%d addresses are kept, want at most %d", len(r.of), mostAddresses)
	}
}

func TestOneAddressHasAFewConnectionsAtATime(t *testing.T) {
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := Listen(inner, 2)
	defer func() { _ = l.Close() }()
	accepted := make(chan net.Conn)
	go func() {
		defer close(accepted)
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			accepted <- c
		}
	}()
	dial := func() net.Conn {
		t.Helper()
		c, err := net.Dial("tcp", l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	a, b := dial(), dial()
	first, second := <-accepted, <-accepted
	third := dial()
	if _, err := third.Read(make([]byte, 1)); err == nil {
		t.Error("a third connection is served")
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	_ = first.Close() // closed twice it counts once
	fourth := dial()
	served := <-accepted
	fifth := dial()
	if _, err := fifth.Read(make([]byte, 1)); err == nil {
		t.Error("a third connection is served after one was closed twice")
	}
	for _, c := range []io.Closer{a, b, second, third, fourth, served, fifth} {
		_ = c.Close()
	}
}
