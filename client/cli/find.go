package cli

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

	"hod/internal/confusable"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// planned refuses names on a device that no plan has reached: there is nothing to compare them with.
func (s *site) planned() error {
	if len(s.plan.Zones) == 0 && len(s.plan.Mixes) == 0 {
		return notFound("no plan of site %s has come to this device yet; `hod sync` fetches it", s.device.Site)
	}
	return nil
}

// pick finds a name as it was planned, in any case.
func pick[N ~string](what, word string, names []N) (N, error) {
	for _, n := range names {
		if string(n) == word {
			return n, nil
		}
	}
	var fit []N
	for _, n := range names {
		if strings.EqualFold(string(n), word) {
			fit = append(fit, n)
		}
	}
	switch len(fit) {
	case 1:
		return fit[0], nil
	case 0:
		if near, which := confusable.Stray(word, names); near != "" {
			return "", notFound("no %s %q is planned, and it looks like %s: %s", what, safe(word), near, which)
		}
		return "", notFound("no %s %q is planned%s", what, safe(word), offer(word, names))
	}
	return "", notFound("%s %q fits %s; write it as it is planned", what, safe(word), join(fit))
}

func join[N ~string](names []N) string {
	all := make([]string, len(names))
	for i, n := range names {
		all[i] = string(n)
	}
	return strings.Join(all, ", ")
}

func (s *site) findZone(word string) (event.Zone, error) {
	if err := s.planned(); err != nil {
		return "", err
	}
	return pick("zone", word, s.plan.ZoneNames())
}

func (s *site) isZone(word string) bool {
	_, err := pick("zone", word, s.plan.ZoneNames())
	return err == nil
}

// findZones finds the zones that a line begins with, W5 W6 or W5,W6, and gives the words behind them. Words that name a
// zone, or are written as one, are never taken for what follows: a cover, a method.
func (s *site) findZones(args []string) (zones []event.Zone, rest string, err error) {
	n := 0
	for ; n < len(args); n++ {
		parts := commaList(args[n : n+1])
		named := slices.ContainsFunc(parts, s.isZone) || slices.ContainsFunc(parts, s.likeZone)
		if n > 0 && (!named || strings.Contains(args[n], " ")) { // several words in quotes are no list of zones
			break
		}
		if len(parts) == 0 {
			return nil, "", usage("%q names no zone", safe(args[n]))
		}
		for _, word := range parts {
			z, err := s.findZone(word)
			if err != nil {
				return nil, "", err
			}
			if !slices.Contains(zones, z) {
				zones = append(zones, z)
			}
		}
	}
	for _, word := range args[n:] {
		if parts := commaList([]string{word}); !strings.Contains(word, " ") && slices.ContainsFunc(parts, s.isZone) {
			return nil, "", usage("%s is a zone, and zones come first: %s %s …; where it belongs to the words behind them, put these in quotes",
				safe(word), join(zones), safe(word))
		}
	}
	return zones, strings.Join(args[n:], " "), nil
}

// likeZone reports whether a word is written as the names of zones here are, letters and figures in the same order: W66
// where there are W1 to W18.
func (s *site) likeZone(word string) bool {
	shape := shapeOf(word)
	return strings.HasPrefix(shape, "a") && strings.Contains(shape, "9") && slices.ContainsFunc(s.plan.ZoneNames(), func(z event.Zone) bool { return shapeOf(string(z)) == shape })
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

func (s *site) findMix(word string) (*fold.Mix, error) {
	if err := s.planned(); err != nil {
		return nil, err
	}
	name, err := pick("mix", word, s.plan.MixNames())
	if err != nil {
		return nil, err
	}
	return s.plan.Mixes[name], nil
}

func (s *site) findCrew(word string) (event.Crew, error) {
	if len(s.plan.Crews) == 0 {
		return event.Crew(word), nil // a plan need not name its crews
	}
	return pick("crew", word, slices.Sorted(maps.Keys(s.plan.Crews)))
}

// knownCrew is a crew that is asked about: a planned one, or one in whose name something was written.
func (s *site) knownCrew(word string) (event.Crew, error) {
	crews := slices.Sorted(maps.Keys(s.plan.Crews))
	for _, r := range s.fold.Records() {
		if r.Crew != "" && !slices.Contains(crews, r.Crew) {
			crews = append(crews, r.Crew)
		}
	}
	for _, c := range crews {
		if strings.EqualFold(string(c), word) {
			return c, nil
		}
	}
	return "", notFound("no crew %q is planned or wrote anything here%s", safe(word), offer(word, crews))
}

// findMaterial finds a material of the mixes or of the stock; one that nobody has named yet is taken as it is, with a
// hint where it is like another.
func (s *site) findMaterial(word string) event.Material {
	known := s.fold.Materials()
	if m, err := pick("material", word, known); err == nil {
		return m
	}
	all := make([]string, len(known))
	for i, m := range known {
		all[i] = string(m)
	}
	if near := nearest(word, all); near != "" {
		s.env.hint("note: %s is a new material here; if you meant %s, `hod undo` and write that", word, near)
	} else if len(all) > 0 {
		s.env.hint("note: %s is a new material here: no mix and no delivery named it before", word)
	}
	return event.Material(word)
}

// coatWords is how a command was told which coat of a zone.
type coatWords struct {
	face   string
	number int // 0: not said
}

// findCoat finds the coat of a zone that is meant: the only one that fits what was said; where several fit, the one that
// is under way or next, if that is plain, or is on the face that the crew placed on last.
func (s *site) findCoat(zone event.Zone, said coatWords) (event.Coat, error) {
	face, err := event.ParseFace(said.face)
	if err != nil {
		return event.Coat{}, flagged("face", err)
	}
	z, _ := s.fold.Zone(zone)
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
		return event.Coat{}, notFound("zone %s has no coat in the plan; the foreman plans one, `hod zone coat %s outer 1 12mm MIX`", zone, zone)
	case len(fit) == 0:
		return event.Coat{}, notFound("zone %s has no such coat; it has %s", zone, coatList(z.Coats))
	case len(open) == 1:
		return open[0], nil
	}
	if face, ok := s.lastFace(); ok {
		for _, c := range open {
			if c.Face == face {
				return c, nil
			}
		}
	}
	return event.Coat{}, notFound("several coats of zone %s fit; say --face and --coat: it has %s", zone, coatList(z.Coats))
}

// lastFace is the face that this device's crew last placed on: a crew stays on one side of the shell for a while.
func (s *site) lastFace() (event.Face, bool) {
	var last fold.Part
	for _, b := range s.fold.Batches() {
		for _, p := range b.Parts {
			if b.ID.Crew == s.device.Crew && !p.To.Before(last.To) {
				last = p
			}
		}
	}
	return last.Coat.Face, last.Record != nil
}

// placedCoat is findCoat for what concerns material that is there already: the coat last placed in, unless one was said.
func (s *site) placedCoat(zone event.Zone, said coatWords) (event.Coat, error) {
	z, _ := s.fold.Zone(zone)
	if said == (coatWords{}) {
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
	return s.findCoat(zone, said)
}

func coatList(coats []fold.CoatIs) string {
	var all []string
	for _, c := range coats {
		all = append(all, c.Coat.Coat.String())
	}
	return strings.Join(all, ", ")
}

// findBatch finds a batch by the name that people write; day is that of a batch without one, empty for today.
func (s *site) findBatch(word, day string) (*fold.Batch, error) {
	if day == "" {
		day = s.today()
	}
	crew := s.device.Crew
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
		return nil, usage("%v", err)
	}
	if b, ok := s.fold.Batch(id); ok {
		return b, nil
	}
	return nil, notFound("no batch %s is in the record on this device%s", id, s.otherBatches(id))
}

// onlyBatch is the one of that number on a day, for a device that belongs to no crew.
func (s *site) onlyBatch(word, day string) (*fold.Batch, error) {
	n, err := strconv.Atoi(word)
	if err != nil {
		return nil, nil
	}
	var fit []*fold.Batch
	var names []string
	for _, b := range s.fold.Batches() {
		if b.ID.Day == day && b.ID.Number == n {
			fit, names = append(fit, b), append(names, b.ID.String())
		}
	}
	switch len(fit) {
	case 0:
		return nil, notFound("no crew has a batch %d on %s; write it in full, as north/%s/%d", n, day, day, n)
	case 1:
		return fit[0], nil
	}
	return nil, notFound("batch %d of %s is %s; write which", n, day, strings.Join(names, " and "))
}

// otherBatches offers what there is instead.
func (s *site) otherBatches(id event.Batch) string {
	var same, days []string
	for _, b := range s.fold.Batches() {
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
func (s *site) lastBatch() (*fold.Batch, error) {
	if s.device.Crew == "" {
		return nil, usage("this device belongs to no crew: say which batch, as in north/7")
	}
	var last *fold.Batch
	for _, b := range s.fold.Batches() {
		if b.ID.Crew == s.device.Crew && (last == nil || !b.Ready.Before(last.Ready)) {
			last = b
		}
	}
	if last == nil {
		return nil, notFound("crew %s has no batch in the record yet; write it first, `hod batch MIX`, or name another's, north/7", s.device.Crew)
	}
	return last, nil
}

// shortBatch is a batch as its own crew says it on its day.
func (s *site) shortBatch(id event.Batch) string {
	switch {
	case id.Day != s.today():
		return id.String()
	case id.Crew != s.device.Crew:
		return fmt.Sprintf("%s/%d", id.Crew, id.Number)
	}
	return strconv.Itoa(id.Number)
}

// findEvent finds an event by its name; a number alone is one of this device's own.
func (s *site) findEvent(word string) (*fold.Record, error) {
	if _, err := strconv.ParseUint(word, 10, 64); err == nil {
		word = string(s.device.Name) + "/" + word
	}
	name, err := event.ParseName(word)
	if err != nil {
		return nil, usage("%v", err)
	}
	s.fold.Records()
	if r, ok := s.fold.Record(name); ok {
		return r, nil
	}
	var devices []string
	last := uint64(0)
	for _, r := range s.fold.Records() {
		if !slices.Contains(devices, string(r.Device)) {
			devices = append(devices, string(r.Device))
		}
		if r.Device == name.Device {
			last = max(last, r.Seq)
		}
	}
	if last > 0 {
		return nil, notFound("there is no event %s here; the record of %s on this device ends at %s/%d", name, name.Device, name.Device, last)
	}
	return nil, notFound("there is no event %s here: no device %s is in the record%s", name, name.Device, offer(string(name.Device), devices))
}

// readPart reads how much of a batch: a share (1/2, 40%), a volume (40l), or all and rest for what is left.
func readPart(word string) (event.Part, error) {
	switch strings.ToLower(strings.TrimSpace(word)) {
	case "", "all", "rest", "the rest":
		return event.Part{}, nil
	}
	share, err := unit.Said(word, unit.ParseShare)
	if err == nil {
		return event.Part{Share: &share}, nil
	}
	volume, other := unit.Said(word, unit.ParseVolume)
	if other == nil {
		return event.Part{Volume: &volume}, nil
	}
	if strings.ContainsFunc(word, func(r rune) bool { return r >= 'A' && r != '½' && r != '¼' && r != '¾' }) {
		return event.Part{}, fmt.Errorf("how much of the batch: %w; a share is written 1/2 or 40%%", other)
	}
	return event.Part{}, fmt.Errorf("how much of the batch: %w; a volume is written 40l or 1.5ft3", err)
}

// isPart says whether a word says how much.
func isPart(word string) bool {
	_, err := readPart(word)
	return err == nil
}

// maybe reads a flag's value where one was given.
func maybe[Q any](name, value string, parse func(string) (Q, error)) (*unit.As[Q], error) {
	if value == "" {
		return nil, nil
	}
	q, err := unit.Said(value, parse)
	if err != nil {
		return nil, flagged(name, err)
	}
	return &q, nil
}

// readTimes reads the values of flags that are times; empty ones stay zero.
func (s *site) readTimes(on string, flags ...timeFlag) error {
	for _, f := range flags {
		if f.value == "" {
			continue
		}
		t, err := s.when(f.value, on)
		if err != nil {
			var e *Error
			if errors.As(err, &e) {
				return usage("--%s: %s", f.name, e.Msg)
			}
			return err
		}
		*f.to = t
	}
	return nil
}

type timeFlag struct {
	name, value string
	to          *time.Time
}

// onDay is the date that --on says, empty where it says none.
func (s *site) onDay(on string) (string, error) {
	if on == "" {
		return "", nil
	}
	day, err := s.reader().dayOf(on)
	if err != nil {
		return "", err
	}
	if date := day.Format(time.DateOnly); date <= s.today() {
		return date, nil
	}
	return "", usage("--on: %s is still to come; today is %s", safe(on), s.today())
}

// flags are those by which a command is told which coat is meant.
func (w *coatWords) flags(f *pflag.FlagSet) {
	f.IntVar(&w.number, "coat", 0, "number of the coat (default: the one under way)")
	f.StringVar(&w.face, "face", "", "face of the shell: outer or inner")
}

// commaList splits values that were given with commas between them, or one a flag. An inch mark is not a quote.
func commaList(values []string) []string {
	var all []string
	for _, v := range values {
		for part := range strings.SplitSeq(v, ",") {
			if part = strings.TrimSpace(part); part != "" {
				all = append(all, part)
			}
		}
	}
	return all
}

// moment is how a command that happens at one time is told when.
type moment struct{ at, on string }

func (m *moment) flags(f *pflag.FlagSet) {
	f.StringVar(&m.at, "at", "", "when it was: 10:42, -20m, \"yesterday 16:10\" (default: now)")
	f.StringVar(&m.on, "on", "", "the day of that time (default: today)")
}

// read gives the time said, zero for now, and the day said, empty for today.
func (m moment) read(s *site) (at time.Time, on string, err error) {
	if on, err = s.onDay(m.on); err != nil {
		return time.Time{}, "", err
	}
	if err = s.readTimes(on, timeFlag{"at", m.at, &at}); err != nil {
		return time.Time{}, "", err
	}
	if m.at == "" && on != "" && on != s.today() {
		return time.Time{}, "", usage("--on %s needs the time on that day: --at 10:42", on)
	}
	return at, on, nil
}

// said ends a line with the time, where one was given.
func (s *site) said(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return ", at " + s.clock(at)
}
