package cli

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hod/internal/unit"
)

// newCalc asks the trade's rooms directly: no site, no journal. Each command prints what it understood, the figures in
// both systems, the formula with its source and the limits to compare with.
func newCalc(env *Env) *cobra.Command {
	c := env.group("calc", "Work out amounts, areas and rates without writing anything down",
		`hod calc evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph`,
		newCalcEvaporation(env), newCalcVapour(env), newCalcCold(env), newCalcHot(env),
		newCalcMaturity(env), newCalcStrength(env), newCalcBreaks(env), newCalcMoist(env),
		newCalcSet(env), newCalcEnergy(env), newCalcLayer(env), newCalcIntervals(env),
		newCalcMix(env), newCalcProportion(env), newCalcYield(env), newCalcMoisture(env), newCalcFoam(env), newCalcFibre(env),
		newCalcDose(env), newCalcSpray(env), newCalcTemperature(env),
		newCalcShell(env), newCalcBatches(env), newCalcChart(env))
	refuseAsTyped(c)
	return c
}

// calcSheet is what a calculation says beside its figures; every document of one ends with these fields.
type calcSheet struct {
	Inputs   []calcInput   `json:"inputs"`
	Formulas []calcFormula `json:"formulas"`
	Limits   []calcLimit   `json:"limits,omitempty"`
	Warnings []string      `json:"warnings,omitempty"`
	Cautions []string      `json:"cautions,omitempty"`

	figures []calcFigure
	command *cobra.Command
}

// calcInput is a value as it was understood.
type calcInput struct {
	Name  string   `json:"name"`
	Said  string   `json:"said,omitempty"`
	Value *float64 `json:"value,omitempty"`
	Unit  string   `json:"unit,omitempty"`

	text string
}

// calcFormula is what a figure was computed by.
type calcFormula struct {
	Name   string `json:"name"`
	Source string `json:"source"`
}

// calcLimit is a figure that a standard prints, and whether it is passed.
type calcLimit struct {
	Name   string `json:"name"`
	Limit  string `json:"limit"`
	Passed bool   `json:"passed"` // the figure lies beyond the limit, whichever side that is
	Kept   bool   `json:"kept"`
	Source string `json:"source"`

	least bool // it is a least and not a most: what is under it does not keep it
}

// calcFigure is a result in words.
type calcFigure struct{ name, text string }

func newCalcSheet(c *cobra.Command) *calcSheet { return &calcSheet{command: c} }

// asked reads the value of a flag that must be there and notes how it was understood.
func asked[Q ~float64](s *calcSheet, flag, text string, parse func(string) (Q, error), in string, show func(unit.System, Q) string) (Q, error) {
	if text == "" {
		return 0, s.missing(flag)
	}
	q, err := unit.Said(text, parse)
	if err != nil {
		return 0, ofFlag(flag, err)
	}
	s.understood(flag, text, float64(q.SI), in, unit.Both(unit.Metric, q, show))
	return q.SI, nil
}

// maybeAsked is asked for a flag that may be left out; nil if it is.
func maybeAsked[Q ~float64](s *calcSheet, flag, text string, parse func(string) (Q, error), in string, show func(unit.System, Q) string) (*Q, error) {
	if text == "" {
		return nil, nil
	}
	q, err := asked(s, flag, text, parse, in, show)
	if err != nil {
		return nil, err
	}
	return &q, nil
}

// length of time that a flag gives, noted in a unit that is one long.
func (s *calcSheet) length(flag, text string, one time.Duration, in string) (time.Duration, error) {
	if text == "" {
		return 0, s.missing(flag)
	}
	d, err := unit.ParseDuration(text)
	if err != nil {
		return 0, ofFlag(flag, err)
	}
	s.understood(flag, text, float64(d)/float64(one), in, unit.Duration(d))
	return d, nil
}

func (s *calcSheet) understood(name, said string, value float64, in, text string) {
	s.Inputs = append(s.Inputs, calcInput{Name: name, Said: safe(said), Value: &value, Unit: in, text: text})
}

// noted is an input that is no quantity: a file, a shape.
func (s *calcSheet) noted(name, text string) {
	s.Inputs = append(s.Inputs, calcInput{Name: name, Said: safe(text), text: safe(text)})
}

func (s *calcSheet) missing(flags ...string) error {
	return usage("%s needs --%s, as in `%s`", s.command.CommandPath(), strings.Join(flags, " or --"), first(s.command.Example))
}

// together refuses flags that say the same thing twice.
func (s *calcSheet) together(a, textA, b, textB string) error {
	if textA != "" && textB != "" {
		return usage("--%s and --%s say the same thing twice; give one of them", a, b)
	}
	return nil
}

// flagText is a flag and its text.
type flagText struct{ flag, text string }

// oneOf refuses more than one of flags that say the same thing.
func (s *calcSheet) oneOf(flags ...flagText) error {
	var given flagText
	for _, f := range flags {
		if f.text == "" {
			continue
		}
		if err := s.together(given.flag, given.text, f.flag, f.text); err != nil {
			return err
		}
		given = f
	}
	return nil
}

func nothingSaid(flags []flagText) bool {
	for _, f := range flags {
		if f.text != "" {
			return false
		}
	}
	return true
}

// askedNumber is asked for a bare number: a specific gravity, a ratio.
func (s *calcSheet) askedNumber(flag, text string) (float64, error) {
	if text == "" {
		return 0, s.missing(flag)
	}
	v, err := parseNumber(strings.TrimSpace(text))
	if err != nil {
		return 0, ofFlag(flag, err)
	}
	s.understood(flag, text, v, "", decimal(v, 6))
	return v, nil
}

func (s *calcSheet) by(name, source string) {
	s.Formulas = append(s.Formulas, calcFormula{name, source})
}

func (s *calcSheet) against(name, is string, passed bool, source string) {
	s.Limits = append(s.Limits, calcLimit{Name: name, Limit: is, Passed: passed, Kept: !passed, Source: source})
}

// atLeast is against for a limit from which on all is well.
func (s *calcSheet) atLeast(name, is string, under bool, source string) {
	s.Limits = append(s.Limits, calcLimit{Name: name, Limit: is, Passed: under, Kept: !under, Source: source, least: true})
}

func (s *calcSheet) warn(format string, args ...any) {
	s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...))
}

func (s *calcSheet) caution(texts ...string) { s.Cautions = append(s.Cautions, texts...) }

func (s *calcSheet) figure(name, format string, args ...any) {
	s.figures = append(s.figures, calcFigure{name, fmt.Sprintf(format, args...)})
}

// bothUnits shows a figure in both systems, metric first.
func bothUnits[Q ~float64](q Q, show func(unit.System, Q) string) string {
	return unit.Both(unit.Metric, unit.Computed(q), show)
}

// impossible is what a room of the trade says of values that it cannot take.
func impossible(err error) error {
	var known *Error
	if err == nil || errors.As(err, &known) {
		return err
	}
	return &Error{Kind: Usage, Msg: strings.ReplaceAll(err.Error(), "\n", "; "), Err: err}
}

// ofFlag is impossible for the value of a flag.
func ofFlag(flag string, err error) error {
	if err = impossible(err); err == nil {
		return nil
	}
	var known *Error
	errors.As(err, &known)
	if strings.HasPrefix(known.Msg, "--") { // said already
		return known
	}
	return &Error{Kind: known.Kind, Msg: "--" + flag + ": " + known.Msg, Err: known}
}

// decimal shows a bare number to so many significant digits.
func decimal(v float64, digits int) string {
	if v == 0 || math.Abs(v) >= 1e-4 && math.Abs(v) < 1e9 {
		places := digits
		if v != 0 {
			places = max(0, digits-1-int(math.Floor(math.Log10(math.Abs(v)))))
		}
		s := strconv.FormatFloat(v, 'f', places, 64)
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		return s
	}
	return strconv.FormatFloat(v, 'g', digits, 64)
}

// print writes the document, or the sheet in words: inputs, figures, formulas, limits, warnings, cautions.
func (s *calcSheet) print(env *Env, thing string, doc any) error {
	return env.print("calc."+thing, doc, func(w io.Writer) {
		wide := 0
		for _, i := range s.Inputs {
			wide = max(wide, utf8.RuneCountInString(i.Name))
		}
		for _, f := range s.figures {
			wide = max(wide, utf8.RuneCountInString(f.name))
		}
		put := func(name, text string) {
			fmt.Fprintf(w, "  %s%s  %s\n", name, strings.Repeat(" ", wide-utf8.RuneCountInString(name)), text)
		}
		fmt.Fprintln(w, "given")
		for _, i := range s.Inputs {
			put(i.Name, i.text)
		}
		fmt.Fprintln(w, "found")
		for _, f := range s.figures {
			put(f.name, f.text)
		}
		fmt.Fprintln(w, "by")
		for _, f := range s.Formulas {
			fmt.Fprintf(w, "  %s\n    %s\n", f.Name, f.Source)
		}
		if len(s.Limits) > 0 {
			fmt.Fprintln(w, "against")
		}
		for _, l := range s.Limits {
			is := "kept"
			switch {
			case l.Passed && l.least:
				is = "NOT KEPT"
			case l.Passed:
				is = "PASSED"
			}
			fmt.Fprintf(w, "  %s: %s: %s\n    %s\n", l.Name, l.Limit, is, l.Source)
		}
		for _, n := range s.Warnings {
			fmt.Fprintf(w, "note: %s\n", n)
		}
		for _, c := range s.Cautions {
			fmt.Fprintf(w, "CAUTION: %s\n", c)
		}
	})
}
