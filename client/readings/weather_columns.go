package readings

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	air "hod/internal/trade/weather"
	"hod/internal/unit"
)

// notNeeded are the headers, in their plain form, of what stations and loggers write beside the weather and a record of
// the work does not hold. They are understood, and left out without a question.
var notNeeded = []string{
	"", "id", "index", "no", "nr", "row", "record", "origin", "station", "station_id", "site", "name", "location",
	"latitude", "longitude", "lat", "lon",
	"year", "month", "day", "hour", "minute", "second", "weekday", "timezone", "tz", "utc_offset",
	"wind_dir", "wind_direction", "winddir", "wind_gust", "wind_gusts", "gust", "gusts", "pressure", "slp",
	"sea_level_pressure",
	"visib", "visibility", "cloud", "clouds", "cloud_cover", "weather", "condition", "conditions", "uv", "uv_index",
	"snow",
	"quality", "flag", "flags", "source", "battery", "battery_v", "voltage", "signal", "rssi", "note", "notes",
	"comment", "remark", "remarks",
}

// takes are the columns that a person said, by what they hold: the column and its unit, empty where none was said.
func (f weatherFile) takes(t terminal.Table) (map[string][2]string, error) {
	said := map[string][2]string{}
	for _, word := range slices.Concat(f.columns, f.take) {
		name, column, ok := strings.Cut(word, "=")
		in := ""
		if i := strings.LastIndex(column, ":"); i >= 0 && !slices.Contains(t.Header, column) {
			column, in = column[:i], column[i+1:]
		}
		column = strings.Trim(column, `"`) // where a shell left the quotes on
		if !ok || column == "" || name != "time" &&
			!slices.ContainsFunc(measures, func(m measure) bool { return m.name == name }) {
			return nil,
				terminal.Usagef(
					"--take cannot be %q; write what the column holds, its name, and its unit if the name has none: air=T_out:F. What it can hold: %s", terminal.Safe(word), canHold)
		}
		said[name] = [2]string{column, in}
	}
	return said, nil
}

const canHold = "time, air, humidity, dew-point, wind, sun, rain, surface"

// ignored are the columns that a person said are to be left out.
func (f weatherFile) ignored(t terminal.Table) (map[int]bool, error) {
	out := map[int]bool{}
	for _, word := range f.ignore {
		names := []string{word}
		if !slices.Contains(t.Header, word) {
			names = parse.List([]string{word})
		}
		for _, name := range names {
			i, err := t.Column("ignore", name)
			if err != nil {
				return nil, err
			}
			out[i] = true
		}
	}
	return out, nil
}

// settle finds the columns and their units. One that is not understood is asked about at a terminal; elsewhere it is
// named with the words that settle it, and nothing is recorded.
func (f *weatherFile) settle(env *session.Env, t terminal.Table) (stamp int, fields []*field, known bool, err error) {
	if stamp, fields, known, err = f.fields(env, t); err != nil {
		return stamp, fields, known, err
	}
	strange, err := f.strange(t, stamp, fields)
	if err != nil {
		return stamp, fields, known, err
	}
	if len(strange) > 0 {
		if !env.CanAsk() {
			return stamp, fields, known, f.refuseColumns(t, strange, fields)
		}
		for _, i := range strange {
			if err := f.askColumn(env, t, i); err != nil {
				return stamp, fields, known, err
			}
		}
		if stamp, fields, known, err = f.fields(env, t); err != nil {
			return stamp, fields, known, err
		}
	}
	if len(fields) == 0 {
		return 0, nil, false,
			terminal.Usagef(
				"%s: no column is known for air, humidity, dew point, wind, sun or rain; its columns are %s; say --take air=NAME:C", terminal.Safe(t.Path), terminal.Safe(strings.Join(t.Header, ", ")))
	}
	return stamp, fields, known, f.settleUnits(env, t, fields)
}

// strange are the columns that nothing is known of.
func (f *weatherFile) strange(t terminal.Table, stamp int, fields []*field) ([]int, error) {
	ignored, err := f.ignored(t)
	if err != nil {
		return nil, err
	}
	var all []int
	for i, h := range t.Header {
		switch {
		case i == stamp, ignored[i], slices.ContainsFunc(fields, func(f *field) bool { return f.column == i }):
		case h == "" && len(some(t, i, 1)) > 0:
			all = append(all, i)
		case !slices.Contains(notNeeded, terminal.HeaderName(h)):
			all = append(all, i)
		}
	}
	return all, nil
}

// some are the first few values of a column, for a person to know it by.
func some(t terminal.Table, column, most int) []string {
	var all []string
	for _, r := range t.Rows {
		if r.Wrong == "" && !terminal.IsAbsent(r.Cells[column]) && len(all) < most {
			all = append(all, r.Cells[column])
		}
	}
	return all
}

// called is a column as it is named to a person: its header, or its place where it has none.
func called(t terminal.Table, i int) string {
	if t.Header[i] == "" {
		return fmt.Sprintf("column %d, which has no name", i+1)
	}
	return fmt.Sprintf("the column %q", terminal.Safe(t.Header[i]))
}

// guess is what a header seems to speak of; empty where it does not.
func guess(header string) string {
	plain := terminal.HeaderName(header)
	for _, k := range [][2]string{
		{"dew", "dew-point"},
		{"humid", "humidity"},
		{"rh", "humidity"},
		{"wind", "wind"},
		{"surf", "surface"},
		{"rain", "rain"},
		{"precip", "rain"},
		{"sun", "sun"},
		{"solar", "sun"},
		{"radiat", "sun"},
		{"air", "air"},
		{"temp", "air"},
	} {
		if strings.Contains(plain, k[0]) {
			return k[1]
		}
	}
	return ""
}

func (f *weatherFile) refuseColumns(t terminal.Table, strange []int, fields []*field) error {
	var all []string
	for _, i := range strange {
		h := terminal.ShellQuote(t.Header[i])
		text := called(t, i) + " is not understood"
		what := guess(t.Header[i])
		taken := slices.IndexFunc(fields, func(f *field) bool { return f.name == what })
		switch {
		case t.Header[i] == "":
			text += ": name it in the file's first line, or take it out"
		case taken >= 0:
			text += fmt.Sprintf(" (%s is taken from %q): --take %s=%s, or --ignore %s", what,
				terminal.Safe(t.Header[fields[taken].column]), what, h, h)
		case what != "":
			text += fmt.Sprintf(": --take %s=%s, or --ignore %s", what, h, h)
		default:
			text += ": --ignore " + h
		}
		all = append(all, text)
	}
	return terminal.Usagef("%s: %s. Nothing was recorded; --take says what a column holds (%s), --ignore leaves it out",
		terminal.Safe(t.Path), strings.Join(all, "; "), canHold)
}

// askColumn asks what a column holds.
func (f *weatherFile) askColumn(env *session.Env, t terminal.Table, i int) error {
	if t.Header[i] == "" {
		return terminal.Usagef("%s: %s, holds values: name it in the file's first line, or take it out",
			terminal.Safe(t.Path), called(t, i))
	}
	fmt.Fprintf(env.Stderr,
		"%s of %s (%s) is not understood. What does it hold? [%s, with its unit as in air:C; i: leave it out; Enter alone: nothing is recorded] ",
		terminal.Capitalise(called(t, i)), terminal.Safe(t.Path), terminal.Safe(strings.Join(some(t, i, 3), ", ")),
		canHold)
	said := strings.ToLower(strings.TrimSpace(env.ReadLine()))
	name, in, _ := strings.Cut(said, ":")
	switch {
	case said == "i" || said == "ignore":
		f.ignore = append(f.ignore, t.Header[i])
		return nil
	case slices.ContainsFunc(measures, func(m measure) bool { return m.name == name }):
		word := name + "=" + t.Header[i]
		if in != "" {
			word += ":" + in
		}
		f.take = append(f.take, word)
		return nil
	}
	return terminal.Refusedf("nothing was recorded; say what %s holds with --take, or leave it out with --ignore %s",
		called(t, i), terminal.ShellQuote(t.Header[i]))
}

// values of a column, as far as they are numbers.
func values(t terminal.Table, column int) []float64 {
	var all []float64
	for _, r := range t.Rows {
		if r.Wrong != "" || terminal.IsAbsent(r.Cells[column]) {
			continue
		}
		if v, err := terminal.ParseNumber(r.Cells[column]); err == nil {
			all = append(all, v)
		}
	}
	return all
}

// beyond counts the values that the trade does not know if they are in a unit.
func (m measure) beyond(values []float64, in string) int {
	n := 0
	for _, v := range values {
		if si, err := m.si(v, in); err != nil || si < m.known.Lo || si > m.known.Hi {
			n++
		}
	}
	return n
}

// si is a value in SI, as the ranges of what is plausible have it.
func (m measure) si(v float64, in string) (float64, error) {
	var w event.Weather
	if err := m.put(&w, v, in); err != nil {
		return 0, err
	}
	switch {
	case w.Air != nil:
		return float64(*w.Air), nil
	case w.Humidity != nil:
		return float64(*w.Humidity), nil
	case w.DewPoint != nil:
		return float64(*w.DewPoint), nil
	case w.Wind != nil:
		return float64(*w.Wind), nil
	case w.RainMillimetres != nil:
		return *w.RainMillimetres / 1000, nil
	case w.SurfaceTemperature != nil:
		return float64(*w.SurfaceTemperature), nil
	}
	return *w.SunWattPerM2, nil
}

// fitting are the units in which all values of a column are such as the trade knows.
func (m measure) fitting(values []float64) []string {
	var all []string
	for _, in := range m.units {
		if m.beyond(values, in) == 0 {
			all = append(all, in)
		}
	}
	return all
}

// settleUnits asks about a column most of whose values the trade does not know in the unit that it is read in, while
// all of them fit another one; and about temperatures that agree with the humidity only in the other unit.
func (f *weatherFile) settleUnits(env *session.Env, t terminal.Table, fields []*field) error {
	if env.Sure {
		return nil
	}
	for _, one := range fields {
		values := values(t, one.column)
		if n := one.beyond(values, one.in); n == 0 || 2*n < len(values) {
			continue
		}
		fits := one.fitting(values)
		if len(fits) == 0 {
			continue
		}
		text := fmt.Sprintf("%s: the values of %s, %s, are beyond what the trade knows as %s (%s); as %s they fit",
			terminal.Safe(t.Path), called(t, one.column), spanOf(values), unitShown(one.in), one.known.Name,
			unitShown(fits[0]))
		if err := f.askUnit(env, t, text, fits[0], one); err != nil {
			return err
		}
	}
	return f.settleTemperatures(env, t, fields)
}

// askUnit takes the other unit if a person says so.
func (f *weatherFile) askUnit(env *session.Env, t terminal.Table, text, in string, of ...*field) error {
	var words []string
	for _, one := range of {
		words = append(words, "--take "+terminal.ShellQuote(one.name+"="+t.Header[one.column]+":"+in))
	}
	other, err := askOtherUnit(env, text, in, strings.Join(words, " "))
	if err != nil || !other {
		return err
	}
	for _, one := range of {
		one.in = in
	}
	return nil
}

// askOtherUnit asks whether the values of a file are in the other unit, which words of the command would say; false
// where they are as written. Where nobody can be asked, it is an error.
func askOtherUnit(env *session.Env, text, in, words string) (bool, error) {
	if !env.CanAsk() {
		return false,
			terminal.Refusedf("%s: say %s if that is so, or --sure if they are as written; nothing was recorded", text,
				words)
	}
	fmt.Fprintf(env.Stderr, "%s.\nAre they %s? [y: yes; s: they are as written; Enter alone: nothing is recorded] ",
		terminal.Safe(text), unitShown(in))
	switch strings.ToLower(strings.TrimSpace(env.ReadLine())) {
	case "y", "yes":
		return true, nil
	case "s", "so", "sure":
		env.Sure = true
		return false, nil
	}
	return false, terminal.Refusedf("nothing was recorded; say %s, or --sure", words)
}

// spanOf is from the lowest of some values to the highest.
func spanOf(values []float64) string {
	show := func(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }
	return show(slices.Min(values)) + " to " + show(slices.Max(values))
}

// Air, dew point and humidity say one thing three times. Where the temperatures were read in the wrong unit they do not
// agree: in points of relative humidity, on the mean of at least so many rows. A choice of this program.
const (
	disagree, agree = 0.08, 0.03
	enoughRows      = 3
)

// settleTemperatures holds air and dew point against the humidity.
func (f *weatherFile) settleTemperatures(env *session.Env, t terminal.Table, fields []*field) error {
	of := map[string]*field{}
	for _, one := range fields {
		of[one.name] = one
	}
	warm, dew, humid := of["air"], of["dew-point"], of["humidity"]
	if warm == nil || dew == nil || humid == nil || isFahrenheit(warm.in) != isFahrenheit(dew.in) {
		return nil
	}
	other := "F"
	if isFahrenheit(warm.in) {
		other = "C"
	}
	is, n := disagreement(t, warm, dew, humid, warm.in)
	would, m := disagreement(t, warm, dew, humid, other)
	if n < enoughRows || m < n || is < disagree || would > agree {
		return nil
	}
	text := fmt.Sprintf(
		"%s: air and dew point of %s do not agree with its humidity as %s (%.0f points off on the mean), and do as %s (%.0f)",
		terminal.Safe(t.Path), terminal.Plural(n, "row", "rows"), unitShown(warm.in), 100*is, unitShown(other),
		100*would)
	return f.askUnit(env, t, text, other, warm, dew)
}

func isFahrenheit(in string) bool { return unitShown(in) == unitShown("F") }

// disagreement is how far the humidity as read is off from what air and dew point say, on the mean, and of how many
// rows.
func disagreement(t terminal.Table, warm, dew, humid *field, in string) (mean float64, n int) {
	for _, r := range t.Rows {
		if r.Wrong != "" {
			continue
		}
		var si [3]float64
		ok := true
		for i, k := range []struct {
			f  *field
			in string
		}{{warm, in}, {dew, in}, {humid, humid.in}} {
			v, err := terminal.ParseNumber(r.Cells[k.f.column])
			if err == nil {
				si[i], err = k.f.si(v, k.in)
			}
			ok = ok && err == nil
		}
		if !ok {
			continue
		}
		moist, err := air.FromDewPoint(unit.Celsius(si[0]), unit.Celsius(si[1]), air.Magnus)
		if err != nil {
			continue
		}
		mean += math.Abs(float64(moist.Humidity) - si[2])
		n++
	}
	return mean / max(1, float64(n)), n
}

// doubtfulRow says why a reading is beyond what the trade knows; empty where it is not.
func doubtfulRow(s *session.Session, one event.Weather) string {
	if s.Env.Sure {
		return ""
	}
	doubts := s.Fold.Doubts(event.WeatherObserved{Samples: []event.Weather{one}}, one.At)
	if len(doubts) == 0 {
		return ""
	}
	return doubts[0].Doubt.String()
}
