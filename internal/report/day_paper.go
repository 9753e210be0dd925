package report

import (
	"time"

	"hod/internal/view/daily"
)

// DayLayouts is how many layouts DayBrief has.
func DayLayouts() int { return len(dayRooms) }

// DayBrief is the day as Day has it, as a part of a page, in the layout of that number: 0 is the roomiest. Paper takes
// the first that fits its two pages.
func DayBrief(v daily.Day, p Page, layout int) string {
	p.HTML, p.annex = true, true
	return dayShort(v, p, dayRooms[layout]).String()
}

// OwnCopy says how old the copy of the record is that a page is made of, as a part of it; nothing where it is no copy.
func OwnCopy(p Page, asOf time.Time) string {
	p.HTML = true
	s := Open(p, "", asOf)
	s.OwnCopy()
	return s.String()
}
