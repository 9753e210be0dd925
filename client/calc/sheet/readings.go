package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hod/client/terminal"
)

// maxReadings is how many rows of a file a calculation takes in: a year at one a minute.
const maxReadings = 600_000

// ReadColumns reads columns of plain numbers, each found by one of the names that it may have. It gives the rows and
// which name each column had. A row that is missing a value, or whose value is no number, is an error with its line.
func ReadColumns(env *terminal.Streams, flag, path string, columns ...[]string) (rows [][]float64, found []string,
	err error,
) {
	t, err := env.ReadTable(path)
	if err != nil {
		return nil, nil, FlagErr(flag, err)
	}
	return Columns(t, flag, columns...)
}

// Columns of a table that is read already; see readColumns.
func Columns(t terminal.Table, flag string, columns ...[]string) (rows [][]float64, found []string, err error) {
	path := t.Path
	var at []int
	for _, names := range columns {
		i := Named(t, names)
		if i < 0 {
			return nil, nil,
				terminal.Usagef(
					"--%s: %s, line 1: no column %s; the line has %s, and a file of readings begins with the names of its columns",
					flag, terminal.Safe(path), strings.Join(names, " or "), QuoteAll(t.Header))
		}
		at, found = append(at, i), append(found, t.Header[i])
	}
	if len(t.Rows) > maxReadings {
		return nil, nil, terminal.Usagef("--%s: %s has %d rows; %d at most are read", flag, terminal.Safe(path),
			len(t.Rows), maxReadings)
	}
	var wrong []string
	for _, r := range t.Rows {
		row, why := numbers(r, at, t.Header)
		if why != "" {
			wrong = append(wrong, fmt.Sprintf("line %d: %s", r.Line, why))
			continue
		}
		rows = append(rows, row)
	}
	if n := len(wrong); n > 0 {
		if n > 5 {
			wrong = append(wrong[:5], fmt.Sprintf("and %d lines more", n-5))
		}
		return nil, nil, terminal.Usagef("--%s: %s: %s", flag, terminal.Safe(path), strings.Join(wrong, "; "))
	}
	if len(rows) == 0 {
		return nil, nil, terminal.Usagef("--%s: %s has no readings below the names of its columns", flag,
			terminal.Safe(path))
	}
	return rows, found, nil
}

func numbers(r terminal.Row, at []int, head []string) ([]float64, string) {
	if r.Wrong != "" {
		return nil, r.Wrong
	}
	row := make([]float64, len(at))
	for k, i := range at {
		cell := r.Cells[i]
		v, err := strconv.ParseFloat(cell, 64)
		switch {
		case cell == "":
			return nil, fmt.Sprintf("%s is missing; give a number, or leave the line out", terminal.Safe(head[i]))
		case err != nil && strings.Contains(cell, ",") && !strings.Contains(cell, "."):
			return nil, fmt.Sprintf("%s %q has a decimal comma; write a point", terminal.Safe(head[i]),
				terminal.Safe(cell))
		case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
			return nil, fmt.Sprintf("%s %q is not a number; give one, or leave the line out", terminal.Safe(head[i]),
				terminal.Safe(cell))
		}
		row[k] = v
	}
	return row, ""
}

// Named finds a column by its whole name, in any case; -1 if there is none.
func Named(t terminal.Table, names []string) int {
	for _, name := range names {
		for i, h := range t.Header {
			if strings.EqualFold(strings.TrimSpace(h), name) {
				return i
			}
		}
	}
	return -1
}

// QuoteAll quotes each of the headers, with commas between them.
func QuoteAll(names []string) string {
	all := make([]string, len(names))
	for i, n := range names[:min(len(names), 8)] {
		all[i] = strconv.Quote(terminal.Safe(n))
	}
	return strings.Join(all[:min(len(names), 8)], ", ")
}
