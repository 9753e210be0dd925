package terminal

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"hod/internal/unit"
)

// Limits of a file of readings. Each row and each cell takes up many times the bytes that a short one has in the file,
// so they are counted before any is made. A month of readings a second apart is below them with four columns, and a
// year a minute apart with twenty.
const (
	maxTable = 256 << 20 // bytes
	maxRows  = 3_000_000
	maxCells = 12_000_000
)

// Table is a CSV file with a header, as loggers and weather stations write it: with or without a byte-order mark, with
// line ends of every kind mixed, parted by comma, semicolon or tab.
type Table struct {
	Path   string
	Header []string
	Rows   []Row
}

// Row is one row of a Table.
type Row struct {
	Line  int
	Cells []string
	Wrong string // why the row could not be read as cells
}

// ReadTable reads the file. Rows that are no rows stay in it with the reason; who uses them decides.
func (env *Streams) ReadTable(path string) (Table, error) {
	raw, err := env.readText(path)
	if err != nil {
		return Table{}, err
	}
	if err := bounded(path, raw); err != nil {
		return Table{}, err
	}
	t := Table{Path: path}
	r := csv.NewReader(bytes.NewReader(raw))
	r.FieldsPerRecord, r.Comma = -1, parting(raw)
	r.TrimLeadingSpace = r.Comma != '\t' // an empty cell between tabs would be lost
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			if t.Header == nil {
				return Table{}, Usagef("%s, line %d: this is no CSV: %s", Safe(path), bad.Line, quoteWrong(bad.Err))
			}
			wrong := quoteWrong(bad.Err)
			if bad.Line > bad.StartLine { // what a quote that nobody closed has swallowed is in none of the rows
				wrong += fmt.Sprintf("; the lines up to %d were taken to be inside it", bad.Line)
			}
			t.Rows = append(t.Rows, Row{Line: bad.StartLine, Wrong: wrong})
			continue
		}
		if err != nil {
			return Table{}, fmt.Errorf("read %s: %w", path, err)
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		line, _ := r.FieldPos(0)
		if t.Header == nil {
			t.Header = cells
			continue
		}
		row := Row{Line: line, Cells: cells}
		if len(cells) != len(t.Header) {
			row.Wrong = fmt.Sprintf("it has %d columns, the header has %d", len(cells), len(t.Header))
		}
		t.Rows = append(t.Rows, row)
	}
	if t.Header == nil {
		return Table{}, Usagef("%s is empty; it needs a line that names its columns, then the readings", Safe(path))
	}
	return t, nil
}

// readText reads a file of text in UTF-8, with line ends of one kind and no byte-order mark.
func (env *Streams) readText(path string) ([]byte, error) {
	raw, err := env.ReadFile(path)
	if err != nil {
		return nil, err
	}
	raw = bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(raw, []byte("\xff\xfe")) || bytes.HasPrefix(raw, []byte("\xfe\xff")) {
		return nil, Usagef("%s is written in UTF-16; save it as UTF-8 (\"CSV UTF-8\" in a spreadsheet)", Safe(path))
	}
	if !utf8.Valid(raw) {
		return nil, Usagef("%s is not a text in UTF-8; save it as UTF-8 (\"CSV UTF-8\" in a spreadsheet)",
			Safe(path))
	}
	raw = bytes.ReplaceAll(raw, []byte("\r\n"), []byte("\n"))
	return bytes.ReplaceAll(raw, []byte("\r"), []byte("\n")), nil
}

// bounded refuses a file with more lines or cells than a device has the memory for. What stands in quotes counts, too.
func bounded(path string, raw []byte) error {
	lines := bytes.Count(raw, []byte("\n"))
	if lines > maxRows {
		return Usagef("%s has %d lines; %d at most are read: divide it", Safe(path), lines, maxRows)
	}
	if cells := lines + bytes.Count(raw, []byte(string(parting(raw)))); cells > maxCells {
		return Usagef("%s has %d cells; %d at most are read: divide it, or leave out the columns that nobody needs",
			Safe(path), cells, maxCells)
	}
	return nil
}

// quoteWrong says what is wrong with the quotes of a row, which is all that the form of a CSV can have wrong.
func quoteWrong(err error) string {
	switch {
	case errors.Is(err, csv.ErrQuote):
		return "a quote (\") is not closed, or something stands behind it; quote the whole cell, and write \"\" for a quote inside"
	case errors.Is(err, csv.ErrBareQuote):
		return "a quote (\") stands inside a cell that does not begin with one; quote the whole cell, or leave the quote out"
	}
	return err.Error()
}

// ReadFile reads a whole file, or Stdin for -; one that is too large for a device is refused.
func (env *Streams) ReadFile(path string) ([]byte, error) {
	in := env.Stdin
	if path != "-" {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, NotFoundf("there is no file %s", Safe(path))
		}
		if err != nil {
			return nil, Usagef("%s cannot be read: %v", Safe(path), err)
		}
		defer f.Close()
		in = f
	}
	raw, err := io.ReadAll(io.LimitReader(in, maxTable+1))
	if err != nil {
		return nil, Usagef("%s cannot be read: %v", Safe(path), err)
	}
	if len(raw) > maxTable {
		return nil, Usagef("%s is larger than %d MB; divide it", Safe(path), maxTable>>20)
	}
	return raw, nil
}

// parting is the character that parts the header's columns.
func parting(raw []byte) rune {
	head, _, _ := bytes.Cut(raw, []byte("\n"))
	best, most := ',', bytes.Count(head, []byte(","))
	for _, r := range []rune{';', '\t'} {
		if n := bytes.Count(head, []byte(string(r))); n > most {
			best, most = r, n
		}
	}
	return best
}

// Column finds a column by the name that a person gave, or by one of those that it usually has; -1 if there is none.
func (t Table) Column(flag, said string, usual ...string) (int, error) {
	if said != "" {
		for i, h := range t.Header {
			if strings.EqualFold(h, said) {
				return i, nil
			}
		}
		return -1, NotFoundf("--%s: %s has no column %q%s", flag, Safe(t.Path), Safe(said), Suggest(said, t.Header))
	}
	for _, u := range usual {
		for i, h := range t.Header {
			if HeaderName(h) == u {
				return i, nil
			}
		}
	}
	return -1, nil
}

// HeaderName is a header without its unit and its dress: "Temp (°C)" is temp.
func HeaderName(h string) string {
	h = strings.ToLower(h)
	if i := strings.IndexAny(h, "([,"); i > 0 {
		h = h[:i]
	}
	return strings.Trim(strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '.' || r == '/' {
			return '_'
		}
		return r
	}, strings.TrimSpace(h)), "_")
}

// HeaderUnit is the unit that a header names: F of "temp_f", "Temp (°F)".
func HeaderUnit(h string) string {
	low := strings.ToLower(h)
	if i := strings.IndexAny(low, "(["); i >= 0 {
		return strings.TrimSpace(strings.Trim(low[i:], "()[] "))
	}
	if i := strings.LastIndexAny(low, "_ ,"); i >= 0 {
		return strings.TrimSpace(low[i+1:])
	}
	return ""
}

// IsAbsent says that a cell holds no value.
func IsAbsent(cell string) bool {
	switch strings.ToLower(cell) {
	case "", "na", "n/a", "nan", "null", "none", "-", "--", "m":
		return true
	}
	return false
}

// BadRow is a row that cannot be taken, and why.
type BadRow struct {
	Line  int
	Cells []string
	Why   string
}

// Refuse is the error for rows that cannot be taken: the first few, by line.
func (t Table) Refuse(bad []BadRow) error {
	var all []string
	for i, b := range bad {
		if i == 5 {
			all = append(all, fmt.Sprintf("and %d more", len(bad)-i))
			break
		}
		all = append(all, fmt.Sprintf("line %d: %s", b.Line, b.Why))
	}
	return Usagef(
		"%s of %s cannot be taken, and nothing was recorded: %s. --skip-bad FILE leaves them out and writes them to FILE",
		Plural(len(bad), "row", "rows"), Safe(t.Path), strings.Join(all, "; "))
}

// WriteSkipped writes the rows that were left out, each with the reason, to a new file.
func (t Table) WriteSkipped(path string, bad []BadRow) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return Usagef("--skip-bad: %s is there already; name a new file", Safe(path))
	}
	if err != nil {
		return Usagef("--skip-bad: %s cannot be written: %v", Safe(path), err)
	}
	w := csv.NewWriter(f)
	_ = w.Write(append([]string{"line", "why"}, t.Header...)) // its error is that of Error below
	for _, b := range bad {
		cells := append([]string{fmt.Sprint(b.Line), b.Why}, b.Cells...)
		for i := range cells {
			cells[i] = unformula(cells[i])
		}
		_ = w.Write(cells)
	}
	w.Flush()
	if err := errors.Join(w.Error(), f.Close()); err != nil {
		return Usagef("--skip-bad: %s cannot be written: %v", Safe(path), err)
	}
	return nil
}

// RemoveSkipped takes that file away again where nothing was recorded after all.
func (t Table) RemoveSkipped(path string, bad []BadRow) {
	if len(bad) > 0 {
		_ = os.Remove(path) // at worst it stays, and says what was wrong with the rows
	}
}

// unformula keeps a cell from starting a formula in a spreadsheet; a number stays one, with its unit too.
func unformula(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@", rune(cell[0])) {
		return cell
	}
	if _, err := ParseNumber(cell); err == nil {
		return cell
	}
	if (cell[0] == '+' || cell[0] == '-') && !strings.ContainsAny(cell[1:], "=+-*/^&|()!@") &&
		strings.ContainsAny(cell[1:], "0123456789") {
		return cell
	}
	return "'" + cell
}

// readStamp reads a time as loggers write it; one without a zone is the site's.
func readStamp(cell string, in *time.Location) (time.Time, error) {
	for _, form := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00"} {
		if t, err := time.Parse(form, cell); err == nil {
			return t, nil
		}
	}
	for _, form := range []string{
		"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04", "2006/01/02 15:04:05",
		"2006/01/02 15:04",
	} {
		if t, err := time.ParseInLocation(form, cell, in); err == nil {
			return t, nil
		}
	}
	return time.Time{},
		fmt.Errorf(
			"%q is not a time; one looks like 2026-07-18 14:05 or 2026-07-18T14:05:00Z (day and month the other way round cannot be told apart)", Safe(cell))
}

// TimeColumn reads the times of a table row by row. Where the site's clocks were put back, an hour of a table that says
// no zone is there twice: its rows are taken in the order in which they stand, the first pass of that hour and then the
// second.
type TimeColumn struct {
	In            *time.Location
	last          time.Time
	first, second int // readings of an hour that came twice, by the pass for which they were taken
	day           time.Time
}

func (r *TimeColumn) Read(cell string) (time.Time, error) {
	t, err := readStamp(cell, r.In)
	if err != nil {
		return t, err
	}
	if t.Location() == r.In {
		if first, second, twice := bothInstants(t); twice {
			t, r.day = first, first
			if !first.After(r.last) && second.After(r.last) {
				t = second
				r.second++
			} else {
				r.first++
			}
		}
	}
	r.last = t
	return t, nil
}

// Report says which of the two was taken.
func (r *TimeColumn) Report(env *Streams) {
	if r.first+r.second == 0 {
		return
	}
	first, second, _ := bothInstants(r.day)
	env.Tellf(
		"note: %s of the hour that came twice on %s, when the clocks were put back: in the order of the file %d are taken as of the first (UTC%s) and %d as of the second (UTC%s)",
		Plural(r.first+r.second, "reading is", "readings are"), first.Format(time.DateOnly), r.first,
		first.Format("-07:00"), r.second, second.Format("-07:00"))
}

// TemperatureIn reads a number as a temperature in a unit, C or F, or one that carries its unit.
func TemperatureIn(cell, in string) (unit.Celsius, error) {
	if t, err := unit.ParseTemperature(cell); err == nil {
		return t, nil
	}
	if _, err := ParseNumber(cell); err != nil {
		return 0, err
	}
	return unit.ParseTemperature(cell + in)
}

// parseFloat reads a number with a decimal point; a decimal comma cannot be told from a list.
func parseFloat(cell string) (float64, error) {
	if strings.ContainsAny(cell, "xX_pP") { // hexadecimal is no reading
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseFloat(cell, 64)
}

// ofRun is where a check's sentence says which of a run it is about.
var ofRun = regexp.MustCompile(`^(reading 1 of 1|charge \d+ of \d+): `)

// RowReason leaves that out where a person knows it: the line says which reading it is, the name which charge.
func RowReason(err error) string { return ofRun.ReplaceAllString(err.Error(), "") }

// ParseNumber reads a plain number of a file.
func ParseNumber(cell string) (float64, error) {
	v, err := parseFloat(cell)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if point := strings.Replace(cell, ",", ".", 1); point != cell {
			if _, err := parseFloat(point); err == nil {
				return 0,
					fmt.Errorf(
						"%q is not a number; write the decimals behind a point, %s, in a file parted by ; or by tabs",
						Safe(cell), Safe(point))
			}
		}
		return 0, fmt.Errorf("%q is not a number", Safe(cell))
	}
	return v, nil
}
