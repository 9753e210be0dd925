package session

import (
	"context"
	"errors"
	"testing"
	"time"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
)

func TestACommandThatIsStoppedDoesNotFoldTheRecordToItsEnd(t *testing.T) {
	at := time.Date(2031, 5, 12, 7, 0, 0, 0, time.UTC)
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "site", Seq: 1}, HappenedAt: at, LoggedAt: at,
		Body: event.Noted{Text: "a note"},
	})
	if err != nil {
		t.Fatal(err)
	}
	s, err := foldAll(t.Context(), fold.New("tarn", "site"), []event.Event{e})
	if err != nil || s.Len() != 1 {
		t.Fatalf("not stopped: %v", err)
	}
	ctx, stop := context.WithCancelCause(t.Context())
	stop(&terminal.Error{Kind: terminal.Interrupted, Msg: "stopped"})
	s, err = foldAll(ctx, fold.New("tarn", "site"), []event.Event{e})
	var why *terminal.Error
	if s != nil || !errors.As(err, &why) || why.Kind != terminal.Interrupted {
		t.Errorf("stopped, it gave %v and %v, not why it was stopped", s, err)
	}
}
