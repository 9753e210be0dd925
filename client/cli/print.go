package cli

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

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/unit"
)

// streams are where a command reads and prints, and how it was told to.
type streams struct {
	Stdin  io.Reader
	Stdout io.Writer // only what was asked for
	Stderr io.Writer // all else
	Getenv func(string) string

	// Which streams are a terminal, and how wide it is in columns; 0 is not known.
	StdinTerminal, StdoutTerminal, StderrTerminal bool
	Width                                         int
	// Keys lets single keys through, until restore is called, where the terminal can do that; nil where it cannot.
	Keys func() (restore func(), err error)

	json    bool   // print one JSON document instead of words
	quiet   bool   // no hints
	noInput bool   // never ask
	colour  string // auto, always or never
}

// print writes the one result of a command: as a JSON document of the shape hod.<thing>.v1 if --json was given, else in
// words. The document must be a struct; fields may be added to it and never renamed, removed or changed.
func (env *streams) print(thing string, doc any, words func(w io.Writer)) error {
	if env.json {
		return writeJSON(env.Stdout, thing, doc)
	}
	var b bytes.Buffer
	words(&b)
	if _, err := io.WriteString(env.Stdout, safeLines(b.String())); err != nil {
		return &unprinted{err}
	}
	return nil
}

// member is one more name and value at the end of a document.
type member struct {
	name  string
	value any
}

// writeJSON writes a document of the shape hod.<thing>.v1, and after its own names those of more.
func writeJSON(w io.Writer, thing string, doc any, more ...member) error {
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
		value, err := json.Marshal(m.value)
		if err != nil {
			return fmt.Errorf("write %s as JSON: %w", thing, err)
		}
		parts = append(parts, fmt.Sprintf("%q:%s", m.name, value))
	}
	if _, err := w.Write(escaped([]byte("{" + strings.Join(parts, ",") + "}\n"))); err != nil {
		return &unprinted{err}
	}
	return nil
}

// escaped writes characters of a JSON text that show nothing but steer a terminal, or turn the order of what is read, as
// \u escapes: they stand inside strings only, so a reader of the JSON gets them back unchanged.
func escaped(text []byte) []byte {
	var b bytes.Buffer
	for _, r := range string(text) {
		if r != '\n' && r != utf8.RuneError && (unicode.Is(unicode.Cc, r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Zl, r) || unicode.Is(unicode.Zp, r)) {
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

// hint says something on the side that is good to know; --quiet silences it.
func (env *streams) hint(format string, args ...any) {
	if !env.quiet {
		fmt.Fprintln(env.Stderr, safe(fmt.Sprintf(format, args...)))
	}
}

// tell says on the side what must not be missed.
func (env *streams) tell(format string, args ...any) {
	fmt.Fprintln(env.Stderr, safe(fmt.Sprintf(format, args...)))
}

// asks says whether a question can be put: there is a person at a terminal, who did not say that there is to be none.
func (env *streams) asks() bool {
	return env.StdinTerminal && !env.noInput && !env.json
}

// line reads one line that a person answers; empty at the end of input. It takes no more than that line.
func (env *streams) line() string {
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
func (env *streams) Colour() bool {
	switch env.colour {
	case "always":
		return !env.json
	case "never":
		return false
	}
	return env.StdoutTerminal && !env.json && env.Getenv("TERM") != "dumb" && env.Getenv("NO_COLOR") == ""
}

// Quantity is a number with its unit, as JSON has it.
type Quantity struct {
	Entered string  `json:"entered,omitempty"`
	SI      float64 `json:"si"`
	Unit    string  `json:"unit"`
}

func quantity[Q ~float64](q unit.As[Q], in string) Quantity {
	return Quantity{q.Entered, finite(float64(q.SI)), in}
}

// finite keeps JSON from failing on what is no number, which no room below hands out, and leaves out the digits in which
// two machines may differ.
func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		return v
	}
	return short
}

func amount(a event.Amount) Quantity {
	if a.ByVolume {
		return Quantity{a.Entered, finite(float64(a.Volume)), "m3"}
	}
	return Quantity{a.Entered, finite(float64(a.Mass)), "kg"}
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

// safe keeps what others wrote from reaching the terminal as anything but text on one line.
func safe(s string) string { return report.Clean(s) }

// safeLines is safe for text of several lines that this program laid out.
func safeLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, line := range lines {
		lines[i] = report.Clean(line)
	}
	return strings.Join(lines, "\n")
}

// unprinted is that a result could not be printed; whatever was done was done by then.
type unprinted struct{ err error }

func (e *unprinted) Error() string { return "print the result: " + e.err.Error() }

func (e *unprinted) Unwrap() error { return e.err }
