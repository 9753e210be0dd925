package view

import (
	"fmt"
	"reflect"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
)

// Differs says what of a plan differs from what was planned: "loss 8%, was 5%". Empty where the bodies are of two
// kinds, or say the same.
func Differs(was, is event.Body) string {
	if mix, ok := is.(event.MixPlanned); ok {
		if old, ok := was.(event.MixPlanned); ok {
			return mixDiffers(old, mix)
		}
	}
	a, b := reflect.ValueOf(was), reflect.ValueOf(is)
	if a.Kind() != reflect.Struct || a.Type() != b.Type() {
		return ""
	}
	return strings.Join(fieldsDiffer(a, b), ", ")
}

// mixDiffers takes the constituents one by one.
func mixDiffers(was, is event.MixPlanned) string {
	var all []string
	old := map[event.Material]event.Constituent{}
	for _, c := range was.Constituents {
		old[c.Name] = c
	}
	for _, c := range is.Constituents {
		before, ok := old[c.Name]
		delete(old, c.Name)
		switch {
		case !ok:
			all = append(all, fmt.Sprintf("%s %s is new", c.Name, planAmount(c.Amount)))
		case !reflect.DeepEqual(before, c):
			for _, d := range fieldsDiffer(reflect.ValueOf(before), reflect.ValueOf(c)) {
				all = append(all, string(c.Name)+" "+d)
			}
		}
	}
	for _, c := range was.Constituents {
		if _, gone := old[c.Name]; gone {
			all = append(all, string(c.Name)+" is left out")
		}
	}
	was.Constituents, is.Constituents = nil, nil
	return strings.Join(append(all, fieldsDiffer(reflect.ValueOf(was), reflect.ValueOf(is))...), ", ")
}

// fieldsDiffer compares field by field: what is said of a plan is what it holds, so that a field added later is
// compared too.
func fieldsDiffer(was, is reflect.Value) []string {
	var all []string
	for i := range was.NumField() {
		name := was.Type().Field(i).Name
		if name == "Replaces" || reflect.DeepEqual(was.Field(i).Interface(), is.Field(i).Interface()) {
			continue
		}
		a, b := planValue(name, was.Field(i).Interface()), planValue(name, is.Field(i).Interface())
		if a == b { // written in other words or in finer figures than are shown
			all = append(all, fmt.Sprintf("%s %s, written otherwise", plainName(name), b))
			continue
		}
		all = append(all, fmt.Sprintf("%s %s, was %s", plainName(name), b, a))
	}
	return all
}

// planValue is a value of a plan in words.
func planValue(name string, v any) string {
	switch v := v.(type) {
	case *unit.As[unit.Share]:
		return saidOrNot(v, unit.System.Share)
	case *unit.As[unit.Density]:
		return saidOrNot(v, unit.System.Density)
	case *unit.As[unit.Celsius]:
		return saidOrNot(v, unit.System.Temperature)
	case unit.As[unit.Area]:
		return asWritten(v, unit.System.Area)
	case unit.As[unit.Length]:
		return asWritten(v, unit.System.Length)
	case event.Amount:
		return planAmount(v)
	case unit.Evaporation:
		if v == 0 {
			return "not said"
		}
		return unit.Metric.Evaporation(v)
	case unit.Density:
		return inBoth(v, unit.System.Density)
	case time.Duration:
		switch {
		case strings.HasPrefix(name, "Work") && name != "Working":
			return fmt.Sprintf("%02d:%02d", int(v.Hours()), int(v.Minutes())%60)
		case v == 0:
			return "not said"
		}
		return unit.Duration(v)
	case []event.Step:
		return unit.Count(len(v), "step", "steps")
	}
	value := reflect.ValueOf(v)
	for value.Kind() == reflect.Pointer && !value.IsNil() {
		value = value.Elem()
	}
	if value.IsZero() || value.Kind() == reflect.Pointer {
		return "not said"
	}
	if value.Kind() == reflect.Slice {
		return unit.Count(value.Len(), "entry", "entries")
	}
	return fmt.Sprint(value.Interface())
}

func planAmount(a event.Amount) string {
	switch {
	case a.Entered != "":
		return unit.Spaced(a.Entered)
	case a.ByVolume:
		return inBoth(a.Volume, unit.System.Liquid)
	}
	return inBoth(a.Mass, unit.System.Mass)
}

func saidOrNot[Q ~float64](q *unit.As[Q], show func(unit.System, Q) string) string {
	if q == nil {
		return "not said"
	}
	return asWritten(*q, show)
}

// plainName is a field's name in words: WorkFrom is work from.
func plainName(name string) string {
	var b strings.Builder
	for i, r := range name {
		if r >= 'A' && r <= 'Z' && i > 0 && !(name[i-1] >= 'A' && name[i-1] <= 'Z') {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
	}
	return strings.ToLower(b.String())
}

func asWritten[Q ~float64](q unit.As[Q], show func(unit.System, Q) string) string {
	if q.Entered != "" {
		return unit.Spaced(q.Entered)
	}
	return inBoth(q.SI, show)
}

func inBoth[Q ~float64](q Q, show func(unit.System, Q) string) string {
	return unit.Both(unit.Metric, unit.Computed(q), show)
}
