package event_test

import (
	"testing"
	"time"

	"hod/internal/event"
)

// When an event was logged is always the device's clock, so the offset that it knew counts whoever said when it
// happened.
func TestWhenAnEventWasLoggedIsBroughtToTheSitesClock(t *testing.T) {
	at := time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC)
	slow := 2 * time.Minute // the site's clock less the device's
	for _, e := range []event.Event{
		{HappenedAt: at, LoggedAt: at, Offset: &slow}, {HappenedAt: at, LoggedAt: at, Offset: &slow, Typed: true},
	} {
		if got := e.Logged().Sub(at); got != slow {
			t.Errorf("typed %t: it was logged %v after; want %v", e.Typed, got, slow)
		}
	}
	if e := (event.Event{LoggedAt: at}); !e.Logged().Equal(at) {
		t.Errorf("where no offset is known it was logged at %v", e.Logged())
	}
}

// However often a fork has an event written again, it goes back to the bytes that were written first.
func TestAnEventThatIsWrittenAgainNamesTheFirst(t *testing.T) {
	at := time.Date(2026, 7, 18, 10, 0, 0, 0, time.UTC)
	first, err := event.Write(event.Event{
		Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: at, LoggedAt: at, Body: event.Noted{Text: "x"},
	})
	if err != nil {
		t.Fatal(err)
	}
	second, err := first.Again(4)
	if err != nil {
		t.Fatal(err)
	}
	third, err := second.Again(9)
	if err != nil {
		t.Fatal(err)
	}
	if first.Origin() != first.Hash() || second.Origin() != first.Hash() || third.Origin() != first.Hash() ||
		third.Hash() == second.Hash() || third.Seq != 9 || !third.LoggedAt.Equal(at) {
		t.Errorf("they go back to %v, %v and %v; want %v", first.Origin(), second.Origin(), third.Origin(),
			first.Hash())
	}
}

func TestACellOfTheMapIsARowAndAColumn(t *testing.T) {
	for word, want := range map[string]event.MapCell{"2,3": {Row: 2, Column: 3}, " 1 , 12 ": {Row: 1, Column: 12}} {
		if got, err := event.ParseMapCell(word); err != nil || got != want {
			t.Errorf("%q: %v, %v", word, got, err)
		}
	}
	for _, word := range []string{"", "2", "2,", "a,1", "1,2,3", "2;3"} {
		if got, err := event.ParseMapCell(word); err == nil {
			t.Errorf("%q is %v", word, got)
		}
	}
}

func TestWhetherWorkMayStopAtAnEdgeIsOneOfThreeWords(t *testing.T) {
	for word, want := range map[string]event.JointPermission{
		"yes": event.JointYes, "engineer": event.JointEngineer, "no": event.JointNo,
	} {
		if got, err := event.ParseJointPermission(word); err != nil || got != want || got.String() != word {
			t.Errorf("%q: %v, %v", word, got, err)
		}
	}
	for _, word := range []string{"", "maybe", "YES!"} {
		if got, err := event.ParseJointPermission(word); err == nil {
			t.Errorf("%q is %v", word, got)
		}
	}
}

func TestTheReasonThatARuleWasPassedOverIsThatOfTheBody(t *testing.T) {
	for _, c := range []struct {
		body event.Body
		want string
	}{
		{event.Placement{Because: "retempered"}, "retempered"},
		{event.BatchMixed{Because: "the engineer tried it"}, "the engineer tried it"},
		{event.Noted{Text: "x"}, ""},
	} {
		if got := event.BecauseOf(c.body); got != c.want {
			t.Errorf("%T: %q; want %q", c.body, got, c.want)
		}
	}
}
