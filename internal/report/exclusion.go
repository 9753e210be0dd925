package report

import (
	"fmt"

	"hod/internal/view"
)

// Excluded says of whom what does not count, each in a line; nothing where all counts.
func (s *Sheet) Excluded(all []view.Exclusion) {
	for _, x := range all {
		s.Para(0, 2, s.excludedText(x))
	}
}

// ExcludedSection is the same under a heading of its own.
func (s *Sheet) ExcludedSection(all []view.Exclusion) {
	if len(all) == 0 {
		return
	}
	s.Section("EXCLUDED", nil)
	s.Excluded(all)
}

func (s *Sheet) excludedText(x view.Exclusion) Text {
	many := Sayf("what it wrote from its event %d on does not count", x.FromSeq)
	if x.Events != nil {
		word := fmt.Sprintf("%d events do not count", *x.Events)
		if *x.Events == 1 {
			word = "1 event does not count"
		}
		many = Sayf("%s, from its event %d on", word, x.FromSeq)
	}
	since := Say("since " + s.Day(x.Since) + " " + x.Since.In(s.In).Format("15:04"))
	why := Text(nil)
	if x.Why != "" {
		why = Join(": ", Say("reason"), Say(x.Why))
	}
	return Join("; ", Join(": ", Join(" ", Say("EXCLUDED", Urgent), Say("device"), Say(x.Device)), Join(", ", many,
		since)), why, Join(" ", Say("by event"), Say(x.Event)))
}
