package sheet

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"hod/client/terminal"
	"hod/internal/unit"
)

// The rooms of the trade know SI alone, and so do their refusals. Whoever typed 900F is to read 900 F again, with the
// room's figure beside it.

// RefuseAsTyped makes each calculation below c put what was typed into its refusals.
func RefuseAsTyped(c *cobra.Command) {
	for _, m := range c.Commands() {
		RefuseAsTyped(m)
		run := m.RunE
		if run == nil {
			continue
		}
		m.RunE = func(c *cobra.Command, args []string) error {
			err := run(c, args)
			var known *terminal.Error
			if !errors.As(err, &known) || known.Kind != terminal.Usage {
				return err
			}
			c.Flags().Visit(func(f *pflag.Flag) {
				if f.Value.Type() == "string" {
					known.Msg = asTyped(known.Msg, f.Value.String())
				}
			})
			return err
		}
	}
}

// asTyped puts a quantity as it was typed before the same in SI.
func asTyped(text, typed string) string {
	for _, si := range inSI(typed) {
		at := strings.Index(text, si)
		shown := terminal.Safe(unit.Spaced(strings.TrimSpace(typed)))
		if at < 0 || sameFigure(shown, si) || strings.Contains(text, shown) || at > 0 &&
			strings.ContainsRune("0123456789.-−", rune(text[at-1])) {
			continue
		}
		rest := text[at+len(si):]
		if end := strings.Index(rest, ")"); end > 0 &&
			strings.HasPrefix(rest, " (") { // the room's own US figure is said already
			rest = rest[end+1:]
		}
		return text[:at] + shown + " (" + si + ")" + rest
	}
	return text
}

// sameFigure says that a quantity was typed in SI already; nought is the same in many units.
func sameFigure(typed, si string) bool {
	a, _, _ := strings.Cut(typed, " ")
	b, _, _ := strings.Cut(si, " ")
	return typed == si || a == b && a != "0"
}

// inSI is a quantity as the rooms write it; nothing where they would write it as it was typed.
func inSI(typed string) []string {
	say := func(of string, factor, v float64) []string {
		return []string{fmt.Sprintf("%.4g %s", v*factor, of), fmt.Sprintf("%g %s", v*factor, of)}
	}
	if v, err := unit.ParseTemperature(typed); err == nil {
		return say("°C", 1, float64(v))
	}
	if v, err := unit.ParseSpeed(typed); err == nil {
		return say("m/s", 1, float64(v))
	}
	if v, err := unit.ParseLength(typed); err == nil {
		return append(say("mm", 1e3, float64(v)), say("m", 1, float64(v))...)
	}
	if v, err := unit.ParseArea(typed); err == nil {
		return append(say("mm²", 1e6, float64(v)), say("m²", 1, float64(v))...)
	}
	if v, err := unit.ParseMass(typed); err == nil {
		return say("kg", 1, float64(v))
	}
	if v, err := unit.ParseVolume(typed); err == nil {
		return say("m³", 1, float64(v))
	}
	if v, err := unit.ParseDensity(typed); err == nil {
		return say("kg/m³", 1, float64(v))
	}
	if v, err := unit.ParsePressure(typed); err == nil {
		return append(say("MPa", 1e-6, float64(v)),
			append(say("kPa", 1e-3, float64(v)), say("Pa", 1, float64(v))...)...)
	}
	if v, err := unit.ParseForce(typed); err == nil {
		return say("N", 1, float64(v))
	}
	return nil
}
