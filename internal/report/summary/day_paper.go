package summary

import (
	"hod/internal/report"
	"hod/internal/view/daily"
)

// DayLayouts is how many layouts DayBrief has.
func DayLayouts() int { return len(dayRooms) }

// DayBrief is the day as Day has it, as a part of a page, in the layout of that number: 0 is the roomiest. Paper takes
// the first that fits its two pages.
func DayBrief(v daily.Day, p report.Page, layout int) string {
	p.HTML, p.Annex = true, true
	return dayShort(v, p, dayRooms[layout]).String()
}
