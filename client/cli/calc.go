package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hod/internal/unit"
)

// newCalc asks the trade's rooms directly: no site, no journal. Each command prints what it understood, the figures in
// both systems, the formula with its source and the limits to compare with.
func newCalc(env *streams) *cobra.Command {
	c := env.group("calc", "Work out amounts, areas and rates without writing anything down",
		`hod calc evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph`,
		newCalcEvaporation(env), newCalcVapour(env), newCalcCold(env), newCalcHot(env),
		newCalcMaturity(env), newCalcStrength(env), newCalcBreaks(env), newCalcMoist(env),
		newCalcSet(env), newCalcEnergy(env), newCalcLayer(env), newCalcIntervals(env),
		newCalcMix(env), newCalcProportion(env), newCalcYield(env), newCalcMoisture(env), newCalcFoam(env), newCalcFibre(env),
		newCalcDose(env), newCalcSpray(env), newCalcTemperature(env),
		newCalcShell(env), newCalcBatches(env), newCalcChart(env), newCalcOrder(env))
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

// calcLimit is a figure that a standard prints, and how the result stands to it.
type calcLimit struct {
	Name    string  `json:"name"`
	Limit   string  `json:"limit"`
	Verdict verdict `json:"verdict"`
	Kept    bool    `json:"kept"` // false also where a stage is reached
	Source  string  `json:"source"`
}

// verdict is how a figure stands to a limit. It names the side, so that nobody takes a limit that was gone beyond for a
// test that was passed.
type verdict string

const (
	isKept       verdict = "kept"
	isOver       verdict = "over"     // beyond a most
	isUnder      verdict = "under"    // short of a least
	isOutside    verdict = "outside"  // beyond either end of a range
	isBroken     verdict = "not kept" // of a rule that has no side
	isReached    verdict = "reached"  // of a stage that things come to, good or bad
	isNotReached verdict = "not reached"
)

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
	as := first(s.command.Example)
	for line := range strings.Lines(s.command.Example) { // the example that has it, where there is one
		if strings.Contains(line+" ", "--"+flags[0]+" ") {
			as = strings.TrimSpace(line)
			break
		}
	}
	return usage("%s needs --%s, as in `%s`", s.command.CommandPath(), strings.Join(flags, " or --"), as)
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

// against puts a limit on the sheet, with its verdict where the figure goes beyond it.
func (s *calcSheet) against(name, is string, beyond bool, how verdict, source string) {
	l := calcLimit{Name: name, Limit: is, Verdict: how, Kept: !beyond, Source: source}
	switch {
	case beyond:
	case how == isReached:
		l.Verdict = isNotReached
	default:
		l.Verdict = isKept
	}
	s.Limits = append(s.Limits, l)
}

func (s *calcSheet) atMost(name, is string, beyond bool, source string) {
	s.against(name, is, beyond, isOver, source)
}

func (s *calcSheet) atLeast(name, is string, short bool, source string) {
	s.against(name, is, short, isUnder, source)
}

func (s *calcSheet) between(name, is string, beyond bool, source string) {
	s.against(name, is, beyond, isOutside, source)
}

func (s *calcSheet) stage(name, is string, come bool, source string) {
	s.against(name, is, come, isReached, source)
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

// jsonParts are the strings of a JSON text, and its numbers with a fraction or an exponent.
var jsonParts = regexp.MustCompile(`"(?:[^"\\]|\\.)*"|-?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?`)

// plainNumbers takes what is only rounding off a JSON text's numbers: 14 digits say all that a formula knows, and 77.58
// is not to read 77.58000000000001.
func plainNumbers(text []byte) []byte {
	return jsonParts.ReplaceAllFunc(text, func(part []byte) []byte {
		if part[0] == '"' || !bytes.ContainsAny(part, ".eE") {
			return part
		}
		v, err := strconv.ParseFloat(string(part), 64)
		if err != nil {
			return part
		}
		if v, err = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 14, 64), 64); err != nil {
			return part
		}
		plain, err := json.Marshal(v)
		if err != nil {
			return part
		}
		return plain
	})
}

// print writes the document, or the sheet in words: inputs, figures, formulas, limits, warnings, cautions.
func (s *calcSheet) print(env *streams, thing string, doc any) error {
	if env.json {
		var b bytes.Buffer
		if err := writeJSON(&b, "calc."+thing, doc); err != nil {
			return err
		}
		if _, err := env.Stdout.Write(plainNumbers(b.Bytes())); err != nil {
			return fmt.Errorf("print the result: %w", err)
		}
		return nil
	}
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
			is := string(l.Verdict)
			if !l.Kept {
				is = strings.ToUpper(is)
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
