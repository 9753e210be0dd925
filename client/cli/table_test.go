package cli

import (
	"bytes"
	"errors"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"
	"unicode"

	"hod/internal/fold"
	"hod/internal/unit"
)

// Any bytes as a file of weather or of a logger end in readings that can be, or in rows that are refused with a reason.
func FuzzTables(f *testing.F) {
	f.Add([]byte("time_hour,temp,humid,wind_speed,precip\n2013-07-18T05:00:00Z,78.8,64.5,9.2,0\n"), false)
	f.Add([]byte("\xef\xbb\xbfTime;Temp (°C);Humidity %\r\n18.07.2026 10:00;29,5;55\r\n;;\r\n"), false)
	f.Add([]byte("time\ttemp_c\n2026-07-18 10:00\t31\n2026-07-18 10:00\t31\n"), true)
	f.Add([]byte("time,temperature_f\n\"2026-07-18 10:00,85\nNaN,1e400\n"), true)
	now := time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)
	s := &site{now: now, in: time.UTC, units: unit.Metric, env: &deviceEnv{streams: &streams{Getenv: func(string) string { return "" }}}, fold: fold.New("tarn", "site")}
	f.Fuzz(func(t *testing.T, data []byte, logger bool) {
		env := &streams{Stdin: bytes.NewReader(data), Getenv: func(string) string { return "" }}
		table, err := env.readTable("-")
		if err != nil {
			plain(t, err)
			return
		}
		var bad []badRow
		rows := 0
		if logger {
			temp := -1
			stamp, err := table.column("time-column", "", "time", "timestamp", "date")
			if err == nil {
				temp, err = table.column("temperature-column", "", "temperature", "temp", "temp_c", "temp_f", "temperature_f")
			}
			if err != nil || stamp < 0 || temp < 0 {
				plain(t, err)
				return
			}
			in, err := temperatureUnit("", table.head[temp])
			if err != nil {
				plain(t, err)
				return
			}
			samples, wrong, missing := cure{}.samples(table, stamp, temp, in, s)
			for _, one := range samples {
				if v := float64(one.Temperature); math.IsNaN(v) || math.IsInf(v, 0) || one.At.After(now.Add(ahead)) {
					t.Fatalf("a reading of %v at %v", v, one.At)
				}
			}
			bad, rows = wrong, len(samples)+missing
		} else {
			stamp, fields, _, err := new(weatherFile).settle(s.env, table)
			if err != nil {
				plain(t, err)
				return
			}
			samples, wrong, outside := weatherFile{}.samples(table, stamp, fields, s, time.Time{}, time.Time{})
			for _, one := range samples {
				for _, v := range []*float64{(*float64)(one.Air), (*float64)(one.Humidity), (*float64)(one.Wind), (*float64)(one.DewPoint)} {
					if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
						t.Fatalf("weather of %v at %v", *v, one.At)
					}
				}
			}
			bad, rows = wrong, len(samples)+outside
		}
		if rows+len(bad) > len(table.rows) {
			t.Fatalf("%d rows are read as %d readings and %d refused", len(table.rows), rows, len(bad))
		}
		if len(bad) > 0 {
			plain(t, table.refuse(bad))
		}
	})
}

// A file that a device has not the memory for is refused before a row of it is made: a row or a cell of one byte takes up
// a hundred.
func TestATableOfTooManyRowsOrCellsIsRefused(t *testing.T) {
	rows := strings.Repeat("1\r", maxRows+1)
	var was, is runtime.MemStats
	runtime.ReadMemStats(&was)
	_, err := (&streams{Stdin: strings.NewReader(rows)}).readTable("-")
	runtime.ReadMemStats(&is)
	if err == nil || !strings.Contains(err.Error(), "3000001 lines; 3000000 at most are read: divide it") {
		t.Errorf("too many rows: %v", err)
	}
	if took := (is.TotalAlloc - was.TotalAlloc) >> 20; took > 100 {
		t.Errorf("a file of %d MiB took %d MiB", len(rows)>>20, took)
	}
	cells := bytes.Repeat([]byte(";"), maxCells+1)
	for name, raw := range map[string][]byte{"the header": cells, "a row": append([]byte("hours;temp_c\n"), cells...)} {
		if err := bounded("x.csv", raw); err == nil || !strings.Contains(err.Error(), "cells; 12000000 at most are read") {
			t.Errorf("too many cells in %s: %v", name, err)
		}
	}
	if err := bounded("x.csv", cells[:maxCells]); err != nil {
		t.Errorf("as many cells as are read: %v", err)
	}
}

// plainRefusal is an error that can be shown on a terminal as it is.
func plainRefusal(t *testing.T, err error) {
	t.Helper()
	var known *Error
	if err != nil && !errors.As(err, &known) {
		t.Fatalf("an error of no kind: %v", err)
	}
	if err != nil && strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' && r != '\n' || r == 0x7f || r == 0x9b || r == 0x202e }) {
		t.Fatalf("a control character reaches the terminal: %q", err)
	}
}

// plain fails where an error could not be shown on a terminal as it is.
func plain(t *testing.T, err error) {
	t.Helper()
	var known *Error
	if err != nil && !errors.As(err, &known) {
		t.Fatalf("an error of no kind: %v", err)
	}
	if err != nil && strings.ContainsFunc(err.Error(), unicode.IsControl) {
		t.Fatalf("a control character reaches the terminal: %q", err)
	}
}
