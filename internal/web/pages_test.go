package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

func TestTheForemansPageTellsWhatPressesFirst(t *testing.T) {
	body := get(vault(t), "now").Body.String()
	at := 0
	for _, part := range []string{
		"<h1>Aldeira chapel vault</h1>", "Last word:", "B2 at A2 and C2", "may be cold already; cold for certain by", "The shell, laid flat", "Next to go cold", "Drying</h2>",
		"Over the limit since 12:00.", "What is left", "Crews", "Stock for Wed 14 May", "To settle: ", "For reading only.",
	} {
		i := strings.Index(body[at:], part)
		if i < 0 {
			t.Fatalf("%q does not come after what stands before it", part)
		}
		at += i
	}
	for _, part := range []string{
		`href="./zone/A3"`, `href="./joint/`, `href="./flag/`, `href="./event/n`,
		`aria-label="edge A2 to B2, may be cold`,
	} {
		if !strings.Contains(body, part) {
			t.Errorf("it does not lead on: no %s", part)
		}
	}
}

func TestTheMapSaysOfEachZoneAndEdgeWhatTheRecordShows(t *testing.T) {
	r := vault(t)
	v := drawing.MapOf(r.site, r.now(), r.in, &drawing.MapCoat{Face: "inner", Coat: 1}, false)
	zones, edges := map[string]drawing.MapZone{}, map[string]drawing.MapEdge{}
	for _, z := range v.Parts[0].Zones {
		zones[z.Zone] = z
	}
	for _, e := range v.Parts[0].Edges {
		edges[e.A+e.B] = e
	}
	if z := zones["A3"]; z.State != "under way" || z.Surface != "drying" || z.Row != 1 || z.Column != 2 {
		t.Errorf("A3: %+v", z)
	}
	if z := zones["A4"]; z.State != "waiting" || z.Surface != "" {
		t.Errorf("A4: %+v", z)
	}
	if z := zones["A1"]; z.State != "done" {
		t.Errorf("A1: %+v", z)
	}
	if e := edges["A2B2"]; e.State != view.MayBeCold || e.MinutesLow == nil || *e.MinutesLow != 0 ||
		e.MinutesHigh == nil || *e.MinutesHigh < 30 || *e.MinutesHigh > 90 || e.From != "A2" {
		t.Errorf("A2 to B2: %+v", e)
	}
	if e := edges["A1B1"]; e.State != view.MadeCold && e.State != view.MadeLate && e.State != view.MadeLive {
		t.Errorf("A1 to B1, which met: %+v", e)
	}
	all := drawing.MapOf(r.site, r.now(), r.in, nil, true)
	if all.Shown != nil || all.Parts[0].Zones[0].Planned != 3 {
		t.Errorf("of all coats: %+v", all.Parts[0].Zones[0])
	}
	if other := drawing.MapOf(r.site, r.now(), r.in, &drawing.MapCoat{Face: "inner", Coat: 9},
		false); other.Shown == nil || *other.Shown != (drawing.MapCoat{Face: "inner", Coat: 1}) {
		t.Errorf("for a coat that is not planned, that placed last is shown: %+v", other.Shown)
	}
}

// Every page of every site opens, whatever its plan lacks and however its people are called.
func TestEveryPageOpensWhateverTheSiteIs(t *testing.T) {
	named := append(shell(1, 1, 1, true),
		event.CrewPlanned{Crew: "west", Name: "<b>שלמה</b> " + strings.Repeat("x", 180)},
		event.SitePlanned{
			Name:  "<script>alert(1)</script> \u0635\u062f\u0641\u0629 " + strings.Repeat("n", 150),
			Units: event.US, TimeZone: "Nowhere/None",
		})
	faces := shell(20, 20, 1, false)
	for _, b := range faces {
		if c, is := b.(event.CoatPlanned); is {
			for _, f := range []event.Face{event.Inner, event.AnyFace} {
				c.Coat.Face = f
				faces = append(faces, c)
			}
		}
	}
	for name, plan := range map[string][]event.Body{
		"nothing planned": nil, "one zone": shell(1, 1, 1,
			false), "named in markup": named, "400 zones with three faces": faces,
		"a zone with no coat": {event.ZonePlanned{Zone: "A1", Area: unit.As[unit.Area]{SI: 3}}},
	} {
		events, err := simtest.Written(plan, nil, noon.Add(-time.Hour))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		r := recordOf(t, events, time.UTC, noon)
		for _, path := range append(Names(), "now?coat=all", "map?coat=7&bay=x", "map?bay=99999999999",
			"log?page=-3&kind=none", "day/2031-05-11", "zone/A1", "event/f1/1", "why/drying", "why/left",
			"why/coat/A1/outer/1",
			"log?day=2031-05-12&person=ana") {
			w := get(r, path)
			body := w.Body.String()
			if w.Code != http.StatusOK && w.Code != http.StatusNotFound {
				t.Errorf("%s, %s: %d", name, path, w.Code)
			}
			if strings.Contains(body, "<script>alert") || strings.Contains(body, "<b>ש") {
				t.Errorf("%s, %s: a name is markup", name, path)
			}
			if len(body) > 400<<10 {
				t.Errorf("%s, %s: %d bytes", name, path, len(body))
			}
		}
	}
}
