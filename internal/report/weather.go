package report

import (
	"time"

	"hod/internal/unit"
	"hod/internal/view"
)

// Weather is the conditions as last read, what they do to a fresh surface, and the hours to come.
func Weather(v view.Conditions, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "weather")
	s.blank()
	if v.ReadAt == nil {
		s.para(0, 2, say("No weather was read."))
	} else {
		s.conditions(v)
	}
	if v.Caution != "" {
		s.blank()
		s.para(0, 9, join(" ", say("Caution:", strong), say(v.Caution)))
	}
	s.hours(v)
	return s.String()
}

const overLimit = "OVER LIMIT"

// dryingJudged is the evaporation with its limit and the view's judgement; where no full reading counts it says so.
func (s *sheet) dryingJudged(c view.Conditions) text {
	rate, limit := s.drying(c)
	if rate == "" {
		return join(" ", say(notKnown, soon), sayf("(limit %s):", limit), say(dryingMissing(c)))
	}
	verdict := say("within")
	if c.OverLimit != nil && *c.OverLimit {
		verdict = figure(overLimit, urgent)
	}
	return join(": ", sayf("%s, limit %s", rate, limit), verdict)
}

// dryingMissing says why the evaporation is not known.
func dryingMissing(c view.Conditions) string {
	if c.LastFullAt != nil {
		return "the last full reading is too old"
	}
	return "it takes air, humidity and wind, read together"
}

// ago is how long ago an instant was; nothing where it is to come.
func (s *sheet) ago(t time.Time) string {
	if old := s.now.Sub(t); old >= 0 {
		return ", " + minutes(old) + " ago"
	}
	return ""
}

// read says when the weather was read and how long ago that is.
func (s *sheet) read(c view.Conditions) string {
	if c.ReadAt == nil {
		return notKnown
	}
	return s.clock(*c.ReadAt) + s.ago(*c.ReadAt)
}

func (s *sheet) humid(x float64) string { return s.share(x) + " humidity" }

func (s *sheet) windy(mps float64) string { return "wind " + s.speed(mps) }

// workHeight is where evaporation wants the wind.
func (s *sheet) workHeight() string {
	if s.system == unit.US {
		return "20 in" // so ACI 305R says it in US units (from memory)
	}
	return "0.5 m"
}

func (s *sheet) conditions(v view.Conditions) {
	const column = 13
	read := s.read(v)
	if v.Station != "" {
		read += ", " + v.Station
	}
	s.named(0, column, "evaporation", s.dryingJudged(v))
	if v.MenzelKgM2H != nil {
		s.named(0, column, "", sayf("by Uno; by Menzel %s", s.evaporation(*v.MenzelKgM2H)))
	}
	s.named(0, column, "too old", say(v.TooOld))
	if len(v.FreshUncovered) > 0 {
		s.named(0, column, "uncovered", join(": ", say("fresh and bare", soon), list(v.FreshUncovered)))
	}
	s.named(0, column, "read", say(read))
	s.named(0, column, "air", join(", ", say(maybe(v.AirC, s.temperature)), say(named("humidity", v.Humidity, s.share)),
		say(named("dew point", v.DewPointC, s.temperature))))
	if v.WindMPS != nil {
		from := join(" ", say(named("from", v.WindReadMPS, s.speed)), say(named("read at", v.WindHeightM, s.length)))
		s.named(0, column, "wind", join(", ", sayf("%s at %s", s.speed(*v.WindMPS), s.workHeight()), from))
	}
	if v.SurfaceC != nil {
		s.named(0, column, "surface", join(" ", say(s.temperature(*v.SurfaceC)), say("("+v.SurfaceSource+")")))
	}
	if v.HeatIndexF != nil {
		s.named(0, column, "heat index", say(s.system.Temperature(unit.Fahrenheit(*v.HeatIndexF))+", for the people"))
	}
	for _, r := range v.Since {
		s.named(0, column, "read since", s.since(r))
	}
	for _, j := range v.Judgements {
		s.named(0, column, "judged", say(j))
	}
	s.named(0, column, "not read", list(v.Missing))
}

// since is a later reading that is not full: what it read, and no more.
func (s *sheet) since(r view.Reading) text {
	return join(": ", join(", ", say(s.clock(r.ReadAt)), say(r.Station)),
		join(", ", say(named("air", r.AirC, s.temperature)),
			say(named("humidity", r.Humidity, s.share)), say(named("wind", r.WindMPS, s.speed)),
			say(named("rain", r.RainMM, s.rain)),
			say(named("sun", r.SunWM2, func(x float64) string { return decimal(x, 0) + " W/m²" })),
			say(named("surface", r.SurfaceC, s.temperature))))
}

func (s *sheet) hours(v view.Conditions) {
	if len(v.Hours) == 0 {
		return
	}
	var from text
	if v.ForecastSource != "" {
		from = sayf("as forecast by %s", v.ForecastSource)
	}
	s.section("TO COME", from)
	t := table{columns: []column{
		{name: "hour", right: true},
		{name: "air", right: true, drop: 1},
		{name: "evaporation", right: true},
		{name: "rain", right: true, drop: 2},
		{name: "work", least: 10},
	}}
	for _, h := range v.Hours {
		work := say("yes")
		if !h.Workable {
			work = join(": ", say("NO", urgent), say(h.Why))
		}
		t.row(figure(s.clock(h.At)), figure(maybe(h.AirC, s.temperature)),
			figure(maybe(h.EvaporationKgM2H, s.evaporation)),
			figure(maybe(h.RainMM, s.fallen)), work)
	}
	s.table(0, t)
}
