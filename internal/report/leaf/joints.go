package leaf

import (
	"slices"

	"hod/internal/report"
	"hod/internal/view"
)

// mostInTime is how many joints that were made in time one page lists.
const mostInTime = 200

// Joints are all joints as the inside of a web page: open ones, those that were made late, and of those that were made
// in time the ones that came nearest to the limit.
func Joints(v view.Joints, p report.Page) string {
	p.HTML = true
	inTime := 0
	v.Joints = slices.DeleteFunc(slices.Clone(v.Joints), func(j view.Joint) bool {
		if j.StateNow(v.AsOf) != view.MadeLive {
			return false
		}
		inTime++
		return inTime > mostInTime
	})
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`%s`, report.Joints(v, p))
	if left := inTime - mostInTime; left > 0 {
		w.put(`<p>Left out: %s made in time; each is on the page of its zone.</p>`,
			report.Count(left, "joint", "joints"))
	}
	return w.b.String()
}
