package plan

import (
	"math"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/unit"
)

func (r *reader) site(n *yaml.Node) event.SitePlanned {
	f, ok := r.fields(n, "site", "name", "place", "units", "time_zone", "work", "except", "loss", "closing", "weighing",
		"evaporation", "warn")
	if !ok {
		return event.SitePlanned{}
	}
	f.need("name")
	var b event.SitePlanned
	b.Name, _ = f.text("name")
	f.can("name", event.SitePlanned{Name: b.Name})
	b.Place, _ = f.text("place")
	f.can("place", event.SitePlanned{Name: "x", Place: b.Place})
	b.Units, _ = words(f, "units", event.ParseUnits)
	b.TimeZone, _ = f.text("time_zone")
	f.can("time_zone", event.SitePlanned{Name: "x", TimeZone: b.TimeZone})
	if _, n := f.text("time_zone"); n != nil && r.knows != nil &&
		cannot(event.SitePlanned{Name: "x", TimeZone: b.TimeZone}) == nil && !r.knows(b.TimeZone) {
		r.wrong(n, f.path, "there is no time zone %s; one looks like Europe/Lisbon", quoted(b.TimeZone))
	}
	f.work(&b)
	f.except(&b)
	b.Loss = quantity(f, "loss", unit.ParseShare)
	f.can("loss", event.SitePlanned{Name: "x", Loss: b.Loss})
	b.Closing = quantity(f, "closing", unit.ParseShare)
	f.can("closing", event.SitePlanned{Name: "x", Closing: b.Closing})
	b.Weighing = quantity(f, "weighing", unit.ParseShare)
	f.can("weighing", event.SitePlanned{Name: "x", Weighing: b.Weighing})
	b.EvaporationMetric, b.EvaporationUS = f.evaporation()
	b.WarnBefore = f.duration("warn")
	f.can("warn", event.SitePlanned{Name: "x", WarnBefore: b.WarnBefore})
	return b
}

// ofDay reads 07:00; 24:00 is the end of the day.
func ofDay(s string) (time.Duration, bool) {
	if s = strings.TrimSpace(s); s == "24:00" {
		return 24 * time.Hour, true
	}
	t, err := time.Parse("15:04", s)
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, err == nil
}

// evaporation reads one limit, or one for each system: standards print 1.0 kg/m²/h and 0.2 lb/ft²/h for one limit, and
// neither is the other converted.
func (f fields) evaporation() (metric unit.Evaporation, us float64) {
	n := f.of["evaporation"]
	if n == nil {
		return 0, 0
	}
	if f.follow(n).Kind == yaml.ScalarNode {
		s, n := f.text("evaporation")
		if n == nil {
			return 0, 0
		}
		if inUS(s) {
			us = f.evaporationUS("evaporation")
		} else if q := quantity(f, "evaporation", unit.ParseEvaporation); q != nil {
			metric = q.SI
		}
		f.can("evaporation", event.SitePlanned{Name: "x", EvaporationMetric: metric, EvaporationUS: us})
		return metric, us
	}
	e, ok := f.fields(n, "site, evaporation", "metric", "us")
	if !ok {
		return 0, 0
	}
	if s, n := e.text("metric"); n != nil {
		if inUS(s) {
			e.wrong(n, e.path, "metric %s is in US units; it looks like 0.5 kg/m2/h", quoted(s))
		} else if q := quantity(e, "metric", unit.ParseEvaporation); q != nil {
			metric = q.SI
			e.can("metric", event.SitePlanned{Name: "x", EvaporationMetric: metric})
		}
	}
	us = e.evaporationUS("us")
	e.can("us", event.SitePlanned{Name: "x", EvaporationUS: us})
	return metric, us
}

func (f fields) evaporationUS(key string) float64 {
	s, n := f.text(key)
	if n == nil {
		return 0
	}
	if q := quantity(f, key, unit.ParseEvaporation); q != nil {
		if !inUS(s) {
			f.wrong(n, f.path, "%s %s is in metric units; it looks like 0.1 lb/ft2/h", key, quoted(s))
			return 0
		}
		return math.Round(float64(q.SI/unit.PoundPerSquareFootHour)*1e9) / 1e9 // the figure as it was written
	}
	return 0
}

func inUS(s string) bool {
	s = strings.ToLower(s)
	return strings.Contains(s, "lb") || strings.Contains(s, "pound") || strings.Contains(s, "ft")
}
