package report

import (
	"time"

	"hod/internal/unit"
	"hod/internal/view"
)

// Weather is the conditions as last read, what they do to a fresh surface, and the hours to come.
func Weather(v view.Conditions, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "weather")
	s.Blank()
	if v.ReadAt == nil {
		s.Para(0, 2, Say("No weather was read."))
	} else {
		s.conditions(v)
	}
	if v.Caution != "" {
		s.Blank()
		s.Para(0, 9, Join(" ", Say("Caution:", strong), Say(v.Caution)))
	}
	s.hours(v)
	return s.String()
}

const overLimit = "OVER LIMIT"

// dryingJudged is the evaporation with its limit and the view's judgement; where no full reading counts it says so.
func (s *Sheet) dryingJudged(c view.Conditions) Text {
	rate, limit := s.Drying(c)
	if rate == "" {
		return Join(" ", Say(NotKnown, Soon), Sayf("(limit %s):", limit), Say(DryingMissing(c)))
	}
	verdict := Say("within")
	if c.OverLimit != nil && *c.OverLimit {
		verdict = Figure(overLimit, Urgent)
	}
	return Join(": ", Sayf("%s, limit %s", rate, limit), verdict)
}

// DryingMissing says why the evaporation is not known.
func DryingMissing(c view.Conditions) string {
	if c.LastFullAt != nil {
		return "the last full reading is too old"
	}
	return "it takes air, humidity and wind, read together"
}

// ago is how long ago an instant was; nothing where it is to come.
func (s *Sheet) ago(t time.Time) string {
	if old := s.Now.Sub(t); old >= 0 {
		return ", " + Minutes(old) + " ago"
	}
	return ""
}

// read says when the weather was read and how long ago that is.
func (s *Sheet) read(c view.Conditions) string {
	if c.ReadAt == nil {
		return NotKnown
	}
	return s.Clock(*c.ReadAt) + s.ago(*c.ReadAt)
}

func (s *Sheet) humid(x float64) string { return s.Share(x) + " humidity" }

func (s *Sheet) windy(mps float64) string { return "wind " + s.Speed(mps) }

// workHeight is where evaporation wants the wind.
func (s *Sheet) workHeight() string {
	if s.System == unit.US {
		return "20 in" // so ACI 305R says it in US units (from memory)
	}
	return "0.5 m"
}

func (s *Sheet) conditions(v view.Conditions) {
	const column = 13
	read := s.read(v)
	if v.Station != "" {
		read += ", " + v.Station
	}
	s.Named(0, column, "evaporation", s.dryingJudged(v))
	if v.MenzelKgM2H != nil {
		s.Named(0, column, "", Sayf("by Uno; by Menzel %s", s.Evaporation(*v.MenzelKgM2H)))
	}
	s.Named(0, column, "too old", Say(v.TooOld))
	if len(v.FreshUncovered) > 0 {
		s.Named(0, column, "uncovered", Join(": ", Say("fresh and bare", Soon), Listed(v.FreshUncovered)))
	}
	s.Named(0, column, "read", Say(read))
	s.Named(0, column, "air", Join(", ", Say(Maybe(v.AirC, s.Temperature)), Say(Named("humidity", v.Humidity, s.Share)),
		Say(Named("dew point", v.DewPointC, s.Temperature))))
	if v.WindMPS != nil {
		from := Join(" ", Say(Named("from", v.WindReadMPS, s.Speed)), Say(Named("read at", v.WindHeightM, s.Length)))
		s.Named(0, column, "wind", Join(", ", Sayf("%s at %s", s.Speed(*v.WindMPS), s.workHeight()), from))
	}
	if v.SurfaceC != nil {
		s.Named(0, column, "surface", Join(" ", Say(s.Temperature(*v.SurfaceC)), Say("("+v.SurfaceSource+")")))
	}
	if v.HeatIndexF != nil {
		s.Named(0, column, "heat index", Say(s.System.Temperature(unit.Fahrenheit(*v.HeatIndexF))+", for the people"))
	}
	for _, r := range v.Since {
		s.Named(0, column, "read since", s.since(r))
	}
	for _, j := range v.Judgements {
		s.Named(0, column, "judged", Say(j))
	}
	s.Named(0, column, "not read", Listed(v.Missing))
}

// since is a later reading that is not full: what it read, and no more.
func (s *Sheet) since(r view.Reading) Text {
	return Join(": ", Join(", ", Say(s.Clock(r.ReadAt)), Say(r.Station)),
		Join(", ", Say(Named("air", r.AirC, s.Temperature)),
			Say(Named("humidity", r.Humidity, s.Share)), Say(Named("wind", r.WindMPS, s.Speed)),
			Say(Named("rain", r.RainMM, s.Rain)),
			Say(Named("sun", r.SunWM2, func(x float64) string { return Decimal(x, 0) + " W/m²" })),
			Say(Named("surface", r.SurfaceC, s.Temperature))))
}

func (s *Sheet) hours(v view.Conditions) {
	if len(v.Hours) == 0 {
		return
	}
	var from Text
	if v.ForecastSource != "" {
		from = Sayf("as forecast by %s", v.ForecastSource)
	}
	s.Section("TO COME", from)
	t := Table{Columns: []Column{
		{Name: "hour", Right: true},
		{Name: "air", Right: true, Drop: 1},
		{Name: "evaporation", Right: true},
		{Name: "rain", Right: true, Drop: 2},
		{Name: "work", Least: 10},
	}}
	for _, h := range v.Hours {
		work := Say("yes")
		if !h.Workable {
			work = Join(": ", Say("NO", Urgent), Say(h.Why))
		}
		t.Row(Figure(s.Clock(h.At)), Figure(Maybe(h.AirC, s.Temperature)),
			Figure(Maybe(h.EvaporationKgM2H, s.Evaporation)),
			Figure(Maybe(h.RainMM, s.fallen)), work)
	}
	s.Table(0, t)
}
