package cli

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"hod/internal/unit"
)

// Limits of a file of readings. Each row and each cell takes up many times the bytes that a short one has in the file, so
// they are counted before any is made. A month of readings a second apart is below them with four columns, and a year a
// minute apart with twenty.
const (
	maxTable = 256 << 20 // bytes
	maxRows  = 3_000_000
	maxCells = 12_000_000
)

// table is a CSV file with a header, as loggers and weather stations write it: with or without a byte-order mark, with
// line ends of every kind mixed, parted by comma, semicolon or tab.
type table struct {
	path string
	head []string
	rows []tableRow
}

type tableRow struct {
	line  int
	cells []string
	wrong string // why the row could not be read as cells
}

// readTable reads the file. Rows that are no rows stay in it with the reason; who uses them decides.
func (env *streams) readTable(path string) (table, error) {
	raw, err := env.readFile(path)
	if err != nil {
		return table{}, err
	}
	raw = bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(raw, []byte("\xff\xfe")) || bytes.HasPrefix(raw, []byte("\xfe\xff")) {
		return table{}, usage("%s is written in UTF-16; save it as UTF-8 (\"CSV UTF-8\" in a spreadsheet)", safe(path))
	}
	if !utf8.Valid(raw) {
		return table{}, usage("%s is not a text in UTF-8; save it as UTF-8 (\"CSV UTF-8\" in a spreadsheet)", safe(path))
	}
	raw = bytes.ReplaceAll(raw, []byte("\r\n"), []byte("\n"))
	raw = bytes.ReplaceAll(raw, []byte("\r"), []byte("\n"))
	if err := bounded(path, raw); err != nil {
		return table{}, err
	}
	t := table{path: path}
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
			if t.head == nil {
				return table{}, usage("%s, line %d: this is no CSV: %s", safe(path), bad.Line, quoteWrong(bad.Err))
			}
			wrong := quoteWrong(bad.Err)
			if bad.Line > bad.StartLine { // what a quote that nobody closed has swallowed is in none of the rows
				wrong += fmt.Sprintf("; the lines up to %d were taken to be inside it", bad.Line)
			}
			t.rows = append(t.rows, tableRow{line: bad.StartLine, wrong: wrong})
			continue
		}
		if err != nil {
			return table{}, fmt.Errorf("read %s: %w", path, err)
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		line, _ := r.FieldPos(0)
		if t.head == nil {
			t.head = cells
			continue
		}
		row := tableRow{line: line, cells: cells}
		if len(cells) != len(t.head) {
			row.wrong = fmt.Sprintf("it has %d columns, the header has %d", len(cells), len(t.head))
		}
		t.rows = append(t.rows, row)
	}
	if t.head == nil {
		return table{}, usage("%s is empty; it needs a line that names its columns, then the readings", safe(path))
	}
	return t, nil
}

// bounded refuses a file with more lines or cells than a device has the memory for. What stands in quotes counts, too.
func bounded(path string, raw []byte) error {
	lines := bytes.Count(raw, []byte("\n"))
	if lines > maxRows {
		return usage("%s has %d lines; %d at most are read: divide it", safe(path), lines, maxRows)
	}
	if cells := lines + bytes.Count(raw, []byte(string(parting(raw)))); cells > maxCells {
		return usage("%s has %d cells; %d at most are read: divide it, or leave out the columns that nobody needs", safe(path), cells, maxCells)
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

func (env *streams) readFile(path string) ([]byte, error) {
	in := env.Stdin
	if path != "-" {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, notFound("there is no file %s", safe(path))
		}
		if err != nil {
			return nil, usage("%s cannot be read: %v", safe(path), err)
		}
		defer f.Close()
		in = f
	}
	raw, err := io.ReadAll(io.LimitReader(in, maxTable+1))
	if err != nil {
		return nil, usage("%s cannot be read: %v", safe(path), err)
	}
	if len(raw) > maxTable {
		return nil, usage("%s is larger than %d MB; divide it", safe(path), maxTable>>20)
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

// column finds a column by the name that a person gave, or by one of those that it usually has; -1 if there is none.
func (t table) column(flag, said string, usual ...string) (int, error) {
	if said != "" {
		for i, h := range t.head {
			if strings.EqualFold(h, said) {
				return i, nil
			}
		}
		return -1, notFound("--%s: %s has no column %q%s", flag, safe(t.path), safe(said), offer(said, t.head))
	}
	for _, u := range usual {
		for i, h := range t.head {
			if plainHeader(h) == u {
				return i, nil
			}
		}
	}
	return -1, nil
}

// plainHeader is a header without its unit and its dress: "Temp (°C)" is temp.
func plainHeader(h string) string {
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

// headerUnit is the unit that a header names: F of "temp_f", "Temp (°F)".
func headerUnit(h string) string {
	low := strings.ToLower(h)
	if i := strings.IndexAny(low, "(["); i >= 0 {
		return strings.TrimSpace(strings.Trim(low[i:], "()[] "))
	}
	if i := strings.LastIndexAny(low, "_ ,"); i >= 0 {
		return strings.TrimSpace(low[i+1:])
	}
	return ""
}

// absent says that a cell holds no value.
func absent(cell string) bool {
	switch strings.ToLower(cell) {
	case "", "na", "n/a", "nan", "null", "none", "-", "--", "m":
		return true
	}
	return false
}

// badRow is a row that cannot be taken, and why.
type badRow struct {
	line  int
	cells []string
	why   string
}

// refuse is the error for rows that cannot be taken: the first few, by line.
func (t table) refuse(bad []badRow) error {
	var all []string
	for i, b := range bad {
		if i == 5 {
			all = append(all, fmt.Sprintf("and %d more", len(bad)-i))
			break
		}
		all = append(all, fmt.Sprintf("line %d: %s", b.line, b.why))
	}
	return usage("%s of %s cannot be taken, and nothing was recorded: %s. --skip-bad FILE leaves them out and writes them to FILE",
		count(len(bad), "row", "rows"), safe(t.path), strings.Join(all, "; "))
}

// writeSkipped writes the rows that were left out, each with the reason, to a new file.
func (t table) writeSkipped(path string, bad []badRow) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return usage("--skip-bad: %s is there already; name a new file", safe(path))
	}
	if err != nil {
		return usage("--skip-bad: %s cannot be written: %v", safe(path), err)
	}
	w := csv.NewWriter(f)
	_ = w.Write(append([]string{"line", "why"}, t.head...)) // its error is that of Error below
	for _, b := range bad {
		cells := append([]string{fmt.Sprint(b.line), b.why}, b.cells...)
		for i := range cells {
			cells[i] = unformula(cells[i])
		}
		_ = w.Write(cells)
	}
	w.Flush()
	if err := errors.Join(w.Error(), f.Close()); err != nil {
		return usage("--skip-bad: %s cannot be written: %v", safe(path), err)
	}
	return nil
}

// unwriteSkipped takes that file away again where nothing was recorded after all.
func (t table) unwriteSkipped(path string, bad []badRow) {
	if len(bad) > 0 {
		_ = os.Remove(path) // at worst it stays, and says what was wrong with the rows
	}
}

// unformula keeps a cell from starting a formula in a spreadsheet; a number stays one.
func unformula(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@", rune(cell[0])) || len(cell) > 1 && strings.ContainsRune("0123456789.", rune(cell[1])) && !strings.ContainsAny(cell, "()!") {
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
		"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04", "2006/01/02 15:04:05", "2006/01/02 15:04",
	} {
		if t, err := time.ParseInLocation(form, cell, in); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a time; one looks like 2026-07-18 14:05 or 2026-07-18T14:05:00Z (day and month the other way round cannot be told apart)", safe(cell))
}

// stamps reads the times of a table row by row. Where the site's clocks were put back, an hour of a table that says no zone
// is there twice: its rows are taken in the order in which they stand, the first pass of that hour and then the second.
type stamps struct {
	in            *time.Location
	last          time.Time
	first, second int // readings of an hour that came twice, by the pass for which they were taken
	day           time.Time
}

func (r *stamps) read(cell string) (time.Time, error) {
	t, err := readStamp(cell, r.in)
	if err != nil {
		return t, err
	}
	if t.Location() == r.in {
		if first, second, twice := bothOf(t); twice {
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

// tell says which of the two was taken.
func (r *stamps) tell(env *streams) {
	if r.first+r.second == 0 {
		return
	}
	first, second, _ := bothOf(r.day)
	env.tell("note: %s of the hour that came twice on %s, when the clocks were put back: in the order of the file %d are taken as of the first (UTC%s) and %d as of the second (UTC%s)",
		count(r.first+r.second, "reading is", "readings are"), first.Format(time.DateOnly), r.first, first.Format("-07:00"), r.second, second.Format("-07:00"))
}

// temperatureIn reads a number as a temperature in a unit, C or F, or one that carries its unit.
func temperatureIn(cell, in string) (unit.Celsius, error) {
	if t, err := unit.ParseTemperature(cell); err == nil {
		return t, nil
	}
	if _, err := parseNumber(cell); err != nil {
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
