package drawing

import (
	"time"

	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
)

// DayLeaf is a day with its pictures: the shell, drying and weather over the day, how the rest goes down, and the
// figures over all days up to it.
type DayLeaf struct {
	daily.Day
	Map    Map              `json:"map"`
	Drying view.Drying      `json:"drying"`
	Fan    []ahead.FanPoint `json:"fan,omitempty"`
	Charts Charts           `json:"charts"`
	At     time.Time        `json:"at"` // the instant of the pictures: now, or the end of a day that is over
}

// DayEnd is the instant at which a day's pictures are drawn: now, or the last millisecond of a day that is over. It is
// false where the day has not begun.
func DayEnd(now time.Time, in *time.Location, date string) (at time.Time, begun bool) {
	from, err := time.ParseInLocation(time.DateOnly, date, in)
	if err != nil || now.Before(from) {
		return now, false
	}
	if end := from.AddDate(0, 0, 1); !now.Before(end) {
		return end.Add(-time.Millisecond), true // events are held to the millisecond
	}
	return now, true
}

// DayLeafOf the site. Pictures are of what is known of the site as it stood at the end of that day.
func DayLeafOf(s *fold.Site, now time.Time, in *time.Location, date string) (DayLeaf, error) {
	day, stood, err := daily.DayAsItStood(s, now, in, date)
	if err != nil {
		return DayLeaf{}, err
	}
	v := DayLeaf{Day: day, At: stood.At}
	if _, begun := DayEnd(now, in, day.Date); !begun {
		return v, nil
	}
	v.Map = MapOf(stood.Site, stood.At, in, nil, false)
	v.Drying = view.DryingOf(stood.Site, stood.At, in)
	v.Charts = ChartsOf(stood.Site, stood.At, in)
	v.Fan = stood.Rest.Fan()
	return v, nil
}
