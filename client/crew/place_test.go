package crew

import (
	"strings"
	"testing"

	"hod/client/parse/parsetest"
	"hod/client/session"
	"hod/client/session/sessiontest"
	"hod/internal/event"
)

// FuzzPlaceAndCharge gives the words of a line to what sorts those of a placement and reads charges.
func FuzzPlaceAndCharge(f *testing.F) {
	s := sessiontest.Vault(f)
	for _, line := range parsetest.Lines {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		said := func(what string, err error) {
			t.Helper()
			if err != nil && err.Error() == "" {
				t.Fatalf("%s %q is refused without a word", what, line)
			}
		}
		words := strings.Fields(line)
		if n := len(words); n > 0 {
			var p place
			p.words(s, words[:min(n, 3)])
			zone, err := s.FindZone(p.zone)
			said("zone", err)
			if err == nil {
				_, err = s.FindCoat(zone, session.CoatFlags{Face: p.part})
				said("coat", err)
			}
			_, err = s.ResolveBatch(p.batch, "")
			said("batch", err)
			p.thickness, p.along = words, words
			said("gauges", p.readGauges(s, &event.Placement{}))
		}
		_, err := batch{amounts: words}.charges(s.Plan.Mixes[s.Plan.MixNames()[0]], 1, nil)
		said("charges", err)
	})
}
