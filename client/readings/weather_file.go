package readings

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plausible"
	"hod/internal/unit"
)

// weatherFile is a file of the weather and how to read it.
type weatherFile struct {
	path, from, until, skipBad, issued string
	take, columns, ignore              []string
	forecast                           bool
}

func (w *weatherFile) flags(f *pflag.FlagSet) {
	f.StringVar(&w.path, "csv", "", "a file of readings; - reads from standard input")
	f.StringArrayVar(&w.take, "take", nil, "what a column holds and its unit: air=T_out:F, wind=ws:m/s, time=stamp")
	f.StringArrayVar(&w.columns, "column", nil, "the same as --take")
	_ = f.MarkHidden("column") // as it was first called; it is there
	f.StringArrayVar(&w.ignore, "ignore", nil, "a column that is left out: rain")
	f.StringVar(&w.from, "from", "", "take only what is not before: 2026-07-18, \"2026-07-18 06:00\"")
	f.StringVar(&w.until, "until", "", "take only what is not after; a day counts whole")
	f.StringVar(&w.skipBad, "skip-bad", "", "leave bad rows out and write them to this file")
	f.BoolVar(&w.forecast, "forecast", false, "the file is a forecast")
	f.StringVar(&w.issued, "issued", "", "when the forecast was made (default: now)")
}

// measure is one thing that a column can hold.
type measure struct {
	name  string
	usual []string // headers that it goes by
	unit  string   // that is assumed where none is said; empty: it must be said
	units []string // that it may be in
	known plausible.Range
	put   func(w *event.Weather, value float64, in string) error
}

// measures of the weather, time apart. The usual headers are those of loggers and of the open data sets of airfields.
var measures = []measure{
	{
		"air",
		[]string{
			"temp", "air", "temperature", "air_temp", "air_temperature", "temp_c", "temp_f", "air_c", "air_f",
			"tair", "t_air",
		},
		"",
		[]string{"C", "F"},
		plausible.Air,
		putTemperature(func(w *event.Weather, t unit.Celsius) { w.Air = &t }),
	},
	{
		"humidity",
		[]string{"humid", "humidity", "rh", "relative_humidity", "relhum", "humidity_pct", "rh_pct"},
		"%",
		[]string{"%", "1"},
		plausible.Humidity, putHumidity,
	},
	{
		"dew-point",
		[]string{"dewp", "dew_point", "dewpoint", "dew_point_c", "dew_point_f", "dewp_c", "dewp_f"},
		"",
		[]string{"C", "F"},
		plausible.DewPoint,
		putTemperature(func(w *event.Weather, t unit.Celsius) { w.DewPoint = &t }),
	},
	{
		"wind",
		[]string{"wind_speed", "wind", "windspeed", "wind_mph", "wind_kmh", "wind_mps", "wind_ms", "ws"},
		"",
		[]string{"m/s", "km/h", "mph", "knots"},
		plausible.Wind, putWind,
	},
	{
		"sun",
		[]string{"sun", "solar", "solar_radiation", "radiation", "ghi"},
		"W/m2",
		[]string{"W/m2", "kW/m2"},
		plausible.Sun, putSun,
	},
	{
		"rain",
		[]string{"precip", "rain", "precipitation", "rainfall", "rain_mm", "rain_in", "precip_mm", "precip_in"},
		"",
		[]string{"mm", "in", "cm"},
		plausible.Rain, putRain,
	},
	{
		"surface",
		[]string{"surface", "surface_temperature", "surface_c", "surface_f"},
		"",
		[]string{"C", "F"},
		plausible.Surface, putTemperature(func(w *event.Weather, t unit.Celsius) { w.SurfaceTemperature = &t }),
	},
}

// airfield is the layout of an open data set of hourly airfield weather, which states its units beside the file: °F,
// mph and inches, the wind read at about 10 m.
var airfield = struct {
	columns []string
	units   map[string]string
	height  unit.As[unit.Length]
}{
	[]string{"temp", "dewp", "humid", "wind_speed", "precip", "time_hour"},
	map[string]string{"air": "F", "dew-point": "F", "humidity": "%", "wind": "mph", "rain": "in"},
	unit.As[unit.Length]{SI: 10, Entered: "10m"},
}

func putTemperature(to func(*event.Weather, unit.Celsius)) func(*event.Weather, float64, string) error {
	return func(w *event.Weather, v float64, in string) error {
		t := unit.Celsius(v)
		switch strings.ToLower(strings.Trim(in, "°º ")) {
		case "c", "degc", "celsius":
		case "f", "degf", "fahrenheit":
			t = unit.Fahrenheit(v)
		default:
			return fmt.Errorf("%q is no unit of temperature; it is C or F", terminal.Safe(in))
		}
		to(w, t)
		return nil
	}
}

func putHumidity(w *event.Weather, v float64, in string) error {
	h := unit.Share(v)
	switch strings.ToLower(in) {
	case "%", "pct", "percent":
		h = unit.Share(v / 100)
	case "1":
	default:
		return fmt.Errorf("%q is no unit of humidity; it is %% or, for a share from 0 to 1, 1", terminal.Safe(in))
	}
	w.Humidity = &h
	return nil
}

func putWind(w *event.Weather, v float64, in string) error {
	per := map[string]string{
		"mph": "1mph", "kmh": "1km/h", "km/h": "1km/h", "kph": "1km/h", "ms": "1m/s",
		"mps": "1m/s", "m/s": "1m/s", "kn": "1knot", "kt": "1knot", "knots": "1knot",
	}[strings.ToLower(in)]
	if per == "" {
		return fmt.Errorf("%q is no unit of wind; it is mph, km/h, m/s or knots", terminal.Safe(in))
	}
	one, err := unit.ParseSpeed(per)
	if err != nil {
		return err
	}
	speed := one * unit.Speed(v)
	w.Wind = &speed
	return nil
}

func putSun(w *event.Weather, v float64, in string) error {
	switch strings.ToLower(in) {
	case "w/m2", "w/m²":
	case "kw/m2", "kw/m²":
		v *= 1000
	default:
		return fmt.Errorf("%q is no unit of sun; it is W/m2 or kW/m2", terminal.Safe(in))
	}
	w.SunWattPerM2 = &v
	return nil
}

func putRain(w *event.Weather, v float64, in string) error {
	per := map[string]float64{"mm": 1, "in": 25.4, "inch": 25.4, "cm": 10}[strings.ToLower(in)]
	if per == 0 {
		return fmt.Errorf("%q is no unit of rain; it is mm or in", terminal.Safe(in))
	}
	mm := v * per
	w.RainMillimetres = &mm
	return nil
}

// field is a column that is taken.
type field struct {
	measure
	column  int
	in      string
	missing int
}

func (f *weatherFile) run(ctx context.Context, s *session.Session, w weather) error {
	t, err := s.Env.ReadTable(f.path)
	if err != nil {
		return err
	}
	stamp, fields, known, err := f.settle(s.Env, t)
	if err != nil {
		return err
	}
	from, until, err := f.span(s)
	if err != nil {
		return err
	}
	samples, bad, outside := f.samples(t, stamp, fields, s, from, until)
	if len(bad) > 0 && f.skipBad == "" {
		return t.Refuse(bad)
	}
	station := w.station
	if station == "" {
		station = fileStem(f.path)
	}
	windy := slices.ContainsFunc(samples, func(w event.Weather) bool { return w.Wind != nil })
	said := w.height
	if said == "" && known {
		said = airfield.height.Entered
	}
	height, err := windHeight(s, said, windy, station)
	if err != nil {
		return err
	}
	there := 0
	if !f.forecast {
		samples, there = newWeather(s, station, samples)
	}
	if len(samples) == 0 {
		return f.nothing(there, outside, len(bad))
	}
	if len(bad) > 0 {
		if err := t.WriteSkipped(f.skipBad, bad); err != nil {
			return err
		}
	}
	drafts, err := f.drafts(s, samples, station, height)
	if err != nil {
		return err
	}
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		t.RemoveSkipped(f.skipBad, bad)
		return err
	}
	return f.tell(s, all, weatherKept{
		Station: station, Readings: len(samples), Known: there, Outside: outside, Skipped: len(bad),
		From: terminal.Stamp(samples[0].At), To: terminal.Stamp(samples[len(samples)-1].At),
	}, fields, height, windy)
}

// nothing is the error for a file of which no reading is new and in the time asked for.
func (f *weatherFile) nothing(there, outside, bad int) error {
	text := nothingLeft(there, 0, bad)
	if outside > 0 {
		text = fmt.Sprintf("%s between --from and --until", terminal.Plural(outside, "row is not", "rows are not"))
		if within := leftOut(there, 0, bad); within != "" {
			text = "of the rows between --from and --until" + strings.TrimPrefix(within, ",") + "; " + text
		}
	}
	return terminal.Refusedf("nothing to record from %s: %s", terminal.Safe(f.path), text)
}

// fields finds the columns and their units.
func (f *weatherFile) fields(env *session.Env, t terminal.Table) (stamp int, fields []*field, known bool, err error) {
	said, err := f.takes(t)
	if err != nil {
		return 0, nil, false, err
	}
	ignored, err := f.ignored(t)
	if err != nil {
		return 0, nil, false, err
	}
	stamp, err = t.Column("take", said["time"][0], "time_hour", "time", "timestamp", "datetime", "date_time", "at",
		"stamp", "when", "date")
	if err != nil {
		return 0, nil, false, err
	}
	if stamp < 0 {
		return 0, nil, false,
			terminal.Usagef("%s: which column holds the times? Its columns are %s; say --take time=NAME",
				terminal.Safe(t.Path), terminal.Safe(strings.Join(t.Header, ", ")))
	}
	known = has(t, airfield.columns)
	for _, m := range measures {
		column, err := t.Column("take", said[m.name][0], m.usual...)
		if err != nil {
			return 0, nil, false, err
		}
		if column < 0 || ignored[column] {
			continue
		}
		in := said[m.name][1]
		if in == "" {
			in = m.unitOf(t.Header[column])
		}
		if in == "" && known {
			in = airfield.units[m.name]
		}
		if in == "" {
			in = m.unit
		}
		if in == "" {
			if in, err = f.unitUnsaid(env, t, m, column); err != nil {
				return 0, nil, false, err
			}
		}
		if err := m.put(new(event.Weather), 0, in); err != nil {
			return 0, nil, false, terminal.Usagef("%s: the column %q: %v", terminal.Safe(t.Path),
				terminal.Safe(t.Header[column]), err)
		}
		fields = append(fields, &field{measure: m, column: column, in: in})
	}
	return stamp, fields, known, nil
}

// unitUnsaid asks for the unit of a column that says none; where nobody can be asked, it says which fits the values.
func (f *weatherFile) unitUnsaid(env *session.Env, t terminal.Table, m measure, column int) (string, error) {
	values, fit, like := values(t, column), "", m.exampleUnit()
	if fits := m.fitting(values); len(values) > 0 && len(fits) == 1 {
		fit = fmt.Sprintf("; its values, %s, fit %s only", spanOf(values), unitShown(fits[0]))
		like = fits[0]
	}
	if !env.CanAsk() {
		return "", terminal.Usagef("%s: the column %q does not say its unit%s; say it as in --take %s=%s:%s",
			terminal.Safe(t.Path), terminal.Safe(t.Header[column]), fit, m.name, terminal.Safe(t.Header[column]), like)
	}
	fmt.Fprintf(env.Stderr,
		"%s of %s (%s) does not say its unit%s. Which is it? [%s; Enter alone: nothing is recorded] ",
		terminal.Capitalise(called(t, column)), terminal.Safe(t.Path),
		terminal.Safe(strings.Join(some(t, column, 3), ", ")), fit, strings.Join(m.units, ", "))
	in := strings.TrimSpace(env.ReadLine())
	if in == "" || m.put(new(event.Weather), 0, in) != nil {
		return "", terminal.Refusedf("nothing was recorded; say the unit as in --take %s=%s:%s", m.name,
			terminal.Safe(t.Header[column]), like)
	}
	f.take = append(f.take, m.name+"="+t.Header[column]+":"+in) // so that it is asked once
	return in, nil
}

// unitOf is the unit that a header names, if it is one of this measure.
func (m measure) unitOf(header string) string {
	if in := terminal.HeaderUnit(header); in != "" && m.put(new(event.Weather), 0, in) == nil && m.name != "sun" {
		return in
	}
	return ""
}

func (m measure) exampleUnit() string {
	switch m.name {
	case "wind":
		return "mph"
	case "rain":
		return "mm"
	}
	return "C"
}

func has(t terminal.Table, columns []string) bool {
	for _, c := range columns {
		if !slices.Contains(t.Header, c) {
			return false
		}
	}
	return true
}

// span reads --from and --until; a day alone is its beginning and its end.
func (f weatherFile) span(s *session.Session) (from, until time.Time, err error) {
	read := func(name, word string, end bool) (time.Time, error) {
		if word == "" {
			return time.Time{}, nil
		}
		if day, err := s.TimeReader().Day(word); err == nil {
			at := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, s.Location)
			if end {
				at = at.AddDate(0, 0, 1).Add(-time.Millisecond)
			}
			return at, nil
		}
		at, err := s.TimeReader().Any(word, "")
		if err != nil {
			return at, terminal.Usagef("--%s: %v", name, err)
		}
		return at, nil
	}
	if from, err = read("from", f.from, false); err != nil {
		return from, until, err
	}
	if until, err = read("until", f.until, true); err != nil {
		return from, until, err
	}
	if !from.IsZero() && !until.IsZero() && until.Before(from) {
		return from, until, terminal.Usagef("--until %s lies before --from %s", terminal.Safe(f.until),
			terminal.Safe(f.from))
	}
	return from, until, nil
}

// samples reads the rows; a value that is absent is counted in its field.
func (f weatherFile) samples(t terminal.Table, stamp int, fields []*field, s *session.Session, from,
	until time.Time,
) (samples []event.Weather, bad []terminal.BadRow, outside int) {
	seen := map[int64]bool{}
	times := terminal.TimeColumn{In: s.Location}
	defer times.Report(s.Env.Streams)
	for _, row := range t.Rows {
		refuse := func(format string, args ...any) {
			bad = append(bad, terminal.BadRow{Line: row.Line, Cells: row.Cells, Why: fmt.Sprintf(format, args...)})
		}
		if row.Wrong != "" {
			refuse("%s", row.Wrong)
			continue
		}
		at, err := times.Read(row.Cells[stamp])
		if err != nil {
			refuse("%v", err)
			continue
		}
		at = at.Truncate(time.Millisecond)
		if !from.IsZero() && at.Before(from) || !until.IsZero() && at.After(until) {
			outside++
			continue
		}
		if !f.forecast && at.After(s.Now.Add(terminal.ClockTolerance)) {
			refuse("%s is still to come; weather that is told is recorded with --forecast", row.Cells[stamp])
			continue
		}
		if seen[at.UnixMilli()] {
			refuse("%s is there twice", row.Cells[stamp])
			continue
		}
		one, absents, err := readWeather(row, fields)
		if err == nil {
			err = event.Event{Name: event.Name{Device: "n1", Seq: 1}, HappenedAt: at, Body: event.WeatherObserved{
				Station: "check", WindHeight: airfield.height, Samples: []event.Weather{withTime(one, at)},
			}}.Check()
		}
		switch {
		case len(absents) == len(fields):
		case err != nil:
			refuse("%v", terminal.RowReason(err))
			continue
		}
		if why := doubtfulRow(s, withTime(one, at)); why != "" {
			refuse("%s (--sure takes it)", why)
			continue
		}
		for _, a := range absents {
			a.missing++
		}
		seen[at.UnixMilli()] = true
		if len(absents) < len(fields) {
			samples = append(samples, withTime(one, at))
		}
	}
	slices.SortFunc(samples, func(a, b event.Weather) int { return a.At.Compare(b.At) })
	return samples, bad, outside
}

func withTime(w event.Weather, at time.Time) event.Weather { w.At = at; return w }

func readWeather(row terminal.Row, fields []*field) (event.Weather, []*field, error) {
	var one event.Weather
	var absents []*field
	for _, f := range fields {
		cell := row.Cells[f.column]
		if terminal.IsAbsent(cell) {
			absents = append(absents, f)
			continue
		}
		v, err := terminal.ParseNumber(cell)
		if err != nil {
			return one, absents, fmt.Errorf("%s: %w", f.name, err)
		}
		if err := f.put(&one, v, f.in); err != nil {
			return one, absents, fmt.Errorf("%s: %w", f.name, err)
		}
	}
	return one, absents, nil
}

// newWeather leaves out what the record has already of the same station and time.
func newWeather(s *session.Session, station string, samples []event.Weather) ([]event.Weather, int) {
	have := map[int64]bool{}
	for _, r := range s.Fold.Records() {
		old, ok := r.Now.(event.WeatherObserved)
		if !ok || r.State == fold.SetAside || old.Station != station {
			continue
		}
		for _, one := range old.Samples {
			have[r.OnSite(one.At).UnixMilli()] = true
		}
	}
	fresh := slices.DeleteFunc(slices.Clone(samples), func(w event.Weather) bool { return have[w.At.UnixMilli()] })
	return fresh, len(samples) - len(fresh)
}

// drafts divides the readings among as few events as hold them.
func (f weatherFile) drafts(s *session.Session, samples []event.Weather, station string,
	height unit.As[unit.Length],
) ([]session.Draft, error) {
	issued := s.Now
	if f.issued != "" {
		var err error
		if issued, err = s.ParseTime(f.issued, ""); err != nil {
			return nil, terminal.Usagef("--issued: %v", err)
		}
	}
	var drafts []session.Draft
	for part := range slices.Chunk(samples, 256) {
		h := height
		if !slices.ContainsFunc(part, func(w event.Weather) bool { return w.Wind != nil }) {
			h = unit.As[unit.Length]{}
		}
		if f.forecast {
			drafts = append(drafts, session.Draft{Body: event.WeatherForecast{
				Source: station, IssuedAt: issued,
				WindHeight: h, Samples: part,
			}, At: issued, Typed: true})
			continue
		}
		drafts = append(drafts, session.Draft{Body: event.WeatherObserved{
			Station: station, WindHeight: h,
			Samples: part,
		}, At: part[len(part)-1].At, Typed: true})
	}
	return drafts, nil
}

func (f weatherFile) tell(s *session.Session, all []session.Kept, doc weatherKept, fields []*field,
	height unit.As[unit.Length], windy bool,
) error {
	k := all[len(all)-1]
	for _, one := range all {
		doc.Events = append(doc.Events, one.Event)
	}
	var lacks, units []string
	for _, one := range fields {
		units = append(units, one.name+" ("+unitShown(one.in)+")")
		if one.missing > 0 {
			doc.Missing = append(doc.Missing, missing{one.name, one.missing})
			lacks = append(lacks, fmt.Sprintf("%s of %s", terminal.Plural(one.missing, "value", "values"), one.name))
		}
	}
	what, rows := "weather", terminal.Plural(doc.Readings, "reading", "readings")
	if f.forecast {
		what, rows = "forecast", terminal.Plural(doc.Readings, "hour", "hours")
	}
	k.Text = fmt.Sprintf("%s: %s of %s, %s (%s", what, rows, doc.Station,
		s.FormatSpan(time.Time(doc.From), time.Time(doc.To)), strings.Join(units, ", "))
	if windy {
		q := terminal.QuantityOf(height, "m")
		doc.WindHeight = &q
		k.Text += ", wind read at " + unit.Both(s.Units, height, aboveGround)
	}
	k.Text += ")" + leftOut(doc.Known, 0, doc.Skipped)
	if len(lacks) > 0 {
		k.Text += "; missing: " + strings.Join(lacks, ", ")
	}
	if len(all) > 1 {
		k.Text += fmt.Sprintf("; %d events", len(all))
	}
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}

// aboveGround shows a height at which wind is read: no one reads an inch of it.
func aboveGround(s unit.System, h unit.Length) string {
	if s == unit.US {
		return strconv.FormatFloat(math.Round(float64(h/unit.Foot)*10)/10, 'f', -1, 64) + " ft"
	}
	return s.Length(h)
}

// unitShown is a unit of a header as people write it.
func unitShown(in string) string {
	switch strings.ToLower(strings.Trim(in, "°º ")) {
	case "c", "degc", "celsius":
		return "°C"
	case "f", "degf", "fahrenheit":
		return "°F"
	case "ms", "mps", "m/s":
		return "m/s"
	case "kmh", "kph", "km/h":
		return "km/h"
	case "kn", "kt":
		return "knots"
	case "pct", "percent":
		return "%"
	case "1":
		return "0 to 1"
	case "inch":
		return "in"
	case "w/m2":
		return "W/m²"
	case "kw/m2":
		return "kW/m²"
	}
	return in
}
