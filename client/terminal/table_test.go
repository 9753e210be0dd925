package terminal

import (
	"bytes"
	"runtime"
	"strings"
	"testing"
)

// A file that a device has not the memory for is refused before a row of it is made: a row or a cell of one byte takes
// up a hundred.
func TestATableOfTooManyRowsOrCellsIsRefused(t *testing.T) {
	rows := strings.Repeat("1\r", maxRows+1)
	var was, is runtime.MemStats
	runtime.ReadMemStats(&was)
	_, err := (&Streams{Stdin: strings.NewReader(rows)}).ReadTable("-")
	runtime.ReadMemStats(&is)
	if err == nil || !strings.Contains(err.Error(), "3000001 lines; 3000000 at most are read: divide it") {
		t.Errorf("too many rows: %v", err)
	}
	if took := (is.TotalAlloc - was.TotalAlloc) >> 20; took > 100 {
		t.Errorf("a file of %d MiB took %d MiB", len(rows)>>20, took)
	}
	cells := bytes.Repeat([]byte(";"), maxCells+1)
	for name, raw := range map[string][]byte{"the header": cells, "a row": append([]byte("hours;temp_c\n"), cells...)} {
		if err := bounded("x.csv", raw); err == nil ||
			!strings.Contains(err.Error(), "cells; 12000000 at most are read") {
			t.Errorf("too many cells in %s: %v", name, err)
		}
	}
	if err := bounded("x.csv", cells[:maxCells]); err != nil {
		t.Errorf("as many cells as are read: %v", err)
	}
}
