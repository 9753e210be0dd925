package web

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"
)

// moveOn makes the record's number n, as if events had come.
func (r *invented) moveOn(n uint64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.number = n
	close(r.more)
	r.more = make(chan struct{})
}

func TestManyChangesAreOneLineToALivePage(t *testing.T) {
	r := recordOf(t, nil, nil, noon)
	p := New(r, zerolog.Nop())
	resting, on := make(chan struct{}), make(chan struct{})
	p.rest = func(ctx context.Context) {
		select {
		case resting <- struct{}{}:
		case <-ctx.Done():
			return
		}
		select {
		case <-on:
		case <-ctx.Done():
		}
	}
	server := httptest.NewServer(http.HandlerFunc(func(to http.ResponseWriter, q *http.Request) {
		p.Answer(to, q, Visit{Path: "live"})
	}))
	defer server.Close()
	ctx, leave := context.WithCancel(context.Background())
	defer leave()
	q, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(q) //nolint:bodyclose // it is closed below
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	told := make(chan string)
	go func() {
		defer close(told)
		lines := bufio.NewScanner(answer.Body)
		for kind := ""; lines.Scan(); {
			if k, is := strings.CutPrefix(lines.Text(), "event: "); is {
				kind = k
			}
			if at, is := strings.CutPrefix(lines.Text(), "data: "); is {
				select {
				case told <- kind + " " + at:
				case <-ctx.Done():
					return
				}
			}
		}
	}()
	if got := <-told; got != "beat 0" {
		t.Fatalf("a page that becomes live hears %q first", got)
	}
	for _, last := range []uint64{1, 5000} {
		r.moveOn(last)
		if got, want := <-told, "change "+strconv.FormatUint(last, 10); got != want {
			t.Fatalf("it hears %q, want %q", got, want)
		}
		for n := last + 1; n < last+50; n++ {
			r.moveOn(n)
		}
		select {
		case <-resting:
		case got := <-told:
			t.Fatalf("it is told of a change and then at once of %q", got)
		}
		r.moveOn(last + 50)
		on <- struct{}{}
		if got, want := <-told, "change "+strconv.FormatUint(last+50, 10); got != want {
			t.Fatalf("after the pause it hears %q, want %q", got, want)
		}
		<-resting
		on <- struct{}{}
	}
}

func TestThePauseOfALivePageEndsWithItsReader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // its clock moves only when all wait
		ctx, leave := context.WithCancel(context.Background())
		began := time.Now()
		rest(ctx)
		if got := time.Since(began); got != pause {
			t.Errorf("with its reader there it takes %s", got)
		}
		leave()
		began = time.Now()
		rest(ctx)
		if got := time.Since(began); got != 0 {
			t.Errorf("once its reader has left it takes %s more", got)
		}
	})
}

func TestOneAddressKeepsTwentyPagesLiveAndOneLinkAHundred(t *testing.T) {
	p := New(recordOf(t, nil, nil, noon), zerolog.Nop())
	asks := func(from, link string) (int, string) {
		ctx, gone := context.WithCancel(context.Background())
		gone()
		w := httptest.NewRecorder()
		p.Answer(w, httptest.NewRequestWithContext(ctx, http.MethodGet, "/live", nil),
			Visit{Path: "live", From: from, Link: link})
		return w.Code, w.Body.String()
	}
	hold := func(from, link string) func() {
		leave, no := p.gate.enter(from, link)
		if no != nil {
			t.Fatalf("%s by %s: %s", from, link, no.says)
		}
		return leave
	}
	var leaves []func()
	for from := range 5 {
		for range 20 {
			leaves = append(leaves, hold(strconv.Itoa(from), "a"))
		}
	}
	for range 30 {
		leaves = append(leaves, hold("", "")) // a device's own pages
	}
	for _, c := range []struct {
		from, link string
		code       int
		says       string
	}{
		{"0", "b", http.StatusTooManyRequests, "20 pages are live at this address already"},
		{"9", "a", http.StatusTooManyRequests, "100 pages are live by this link already"},
		{"9", "b", http.StatusOK, "event: beat"},
	} {
		if code, body := asks(c.from, c.link); code != c.code || !strings.Contains(body, c.says) {
			t.Errorf("one more from %s by %s: %d, want %d and %q:\n%s", c.from, c.link, code, c.code, c.says, body)
		}
	}
	leaves[0]()
	if code, body := asks("0", "a"); code != http.StatusOK {
		t.Errorf("once one of them has left: %d %s", code, body)
	}
	for _, leave := range leaves[1:] {
		leave()
	}
	if p.gate.open != 0 || len(p.gate.from) != 0 || len(p.gate.link) != 0 {
		t.Errorf("when all have left the count holds %d, %v, %v", p.gate.open, p.gate.from, p.gate.link)
	}
	for n := range mostLive {
		hold(strconv.Itoa(n), strconv.Itoa(n))
	}
	if code, _ := asks("x", "x"); code != http.StatusServiceUnavailable {
		t.Errorf("one more than all: %d", code)
	}
}

// deadlined is an answer that keeps in mind which deadlines it was given.
type deadlined struct {
	*httptest.ResponseRecorder
	deadlines []time.Time
}

func (d *deadlined) SetReadDeadline(time.Time) error { return nil }

func (d *deadlined) SetWriteDeadline(t time.Time) error {
	d.deadlines = append(d.deadlines, t)
	return nil
}

// An HTTP/2 stream ends when its deadline passes, also while nothing is written: between two lines there is none.
func TestALivePageHasNoDeadlineBetweenTwoLines(t *testing.T) {
	r := recordOf(t, nil, nil, noon)
	p := New(r, zerolog.Nop())
	ctx, leave := context.WithCancel(context.Background())
	leave() // the reader goes after the first line
	to := &deadlined{ResponseRecorder: httptest.NewRecorder()}
	q := httptest.NewRequest(http.MethodGet, "/live", nil).WithContext(ctx)
	p.Answer(to, q, Visit{Path: "live", Deadline: func() time.Time { return noon }})
	if n := len(to.deadlines); n < 2 || !to.deadlines[0].Equal(noon) || !to.deadlines[n-1].IsZero() {
		t.Errorf("deadlines %v; want one for the line, and none after it", to.deadlines)
	}
}
