// Package testdata carries the published check values into tests: trade/*.csv, one file a room, each row with the
// source that it was taken from and how that is known. Tests only; no program imports it.
package testdata

import (
	"embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
)

//go:embed trade/*.csv
var files embed.FS

// Value is one published check value.
type Value struct {
	ID        string
	Inputs    map[string]float64 // by name, with the unit in the name
	Words     map[string]string  // inputs that are not numbers
	Expected  map[string]float64 // by name, with the unit in the name; a row with one figure names it too
	Tolerance float64            // absolute, or relative where Relative
	Relative  bool
	Source    string
	// F read; F* inputs from memory; M from memory; D derived; X recomputed; C common practice, no source
	HowKnown string
	Note     string
	Assert   bool // false where the row is listed and must not be asserted
}

// Trade reads trade/<room>.csv. Its columns are id,inputs,expected,tolerance,source,how_known,note; inputs and expected
// are name=value pairs parted by semicolons; a tolerance that ends in "rel" is relative; a note that begins "do not
// assert" keeps the row as a record only.
func Trade(t testing.TB, room string) []Value {
	t.Helper()
	f, err := files.Open("trade/" + room + ".csv")
	if err != nil {
		t.Fatalf("published values of %s: %v", room, err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("published values of %s: %v", room, err)
	}
	if len(rows) < 2 {
		t.Fatalf("published values of %s: no rows", room)
	}
	values := make([]Value, 0, len(rows)-1)
	for i, row := range rows[1:] {
		v, err := read(row)
		if err != nil {
			t.Fatalf("published values of %s, row %d: %v", room, i+2, err)
		}
		values = append(values, v)
	}
	return values
}

func read(row []string) (Value, error) {
	if len(row) != 7 {
		return Value{}, fmt.Errorf("%d columns, not 7", len(row))
	}
	v := Value{ID: row[0], Source: row[4], HowKnown: row[5], Note: row[6], Words: map[string]string{}}
	v.Assert = !strings.HasPrefix(v.Note, "do not assert")
	var err error
	if v.Inputs, err = pairs(row[1], v.Words); err != nil {
		return v, fmt.Errorf("%s inputs: %w", v.ID, err)
	}
	if v.Expected, err = pairs(row[2], nil); err != nil {
		return v, fmt.Errorf("%s expected: %w", v.ID, err)
	}
	tolerance, relative := strings.CutSuffix(strings.TrimSpace(row[3]), "rel")
	v.Relative = relative
	if v.Tolerance, err = strconv.ParseFloat(strings.TrimSpace(tolerance), 64); err != nil && v.Assert {
		return v, fmt.Errorf("%s tolerance %q is not a number", v.ID, row[3])
	}
	return v, nil
}

func pairs(s string, words map[string]string) (map[string]float64, error) {
	m := map[string]float64{}
	for part := range strings.SplitSeq(s, ";") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		name, text, ok := strings.Cut(part, "=")
		if !ok {
			return nil, fmt.Errorf("%q is not name=value", part)
		}
		x, err := strconv.ParseFloat(text, 64)
		switch {
		case err == nil:
			m[name] = x
		case words != nil:
			words[name] = text
		default:
			return nil, fmt.Errorf("%q is not a number", part)
		}
	}
	return m, nil
}

// Want fails t unless got is the expected figure of that name within the row's tolerance.
func (v Value) Want(t testing.TB, name string, got float64) {
	t.Helper()
	want, ok := v.Expected[name]
	if !ok {
		t.Fatalf("%s has no expected figure %q", v.ID, name)
	}
	off, by := math.Abs(got-want), v.Tolerance
	if v.Relative {
		by *= math.Abs(want)
	}
	if !(off <= by) { // also when got is not a number
		t.Errorf("%s %s: got %.10g, want %.10g ±%.3g (%s; known: %s)", v.ID, name, got, want, by, v.Source, v.HowKnown)
	}
}
