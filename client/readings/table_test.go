package readings

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"time"
	"unicode"

	"hod/client/session"
	"hod/client/terminal"
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
	s := &session.Session{
		Now: now, Location: time.UTC, Units: unit.Metric,
		Env:  &session.Env{Streams: &terminal.Streams{Getenv: func(string) string { return "" }}},
		Fold: fold.New("tarn", "site"),
	}
	f.Fuzz(func(t *testing.T, data []byte, logger bool) {
		env := &terminal.Streams{Stdin: bytes.NewReader(data), Getenv: func(string) string { return "" }}
		table, err := env.ReadTable("-")
		if err != nil {
			plain(t, err)
			return
		}
		var bad []terminal.BadRow
		rows := 0
		if logger {
			temp := -1
			stamp, err := table.Column("time-column", "", "time", "timestamp", "date")
			if err == nil {
				temp, err = table.Column("temperature-column", "", "temperature", "temp", "temp_c", "temp_f",
					"temperature_f")
			}
			if err != nil || stamp < 0 || temp < 0 {
				plain(t, err)
				return
			}
			in, err := temperatureUnit("", table.Header[temp])
			if err != nil {
				plain(t, err)
				return
			}
			samples, wrong, missing := cure{}.samples(table, stamp, temp, in, s)
			for _, one := range samples {
				if v := float64(one.Temperature); math.IsNaN(v) || math.IsInf(v, 0) ||
					one.At.After(now.Add(terminal.ClockTolerance)) {
					t.Fatalf("a reading of %v at %v", v, one.At)
				}
			}
			bad, rows = wrong, len(samples)+missing
		} else {
			stamp, fields, _, err := new(weatherFile).settle(s.Env, table)
			if err != nil {
				plain(t, err)
				return
			}
			samples, wrong, outside := weatherFile{}.samples(table, stamp, fields, s, time.Time{}, time.Time{})
			for _, one := range samples {
				for _, v := range []*float64{
					(*float64)(one.Air), (*float64)(one.Humidity), (*float64)(one.Wind),
					(*float64)(one.DewPoint),
				} {
					if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
						t.Fatalf("weather of %v at %v", *v, one.At)
					}
				}
			}
			bad, rows = wrong, len(samples)+outside
		}
		if rows+len(bad) > len(table.Rows) {
			t.Fatalf("%d rows are read as %d readings and %d refused", len(table.Rows), rows, len(bad))
		}
		if len(bad) > 0 {
			plain(t, table.Refuse(bad))
		}
	})
}

// plain fails where an error could not be shown on a terminal as it is.
func plain(t *testing.T, err error) {
	t.Helper()
	var known *terminal.Error
	if err != nil && !errors.As(err, &known) {
		t.Fatalf("an error of no kind: %v", err)
	}
	if err != nil && strings.ContainsFunc(err.Error(), unicode.IsControl) {
		t.Fatalf("a control character reaches the terminal: %q", err)
	}
}
