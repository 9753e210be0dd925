package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// maxReadings is how many rows of a file a calculation takes in: a year at one a minute.
const maxReadings = 600_000

// readColumns reads columns of plain numbers, each found by one of the names that it may have. It gives the rows and
// which name each column had. A row that is missing a value, or whose value is no number, is an error with its line.
func (env *streams) readColumns(flag, path string, columns ...[]string) (rows [][]float64, found []string, err error) {
	t, err := env.readTable(path)
	if err != nil {
		return nil, nil, ofFlag(flag, err)
	}
	return t.columns(flag, columns...)
}

// columns of a table that is read already; see readColumns.
func (t table) columns(flag string, columns ...[]string) (rows [][]float64, found []string, err error) {
	path := t.path
	var at []int
	for _, names := range columns {
		i := t.named(names)
		if i < 0 {
			return nil, nil, usage("--%s: %s, line 1: no column %s; the line has %s, and a file of readings begins with the names of its columns",
				flag, safe(path), strings.Join(names, " or "), quoteAll(t.head))
		}
		at, found = append(at, i), append(found, t.head[i])
	}
	if len(t.rows) > maxReadings {
		return nil, nil, usage("--%s: %s has %d rows; %d at most are read", flag, safe(path), len(t.rows), maxReadings)
	}
	var wrong []string
	for _, r := range t.rows {
		row, why := numbers(r, at, t.head)
		if why != "" {
			wrong = append(wrong, fmt.Sprintf("line %d: %s", r.line, why))
			continue
		}
		rows = append(rows, row)
	}
	if n := len(wrong); n > 0 {
		if n > 5 {
			wrong = append(wrong[:5], fmt.Sprintf("and %d lines more", n-5))
		}
		return nil, nil, usage("--%s: %s: %s", flag, safe(path), strings.Join(wrong, "; "))
	}
	if len(rows) == 0 {
		return nil, nil, usage("--%s: %s has no readings below the names of its columns", flag, safe(path))
	}
	return rows, found, nil
}

func numbers(r tableRow, at []int, head []string) ([]float64, string) {
	if r.wrong != "" {
		return nil, r.wrong
	}
	row := make([]float64, len(at))
	for k, i := range at {
		cell := r.cells[i]
		v, err := strconv.ParseFloat(cell, 64)
		switch {
		case cell == "":
			return nil, fmt.Sprintf("%s is missing; give a number, or leave the line out", safe(head[i]))
		case err != nil && strings.Contains(cell, ",") && !strings.Contains(cell, "."):
			return nil, fmt.Sprintf("%s %q has a decimal comma; write a point", safe(head[i]), safe(cell))
		case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
			return nil, fmt.Sprintf("%s %q is not a number; give one, or leave the line out", safe(head[i]), safe(cell))
		}
		row[k] = v
	}
	return row, ""
}

// named finds a column by its whole name, in any case; -1 if there is none.
func (t table) named(names []string) int {
	for _, name := range names {
		for i, h := range t.head {
			if strings.EqualFold(strings.TrimSpace(h), name) {
				return i
			}
		}
	}
	return -1
}

func quoteAll(names []string) string {
	all := make([]string, len(names))
	for i, n := range names[:min(len(names), 8)] {
		all[i] = strconv.Quote(safe(n))
	}
	return strings.Join(all[:min(len(names), 8)], ", ")
}
