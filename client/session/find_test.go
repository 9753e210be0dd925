package session_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"hod/client/session"
	"hod/client/session/sessiontest"
	"hod/client/terminal"
	"hod/internal/event"
)

// refusal is the kind of an error and whether it says what would be right.
func refusal(t *testing.T, what string, err error, kind terminal.Kind, says string) {
	t.Helper()
	var e *terminal.Error
	if !errors.As(err, &e) || e.Kind != kind || !strings.Contains(e.Msg, says) {
		t.Errorf("%s: %v; want kind %d and %q", what, err, kind, says)
	}
}

func TestAZoneIsFoundInAnyCaseAndOfferedWhereItIsMistyped(t *testing.T) {
	s := sessiontest.Vault(t)
	first := s.Plan.ZoneNames()[0]
	if z, err := s.FindZone(strings.ToLower(string(first))); err != nil || z != first {
		t.Errorf("%s in small letters is %q, %v", first, z, err)
	}
	_, err := s.FindZone("nowhere at all")
	refusal(t, "a zone that nobody planned", err, terminal.NotFound, "is planned")
	zones, rest, err := s.FindZones([]string{string(first), "wet", "burlap"})
	if err != nil || len(zones) != 1 || rest != "wet burlap" {
		t.Errorf("%v, %q, %v; want %s and wet burlap", zones, rest, err, first)
	}
	_, _, err = s.FindZones([]string{string(first), "wet", string(first)})
	refusal(t, "a zone behind the words", err, terminal.Usage, "zones come first")
}

func TestABatchIsFoundByItsNumberItsCrewAndItsDay(t *testing.T) {
	s := sessiontest.Vault(t)
	for _, word := range []string{"7", "north/7", "north/2026-07-18/7"} {
		if b, err := s.FindBatch(word, ""); err != nil ||
			b.ID != (event.Batch{Crew: "north", Day: "2026-07-18", Number: 7}) {
			t.Errorf("%s: %v, %v", word, b, err)
		}
	}
	if b, err := s.ResolveBatch("", ""); err != nil || b.ID.Number != 7 {
		t.Errorf("the crew's last is %v, %v", b, err)
	}
	_, err := s.FindBatch("8", "")
	refusal(t, "a batch that was not mixed", err, terminal.NotFound, "crew north has 7 that day")
	_, err = s.FindBatch("7", "2026-07-17")
	refusal(t, "another day's", err, terminal.NotFound, "did you mean north/2026-07-18/7?")
	if got := s.ShortBatch(event.Batch{Crew: "north", Day: "2026-07-18", Number: 7}); got != "7" {
		t.Errorf("the own batch of today is called %s", got)
	}
	if got := s.ShortBatch(event.Batch{Crew: "south", Day: "2026-07-18", Number: 2}); got != "south/2" {
		t.Errorf("another crew's is called %s", got)
	}
}

func TestAnEventIsFoundByItsNumberOrItsWholeName(t *testing.T) {
	s := sessiontest.Vault(t)
	for _, word := range []string{"1", "n2/1"} {
		if r, err := s.FindEvent(word); err != nil || r.Name != (event.Name{Device: "n2", Seq: 1}) {
			t.Errorf("%s: %v, %v", word, r, err)
		}
	}
	_, err := s.FindEvent("n2/99")
	refusal(t, "an event to come", err, terminal.NotFound, "ends at n2/")
	_, err = s.FindEvent("n9/1")
	refusal(t, "another device's", err, terminal.NotFound, "no device n9")
}

func TestTimesAreReadByTheSitesClockAndAreNotToCome(t *testing.T) {
	s := sessiontest.Vault(t)
	at, err := s.ParseTime("10:42", "")
	if local := at.In(s.Location); err != nil || local.Format("2006-01-02 15:04") != "2026-07-18 10:42" &&
		s.Today() == "2026-07-18" {
		t.Errorf("10:42 is %v, %v", local, err)
	}
	if ago, err := s.ParseTime("-20m", ""); err != nil || !ago.Equal(s.Now.Add(-20*time.Minute)) {
		t.Errorf("-20m is %v, %v", ago, err)
	}
	_, err = s.ParseTime("23:59", "")
	refusal(t, "tonight", err, terminal.Usage, "still to come")
	_, err = s.OnDay("2031-01-01")
	refusal(t, "a day to come", err, terminal.Usage, "--on")
	var from time.Time
	if err := s.ReadTimes("", session.TimeFlag{Name: "from", Value: "quarter past", To: &from}); err == nil ||
		!strings.HasPrefix(err.Error(), "--from: ") {
		t.Errorf("a flag with no time: %v", err)
	}
	if got := s.FormatSpan(s.Now.Add(-time.Hour), s.Now); !strings.Contains(got, " to ") ||
		strings.Count(got, "-") > 0 {
		t.Errorf("an hour of today is shown %q", got)
	}
}

// A step puts in its share of what is charged of its constituent, and says so in the site's units.
func TestAStepOfTheChargingOrderSaysHowMuch(t *testing.T) {
	half := event.Step{Constituent: "water"}
	whole := []event.Charge{{Constituent: "water", Amount: event.Amount{Mass: 16}}}
	if p := session.Portion(half, whole); p.Mass != 16 {
		t.Errorf("a step without a share puts in %v", p)
	}
	if p := session.ScaledAmount(whole[0].Amount, 0.25); p.Mass != 4 || p.Entered != "" {
		t.Errorf("a quarter is %+v", p)
	}
	s := sessiontest.Vault(t)
	if got := s.FormatStep(event.Step{Wait: 2 * time.Minute, LookFor: "it flows"},
		event.Amount{}); got != "wait 2 min; go on when: it flows" {
		t.Errorf("%q", got)
	}
	if q := session.QuantityOfAmount(event.Amount{ByVolume: true, Volume: 0.004}); q.Unit != "m3" || q.SI != 0.004 {
		t.Errorf("%+v", q)
	}
}
