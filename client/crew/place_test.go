package crew

import (
	"strings"
	"testing"

	"hod/client/session"
	"hod/client/session/sessiontest"
	"hod/internal/event"
)

// FuzzPlaceAndCharge gives the words of a line to what sorts those of a placement and reads charges.
func FuzzPlaceAndCharge(f *testing.F) {
	s := sessiontest.Vault(f)
	for _, line := range []string{
		"7 A1 1/2", "A1", "a1 40l", "north/7 A1", "north/2026-07-18/7 A1 rest", "A1 outer 1", "outer 1 12mm body",
		"B3=2.4m", "south/999", "n2/1", "1", "2/1",
		"sand=190lb,kind=sand,gravity=2.62,absorption=1%", "sand=rest,gravity=2.62", "+water=1qt",
		"water 3/4, wait 2min, look flows by itself", "=", "sand=", "cement=1kg,gravity=NaN",
		"40x94lb", "1e6x1kg", "NaNx1kg", "0x1p3%", "110%", "NaN%", "Inf%", "800 W/m2", "nan", "53kN,54kN",
		"12mm,14mm,13 mm", "-5C", "--wind -5C", "none", "0", "½", "1e400", "\x1b[2J",
		"north/7/7/7", "/", "//", "yesterday 16:10", "2026-07-18", "0000-00-00", strings.Repeat("9", 40),
		strings.Repeat("A", 100),
	} {
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
