package report

import (
	"hod/internal/unit"
	"hod/internal/view"
)

// Weather is the conditions as last read, what they do to a fresh surface, and the hours to come.
func Weather(v view.Conditions, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "weather")
	s.blank()
	if v.ReadAt.IsZero() {
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

// dryingJudged is the evaporation with its limit and the view's judgement.
func (s *sheet) dryingJudged(c view.Conditions) text {
	rate, limit := s.drying(c)
	verdict := say("within")
	if c.OverLimit {
		verdict = figure(overLimit, urgent)
	}
	return join(": ", sayf("%s, limit %s", rate, limit), verdict)
}

// read says when the weather was read and how long ago that is.
func (s *sheet) read(c view.Conditions) string {
	read := s.clock(c.ReadAt)
	if old := s.now.Sub(c.ReadAt); old >= 0 && !c.ReadAt.IsZero() {
		read += ", " + minutes(old) + " ago"
	}
	return read
}

func (s *sheet) conditions(v view.Conditions) {
	const column = 13
	read := s.read(v)
	if v.Station != "" {
		read += ", " + v.Station
	}
	s.named(0, column, "evaporation", s.dryingJudged(v))
	s.named(0, column, "", sayf("by Uno; by Menzel %s", s.evaporation(v.MenzelKgM2H)))
	if len(v.FreshUncovered) > 0 {
		s.named(0, column, "uncovered", join(": ", say("fresh and bare", soon), list(v.FreshUncovered)))
	}
	s.named(0, column, "read", say(read))
	s.named(0, column, "air", sayf("%s, humidity %s, dew point %s", s.temperature(v.AirC), s.share(v.Humidity), s.temperature(v.DewPointC)))
	height := "0.5 m"
	if s.system == unit.US {
		height = "20 in" // so ACI 305R says it in US units (from memory)
	}
	s.named(0, column, "wind", sayf("%s at %s, from %s read at %s", s.speed(v.WindMPS), height, s.speed(v.WindReadMPS), s.length(v.WindHeightM)))
	source := ""
	if v.SurfaceSource != "" {
		source = " (" + v.SurfaceSource + ")"
	}
	s.named(0, column, "surface", sayf("%s%s", s.temperature(v.SurfaceC), source))
	if v.HeatIndexF != 0 {
		s.named(0, column, "heat index", say(s.system.Temperature(unit.Fahrenheit(v.HeatIndexF))+", for the people"))
	}
	for _, j := range v.Judgements {
		s.named(0, column, "judged", say(j))
	}
	s.named(0, column, "not read", list(v.Missing))
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
		rain := ""
		if h.RainMM > 0 {
			rain = s.rain(h.RainMM)
		}
		t.row(figure(s.clock(h.At)), figure(s.temperature(h.AirC)), figure(s.evaporation(h.EvaporationKgM2H)), figure(rain), work)
	}
	s.table(0, t)
}
