package session

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/pflag"

	"hod/client/parse"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/spelling"
)

// planned refuses names on a device that no plan has reached: there is nothing to compare them with.
func (s *Session) planned() error {
	if len(s.Plan.Zones) == 0 && len(s.Plan.Mixes) == 0 {
		return terminal.NotFoundf("no plan of site %s has come to this device yet; `hod sync` fetches it",
			s.Device.Site)
	}
	return nil
}

// FindZone finds a planned zone by its name, in any case.
func (s *Session) FindZone(word string) (event.Zone, error) {
	if err := s.planned(); err != nil {
		return "", err
	}
	return terminal.PickName("zone", word, s.Plan.ZoneNames())
}

// IsZone reports whether a word names a planned zone.
func (s *Session) IsZone(word string) bool {
	_, err := terminal.PickName("zone", word, s.Plan.ZoneNames())
	return err == nil
}

// FindZones finds the zones that a line begins with, W5 W6 or W5,W6, and gives the words behind them. Words that name a
// zone, or are written as one, are never taken for what follows: a cover, a method.
func (s *Session) FindZones(args []string) (zones []event.Zone, rest string, err error) {
	n := 0
	for ; n < len(args); n++ {
		parts := parse.List(args[n : n+1])
		named := slices.ContainsFunc(parts, s.IsZone) || slices.ContainsFunc(parts, s.likeZone)
		if n > 0 && (!named || strings.Contains(args[n], " ")) { // several words in quotes are no list of zones
			break
		}
		if len(parts) == 0 {
			return nil, "", terminal.Usagef("%q names no zone", terminal.Safe(args[n]))
		}
		for _, word := range parts {
			z, err := s.FindZone(word)
			if err != nil {
				return nil, "", err
			}
			if !slices.Contains(zones, z) {
				zones = append(zones, z)
			}
		}
	}
	for _, word := range args[n:] {
		if parts := parse.List([]string{word}); !strings.Contains(word, " ") && slices.ContainsFunc(parts, s.IsZone) {
			return nil, "", terminal.Usagef(
				"%s is a zone, and zones come first: %s %s …; where it belongs to the words behind them, put these in quotes",
				terminal.Safe(word), terminal.JoinNames(zones), terminal.Safe(word))
		}
	}
	return zones, strings.Join(args[n:], " "), nil
}

// likeZone reports whether a word is written as the names of zones here are, letters and figures in the same order: W66
// where there are W1 to W18.
func (s *Session) likeZone(word string) bool {
	shape := shapeOf(word)
	return strings.HasPrefix(shape, "a") && strings.Contains(shape, "9") &&
		slices.ContainsFunc(s.Plan.ZoneNames(), func(z event.Zone) bool { return shapeOf(string(z)) == shape })
}

// shapeOf is a word with a for each run of letters and 9 for each run of figures.
func shapeOf(word string) string {
	var shape []rune
	for _, r := range word {
		switch {
		case unicode.IsLetter(r):
			r = 'a'
		case unicode.IsDigit(r):
			r = '9'
		}
		if n := len(shape); n == 0 || shape[n-1] != r || r != 'a' && r != '9' {
			shape = append(shape, r)
		}
	}
	return string(shape)
}

// FindMix finds a planned mix by its name, in any case.
func (s *Session) FindMix(word string) (*fold.Mix, error) {
	if err := s.planned(); err != nil {
		return nil, err
	}
	name, err := terminal.PickName("mix", word, s.Plan.MixNames())
	if err != nil {
		return nil, err
	}
	return s.Plan.Mixes[name], nil
}

// FindCrew finds a planned crew by its name, in any case; a plan that names no crews takes any.
func (s *Session) FindCrew(word string) (event.Crew, error) {
	if len(s.Plan.Crews) == 0 {
		return event.Crew(word), nil // a plan need not name its crews
	}
	return terminal.PickName("crew", word, slices.Sorted(maps.Keys(s.Plan.Crews)))
}

// KnownCrew is a crew that is asked about: a planned one, or one in whose name something was written.
func (s *Session) KnownCrew(word string) (event.Crew, error) {
	crews := slices.Sorted(maps.Keys(s.Plan.Crews))
	for _, r := range s.Fold.Records() {
		if r.Crew != "" && !slices.Contains(crews, r.Crew) {
			crews = append(crews, r.Crew)
		}
	}
	for _, c := range crews {
		if strings.EqualFold(string(c), word) {
			return c, nil
		}
	}
	return "", terminal.NotFoundf("no crew %q is planned or wrote anything here%s", terminal.Safe(word),
		terminal.Suggest(word, crews))
}

// FindMaterial finds a material of the mixes or of the stock; one that nobody has named yet is taken as it is, with a
// hint where it is like another.
func (s *Session) FindMaterial(word string) event.Material {
	known := s.Fold.Materials()
	if m, err := terminal.PickName("material", word, known); err == nil {
		return m
	}
	all := make([]string, len(known))
	for i, m := range known {
		all[i] = string(m)
	}
	if near := spelling.Nearest(word, all); near != "" {
		s.Env.Hintf("note: %s is a new material here; if you meant %s, `hod undo` and write that", word, near)
	} else if len(all) > 0 {
		s.Env.Hintf("note: %s is a new material here: no mix and no delivery named it before", word)
	}
	return event.Material(word)
}

// CoatFlags is how a command was told which coat of a zone.
type CoatFlags struct {
	Face   string
	number int // 0: not said
}

// FindCoat finds the coat of a zone that is meant: the only one that fits what was said; where several fit, the one
// that is under way or next, if that is plain, or is on the face that the crew placed on last.
func (s *Session) FindCoat(zone event.Zone, said CoatFlags) (event.Coat, error) {
	face, err := event.ParseFace(said.Face)
	if err != nil {
		return event.Coat{}, terminal.InFlag("face", err)
	}
	z, _ := s.Fold.Zone(zone)
	var fit, open []event.Coat
	for _, c := range z.Coats {
		id := c.Coat.Coat
		if face != event.AnyFace && id.Face != face || said.number != 0 && id.Number != said.number {
			continue
		}
		fit = append(fit, id)
		if !c.Done() && !slices.ContainsFunc(open, func(o event.Coat) bool { return o.Face == id.Face }) {
			open = append(open, id) // the lowest of its face that still takes material
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) == 0 && len(z.Coats) == 0:
		return event.Coat{}, terminal.NotFoundf(
			"zone %s has no coat in the plan; the foreman plans one, `hod zone coat %s outer 1 12mm MIX`", zone, zone)
	case len(fit) == 0:
		return event.Coat{}, terminal.NotFoundf("zone %s has no such coat; it has %s", zone, coatList(z.Coats))
	case len(open) == 1:
		return open[0], nil
	}
	if face, ok := s.Fold.LastFace(s.Device.Crew); ok { // a crew stays on one side of the shell for a while
		for _, c := range open {
			if c.Face == face {
				return c, nil
			}
		}
	}
	return event.Coat{}, terminal.NotFoundf("several coats of zone %s fit; say --face and --coat: it has %s", zone,
		coatList(z.Coats))
}

// FindPlacedCoat is findCoat for what concerns material that is there already: the coat last placed in, unless one was
// said.
func (s *Session) FindPlacedCoat(zone event.Zone, said CoatFlags) (event.Coat, error) {
	z, _ := s.Fold.Zone(zone)
	if said == (CoatFlags{}) {
		var last fold.CoatIs
		for _, c := range z.Coats {
			if len(c.Placed) > 0 && c.Last.After(last.Last) {
				last = c
			}
		}
		if len(last.Placed) > 0 {
			return last.Coat.Coat, nil
		}
	}
	return s.FindCoat(zone, said)
}

func coatList(coats []fold.CoatIs) string {
	var all []string
	for _, c := range coats {
		all = append(all, c.Coat.Coat.String())
	}
	return strings.Join(all, ", ")
}

// FindBatch finds a batch by the name that people write; day is that of a batch without one, empty for today.
func (s *Session) FindBatch(word, day string) (*fold.Batch, error) {
	if day == "" {
		day = s.Today()
	}
	crew := s.Device.Crew
	if crew == "" && !strings.Contains(word, "/") {
		found, err := s.onlyBatch(word, day)
		if found != nil || err != nil {
			return found, err
		}
	}
	if crew == "" {
		crew = "none"
	}
	id, err := event.ParseBatch(word, crew, day)
	if err != nil {
		return nil, terminal.Usagef("%v", err)
	}
	if b, ok := s.Fold.Batch(id); ok {
		return b, nil
	}
	return nil, terminal.NotFoundf("no batch %s is in the record on this device%s", id, s.otherBatches(id))
}

// onlyBatch is the one of that number on a day, for a device that belongs to no crew.
func (s *Session) onlyBatch(word, day string) (*fold.Batch, error) {
	n, err := strconv.Atoi(word)
	if err != nil {
		return nil, nil
	}
	var fit []*fold.Batch
	var names []string
	for _, b := range s.Fold.Batches() {
		if b.ID.Day == day && b.ID.Number == n {
			fit, names = append(fit, b), append(names, b.ID.String())
		}
	}
	switch len(fit) {
	case 0:
		return nil, terminal.NotFoundf("no crew has a batch %d on %s; write it in full, as north/%s/%d", n, day, day, n)
	case 1:
		return fit[0], nil
	}
	return nil, terminal.NotFoundf("batch %d of %s is %s; write which", n, day, strings.Join(names, " and "))
}

// otherBatches offers what there is instead.
func (s *Session) otherBatches(id event.Batch) string {
	var same, days []string
	for _, b := range s.Fold.Batches() {
		if b.ID.Crew == id.Crew && b.ID.Day == id.Day {
			same = append(same, strconv.Itoa(b.ID.Number))
		}
		if b.ID.Number == id.Number && b.ID != id {
			days = append(days, b.ID.String())
		}
	}
	switch {
	case len(same) > 0:
		return fmt.Sprintf("; crew %s has %s that day", id.Crew, strings.Join(same, ", "))
	case len(days) > 0:
		return "; did you mean " + days[len(days)-1] + "?"
	}
	return fmt.Sprintf("; crew %s has none that day", id.Crew)
}

// lastBatch is the batch that this device's crew mixed last.
func (s *Session) lastBatch() (*fold.Batch, error) {
	if s.Device.Crew == "" {
		return nil, terminal.Usagef("this device belongs to no crew: say which batch, as in north/7")
	}
	last, ok := s.Fold.LastBatch(s.Device.Crew)
	if !ok {
		return nil, terminal.NotFoundf(
			"crew %s has no batch in the record yet; write it first, `hod batch MIX`, or name another's, north/7",
			s.Device.Crew)
	}
	return last, nil
}

// ShortBatch is a batch as its own crew says it on its day.
func (s *Session) ShortBatch(id event.Batch) string {
	switch {
	case id.Day != s.Today():
		return id.String()
	case id.Crew != s.Device.Crew:
		return fmt.Sprintf("%s/%d", id.Crew, id.Number)
	}
	return strconv.Itoa(id.Number)
}

// FindEvent finds an event by its name; a number alone is one of this device's own.
func (s *Session) FindEvent(word string) (*fold.Record, error) {
	if _, err := strconv.ParseUint(word, 10, 64); err == nil {
		word = string(s.Device.Name) + "/" + word
	}
	name, err := event.ParseName(word)
	if err != nil {
		return nil, terminal.Usagef("%v", err)
	}
	if r, ok := s.Fold.Record(name); ok {
		return r, nil
	}
	if s.Fold.Excluded(name) {
		return nil, terminal.NotFoundf("%s does not count: what %s", name, s.excluded(name.Device))
	}
	var devices []string
	last := uint64(0)
	for _, r := range s.Fold.Records() {
		if !slices.Contains(devices, string(r.Device)) {
			devices = append(devices, string(r.Device))
		}
		if r.Device == name.Device {
			last = max(last, r.Seq)
		}
	}
	if last > 0 {
		return nil, terminal.NotFoundf("there is no event %s here; the record of %s on this device ends at %s/%d", name,
			name.Device, name.Device, last)
	}
	return nil, terminal.NotFoundf("there is no event %s here: no device %s is in the record%s", name, name.Device,
		terminal.Suggest(string(name.Device), devices))
}

// excluded says of a device from where on what it wrote does not count, by which event, and why.
func (s *Session) excluded(d event.Device) string {
	x := s.Fold.Exclusions()[d]
	by := x.By.Name.String()
	if b, ok := x.By.Body.(event.DeviceExcluded); ok && b.Why != "" {
		by += ": " + terminal.Safe(b.Why)
	}
	return fmt.Sprintf("%s wrote is excluded from its event %d on (%s)", d, x.From, by)
}

// HintExcluded says of whom what does not count: no flag, board or figure rests on it.
func (s *Session) HintExcluded() {
	for _, d := range slices.Sorted(maps.Keys(s.Fold.Exclusions())) {
		s.Env.Hintf("note: what %s; nothing here rests on it", s.excluded(d))
	}
}

// ReadTimes reads the values of flags that are times; empty ones stay zero.
func (s *Session) ReadTimes(on string, flags ...TimeFlag) error {
	for _, f := range flags {
		if f.Value == "" {
			continue
		}
		t, err := s.ParseTime(f.Value, on)
		if err != nil {
			var e *terminal.Error
			if errors.As(err, &e) {
				return terminal.Usagef("--%s: %s", f.Name, e.Msg)
			}
			return err
		}
		*f.To = t
	}
	return nil
}

// TimeFlag is a flag whose value is a time, and where that goes.
type TimeFlag struct {
	Name, Value string
	To          *time.Time
}

// OnDay is the date that --on says, empty where it says none.
func (s *Session) OnDay(on string) (string, error) {
	if on == "" {
		return "", nil
	}
	day, err := s.TimeReader().Day(on)
	if err != nil {
		return "", err
	}
	if date := day.Format(time.DateOnly); date <= s.Today() {
		return date, nil
	}
	return "", terminal.Usagef("--on: %s is still to come; today is %s", terminal.Safe(on), s.Today())
}

// Register are those by which a command is told which coat is meant.
func (w *CoatFlags) Register(f *pflag.FlagSet) {
	f.IntVar(&w.number, "coat", 0, "number of the coat (default: the one under way)")
	f.StringVar(&w.Face, "face", "", "face of the shell: outer or inner")
}

// MomentFlags is how a command that happens at one time is told when.
type MomentFlags struct{ at, on string }

// Register gives a command the flags --at and --on.
func (m *MomentFlags) Register(f *pflag.FlagSet) {
	f.StringVar(&m.at, "at", "", "when it was: 10:42, -20m, \"yesterday 16:10\" (default: now)")
	f.StringVar(&m.on, "on", "", "the day of that time (default: today)")
}

// Read gives the time said, zero for now, and the day said, empty for today.
func (m MomentFlags) Read(s *Session) (at time.Time, on string, err error) {
	if on, err = s.OnDay(m.on); err != nil {
		return time.Time{}, "", err
	}
	if err = s.ReadTimes(on, TimeFlag{"at", m.at, &at}); err != nil {
		return time.Time{}, "", err
	}
	if m.at == "" && on != "" && on != s.Today() {
		return time.Time{}, "", terminal.Usagef("--on %s needs the time on that day: --at 10:42", on)
	}
	return at, on, nil
}

// AtTime ends a line with the time, where one was given.
func (s *Session) AtTime(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return ", at " + s.FormatTime(at)
}

// FindConstituent finds a constituent of a mix by its name, in any case.
func FindConstituent(m *fold.Mix, word string) (event.Constituent, error) {
	var names []event.Material
	for _, c := range m.Constituents {
		names = append(names, c.Name)
		if strings.EqualFold(string(c.Name), word) {
			return c, nil
		}
	}
	return event.Constituent{}, terminal.NotFoundf("mix %s has no %q%s", m.MixPlanned.Mix, terminal.Safe(word),
		terminal.Suggest(word, names))
}

// ParseDate of a day that was asked for; today if none was.
func (s *Session) ParseDate(args []string) (string, error) {
	if len(args) == 0 {
		return s.Today(), nil
	}
	day, err := s.TimeReader().Day(args[0])
	if err != nil {
		return "", terminal.Usagef("%q is not a date; one looks like %s or %s, or say today or yesterday",
			terminal.Safe(args[0]), s.Today(), s.TimeReader().ExampleDay())
	}
	date := day.Format(time.DateOnly)
	if date > s.Today() { // dates of this form sort as they follow each other
		return "", terminal.Usagef("%s is still to come; today is %s. What is left to do then is in `hod forecast`",
			date, s.Today())
	}
	return date, nil
}

// ResolveBatch is the batch named, or the crew's last.
func (s *Session) ResolveBatch(word, on string) (*fold.Batch, error) {
	if word == "" {
		return s.lastBatch()
	}
	return s.FindBatch(word, on)
}

// FindSide is a side of a zone by its name or by the neighbour across it; none for no word.
func (s *Session) FindSide(zone event.Zone, word string) (string, error) {
	if word == "" {
		return "", nil
	}
	z := s.Fold.Plan().Zones[zone]
	if z == nil || z.Surface == nil {
		return "", terminal.Usagef(
			"the plan does not say where the sides of zone %s lie, so none can be named: plan its sides, outline or ring", zone)
	}
	if _, ok := z.Surface.Side(word); ok {
		return word, nil
	}
	if s.IsZone(word) {
		other, err := s.FindZone(word)
		if err != nil {
			return "", err
		}
		if side, ok := z.SideTo(other); ok {
			return side, nil
		}
		return "", terminal.Usagef("the plan does not say on which side of %s its edge to %s lies; name a side: %s",
			zone, other, strings.Join(z.Surface.Sides(), ", "))
	}
	return "", terminal.Usagef("zone %s has no side %q; it has %s", zone, terminal.Safe(word),
		strings.Join(z.Surface.Sides(), ", "))
}

// CoatState is what the record says of a coat; false if no such coat is planned.
func (s *Session) CoatState(coat event.Coat) (fold.CoatIs, bool) {
	z, _ := s.Fold.Zone(coat.Zone)
	for _, c := range z.Coats {
		if c.CoatPlanned.Coat == coat {
			return c, true
		}
	}
	return fold.CoatIs{}, false
}
