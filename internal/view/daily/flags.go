package daily

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/fold"
	"hod/internal/trade/weather"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

// Flags is what the record shows that a person should see.
type Flags struct {
	Site  string    `json:"site"`
	AsOf  time.Time `json:"as_of"`
	Units string    `json:"units"`
	Flags []Flag    `json:"flags"` // the open ones, or all
	// Open and Answered count all of them, shown or not.
	Open     int32 `json:"open"`
	Answered int32 `json:"answered"`
}

// Flag is one such thing with its evidence; open until answered. Facts of one kind and one cause are one flag with a
// line each; the flag's own words are then of all of them, and its evidence, formula, limit and source of the first.
type Flag struct {
	ID       string    `json:"id"`      // short, to be typed: the beginning of full_id that no other flag or line has
	FullID   string    `json:"full_id"` // as an answer names it; stays when others come
	Code     string    `json:"code"`    // cold-joint, drying, water-limit, set-aside, …
	Grave    bool      `json:"grave"`
	Subject  string    `json:"subject"` // the zone, batch, device or material that it is about
	Text     string    `json:"text"`
	Brief    string    `json:"brief,omitempty"` // in a few words, beside code and subject
	Since    time.Time `json:"since"`
	Open     bool      `json:"open"`
	Answer   string    `json:"answer,omitempty"`
	Answerer string    `json:"answerer,omitempty"`
	Note     string    `json:"note,omitempty"` // what became of an answer that does not close it
	Evidence []Fact    `json:"evidence,omitempty"`
	Formula  string    `json:"formula,omitempty"`
	Limit    string    `json:"limit,omitempty"`
	Source   string    `json:"source,omitempty"`
	Events   []string  `json:"events,omitempty"` // the events that it rests on
	Caution  string    `json:"caution,omitempty"`
	Do       []string  `json:"do,omitempty"` // what to type about it
	// Lines are the single facts, the worst first or else by time, where it is of a kind that may have several: also
	// where it has one so far.
	Lines   []FlagLine `json:"lines,omitempty"`
	Because string     `json:"because,omitempty"` // why a person passed the rule over, and in which event
	// Allowed is the limit as numbers; nil where it is none that a number says.
	Allowed *Allowed `json:"allowed,omitempty"`
}

// FlagLine is one fact of a flag. It may be answered alone.
type FlagLine struct {
	ID       string    `json:"id"`
	FullID   string    `json:"full_id"`
	Grave    bool      `json:"grave"`
	Subject  string    `json:"subject"`
	Text     string    `json:"text"`
	Brief    string    `json:"brief,omitempty"` // the text beside that of the flag
	Since    time.Time `json:"since"`
	Open     bool      `json:"open"`
	Answer   string    `json:"answer,omitempty"`
	Answerer string    `json:"answerer,omitempty"`
	Note     string    `json:"note,omitempty"`
	Evidence []Fact    `json:"evidence,omitempty"`
	Formula  string    `json:"formula,omitempty"`
	Limit    string    `json:"limit,omitempty"`
	Source   string    `json:"source,omitempty"`
	Events   []string  `json:"events,omitempty"`
	Caution  string    `json:"caution,omitempty"`
	Do       []string  `json:"do,omitempty"`
	Because  string    `json:"because,omitempty"`
	Allowed  *Allowed  `json:"allowed,omitempty"`
}

// Alone is a line of a flag as a flag of its own.
func (f Flag) Alone(l FlagLine) Flag {
	return Flag{
		ID: l.ID, FullID: l.FullID, Code: f.Code, Grave: l.Grave, Subject: l.Subject, Text: l.Text, Brief: l.Brief,
		Since: l.Since, Open: l.Open, Answer: l.Answer,
		Answerer: l.Answerer, Note: l.Note, Evidence: l.Evidence, Formula: l.Formula, Limit: l.Limit, Source: l.Source,
		Events:  l.Events,
		Caution: l.Caution, Do: l.Do, Because: l.Because, Allowed: l.Allowed,
	}
}

// Fact is one figure of a flag's evidence, in words; an instant is in them by the site's clock. Numbers are in the SI
// unit that Unit says as the names of other figures end: kg, m3, m, c, mps, kg_m3, kg_m2_h, min, mm, share, count.
type Fact struct {
	Name   string     `json:"name"`
	Value  string     `json:"value"`
	At     *time.Time `json:"at,omitempty"`     // the instant, where the fact is of one
	Number *float64   `json:"number,omitempty"` // nil where the fact is no figure
	Low    *float64   `json:"low,omitempty"`    // the range that is allowed or known of it
	High   *float64   `json:"high,omitempty"`
	Unit   string     `json:"unit,omitempty"`
}

// Allowed is a limit as numbers: from Low to High, each nil where there is no such end, in Unit as a Fact has it.
type Allowed struct {
	Low  *float64 `json:"low,omitempty"`
	High *float64 `json:"high,omitempty"`
	Unit string   `json:"unit"`
}

func allowed(f fold.Figure) *Allowed {
	if f.Low == nil && f.High == nil {
		return nil
	}
	return &Allowed{f.Low, f.High, f.Unit}
}

func factOf(f fold.Fact, in *time.Location) Fact {
	v := Fact{Name: f.Name, Value: f.Value, Number: f.Number, Low: f.Low, High: f.High, Unit: f.Unit}
	if !f.At.IsZero() {
		v.At, v.Value = view.Instant(f.At), strings.TrimSpace(f.At.In(in).Format("2 Jan 2006 15:04")+" "+f.Value)
	}
	return v
}

// FlagsOf the site at an instant: the open ones, or all; grave ones first, then the newest.
func FlagsOf(s *fold.Site, now time.Time, in *time.Location, all bool) Flags {
	return FlagsWith(s, now, in, all, ahead.OutlookOf(s, now, in))
}

// FlagsWith are the flags, with those of a stock that is short by an outlook that was gathered already.
func FlagsWith(s *fold.Site, now time.Time, in *time.Location, all bool, o ahead.Outlook) Flags {
	v := Flags{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String()}
	for _, f := range flags(s, now, in, o) {
		if f.Open {
			v.Open++
		} else {
			v.Answered++
		}
		if all || f.Open {
			v.Flags = append(v.Flags, f)
		}
	}
	return v
}

func flags(s *fold.Site, now time.Time, in *time.Location, o ahead.Outlook) []Flag {
	findings := s.Findings()
	findings = append(findings, unplaced(s, now)...)
	findings = append(findings, ahead.ShortOfStock(o)...)
	findings = append(findings, coldAir(s, now, in)...)
	gathered := s.Flags(findings)
	all := make([]Flag, 0, len(gathered))
	for _, f := range gathered {
		all = append(all, flag(s, f, in))
	}
	shorten(all)
	slices.SortStableFunc(all, func(a, b Flag) int {
		switch {
		case a.Grave != b.Grave && a.Grave:
			return -1
		case a.Grave != b.Grave:
			return 1
		}
		return b.Since.Compare(a.Since)
	})
	return all
}

func flag(s *fold.Site, f fold.Flag, in *time.Location) Flag {
	v := Flag{
		FullID: f.ID, Code: f.Code, Grave: f.Grave, Subject: f.Subject, Text: f.Text, Brief: briefOf(f),
		Since: f.Since.UTC(), Open: f.Open(), Note: f.Said,
	}
	var answers, answerers []string
	for _, l := range f.Lines {
		line := flagLine(s, l, in)
		v.Lines = append(v.Lines, line)
		for _, do := range line.Do {
			if line.Open && !slices.Contains(v.Do, do) {
				v.Do = append(v.Do, do)
			}
		}
		for _, e := range line.Events {
			if !slices.Contains(v.Events, e) {
				v.Events = append(v.Events, e)
			}
		}
		if !v.Open && !slices.Contains(answers, line.Answer) {
			answers = append(answers, line.Answer)
		}
		if !v.Open && line.Answerer != "" && !slices.Contains(answerers, line.Answerer) {
			answerers = append(answerers, line.Answerer)
		}
	}
	first := v.Lines[0]
	v.Formula, v.Limit, v.Source, v.Caution, v.Allowed = first.Formula, first.Limit, first.Source, first.Caution,
		first.Allowed
	v.Answer, v.Answerer = strings.Join(answers, "; "), strings.Join(answerers, ", ")
	if len(v.Lines) == 1 {
		v.Evidence, v.Note = first.Evidence, view.Joined(v.Note, first.Note)
	}
	v.Because = reasons(v.Lines)
	if !f.Gathers {
		v.Lines = nil
	}
	return v
}

// briefOf a flag in a few words: of several, the first open one and how many more.
func briefOf(f fold.Flag) string {
	if len(f.Lines) == 1 {
		return f.Lines[0].Brief
	}
	i := max(0, slices.IndexFunc(f.Lines, fold.Line.Open))
	first := f.Lines[i].Brief
	if first == "" {
		first = f.Lines[i].Subject
	}
	return fmt.Sprintf("%s and %d more", first, len(f.Lines)-1)
}

// reasons that people gave for the facts of a flag, each once; with what it is of, where there are several facts.
func reasons(lines []FlagLine) string {
	var all []string
	for _, l := range lines {
		why := l.Because
		if why != "" && len(lines) > 1 {
			why = l.Subject + ": " + why
		}
		if why != "" && !slices.Contains(all, why) {
			all = append(all, why)
		}
	}
	return strings.Join(all, "; ")
}

func flagLine(s *fold.Site, l fold.Line, in *time.Location) FlagLine {
	v := FlagLine{
		FullID: l.ID, Grave: l.Grave, Subject: l.Subject, Text: l.Text, Brief: l.Brief, Since: l.Since.UTC(),
		Open:    l.Open(),
		Formula: l.Formula, Limit: l.Limit, Source: l.Source, Caution: l.Caution, Do: l.Do, Because: l.Because,
		Allowed: allowed(l.Allowed),
	}
	for _, e := range l.Evidence {
		v.Evidence = append(v.Evidence, factOf(e, in))
	}
	if l.Code == fold.Dispute {
		v.Evidence = append(v.Evidence, versions(s, l.Finding, in)...)
	}
	for _, n := range l.Events {
		v.Events = append(v.Events, n.String())
	}
	v.Answer = l.Settled
	if l.Answer != nil {
		v.Answer, v.Answerer = l.Answer.Text, l.Answer.By
		v.Events = append(v.Events, l.Answer.Record.Name.String())
	}
	for _, a := range l.Void {
		v.Note = view.Joined(v.Note,
			fmt.Sprintf(
				"the answer %s (%s, %s) names an id that this shared with another flag, so it closes neither; answer it again", a.Record.Name, a.Text, a.By))
	}
	return v
}

// versions are the two or more that contradict each other, with who wrote each and when, and in what plans differ. The
// one written later is the one in use.
func versions(s *fold.Site, f fold.Finding, in *time.Location) []Fact {
	var all []Fact
	var rivals []*fold.Record
	w := view.Words{Sys: s.Plan().System, In: in, Site: s}
	for _, n := range f.Events {
		r, ok := s.Record(n)
		if !ok || r.State != fold.Disputed || r.Now == nil || len(f.Do) > 0 &&
			!slices.Contains(f.Do, "hod settle "+n.String()) {
			continue
		}
		rivals = append(rivals, r)
		written := view.Instant(r.Logged())
		all = append(all, Fact{
			Name:  n.String(),
			Value: fmt.Sprintf("%s by %s: %s", written.In(in).Format("2 Jan 2006 15:04"), author(r), w.Version(r)),
			At:    written,
		})
	}
	if len(rivals) > 0 { // what was written later is used until somebody settles it
		used := slices.MaxFunc(rivals, func(a, b *fold.Record) int {
			return cmp.Or(a.Logged().Compare(b.Logged()), event.CompareNames(a.Name, b.Name))
		})
		i := slices.IndexFunc(all, func(f Fact) bool { return f.Name == used.Name.String() })
		all[i].Value = "in use: " + all[i].Value
	}
	for _, r := range rivals[min(1, len(rivals)):] {
		if d := view.Differs(rivals[0].Now, r.Now); d != "" && view.IsPlan(r.Now) {
			all = append(all, Fact{Name: fmt.Sprintf("%s against %s", r.Name, rivals[0].Name), Value: d})
		}
	}
	return all
}

// author of an event: the person, the crew, or where neither is said the device.
func author(r *fold.Record) string {
	switch {
	case r.Person != "" && r.Crew != "":
		return fmt.Sprintf("%s (%s)", r.Person, r.Crew)
	case r.Person != "":
		return r.Person
	case r.Crew != "":
		return fmt.Sprintf("crew %s", r.Crew)
	}
	return fmt.Sprintf("device %s", r.Device)
}

// shortest is the least that people type of an id: the length of those that older versions made.
const shortest = 5

// shorten gives each flag and line the beginning of its id that no other has.
func shorten(flags []Flag) {
	var ids []*string
	var full []string
	add := func(short *string, id string) { ids, full = append(ids, short), append(full, id) }
	for i := range flags {
		f := &flags[i]
		add(&f.ID, f.FullID)
		for k := range f.Lines {
			add(&f.Lines[k].ID, f.Lines[k].FullID)
		}
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(full)))
	for i, id := range full {
		at, _ := slices.BinarySearch(sorted, id)
		n := shortest
		for _, near := range []int{at - 1, at + 1} {
			if near >= 0 && near < len(sorted) {
				n = max(n, 1+alike(id, sorted[near]))
			}
		}
		*ids[i] = id[:min(n, len(id))]
	}
}

// alike is how many letters two ids have in common from the beginning.
func alike(a, b string) int {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}

// unplaced finds batches that were mixed longer ago than a batch may be worked, and of which the record does not say
// where all went.
func unplaced(s *fold.Site, now time.Time) []fold.Finding {
	var all []fold.Finding
	sys := s.Plan().System
	for _, b := range s.Batches() {
		working := b.Mix.Working
		if working == 0 {
			working = fold.DefaultWorking
		}
		if b.Left < 0.02 || now.Sub(b.Water) < working {
			continue
		}
		left := b.Volume(b.Left, s.YieldOf(b).Ratio)
		all = append(all, fold.Finding{
			Code: fold.Unplaced, Key: b.Mixed.Name.String(), Subject: "batch " + b.ID.String(),
			Since: b.Water.Add(working),
			Grouping: finding.Grouping{
				Group: b.ID.Day,
				About: "on " + b.ID.Day,
				Brief: fmt.Sprintf("%s/%d: %s", b.ID.Crew, b.ID.Number,
					sys.Volume(left)),
			},

			Text: fmt.Sprintf("%s of batch %s went nowhere in the record: write where it was placed, or discard it",
				sys.Volume(left), b.ID),
			Basis: finding.Basis{
				Evidence: []fold.Fact{
					finding.FactOf("left", left, unit.System.Volume, sys),
					finding.FactOf("of the batch", b.Left, unit.System.Share, sys),
				},
				Limit:   unit.Duration(working) + " after water contact",
				Allowed: fold.Figure{High: new(working.Minutes()), Unit: "min"},
			},

			Events: view.Events(b.Mixed),
		})
	}
	return all
}

// coldAir finds days on which the air fell below the cold-weather limit while something was still young.
func coldAir(s *fold.Site, now time.Time, in *time.Location) []fold.Finding {
	read, _ := s.Weather()
	sys := s.Plan().System
	from, to, ok := placingSpan(s)
	if !ok {
		return nil
	}
	protect, err := weather.Protection(weather.NoLoadExposed, false)
	if err != nil {
		return nil
	}
	var all []fold.Finding
	seen := map[string]int{}
	for _, k := range read {
		if k.Air == nil || k.At.Before(from) || k.At.After(to.Add(protect)) || k.At.After(now) {
			continue
		}
		j, err := weather.ColdWeather(*k.Air)
		if err != nil || !view.Verdict(j, sys).Broken {
			continue
		}
		day := k.At.In(in).Format(time.DateOnly)
		if i, ok := seen[day]; ok {
			all[i].Evidence = append(all[i].Evidence[:1:1], coldReading("last such reading", k, sys))
			continue
		}
		seen[day] = len(all)
		all = append(all, fold.Finding{
			Code: fold.ColdAir, Key: day, Subject: "weather", Since: k.At, Grave: *k.Air <= 0,
			Grouping: finding.Grouping{Brief: "the air was " + sys.Temperature(*k.Air)},
			Text: fmt.Sprintf("the air was %s while something was fresh or young: protect it",
				sys.Temperature(*k.Air)),
			Basis: finding.Basis{
				Evidence: []fold.Fact{coldReading("first such reading", k, sys)},
				Limit:    j.Says,
				Allowed:  finding.AllowedBy(j),
				Source:   j.Source.Published,
			},

			Events: view.Events(k.Record),
		})
	}
	return all
}

func coldReading(name string, k fold.Sky, sys unit.System) fold.Fact {
	f := finding.FactOf(name, *k.Air, unit.System.Temperature, sys)
	f.At = k.At
	return f
}

// placingSpan is from the first placement to the last.
func placingSpan(s *fold.Site) (from, to time.Time, ok bool) {
	for _, b := range s.Batches() {
		for _, p := range b.Parts {
			if !ok || p.From.Before(from) {
				from = p.From
			}
			if !ok || p.To.After(to) {
				to = p.To
			}
			ok = true
		}
	}
	return from, to, ok
}
