package session_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/client/crew"
	"hod/client/journal"
	"hod/client/session"
	"hod/client/session/sessiontest"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// asking is a command that does something with the open session and prints what it gives.
func asking(do func(ctx context.Context, s *session.Session) (string, error)) func(*session.Env) *cobra.Command {
	return func(env *session.Env) *cobra.Command {
		c := env.NewCommand("ask", "Ask", "hod ask")
		c.RunE = func(c *cobra.Command, _ []string) error {
			return session.Run(c.Context(), env, func(s *session.Session) error {
				text, err := do(c.Context(), s)
				_, _ = io.WriteString(env.Stdout, text)
				return err
			})
		}
		return c
	}
}

// worked is crew north's device after a batch and a placement of half of it.
func worked(t *testing.T) *sessiontest.Device {
	t.Helper()
	d := sessiontest.NewDevice(t, "n2")
	d.Must(crew.NewBatch, "batch body --moisture 4% --to 12:40")
	d.Must(crew.NewPlace, "place A1 1/2 --face outer --at 12:50")
	return d
}

func TestACoatIsFoundByWhatWasSaidAndByWhereTheCrewIs(t *testing.T) {
	d := worked(t)
	for _, c := range []struct {
		zone event.Zone
		face string
		want string
		err  string
	}{
		{"B1", "outer", "B1 outer 1", ""},
		{"B1", "", "B1 outer 1", ""}, // the crew is on the outer face
		{"B1", "inner", "B1 inner 1", ""},
		{"B1", "under", "", "--face: "},
	} {
		ran := d.Run(asking(func(_ context.Context, s *session.Session) (string, error) {
			coat, err := s.FindCoat(c.zone, session.CoatFlags{Face: c.face})
			return coat.String(), err
		}), "ask")
		if c.err == "" && (ran.Err != nil || ran.Out != c.want) || c.err != "" &&
			(ran.Err == nil || !strings.Contains(ran.Err.Error(), c.err)) {
			t.Errorf("%s %s: %s, %v; want %s%s", c.zone, c.face, ran.Out, ran.Err, c.want, c.err)
		}
	}
	fresh := sessiontest.NewDevice(t, "s1")
	fresh.Check(t, asking(func(_ context.Context, s *session.Session) (string, error) {
		_, err := s.FindCoat("B1", session.CoatFlags{})
		return "", err
	}), sessiontest.Line{
		Name: "a crew that placed nowhere yet", Line: "ask",
		Err: "several coats of zone B1 fit; say --face and --coat: it has B1 outer 1, B1 outer 2, B1 inner 1",
	})
}

// Drafts that are kept together are kept all or none.
func TestSeveralDraftsAreKeptAllOrNone(t *testing.T) {
	d := worked(t)
	keep := func(bodies ...event.Body) func(*session.Env) *cobra.Command {
		return asking(func(ctx context.Context, s *session.Session) (string, error) {
			drafts := make([]session.Draft, len(bodies))
			for i, b := range bodies {
				drafts[i].Body = b
			}
			all, err := s.KeepAll(ctx, drafts)
			if err != nil {
				return "", err
			}
			return "", s.TellAll(all)
		})
	}
	d.Check(t, keep(event.Noted{Text: "one"}, event.Noted{Text: "two"}), sessiontest.Line{
		Line: "ask", Want: []event.Body{event.Noted{Text: "one"}, event.Noted{Text: "two"}}, Says: "n2/4",
	})
	d.Check(t, keep(event.Noted{Text: "three"}, event.Noted{Text: ""}),
		sessiontest.Line{Name: "an empty note", Line: "ask", Err: "the note is empty"})
	d.Check(t, keep(event.Noted{Text: "three"}, event.SurfaceTended{Zone: "Q1", Tending: event.Covered}),
		sessiontest.Line{
			Name: "a zone that nobody planned", Line: "ask", Err: "Q1",
		})
	d.Check(t, keep(event.Noted{Text: "three"}, event.ZonePlanned{Zone: "Z1"}),
		sessiontest.Line{Name: "a crew plans nothing", Line: "ask", Err: "area"})
}

// A device's clock is corrected by what its last contact measured, but for times that a person says.
func TestAnEventCarriesTheClocksOffset(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	if err := d.Journal().SetContact(t.Context(), journal.Contact{
		At:     sessiontest.Noon.Add(-time.Hour),
		Offset: 2 * time.Minute,
	}); err != nil {
		t.Fatal(err)
	}
	now := d.Must(crew.NewNote, "note by the clock").Wrote[0]
	if now.Offset == nil || *now.Offset != 2*time.Minute || !now.At().Equal(sessiontest.Noon.Add(2*time.Minute)) ||
		now.Typed {
		t.Errorf("by the clock it happened at %v, offset %v", now.At(), now.Offset)
	}
	said := d.Must(crew.NewNote, "note as said --at 12:30").Wrote[0]
	if !said.At().Equal(sessiontest.At("12:30")) || !said.Typed {
		t.Errorf("as said it happened at %v", said.At())
	}
	if !now.LoggedAt.Equal(sessiontest.Noon) || !said.LoggedAt.Equal(sessiontest.Noon) {
		t.Errorf("they were logged at %v and %v, by the device's clock", now.LoggedAt, said.LoggedAt)
	}
}

func TestWhoWritesIsNamed(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.Who = "Ana"
	if e := d.Must(crew.NewNote, "note x").Wrote[0]; e.Person != "Ana" || e.Crew != "north" {
		t.Errorf("written by %q of crew %s", e.Person, e.Crew)
	}
}

// A number that the trade does not know is asked about: in the other unit, or so it was.
func TestAValueThatTheTradeDoesNotKnowIsAskedAbout(t *testing.T) {
	const line = "batch body --moisture 4% --temp 85C"
	d := sessiontest.NewDevice(t, "n2")
	d.Check(t, crew.NewBatch, sessiontest.Line{Name: "where nobody can be asked", Line: line, Err: "85 °F would fit"})
	d.Check(t, crew.NewBatch, sessiontest.Line{Name: "--sure", Line: line + " --sure", Says: "at 85 C (185 °F)"})
	for _, c := range []struct {
		answer string
		want   unit.Celsius
		err    string
	}{
		{"y\n", unit.Fahrenheit(85), ""},
		{"so\n", 85, ""},
		{"\n", 0, "nothing was recorded; if so it was, add --sure"},
	} {
		d.Env.Sure, d.Env.StdinTerminal, d.Env.Stdin = false, true, strings.NewReader(c.answer)
		ran := d.Run(crew.NewBatch, line)
		switch {
		case c.err != "":
			if ran.Err == nil || !strings.Contains(ran.Err.Error(), c.err) || len(ran.Wrote) > 0 {
				t.Errorf("answering %q: %v", c.answer, ran.Err)
			}
		case ran.Err != nil || len(ran.Wrote) != 1 ||
			!sessiontest.Near(float64(ran.Wrote[0].Body.(event.BatchMixed).Temperature.SI), float64(c.want)):
			t.Errorf("answering %q: %v, %d events:\n%s", c.answer, ran.Err, len(ran.Wrote), ran.Side)
		}
	}
}

func TestADocumentOfAnEventSaysWhereItIs(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.JSON = true
	var doc struct {
		Schema, Event, Kind, Crew, State, At string
		LoggedAt                             string `json:"logged_at"`
	}
	ran := d.Must(crew.NewNote, "note x --at 12:30")
	if err := json.Unmarshal([]byte(ran.Out), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Schema != "hod.note.v1" || doc.Event != "n2/1" || doc.Kind != "note" || doc.Crew != "north" ||
		doc.State != "kept here" ||
		doc.At != "2026-07-18T11:30:00.000Z" || doc.LoggedAt != "2026-07-18T12:00:00.000Z" {
		t.Errorf("%+v", doc)
	}
}

func TestAViewOfThenIsMadeByWhatIsKnownNow(t *testing.T) {
	d := worked(t)
	count := func(at string) string {
		t.Helper()
		var l session.ViewFlags
		l.At = at
		v, s, err := session.View(t.Context(), d.Env, l, func(s *session.Session) (int, error) {
			return len(s.Fold.Batches()), nil
		}, nil)
		if err != nil {
			return err.Error()
		}
		defer s.Close()
		return fmt.Sprint(v)
	}
	for at, want := range map[string]string{
		"": "1", "12:45": "1", "12:00": "0", "23:00": "still to come", "noonish": "--at: ",
	} {
		if got := count(at); !strings.Contains(got, want) {
			t.Errorf("--at %q: %s; want %s", at, got, want)
		}
	}
}

func TestTheServersErrorsHaveAKindForScripts(t *testing.T) {
	for code, kind := range map[codes.Code]terminal.Kind{
		codes.Unavailable: terminal.Offline, codes.DeadlineExceeded: terminal.Offline,
		codes.ResourceExhausted: terminal.Offline, codes.NotFound: terminal.NotFound,
		codes.Unauthenticated: terminal.Refused, codes.PermissionDenied: terminal.Refused,
		codes.InvalidArgument: terminal.Usage, codes.DataLoss: terminal.Internal,
	} {
		var e *terminal.Error
		if err := session.ServerError(status.Error(code, "why"), "s.example:1"); !errors.As(err, &e) || e.Kind != kind {
			t.Errorf("%v: %v; want kind %d", code, err, kind)
		}
	}
}

func TestAnyErrorHasAKind(t *testing.T) {
	stopped, stop := context.WithCancelCause(t.Context())
	stop(&terminal.Error{Kind: terminal.Terminated, Msg: "terminated"})
	for _, c := range []struct {
		name string
		ctx  context.Context
		err  error
		kind terminal.Kind
	}{
		{"one of a kind", t.Context(), fmt.Errorf("batch: %w", terminal.NotFoundf("none")), terminal.NotFound},
		{"of the journal", t.Context(), &journal.Error{Kind: journal.Full, Msg: "full"}, terminal.Disk},
		{"of an event", t.Context(), event.CannotBe("it cannot be"), terminal.Usage},
		{"interrupted", t.Context(), context.Canceled, terminal.Interrupted},
		{"stopped by the system", stopped, errors.New("cut off"), terminal.Terminated},
		{"any other", t.Context(), errors.New("odd"), terminal.Internal},
	} {
		if e := session.Classify(c.ctx, c.err); e.Kind != c.kind {
			t.Errorf("%s: kind %d; want %d", c.name, e.Kind, c.kind)
		}
	}
	if _, err := unit.ParseMass("heavy"); session.Classify(t.Context(), err).Kind != terminal.Usage {
		t.Errorf("of a quantity: %v", err)
	}
}

// Where the result cannot be printed, nobody is to write the event again.
func TestAnEventWhoseLineIsLostIsSaidToBeKept(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.Stdout = broken{}
	ran := d.Run(crew.NewNote, "note x")
	if ran.Err != nil || len(ran.Wrote) != 1 ||
		!strings.Contains(ran.Side, "n2/1 is kept on this disk all the same, so do not write it again") {
		t.Errorf("%v, %d events:\n%s", ran.Err, len(ran.Wrote), ran.Side)
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("the pipe is gone") }

func TestWithoutAJournalNothingIsOpened(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.Dir = t.TempDir()
	_, err := session.Open(t.Context(), d.Env)
	if e := session.Classify(t.Context(), err); e.Kind != terminal.Disk ||
		!strings.Contains(e.Msg, "join a site first") {
		t.Errorf("%v", err)
	}
}
