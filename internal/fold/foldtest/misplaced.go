package foldtest

import (
	"hod/internal/event"
)

func (d *Desk) OtherMix() {
	for _, b := range SmallPlan() {
		if m, ok := b.(event.MixPlanned); ok {
			m.Mix = "base"
			d.By("f1", 0, m)
		}
	}
}
