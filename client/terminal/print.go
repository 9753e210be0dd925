package terminal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"hod/internal/report/plainly"
	"hod/internal/unit"
)

// Streams are where a command reads and prints, and how it was told to.
type Streams struct {
	Stdin  io.Reader
	Stdout io.Writer // only what was asked for
	Stderr io.Writer // all else
	Getenv func(string) string

	// Which streams are a terminal, and how wide it is in columns; 0 is not known.
	StdinTerminal, StdoutTerminal, StderrTerminal bool
	Width                                         int
	// Keys lets single keys through, until restore is called, where the terminal can do that; nil where it cannot.
	Keys func() (restore func(), err error)

	JSON       bool   // print one JSON document instead of words
	Quiet      bool   // no hints
	NoInput    bool   // never ask
	ColourMode string // auto, always or never
}

// Print writes the one result of a command: as a JSON document of the shape hod.<thing>.v1 if --json was given, else in
// words. The document must be a struct; fields may be added to it and never renamed, removed or changed.
func (env *Streams) Print(thing string, doc any, words func(w io.Writer)) error {
	if env.JSON {
		return WriteJSON(env.Stdout, thing, doc)
	}
	var b bytes.Buffer
	words(&b)
	if _, err := io.WriteString(env.Stdout, safeLines(b.String())); err != nil {
		return &PrintError{err}
	}
	return nil
}

// Member is one more name and value at the end of a document.
type Member struct {
	Name  string
	Value any
}

// WriteJSON writes a document of the shape hod.<thing>.v1, and after its own names those of more.
func WriteJSON(w io.Writer, thing string, doc any, more ...Member) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(listed(doc)); err != nil {
		return fmt.Errorf("write %s as JSON: %w", thing, err)
	}
	body, ok := bytes.CutPrefix(bytes.TrimSpace(b.Bytes()), []byte("{"))
	if !ok {
		return fmt.Errorf("write %s as JSON: it is not a struct", thing)
	}
	parts := []string{fmt.Sprintf(`"schema":"hod.%s.v1"`, thing)}
	if body = bytes.TrimSuffix(body, []byte("}")); len(body) > 0 {
		parts = append(parts, string(body))
	}
	for _, m := range more {
		value, err := json.Marshal(m.Value)
		if err != nil {
			return fmt.Errorf("write %s as JSON: %w", thing, err)
		}
		parts = append(parts, fmt.Sprintf("%q:%s", m.Name, value))
	}
	if _, err := w.Write(escaped([]byte("{" + strings.Join(parts, ",") + "}\n"))); err != nil {
		return &PrintError{err}
	}
	return nil
}

// escaped writes characters of a JSON text that show nothing but steer a terminal, or turn the order of what is read,
// as \u escapes: they stand inside strings only, so a reader of the JSON gets them back unchanged.
func escaped(text []byte) []byte {
	var b bytes.Buffer
	for _, r := range string(text) {
		if r != '\n' && r != utf8.RuneError &&
			(unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Zl, r) ||
				unicode.Is(unicode.Zp, r)) {
			for _, unit := range utf16.Encode([]rune{r}) {
				fmt.Fprintf(&b, `\u%04x`, unit)
			}
			continue
		}
		b.WriteRune(r)
	}
	return b.Bytes()
}

// listed is a document with its empty lists as lists: null is what was not said, and a script need not ask which it is.
func listed(doc any) any {
	v := reflect.ValueOf(doc)
	if !v.IsValid() || v.Kind() != reflect.Struct {
		return doc
	}
	whole := reflect.New(v.Type()).Elem()
	whole.Set(v)
	emptyLists(whole)
	return whole.Interface()
}

func emptyLists(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); f.CanSet() {
				emptyLists(f)
			}
		}
	case reflect.Slice:
		if v.IsNil() {
			if v.Type().Elem().Kind() != reflect.Uint8 {
				v.Set(reflect.MakeSlice(v.Type(), 0, 0))
			}
			return
		}
		for i := range v.Len() {
			emptyLists(v.Index(i))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			emptyLists(v.Elem())
		}
	}
}

// Hintf says something on the side that is good to know; --quiet silences it.
func (env *Streams) Hintf(format string, args ...any) {
	if !env.Quiet {
		fmt.Fprintln(env.Stderr, Safe(fmt.Sprintf(format, args...)))
	}
}

// Tellf says on the side what must not be missed.
func (env *Streams) Tellf(format string, args ...any) {
	fmt.Fprintln(env.Stderr, Safe(fmt.Sprintf(format, args...)))
}

// CanAsk says whether a question can be put: there is a person at a terminal, who did not say that there is to be none.
func (env *Streams) CanAsk() bool {
	return env.StdinTerminal && !env.NoInput && !env.JSON
}

// ReadLine reads one line that a person answers; empty at the end of input. It takes no more than that line.
func (env *Streams) ReadLine() string {
	var line []byte
	one := make([]byte, 1)
	for len(line) < 4096 {
		n, err := env.Stdin.Read(one)
		if n == 1 && one[0] != '\n' && one[0] != '\r' {
			line = append(line, one[0])
			continue
		}
		if n == 1 || err != nil {
			break
		}
	}
	return string(line)
}

// Colour says whether the result may be coloured. Colour never is the only carrier of anything.
func (env *Streams) Colour() bool {
	switch env.ColourMode {
	case "always":
		return !env.JSON
	case "never":
		return false
	}
	return env.StdoutTerminal && !env.JSON && env.Getenv("TERM") != "dumb" && env.Getenv("NO_COLOR") == ""
}

// Quantity is a number with its unit, as JSON has it.
type Quantity struct {
	Entered string  `json:"entered,omitempty"`
	SI      float64 `json:"si"`
	Unit    string  `json:"unit"`
}

// QuantityOf is a quantity as JSON has it, in the unit in.
func QuantityOf[Q ~float64](q unit.As[Q], in string) Quantity {
	return Quantity{q.Entered, Finite(float64(q.SI)), in}
}

// Finite keeps JSON from failing on what is no number, which no room below hands out, and leaves out the digits in
// which two machines may differ.
func Finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		return v
	}
	return short
}

// Stamp is an instant as JSON has it: RFC 3339 in UTC with milliseconds.
type Stamp time.Time

// MarshalJSON writes null for no time.
func (s Stamp) MarshalJSON() ([]byte, error) {
	t := time.Time(s)
	if t.IsZero() {
		return []byte("null"), nil
	}
	return []byte(t.UTC().Format(`"2006-01-02T15:04:05.000Z"`)), nil
}

// Safe keeps what others wrote from reaching the terminal as anything but text on one line.
func Safe(s string) string { return plainly.Clean(s) }

// safeLines is safe for text of several lines that this program laid out.
func safeLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, line := range lines {
		lines[i] = plainly.Clean(line)
	}
	return strings.Join(lines, "\n")
}

// PrintError is that a result could not be printed; whatever was done was done by then.
type PrintError struct{ Err error }

func (e *PrintError) Error() string { return "print the result: " + e.Err.Error() }

func (e *PrintError) Unwrap() error { return e.Err }

// Round3 keeps a ratio at the digits that it is judged by.
func Round3(x float64) float64 { return math.Round(x*1000) / 1000 }
