package fault

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"testing"
	"time"

	"hod/internal/event"
)

func TestWhatAFileCannotBeIsOfTheDiskAndSaysWhatToDo(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{
			&fs.PathError{Op: "open", Path: "/d", Err: fs.ErrPermission},
			"may not be read and written by this user; choose another data folder with --data",
		},
		{&fs.PathError{Op: "open", Path: "/d", Err: syscall.EROFS}, "may not be read and written"},
		{fmt.Errorf("flush: %w", syscall.ENOSPC), "the disk that holds /d is full"},
		{syscall.EDQUOT, "the disk that holds /d is full"},
		{syscall.ENOTDIR, "/d is not a folder; choose another with --data"},
		{errors.New("odd"), "/d cannot be used: odd"},
	} {
		err := OfFile("/d", c.err)
		var e *Error
		if !errors.As(err, &e) || e.Kind != Disk || !strings.Contains(e.Msg, c.want) || !errors.Is(err, c.err) {
			t.Errorf("%v: %v; want %q", c.err, err, c.want)
		}
	}
	known := New(Busy, nil, "another server uses it")
	if OfFile("/d", known) != known || OfFile("/d", nil) != nil {
		t.Error("an error that has a kind gets another, or none is one")
	}
}

func TestWhatAnEventCannotBeIsInvalid(t *testing.T) {
	_, cannot := event.Write(event.Event{
		Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: time.Unix(1e9, 0),
		LoggedAt: time.Unix(1e9, 0), Body: event.Noted{},
	})
	var e *Error
	if err := OfEvent(cannot); !errors.As(err, &e) || e.Kind != Invalid ||
		!strings.Contains(e.Msg, "the note is empty") {
		t.Errorf("%v", err)
	}
	other := errors.New("odd")
	if OfEvent(other) != other || OfEvent(nil) != nil {
		t.Error("another error got a kind")
	}
}

// What a stranger wrote is short and obeyed by no terminal.
func TestAStrangersTextIsQuoted(t *testing.T) {
	for text, want := range map[string]string{
		"n2": "n2", "two words": `"two words"`, "\x1b[2J": `"\x1b[2J"`, "ö": "ö",
		"a\nb": `"a\nb"`,
	} {
		if got := Quote(text); got != want {
			t.Errorf("%q is %s; want %s", text, got, want)
		}
	}
	if got := Quote(strings.Repeat("a b", 99)); len(got) > 60 {
		t.Errorf("%d characters of it are shown", len(got))
	}
}

func TestUntilTheLogIsReadTheServerIsOffline(t *testing.T) {
	var e *Error
	if err := NotYet("tarn"); !errors.As(err, &e) || e.Kind != Offline || !strings.Contains(e.Msg, "site tarn") {
		t.Errorf("%v", err)
	}
}
