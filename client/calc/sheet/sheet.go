package sheet

import (
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hod/client/terminal"
	"hod/internal/unit"
)

// Sheet is what a calculation says beside its figures; every document of one ends with these fields.
type Sheet struct {
	Inputs   []Input   `json:"inputs"`
	Formulas []Formula `json:"formulas"`
	Limits   []Limit   `json:"limits,omitempty"`
	Warnings []string  `json:"warnings,omitempty"`
	Cautions []string  `json:"cautions,omitempty"`

	Figures []Figure `json:"-"`
	command *cobra.Command
}

// Input is a value as it was understood.
type Input struct {
	Name  string   `json:"name"`
	Said  string   `json:"said,omitempty"`
	Value *float64 `json:"value,omitempty"`
	Unit  string   `json:"unit,omitempty"`

	text string
}

// Formula is what a figure was computed by.
type Formula struct {
	Name   string `json:"name"`
	Source string `json:"source"`
}

// Limit is a figure that a standard prints, and how the result stands to it.
type Limit struct {
	Name    string  `json:"name"`
	Limit   string  `json:"limit"`
	Verdict Verdict `json:"verdict"`
	Kept    bool    `json:"kept"` // false also where a stage is reached
	Source  string  `json:"source"`
}

// Verdict is how a figure stands to a limit. It names the side, so that nobody takes a limit that was gone beyond for a
// test that was passed.
type Verdict string

const (
	kept       Verdict = "kept"
	over       Verdict = "over"     // beyond a most
	under      Verdict = "under"    // short of a least
	outside    Verdict = "outside"  // beyond either end of a range
	Broken     Verdict = "not kept" // of a rule that has no side
	reached    Verdict = "reached"  // of a stage that things come to, good or bad
	notReached Verdict = "not reached"
)

// Figure is a result in words.
type Figure struct{ Name, Text string }

// New makes the empty sheet of a command.
func New(c *cobra.Command) *Sheet { return &Sheet{command: c} }

// Asked reads the value of a flag that must be there and notes how it was understood.
func Asked[Q ~float64](s *Sheet, flag, text string, parse func(string) (Q, error), in string,
	show func(unit.System, Q) string,
) (Q, error) {
	if text == "" {
		return 0, s.Missing(flag)
	}
	q, err := unit.Said(text, parse)
	if err != nil {
		return 0, FlagErr(flag, err)
	}
	s.Understood(flag, text, float64(q.SI), in, unit.Both(unit.Metric, q, show))
	return q.SI, nil
}

// AskedIfGiven is asked for a flag that may be left out; nil if it is.
func AskedIfGiven[Q ~float64](s *Sheet, flag, text string, parse func(string) (Q, error), in string,
	show func(unit.System, Q) string,
) (*Q, error) {
	if text == "" {
		return nil, nil
	}
	q, err := Asked(s, flag, text, parse, in, show)
	if err != nil {
		return nil, err
	}
	return &q, nil
}

// Length of time that a flag gives, noted in a unit that is one long.
func (s *Sheet) Length(flag, text string, one time.Duration, in string) (time.Duration, error) {
	if text == "" {
		return 0, s.Missing(flag)
	}
	d, err := unit.ParseDuration(text)
	if err != nil {
		return 0, FlagErr(flag, err)
	}
	s.Understood(flag, text, float64(d)/float64(one), in, unit.Duration(d))
	return d, nil
}

// Understood notes a quantity as it was understood: its value in the unit in, and in words.
func (s *Sheet) Understood(name, said string, value float64, in, text string) {
	s.Inputs = append(s.Inputs, Input{Name: name, Said: terminal.Safe(said), Value: &value, Unit: in, text: text})
}

// Noted is an input that is no quantity: a file, a shape.
func (s *Sheet) Noted(name, text string) {
	s.Inputs = append(s.Inputs, Input{Name: name, Said: terminal.Safe(text), text: terminal.Safe(text)})
}

// Missing is the error for flags of which one must be given, with an example that has the first.
func (s *Sheet) Missing(flags ...string) error {
	as := terminal.FirstExample(s.command.Example)
	for line := range strings.Lines(s.command.Example) { // the example that has it, where there is one
		if strings.Contains(line+" ", "--"+flags[0]+" ") {
			as = strings.TrimSpace(line)
			break
		}
	}
	return terminal.Usagef("%s needs --%s, as in `%s`", s.command.CommandPath(), strings.Join(flags, " or --"), as)
}

// Exclusive refuses flags that say the same thing twice.
func (s *Sheet) Exclusive(a, textA, b, textB string) error {
	if textA != "" && textB != "" {
		return terminal.Usagef("--%s and --%s say the same thing twice; give one of them", a, b)
	}
	return nil
}

// FlagText is a flag and its text.
type FlagText struct{ Flag, Text string }

// OneOf refuses more than one of flags that say the same thing.
func (s *Sheet) OneOf(flags ...FlagText) error {
	var given FlagText
	for _, f := range flags {
		if f.Text == "" {
			continue
		}
		if err := s.Exclusive(given.Flag, given.Text, f.Flag, f.Text); err != nil {
			return err
		}
		given = f
	}
	return nil
}

// NoneGiven reports whether none of the flags was given.
func NoneGiven(flags []FlagText) bool {
	for _, f := range flags {
		if f.Text != "" {
			return false
		}
	}
	return true
}

// AskedNumber is asked for a bare number: a specific gravity, a ratio.
func (s *Sheet) AskedNumber(flag, text string) (float64, error) {
	if text == "" {
		return 0, s.Missing(flag)
	}
	v, err := terminal.ParseNumber(strings.TrimSpace(text))
	if err != nil {
		return 0, FlagErr(flag, err)
	}
	s.Understood(flag, text, v, "", Decimal(v, 6))
	return v, nil
}

// By puts a formula on the sheet, with its source.
func (s *Sheet) By(name, source string) {
	s.Formulas = append(s.Formulas, Formula{name, source})
}

// Against puts a limit on the sheet, with its verdict where the figure goes beyond it.
func (s *Sheet) Against(name, is string, beyond bool, how Verdict, source string) {
	l := Limit{Name: name, Limit: is, Verdict: how, Kept: !beyond, Source: source}
	switch {
	case beyond:
	case how == reached:
		l.Verdict = notReached
	default:
		l.Verdict = kept
	}
	s.Limits = append(s.Limits, l)
}

// AtMost is Against for a limit that the figure must not be over.
func (s *Sheet) AtMost(name, is string, beyond bool, source string) {
	s.Against(name, is, beyond, over, source)
}

// AtLeast is Against for a limit that the figure must not be under.
func (s *Sheet) AtLeast(name, is string, short bool, source string) {
	s.Against(name, is, short, under, source)
}

// Between is Against for a range that the figure must not be outside.
func (s *Sheet) Between(name, is string, beyond bool, source string) {
	s.Against(name, is, beyond, outside, source)
}

// Stage is Against for a stage that is reached, which is no fault.
func (s *Sheet) Stage(name, is string, come bool, source string) {
	s.Against(name, is, come, reached, source)
}

// Warnf puts a warning on the sheet.
func (s *Sheet) Warnf(format string, args ...any) {
	s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...))
}

// Caution puts usual cautions on the sheet, for work that can hurt someone.
func (s *Sheet) Caution(texts ...string) { s.Cautions = append(s.Cautions, texts...) }

// Figuref puts a figure on the sheet, in words.
func (s *Sheet) Figuref(name, format string, args ...any) {
	s.Figures = append(s.Figures, Figure{name, fmt.Sprintf(format, args...)})
}

// Both shows a figure in both systems, metric first.
func Both[Q ~float64](q Q, show func(unit.System, Q) string) string {
	return unit.Both(unit.Metric, unit.Computed(q), show)
}

// FlagErr is impossible for the value of a flag.
func FlagErr(flag string, err error) error {
	if err = terminal.AsUsage(err); err == nil {
		return nil
	}
	var known *terminal.Error
	errors.As(err, &known)
	if strings.HasPrefix(known.Msg, "--") { // said already
		return known
	}
	return &terminal.Error{Kind: known.Kind, Msg: "--" + flag + ": " + known.Msg, Err: known}
}

// Decimal shows a bare number to so many significant digits.
func Decimal(v float64, digits int) string {
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

// shortened is a document with what is only rounding off its numbers: 14 digits say all that a formula knows, and 77.58
// is not to read 77.58000000000001. What lies behind its pointers and in its lists is shortened where it lies.
func shortened(doc any) any {
	v := reflect.ValueOf(doc)
	if v.Kind() != reflect.Struct {
		return doc
	}
	whole := reflect.New(v.Type()).Elem()
	whole.Set(v)
	shorten(whole)
	return whole.Interface()
}

func shorten(v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		if short, err := strconv.ParseFloat(strconv.FormatFloat(v.Float(), 'g', 14, 64), 64); err == nil && v.CanSet() {
			v.SetFloat(short)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); f.CanSet() {
				shorten(f)
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			shorten(v.Index(i))
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			value := reflect.New(v.Type().Elem()).Elem()
			value.Set(v.MapIndex(k))
			shorten(value)
			v.SetMapIndex(k, value)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			shorten(v.Elem())
		}
	default:
	}
}

// Print writes the document, or the sheet in words: inputs, figures, formulas, limits, warnings, cautions.
func (s *Sheet) Print(env *terminal.Streams, thing string, doc any) error {
	if env.JSON {
		return terminal.WriteJSON(env.Stdout, "calc."+thing, shortened(doc))
	}
	return env.Print("calc."+thing, doc, func(w io.Writer) {
		wide := 0
		for _, i := range s.Inputs {
			wide = max(wide, utf8.RuneCountInString(i.Name))
		}
		for _, f := range s.Figures {
			wide = max(wide, utf8.RuneCountInString(f.Name))
		}
		put := func(name, text string) {
			fmt.Fprintf(w, "  %s%s  %s\n", name, strings.Repeat(" ", wide-utf8.RuneCountInString(name)), text)
		}
		fmt.Fprintln(w, "given")
		for _, i := range s.Inputs {
			put(i.Name, i.text)
		}
		fmt.Fprintln(w, "found")
		for _, f := range s.Figures {
			put(f.Name, f.Text)
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
