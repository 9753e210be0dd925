// Package csvtable writes the tables of a view as CSV by RFC 4180, for a spreadsheet or a script.
//
// A table is a list of a view, a row an element of it. The columns are the fields in the order and by the names that
// JSON has, which carry the unit: all of them, in each file, whether anything is said or not, so that a column stands
// where it stood. A part with fields of its own has its name before theirs: "left_p50". It promises that lines end in
// CR LF, that numbers are numbers with a point, that what is absent is empty and 0 is not, that times are ISO 8601 with
// the site's offset, and that no text starts a formula in a spreadsheet. Several names in one cell are parted by "; ".
//
// A list inside a row is a table of its own in JSON alone, and is left out. No I/O but the writer. Start at Of.
package csvtable

import (
	"encoding"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"hod/internal/report/plainly"
)

// Summary is the table of one row that holds what a view says once.
const Summary = "summary"

// Table of a view.
type Table struct {
	Name string
	rows reflect.Value // a list, or one struct
	row  reflect.Type
}

// Of a view, a struct, its tables: its lists by their names, of a part of it as part.list, and its summary last.
func Of(view any) []Table {
	v := reflect.ValueOf(view)
	if v.Kind() != reflect.Struct {
		return nil
	}
	all := lists("", v)
	return append(all, Table{Summary, v, v.Type()})
}

// lists of a struct and of the structs in it.
func lists(under string, v reflect.Value) []Table {
	var all []Table
	for i := range v.NumField() {
		name, f, ok := field(v.Type(), i)
		if !ok {
			continue
		}
		at := v.Field(i)
		path := under + name
		switch {
		case isRow(f.Type): // a part of the view
			prefix := path + "."
			if name == "" {
				prefix = under
			}
			all = append(all, lists(prefix, at)...)
		case f.Type.Kind() == reflect.Pointer && isRow(f.Type.Elem()):
			if part := reflect.New(f.Type.Elem()).Elem(); at.IsNil() { // its lists are empty
				all = append(all, lists(path+".", part)...)
			} else {
				all = append(all, lists(path+".", at.Elem())...)
			}
		case f.Type.Kind() == reflect.Slice && isRow(f.Type.Elem()):
			all = append(all, Table{path, at, f.Type.Elem()})
		}
	}
	return all
}

// field is the ith as JSON has it; an embedded one has no name, and its fields count as the struct's own.
func field(t reflect.Type, i int) (name string, f reflect.StructField, ok bool) {
	f = t.Field(i)
	name, _, _ = strings.Cut(f.Tag.Get("json"), ",")
	if f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct {
		return "", f, true
	}
	if !f.IsExported() || name == "-" {
		return "", f, false
	}
	if name == "" {
		name = f.Name
	}
	return name, f, true
}

var (
	instant   = reflect.TypeFor[time.Time]()
	marshaler = reflect.TypeFor[json.Marshaler]()
	texter    = reflect.TypeFor[encoding.TextMarshaler]()
)

// isRow tells whether a type is a struct with fields of its own, and no value that is written as one.
func isRow(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && t != instant && !t.Implements(marshaler) && !t.Implements(texter)
}

// Columns of the table, by their names.
func (t Table) Columns() []string {
	var all []string
	eachColumn("", t.row, func(name string, _ []int) { all = append(all, name) })
	return all
}

// eachColumn calls do with the name of each field that is a cell, and the way to it. A type that holds itself has its
// own columns once, and of two fields of one name, an older and a newer form of the same, the first is the column.
func eachColumn(under string, t reflect.Type, do func(name string, way []int)) {
	taken := map[string]bool{}
	var walk func(under string, t reflect.Type, way []int, above []reflect.Type)
	walk = func(under string, t reflect.Type, way []int, above []reflect.Type) {
		for i := range t.NumField() {
			name, f, ok := field(t, i)
			if !ok {
				continue
			}
			at, inner := append(slices.Clone(way), i), f.Type
			if inner.Kind() == reflect.Pointer {
				inner = inner.Elem()
			}
			switch {
			case isRow(inner):
				if slices.Contains(above, inner) {
					continue
				}
				prefix := under
				if name != "" {
					prefix += name + "_"
				}
				walk(prefix, inner, at, append(slices.Clone(above), inner))
			case isCell(inner) && !taken[under+name]:
				taken[under+name] = true
				do(under+name, at)
			}
		}
	}
	walk(under, t, nil, []reflect.Type{t})
}

// isCell tells whether a value of a type stands in one cell.
func isCell(t reflect.Type) bool {
	if t == instant || t.Implements(marshaler) || t.Implements(texter) {
		return true
	}
	switch t.Kind() {
	case reflect.Slice, reflect.Array:
		return t.Elem().Kind() != reflect.Uint8 && t.Elem().Kind() != reflect.Slice && !isRow(t.Elem()) &&
			isCell(t.Elem())
	case reflect.Bool, reflect.String, reflect.Float32, reflect.Float64,
		reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64,
		reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return true
	}
	return false
}

// Write the table, with the names of its columns first.
func (t Table) Write(w io.Writer, in *time.Location) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(t.Columns()); err != nil {
		return fmt.Errorf("write the columns of %s: %w", t.Name, err)
	}
	rows := []reflect.Value{t.rows}
	if t.rows.Kind() == reflect.Slice {
		rows = rows[:0]
		for i := range t.rows.Len() {
			rows = append(rows, t.rows.Index(i))
		}
	}
	for _, row := range rows {
		var cells []string
		eachColumn("", t.row, func(_ string, way []int) { cells = append(cells, cellAt(row, way, in)) })
		if err := out.Write(cells); err != nil {
			return fmt.Errorf("write a row of %s: %w", t.Name, err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("write %s: %w", t.Name, err)
	}
	return nil
}

// cellAt follows the way to a field; what lies behind nothing is absent.
func cellAt(v reflect.Value, way []int, in *time.Location) string {
	for _, i := range way {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return ""
			}
			v = v.Elem()
		}
		v = v.Field(i)
	}
	return cell(v, in)
}

func cell(v reflect.Value, in *time.Location) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	switch x := v.Interface().(type) {
	case time.Time:
		if x.IsZero() {
			return ""
		}
		return x.In(in).Format("2006-01-02T15:04:05.999-07:00")
	case json.Marshaler, encoding.TextMarshaler:
		return marshalled(x)
	}
	switch v.Kind() {
	case reflect.String:
		return Text(v.String())
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	case reflect.Float32, reflect.Float64:
		return number(v.Float())
	case reflect.Slice, reflect.Array:
		parts := make([]string, v.Len())
		for i := range parts {
			parts[i] = cell(v.Index(i), in)
		}
		return strings.Join(parts, "; ")
	}
	return fmt.Sprint(v.Interface())
}

// marshalled is a value that writes itself, as JSON has it.
func marshalled(x any) string {
	b, err := json.Marshal(x)
	if err != nil || string(b) == "null" {
		return ""
	}
	var s string
	if json.Unmarshal(b, &s) == nil {
		return Text(s)
	}
	return string(b)
}

// number has as many digits as two machines agree on; what is none is absent.
func number(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		return ""
	}
	if size := math.Abs(short); size >= 1e15 || size > 0 && size < 1e-9 {
		return strconv.FormatFloat(short, 'g', -1, 64)
	}
	return strconv.FormatFloat(short, 'f', -1, 64)
}

// Text of a stranger as a cell: on one line, and with an apostrophe before what a spreadsheet would take for a formula.
// A text that is a number with a sign is one of these: numbers of the record are never texts.
func Text(s string) string {
	s = plainly.Clean(s)
	if start := strings.TrimLeft(s, " '"); start != "" && strings.ContainsRune("=+-@＝＋－＠", []rune(start)[0]) {
		return "'" + s
	}
	return s
}
