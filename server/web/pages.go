package web

import (
	"errors"
	"net/http"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/view"
)

// page is one that can be opened by its name, as in the address.
type page struct {
	name, title string
	write       func(s *fold.Site, now time.Time, p report.Page, word string) (string, error)
}

var errNoSuch = errors.New("there is nothing of that name in the record")

// pages by name, in the order in which they are offered.
var pages = []page{
	{"board", "board", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		return report.Board(view.BoardOf(s, now, p.In), p), nil
	}},
	{"joints", "joints", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		return report.Joints(view.JointsOf(s, now, p.In), p), nil
	}},
	{"flags", "flags", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		return report.Flags(view.FlagsOf(s, now, p.In, true), p), nil
	}},
	{"forecast", "what is left", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		return report.Forecast(view.ForecastOf(s, now, p.In), p), nil
	}},
	{"stock", "stock", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		return report.Stock(view.StockOf(s, now, p.In), p), nil
	}},
	{"weather", "weather", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		v, read := view.WeatherOf(s, now, p.In)
		if !read {
			return "<p>No weather was read yet.</p>\n", nil
		}
		return report.Weather(v, p), nil
	}},
	{"day", "the day", func(s *fold.Site, now time.Time, p report.Page, date string) (string, error) {
		if date == "" {
			date = now.In(p.In).Format(time.DateOnly)
		}
		if _, err := time.Parse(time.DateOnly, date); err != nil {
			return "", errNoSuch
		}
		v, err := view.DayOf(s, now, p.In, date)
		if err != nil {
			return "", err
		}
		return report.DayAll(v, p), nil
	}},
	{"log", "log", func(s *fold.Site, now time.Time, p report.Page, _ string) (string, error) {
		return report.Log(view.LogOf(s, now, p.In, view.LogQuery{Most: logMost}), p), nil
	}},
	{"zone", "", func(s *fold.Site, now time.Time, p report.Page, zone string) (string, error) {
		v, ok := view.ZoneOf(s, now, p.In, event.Zone(zone))
		if !ok {
			return "", errNoSuch
		}
		return report.Zone(v, p), nil
	}},
}

// logMost is how many of the last events a page shows.
const logMost = 500

func pageOf(name string) (page, bool) {
	i := slices.IndexFunc(pages, func(p page) bool { return p.name == name })
	if i < 0 {
		return page{}, false
	}
	return pages[i], true
}

// show gives a page's body, or who asks an error in words.
func (w *Web) show(p page, word string) (body, site string, zones []string, code int) {
	now := w.config.Host.Now()
	var err error
	w.config.Host.View(func(s *fold.Site) {
		in := w.config.Place(s)
		site = s.ID
		if name := s.Plan().Name; name != "" {
			site = name
		}
		for z := range s.Plan().Zones {
			zones = append(zones, string(z))
		}
		slices.Sort(zones)
		body, err = p.write(s, now, report.Page{HTML: true, In: in, Now: now}, word)
	})
	var cannot event.CannotBe
	switch {
	case errors.Is(err, errNoSuch):
		return "", site, nil, http.StatusNotFound
	case errors.As(err, &cannot):
		return "", site, nil, http.StatusNotFound
	case err != nil:
		w.config.Log.Error().Err(err).Str("page", p.name).Msg("a page could not be made")
		return "", site, nil, http.StatusInternalServerError
	}
	return body, site, zones, http.StatusOK
}
