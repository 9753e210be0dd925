package session

import (
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// ScaledAmount is an amount scale times as large; what was typed for it is no longer said.
func ScaledAmount(a event.Amount, scale float64) event.Amount {
	if scale == 1 {
		return a
	}
	return event.Amount{Mass: a.Mass * unit.Mass(scale), Volume: a.Volume * unit.Volume(scale), ByVolume: a.ByVolume}
}

// FormatAmount shows an amount in both systems.
func (s *Session) FormatAmount(a event.Amount) string {
	switch {
	case a.Entered == "none":
		return a.Entered
	case a.ByVolume:
		return unit.Both(s.Units, unit.As[unit.Volume]{SI: a.Volume, Entered: a.Entered}, unit.System.Liquid)
	}
	return unit.Both(s.Units, unit.As[unit.Mass]{SI: a.Mass, Entered: a.Entered}, unit.System.Mass)
}

// FormatStep is what is to be done at a step of a mix's charging order.
func (s *Session) FormatStep(step event.Step, part event.Amount) string {
	text := ""
	if step.Constituent != "" {
		text = string(step.Constituent) + ": " + s.FormatAmount(part)
		if step.Share != nil {
			text += ", " + s.Units.Share(step.Share.SI) + " of it"
		}
	}
	if step.Wait > 0 {
		if text != "" {
			text += ", then "
		}
		text += "wait " + unit.Duration(step.Wait)
	}
	if step.LookFor != "" {
		if text != "" {
			text += "; "
		}
		text += "go on when: " + step.LookFor
	}
	return text
}

// Portion is how much of a constituent goes in at a step: its share of all that is charged of it.
func Portion(step event.Step, whole []event.Charge) event.Amount {
	for _, c := range whole {
		if c.Constituent == step.Constituent {
			return ScaledAmount(c.Amount, StepShare(step))
		}
	}
	return event.Amount{}
}

// StepShare is the share of its constituent that a step puts in; all where it says none.
func StepShare(step event.Step) float64 {
	if step.Share != nil {
		return float64(step.Share.SI)
	}
	return 1
}

// QuantityOfAmount is an amount as JSON has it, in m3 or kg.
func QuantityOfAmount(a event.Amount) terminal.Quantity {
	if a.ByVolume {
		return terminal.Quantity{Entered: a.Entered, SI: terminal.Finite(float64(a.Volume)), Unit: "m3"}
	}
	return terminal.Quantity{Entered: a.Entered, SI: terminal.Finite(float64(a.Mass)), Unit: "kg"}
}
