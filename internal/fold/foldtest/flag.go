package foldtest

import (
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view/daily"
)

// Along says that a placement ran along the edges to these zones.
func Along(p event.Placement, zones ...event.Zone) event.Placement {
	p.Along = zones
	return p
}

func OfCode(all []daily.Flag, code string) []daily.Flag {
	var fit []daily.Flag
	for _, f := range all {
		if f.Code == code {
			fit = append(fit, f)
		}
	}
	return fit
}

func FlagsAt(s *fold.Site, minutes int) []daily.Flag {
	return daily.FlagsOf(s, Clock(minutes), Place, true).Flags
}
