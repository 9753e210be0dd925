package readings

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plausible"
	"hod/internal/unit"
)

// cure is temperatures of a zone's coat: one reading, or a logger's file of them.
type cure struct {
	zone, temperature               string
	coat                            session.CoatFlags
	probe, depth                    string
	when                            session.MomentFlags
	csv, timeColumn, tempColumn, in string
	skipBad                         string
}

// NewCure makes hod cure.
func NewCure(env *session.Env) *cobra.Command {
	var r cure
	c := env.NewCommand("cure ZONE [TEMPERATURE]", "Write down a temperature of a coat, or a logger's file of them",
		"hod cure A3 31C", "hod cure A3 88F --probe p1 --depth 10mm --at 14:20",
		"hod cure A3 --csv logger.csv --probe p1 --time-column stamp --temperature-column T1 --unit C")
	c.Long = "A file has a line that names its columns; the unit is taken from the header or --unit. Either all of it is recorded or, " +
		"where a row cannot be taken, nothing, unless --skip-bad FILE says where to write what is left out."
	c.Args = terminal.RangeArgs(1, 2, "a zone and a temperature, or a zone and --csv")
	f := c.Flags()
	r.coat.Register(f)
	f.StringVar(&r.probe, "probe", "", "name of the probe (default: hand, or the file's name)")
	f.StringVar(&r.depth, "depth", "", "depth of the probe: 10mm")
	r.when.Register(f)
	f.StringVar(&r.csv, "csv", "", "a file of readings; - reads from standard input")
	f.StringVar(&r.timeColumn, "time-column", "", "the column of the times")
	f.StringVar(&r.tempColumn, "temperature-column", "", "the column of the temperatures")
	f.StringVar(&r.in, "unit", "", "C or F")
	f.StringVar(&r.skipBad, "skip-bad", "", "leave bad rows out and write them to this file")
	env.SureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		r.zone = args[0]
		if len(args) == 2 {
			r.temperature = strings.Replace(args[1], terminal.MinusSign, "-", 1)
		}
		if (r.temperature == "") == (r.csv == "") {
			return terminal.Usagef(
				"say one temperature, as in `hod cure %s 31C`, or a file with --csv, not both and not neither",
				terminal.Safe(r.zone))
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return r.run(c.Context(), s) })
	}
	return c
}

// cureKept is the document hod.cure.v1.
type cureKept struct {
	session.Kept
	Events   []string `json:"events"` // all that were written, for a file
	Zone     string   `json:"zone"`
	Face     string   `json:"face,omitempty"`
	Coat     int      `json:"coat"`
	Probe    string   `json:"probe"`
	Readings int      `json:"readings"`
	// readings of this probe and time that were in the record already, left out
	Known   int                `json:"known"`
	Missing int                `json:"missing"` // rows without a value, left out
	Skipped int                `json:"skipped"` // bad rows, left out and written elsewhere
	Lowest  *terminal.Quantity `json:"lowest,omitempty"`
	Highest *terminal.Quantity `json:"highest,omitempty"`
	From    terminal.Stamp     `json:"from"`
	To      terminal.Stamp     `json:"to"`
}

func (r cure) run(ctx context.Context, s *session.Session) error {
	zone, err := s.FindZone(r.zone)
	if err != nil {
		return err
	}
	body := event.CureReadings{Probe: r.probe}
	if body.Coat, err = s.FindPlacedCoat(zone, r.coat); err != nil {
		return err
	}
	if body.Depth, err = parse.OptionalFlag("depth", r.depth, unit.ParseLength); err != nil {
		return err
	}
	if r.csv != "" {
		return r.file(ctx, s, body)
	}
	t, err := unit.Said(r.temperature, unit.ParseTemperature)
	if err != nil {
		return err
	}
	at, _, err := r.when.Read(s)
	if err != nil {
		return err
	}
	if body.Probe == "" {
		body.Probe = "hand"
	}
	d := session.Draft{At: at, Typed: !at.IsZero()}
	if at.IsZero() {
		at = s.Env.Now()
	}
	body.Samples, body.Entered = []event.Reading{{At: at, Temperature: t.SI}}, t.Entered
	d.Body = body
	k, err := s.Keep(ctx, d)
	if err != nil {
		return err
	}
	if body = k.Body.(event.CureReadings); body.Samples[0].Temperature != t.SI {
		t = unit.Computed(body.Samples[0].Temperature)
	}
	k.Text = fmt.Sprintf("%s at %s (%s)%s", body.Coat, unit.Both(s.Units, t, unit.System.Temperature), body.Probe,
		s.AtTime(d.At))
	doc := r.doc(body)
	doc.Events, doc.Readings = []string{k.Event}, 1
	k.Next = cureWords(s, body.Coat, body.Probe)
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}

func (r cure) doc(body event.CureReadings) cureKept {
	doc := cureKept{Zone: string(body.Coat.Zone), Coat: body.Coat.Number, Probe: body.Probe}
	if body.Coat.Face != event.AnyFace {
		doc.Face = body.Coat.Face.String()
	}
	if n := len(body.Samples); n > 0 {
		doc.From, doc.To = terminal.Stamp(body.Samples[0].At), terminal.Stamp(body.Samples[n-1].At)
	}
	return doc
}

// cureWords says how old the coat is by the temperatures of one probe; never whether it may be stripped or loaded.
func cureWords(s *session.Session, coat event.Coat, probe string) string {
	z, _ := s.Fold.Zone(coat.Zone)
	for _, c := range z.Coats {
		if c.Coat.Coat != coat {
			continue
		}
		for _, cured := range s.Fold.CuresOf(c, s.Now) {
			if cured.Probe == probe && cured.EquivalentAge > 0 {
				return fmt.Sprintf("equivalent age %s at 20 °C by %s",
					unit.Duration(cured.EquivalentAge.Round(time.Minute)), probe)
			}
		}
	}
	return ""
}

// file records a logger's file.
func (r cure) file(ctx context.Context, s *session.Session, body event.CureReadings) error {
	t, err := s.Env.ReadTable(r.csv)
	if err != nil {
		return err
	}
	if body.Probe == "" {
		body.Probe = fileStem(r.csv)
	}
	stamp, temp, err := r.columns(t)
	if err != nil {
		return err
	}
	in, err := r.unitOf(s, t, temp)
	if err != nil {
		return err
	}
	samples, bad, missing := r.samples(t, stamp, temp, in, s)
	if len(bad) > 0 && r.skipBad == "" {
		return t.Refuse(bad)
	}
	samples, known := newReadings(s, body, samples)
	if len(samples) == 0 {
		return terminal.Refusedf("nothing to record from %s: %s", terminal.Safe(r.csv),
			nothingLeft(known, missing, len(bad)))
	}
	if len(bad) > 0 {
		if err := t.WriteSkipped(r.skipBad, bad); err != nil {
			return err
		}
	}
	var drafts []session.Draft
	for part := range slices.Chunk(samples, 256) {
		one := body
		one.Samples, one.Entered = part, fileStem(r.csv)
		drafts = append(drafts, session.Draft{Body: one, At: part[len(part)-1].At, Typed: true})
	}
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		t.RemoveSkipped(r.skipBad, bad)
		return err
	}
	return r.tellFile(s, body, all, known, missing, len(bad))
}

// columns are those of the times and of the temperatures.
func (r cure) columns(t terminal.Table) (stamp, temp int, err error) {
	stamp, err = t.Column("time-column", r.timeColumn, "time", "timestamp", "datetime", "date_time", "date", "at",
		"time_hour", "stamp", "when")
	if err != nil {
		return 0, 0, err
	}
	temp, err = t.Column("temperature-column", r.tempColumn, "temperature", "temp", "t", "temp_c", "temp_f",
		"temperature_c", "temperature_f", "celsius", "fahrenheit")
	if err != nil {
		return 0, 0, err
	}
	if stamp < 0 || temp < 0 {
		return 0, 0,
			terminal.Usagef(
				"%s: which column holds the %s? Its columns are %s; say --time-column and --temperature-column",
				terminal.Safe(r.csv), map[bool]string{true: "times", false: "temperatures"}[stamp < 0],
				terminal.Safe(strings.Join(t.Header, ", ")))
	}
	return stamp, temp, r.whichColumn(t, stamp, temp)
}

// tellFile says what of a file was kept, and what was left out of it.
func (r cure) tellFile(s *session.Session, body event.CureReadings, all []session.Kept, known, missing, bad int) error {
	var samples []event.Reading
	for _, one := range all {
		samples = append(samples, one.Body.(event.CureReadings).Samples...)
	}
	body.Samples = samples
	doc := r.doc(body)
	doc.Readings, doc.Known, doc.Missing, doc.Skipped = len(samples), known, missing, bad
	low, high := samples[0].Temperature, samples[0].Temperature
	for _, one := range samples {
		low, high = min(low, one.Temperature), max(high, one.Temperature)
	}
	lowest, highest := terminal.QuantityOf(unit.Computed(low), "C"), terminal.QuantityOf(unit.Computed(high), "C")
	doc.Lowest, doc.Highest = &lowest, &highest
	k := all[len(all)-1]
	for _, one := range all {
		doc.Events = append(doc.Events, one.Event)
	}
	k.Text = fmt.Sprintf("%s of %s by %s, %s to %s, %s to %s%s", terminal.Plural(len(samples), "reading", "readings"),
		body.Coat, body.Probe,
		unit.Both(s.Units, unit.Computed(low), unit.System.Temperature),
		unit.Both(s.Units, unit.Computed(high), unit.System.Temperature),
		s.FormatTime(samples[0].At), s.FormatTime(samples[len(samples)-1].At), leftOut(known, missing, bad))
	k.Next = cureWords(s, body.Coat, body.Probe)
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}

// whichColumn refuses a file with columns that are not understood, unless it was said which holds the temperatures.
func (r cure) whichColumn(t terminal.Table, stamp, temp int) error {
	if r.tempColumn != "" {
		return nil
	}
	var strange []string
	for i, h := range t.Header {
		if i != stamp && i != temp && (!slices.Contains(notNeeded, terminal.HeaderName(h)) || h == "" &&
			len(some(t, i, 1)) > 0) {
			strange = append(strange, called(t, i))
		}
	}
	if len(strange) == 0 {
		return nil
	}
	return terminal.Usagef(
		"%s: %s %s not understood; the temperatures would be taken from %q. Say which column holds them, --temperature-column %s, and the others are left out; nothing was recorded",
		terminal.Safe(t.Path), strings.Join(strange, ", "), terminal.IsOrAre(len(strange)),
		terminal.Safe(t.Header[temp]), terminal.ShellQuote(t.Header[temp]))
}

// unitOf is the unit of the temperatures, as said or as the header says. Where most of the values are none of a coat in
// it and all would be in the other, that is asked.
func (r cure) unitOf(s *session.Session, t terminal.Table, temp int) (string, error) {
	m := measure{
		name: "temperature", units: []string{"C", "F"}, known: plausible.Coat,
		put: putTemperature(func(w *event.Weather, t unit.Celsius) { w.Air = &t }),
	}
	values := values(t, temp)
	in, err := temperatureUnit(r.in, t.Header[temp])
	fits := m.fitting(values)
	if err != nil {
		if len(fits) == 1 && len(values) > 0 {
			err = terminal.Usagef("the column %q does not say its unit; its values, %s, fit %s only: add --unit %s",
				terminal.Safe(t.Header[temp]), spanOf(values), unitShown(fits[0]), fits[0])
		}
		return "", err
	}
	n := m.beyond(values, in)
	if s.Env.Sure || n == 0 || 2*n < len(values) || len(fits) == 0 {
		return in, nil
	}
	text := fmt.Sprintf("%s: the values of %s, %s, are beyond what the trade knows as %s (%s); as %s they fit",
		terminal.Safe(t.Path), called(t, temp), spanOf(values), unitShown(in), m.known.Name, unitShown(fits[0]))
	other, err := askOtherUnit(s.Env, text, fits[0], "--unit "+fits[0])
	if err == nil && other {
		in = fits[0]
	}
	return in, err
}

// samples reads the rows: sorted by time, missing values counted, the same time twice taken once where it says the
// same.
func (r cure) samples(t terminal.Table, stamp, temp int, in string, s *session.Session) (samples []event.Reading,
	bad []terminal.BadRow, missing int,
) {
	seen := map[int64]unit.Celsius{}
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
		if terminal.IsAbsent(row.Cells[temp]) {
			missing++
			continue
		}
		at, err := times.Read(row.Cells[stamp])
		if err != nil {
			refuse("%v", err)
			continue
		}
		v, err := terminal.TemperatureIn(row.Cells[temp], in)
		at = at.Truncate(time.Millisecond)
		switch before, twice := seen[at.UnixMilli()]; {
		case err != nil:
			refuse("%v", err)
		case v < -40 || v > 100:
			refuse("%s cannot be the temperature of a coat; it is from -40 °C to 100 °C", unit.Metric.Temperature(v))
		case !s.Env.Sure && (v < unit.Celsius(plausible.Coat.Lo) || v > unit.Celsius(plausible.Coat.Hi)):
			refuse("%s is no temperature of a coat that the trade knows (--sure takes it)", unit.Metric.Temperature(v))
		case at.After(s.Now.Add(terminal.ClockTolerance)):
			refuse("%s is still to come", row.Cells[stamp])
		case twice && before == v:
		case twice:
			refuse("%s is there twice, with two temperatures", row.Cells[stamp])
		default:
			seen[at.UnixMilli()] = v
			samples = append(samples, event.Reading{At: at, Temperature: v})
		}
	}
	slices.SortFunc(samples, func(a, b event.Reading) int { return a.At.Compare(b.At) })
	return samples, bad, missing
}

// newReadings leaves out what the record has already of the same probe in the same coat at the same time.
func newReadings(s *session.Session, body event.CureReadings, samples []event.Reading) ([]event.Reading, int) {
	have := map[int64]bool{}
	for _, r := range s.Fold.Records() {
		old, ok := r.Now.(event.CureReadings)
		if !ok || r.State == fold.SetAside || old.Probe != body.Probe || old.Coat != body.Coat {
			continue
		}
		for _, one := range old.Samples {
			have[r.OnSite(one.At).UnixMilli()] = true
		}
	}
	fresh := slices.DeleteFunc(slices.Clone(samples), func(r event.Reading) bool { return have[r.At.UnixMilli()] })
	return fresh, len(samples) - len(fresh)
}

// temperatureUnit is C or F: as said, else as the header says.
func temperatureUnit(said, header string) (string, error) {
	read := func(u string) string {
		switch strings.ToLower(strings.Trim(u, "°º. ")) {
		case "c", "degc", "celsius", "deg_c", "deg c":
			return "C"
		case "f", "degf", "fahrenheit", "deg_f", "deg f":
			return "F"
		}
		return ""
	}
	if said != "" {
		if u := read(said); u != "" {
			return u, nil
		}
		return "", terminal.Usagef("--unit cannot be %q; write C or F", terminal.Safe(said))
	}
	for _, u := range []string{terminal.HeaderUnit(header), terminal.HeaderName(header)} {
		if r := read(u); r != "" {
			return r, nil
		}
	}
	return "", terminal.Usagef("the column %q does not say its unit; add --unit C or --unit F", terminal.Safe(header))
}

func leftOut(known, missing, bad int) string {
	text := ""
	if known > 0 {
		text += fmt.Sprintf(", %s known already left out", terminal.Plural(known, "reading", "readings"))
	}
	if missing > 0 {
		text += fmt.Sprintf(", %s without a value left out", terminal.Plural(missing, "row", "rows"))
	}
	if bad > 0 {
		text += fmt.Sprintf(", %s skipped", terminal.Plural(bad, "bad row", "bad rows"))
	}
	return text
}

func nothingLeft(known, missing, bad int) string {
	if text := leftOut(known, missing, bad); text != "" {
		return strings.TrimPrefix(text, ", ")
	}
	return "it has no rows after its header"
}

// fileStem is a file's name without folders and ending.
func fileStem(path string) string {
	if path == "-" {
		return "standard input"
	}
	if i := strings.LastIndexAny(path, `/\`); i >= 0 {
		path = path[i+1:]
	}
	if i := strings.LastIndex(path, "."); i > 0 {
		path = path[:i]
	}
	return path
}
