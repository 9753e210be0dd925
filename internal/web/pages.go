package web

import (
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
)

// asked is what a page is asked for.
type asked struct {
	site  *fold.Site
	now   time.Time
	page  report.Page
	word  string // of the address, behind the page's name
	query url.Values
}

// page is one that can be opened by its name, as in the address. Look takes what it shows from the record; what it
// returns writes it, once the record is free again.
type page struct {
	name, title string
	look        func(a asked) (func() string, error)
}

var errNoSuch = errors.New("there is nothing of that name in the record")

// written is a view put down by a report.
func written[V any](v V, write func(V, report.Page) string, p report.Page) (func() string, error) {
	return func() string { return write(v, p) }, nil
}

// pages by name, in the order in which they are offered; those without a title are reached from others.
var pages = []page{
	{"now", "now", func(a asked) (func() string, error) {
		coat, all := coatOf(a.query)
		return written(drawing.OverviewOf(a.site, a.now, a.page.In, coat, all), leaf.Foreman, a.page)
	}},
	{"joints", "joints", func(a asked) (func() string, error) {
		return written(view.JointsOf(a.site, a.now, a.page.In), leaf.Joints, a.page)
	}},
	{"zones", "zones", func(a asked) (func() string, error) {
		return written(drawing.ZoneListOf(a.site, a.now), leaf.ZoneList, a.page)
	}},
	{"day", "the day", dayPage},
	{"log", "log", logPage},
	{"weather", "weather", func(a asked) (func() string, error) {
		return written(drawing.WeatherLeafOf(a.site, a.now, a.page.In), leaf.WeatherLeaf, a.page)
	}},
	{"forecast", "what is left", func(a asked) (func() string, error) {
		return written(drawing.ForecastLeafOf(a.site, a.now, a.page.In), leaf.ForecastLeaf, a.page)
	}},
	{"tomorrow", "tomorrow", tomorrowPage},
	{"stock", "stock", func(a asked) (func() string, error) {
		return written(drawing.StockLeafOf(a.site, a.now, a.page.In), leaf.StockLeaf, a.page)
	}},
	{"charts", "charts", func(a asked) (func() string, error) {
		return written(drawing.ChartsOf(a.site, a.now, a.page.In), leaf.Charts, a.page)
	}},
	{"flags", "to settle", func(a asked) (func() string, error) {
		return written(daily.FlagsOf(a.site, a.now, a.page.In, true), report.Flags, a.page)
	}},
	{"board", "", func(a asked) (func() string, error) {
		return written(daily.BoardOf(a.site, a.now, a.page.In), report.Board, a.page)
	}},
	{"map", "", mapPage},
	{"zone", "", func(a asked) (func() string, error) {
		v, ok := drawing.ZoneLeafOf(a.site, a.now, a.page.In, event.Zone(a.word))
		return found(ok, v, leaf.ZoneLeaf, a.page)
	}},
	{"joint", "", func(a asked) (func() string, error) {
		v, ok := drawing.JointLeafOf(a.site, a.now, a.page.In, a.word)
		return found(ok, v, leaf.Joint, a.page)
	}},
	{"flag", "", func(a asked) (func() string, error) {
		f, ok := flagOf(daily.FlagsOf(a.site, a.now, a.page.In, true).Flags, a.word)
		return found(ok, f, report.Flag, a.page)
	}},
	{"why", "", func(a asked) (func() string, error) {
		v, ok := drawing.WhyOf(a.site, a.now, a.page.In, a.word)
		return found(ok, v, leaf.Why, a.page)
	}},
	{"event", "", func(a asked) (func() string, error) {
		v, ok := drawing.EventLeafOf(a.site, a.now, a.page.In, a.word)
		return found(ok, v, leaf.Event, a.page)
	}},
}

// Names of all pages.
func Names() []string {
	var all []string
	for _, p := range pages {
		all = append(all, p.name)
	}
	return all
}

func found[V any](ok bool, v V, write func(V, report.Page) string, p report.Page) (func() string, error) {
	if !ok {
		return nil, errNoSuch
	}
	return written(v, write, p)
}

func pageOf(name string) (page, bool) {
	i := slices.IndexFunc(pages, func(p page) bool { return p.name == name })
	if i < 0 {
		return page{}, false
	}
	return pages[i], true
}

// tomorrowPage is plans of the next day with work, one of them in full: the one whose number the address has.
func tomorrowPage(a asked) (func() string, error) {
	number := 0
	if a.word != "" {
		n, err := strconv.Atoi(a.word)
		if err != nil || n < 1 {
			return nil, errNoSuch
		}
		number = n
	}
	q := advice.AskDay(a.site, a.now, a.page.In)
	return func() string { return report.DayPlans(q.Answer(), number, true, a.page) }, nil
}

func dayPage(a asked) (func() string, error) {
	date := a.word
	if date == "" {
		date = a.now.In(a.page.In).Format(time.DateOnly)
	}
	if _, err := time.Parse(time.DateOnly, date); err != nil {
		return nil, errNoSuch
	}
	v, err := drawing.DayLeafOf(a.site, a.now, a.page.In, date)
	if err != nil {
		return nil, err
	}
	steps := func(where string) string { return leaf.DaySteps(date, a.now, a.page, where) }
	return func() string { return steps("above it") + leaf.DayLeaf(v, a.page) + steps("below it") }, nil
}

// logSize is how many entries one page of the log has.
const logSize = 100

func logPage(a asked) (func() string, error) {
	q := view.LogQuery{
		Crew: a.query.Get("crew"), Kind: a.query.Get("kind"), Zone: a.query.Get("zone"), Person: a.query.Get("person"),
		SetAside: a.query.Get("aside") != "",
	}
	q = q.OnDay(a.query.Get("day"), a.page.In)
	number, _ := strconv.Atoi(a.query.Get("page")) // what is no number is the first page
	return written(drawing.LogLeafOf(a.site, a.now, a.page.In, q, number, logSize), leaf.LogLeaf, a.page)
}

func mapPage(a asked) (func() string, error) {
	coat, all := coatOf(a.query)
	v := drawing.MapOf(a.site, a.now, a.page.In, coat, all)
	bay, _ := strconv.Atoi(a.query.Get("bay"))
	return func() string { return leaf.Map(v, bay, a.page) }, nil
}

// coatOf is the coat that an address names, as in coat=outer-1; nil where it names none, and whether all are asked for.
func coatOf(q url.Values) (coat *drawing.MapCoat, all bool) {
	said := q.Get("coat")
	if said == "all" {
		return nil, true
	}
	face, number, ok := strings.Cut(said, "-")
	if !ok {
		face, number = "", said
	}
	n, err := strconv.ParseInt(number, 10, 32)
	if err != nil {
		return nil, false
	}
	return &drawing.MapCoat{Face: face, Coat: int32(n)}, false
}

// flagOf is a flag or a line of one by its id, in full or as it is typed.
func flagOf(flags []daily.Flag, id string) (daily.Flag, bool) {
	for _, f := range flags {
		if id != "" && (f.FullID == id || f.ID == id) {
			return f, true
		}
		for _, l := range f.Lines {
			if id != "" && (l.FullID == id || l.ID == id) {
				return f.Alone(l), true
			}
		}
	}
	return daily.Flag{}, false
}
