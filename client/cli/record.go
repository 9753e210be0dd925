package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"hod/internal/confusable"
	"hod/internal/event"
	"hod/internal/fold"
)

// draft is an event that a person asks to have written.
type draft struct {
	body event.Body
	at   time.Time // by the site's clock, where a person said when; zero: now
	// typed says that times in the body were typed or came with data, and are by the site's clock. Where it is false
	// they are this device's clock and the fold shifts them by its offset.
	typed bool
	// rules are the codes of findings about this event that refuse it unless because says why it is so all the same.
	rules   []string
	because string
	say     func(code, text string) string // puts a refusal by a rule in better words; nil: as the fold has them
	reason  func(why string) event.Body    // the body with a reason, where a person can be asked for one
	// mixed says that it happened and can be written down no other time: nothing refuses it, and what cannot stand is shown.
	mixed bool
	// about is the event that a correction is of, asideBefore that it was set aside already, and known the findings about it
	// that stood before, for which nobody is asked again.
	about       event.Name
	asideBefore bool
	known       map[string]bool
	// sure says that a value that the trade does not know was asked about, and that so it was; reread, that it was asked
	// about and the other unit was meant. doubted are the doubts about what a correction corrects, wasSure that they were
	// asked about.
	sure, reread bool
	doubted      []fold.Doubtful
	wasSure      bool
	asOf         time.Time // of what a correction corrects: by the plan of then
}

// kept is what a command says of an event that it wrote; every document of one begins with these fields.
type kept struct {
	Event    string   `json:"event"`
	Kind     string   `json:"kind"`
	Crew     string   `json:"crew,omitempty"`
	Person   string   `json:"person,omitempty"`
	At       Stamp    `json:"at"`
	LoggedAt Stamp    `json:"logged_at"`
	State    string   `json:"state"` // where it is: kept here
	Text     string   `json:"text"`  // what was understood
	Next     string   `json:"next,omitempty"`
	Warnings []string `json:"warnings,omitempty"`

	name event.Name
	body event.Body // as it was written
	line string     // what is printed, where it is not text, then next
}

// keptHere is where an event is when a command ends. Nothing waits for the network.
const keptHere = "kept here, not sent yet"

// keep checks a draft against all that this device holds, writes it, and reads it into the fold.
func (s *site) keep(ctx context.Context, d draft) (kept, error) {
	all, err := s.keepEach(ctx, []draft{d})
	if err != nil {
		return kept{}, err
	}
	return all[0], nil
}

// keepEach keeps several drafts, all or none. Each is first tried on the fold, with those before it: the rules that will
// judge it everywhere are those that judge it here.
func (s *site) keepEach(ctx context.Context, drafts []draft) ([]kept, error) {
	if err := s.toldApart(drafts); err != nil {
		return nil, err
	}
	if err := s.settleDoubts(drafts); err != nil {
		return nil, err
	}
	events, err := s.try(ctx, drafts)
	if because, ok := s.askWhy(err, drafts); ok {
		drafts[0].because, drafts[0].body = because, drafts[0].reason(because)
		if drafts[0].reread {
			drafts[0].body = s.fold.Reread(drafts[0].body, s.happened(drafts[0]))
		}
		if err := s.read(ctx); err != nil { // the fold holds the draft that was tried
			return nil, err
		}
		events, err = s.try(ctx, drafts)
	}
	if err != nil {
		return nil, err
	}
	written, err := s.journal.Append(ctx, events[0].LoggedAt, events...)
	if err != nil {
		return nil, err
	}
	s.wrote, s.written = true, append(s.written, written...)
	all := make([]kept, len(written))
	other := false // another command wrote in between and took a name that was tried
	for i, e := range written {
		all[i] = s.kept(e)
		all[i].body = drafts[i].body
		other = other || e.Hash() != events[i].Hash()
	}
	if other {
		return all, s.read(ctx)
	}
	return all, nil
}

// toldApart refuses the name of a new zone or crew that people would take for another's.
func (s *site) toldApart(drafts []draft) error {
	zones, crews := s.plan.ZoneNames(), slices.Sorted(maps.Keys(s.plan.Crews))
	for _, d := range drafts {
		var err error
		switch b := d.body.(type) {
		case event.ZonePlanned:
			err, zones = confusable.Check("zone", b.Zone, zones), append(zones, b.Zone)
		case event.CrewPlanned:
			err, crews = confusable.Check("crew", b.Crew, crews), append(crews, b.Crew)
		default:
		}
		if err != nil {
			return refused("%s", safe(err.Error()))
		}
	}
	return nil
}

// ruleError is a refusal by a rule that a reason may pass over.
type ruleError struct{ text string }

func (e ruleError) Error() string { return e.text }

func (e ruleError) Unwrap() error {
	return &Error{Kind: Refused, Msg: e.text + "; if it is so all the same, say why with --because"}
}

// askWhy asks, at a terminal, why a rule was passed over: what is done is done, and should be in the record. It gives no
// reason where none can be asked for or none was given.
func (s *site) askWhy(err error, drafts []draft) (string, bool) {
	var rule ruleError
	if !errors.As(err, &rule) || len(drafts) != 1 || drafts[0].reason == nil || !s.env.asks() {
		return "", false
	}
	fmt.Fprintf(s.env.Stderr, "%s\nIf it is so all the same, why? (Enter alone: nothing is recorded) ", safe(capital(rule.text)))
	why := strings.TrimSpace(s.env.line())
	return why, why != ""
}

func (s *site) event(d draft, now time.Time) event.Event {
	e := event.Event{Crew: s.device.Crew, HappenedAt: d.at, LoggedAt: now, Typed: d.typed || !d.at.IsZero(), Person: s.env.who(), Sure: d.sure, Body: d.body}
	if !s.contact.At.IsZero() {
		offset, basis := s.contact.OffsetAt(now, s.env.uptime())
		e.Offset, e.Basis = &offset, basis
	}
	switch {
	case !e.HappenedAt.IsZero():
	case e.Typed:
		e.HappenedAt = now
		if e.Offset != nil {
			e.HappenedAt = now.Add(*e.Offset)
		}
	default:
		e.HappenedAt = now
	}
	return e
}

// try adds the drafts to the fold as the events that they would be and says what the fold makes of them.
func (s *site) try(ctx context.Context, drafts []draft) ([]event.Event, error) {
	head, err := s.journal.Head(ctx, s.device.Name)
	if err != nil {
		return nil, err
	}
	now := s.env.Now()
	events := make([]event.Event, len(drafts))
	for i, d := range drafts {
		e := s.event(d, now)
		e.Name = event.Name{Device: s.device.Name, Seq: head.Seq + 1 + uint64(i)}
		if events[i], err = event.Write(e); err != nil {
			return nil, s.bySiteClock(err)
		}
		s.fold.Add(events[i])
	}
	s.look()
	for i, d := range drafts {
		if err := s.judge(events[i].Name, d); err != nil {
			return nil, err
		}
	}
	return events, nil
}

// writtenTime is an instant as the checks of events write it, who know no site.
var writtenTime = regexp.MustCompile(`\d{4}-\d\d-\d\d \d\d:\d\d:\d\dZ`)

// bySiteClock puts the times in a check's sentence as the clock on the site's wall has them.
func (s *site) bySiteClock(err error) error {
	var cannot event.CannotBe
	if !errors.As(err, &cannot) {
		return err
	}
	return event.CannotBe(writtenTime.ReplaceAllStringFunc(string(cannot), func(text string) string {
		t, err := time.Parse("2006-01-02 15:04:05Z", text)
		if err != nil {
			return text
		}
		return s.clock(t)
	}))
}

// judge says why the event tried is refused; nil if it is not.
func (s *site) judge(name event.Name, d draft) error {
	r, ok := s.fold.Record(name)
	if !ok || d.mixed {
		return nil
	}
	s.fold.Records() // brings the states of all records up to date
	if r.Aside != nil && r.State == fold.SetAside {
		return s.judgeAside(r, d)
	}
	if about, ok := s.fold.Record(d.about); ok && about.State == fold.SetAside && !d.asideBefore {
		return s.judgeAside(about, d)
	}
	if d.because != "" {
		return nil
	}
	var texts []string
	var cold []*fold.Contact
	for _, f := range s.fold.Findings() {
		switch {
		case !slices.Contains(d.rules, f.Code) || !isAbout(f, name) && !isAbout(f, d.about) || f.Settled != "" || d.known[f.Code+" "+f.Key]:
		case f.Code == fold.ColdJoint && f.Joint != nil:
			cold = append(cold, f.Joint)
		case d.say != nil:
			texts = append(texts, d.say(f.Code, f.Text))
		default:
			texts = append(texts, f.Text)
		}
	}
	if len(cold) > 0 {
		texts = append([]string{s.coldJointsMet(cold)}, texts...)
	}
	if len(texts) > 0 { // all at once: whoever says why says it of all
		return ruleError{strings.Join(texts, "; ")}
	}
	return nil
}

// isAbout says whether a finding is about an event: its key names it, or it brought the finding about.
func isAbout(f fold.Finding, name event.Name) bool {
	return slices.Contains(strings.Fields(f.Key), name.String()) || f.Concerns(name)
}

func (s *site) judgeAside(r *fold.Record, d draft) error {
	switch r.Aside.Code {
	case fold.NotEnrolled: // it stands once this device's own enrolment has come from the server
		return nil
	case fold.NoRight, fold.Revoked:
		return refused("%s", r.Aside.Why)
	case fold.UnknownZone, fold.UnknownCoat, fold.UnknownMix, fold.UnknownBatch, fold.NoTarget:
		return notFound("%s", r.Aside.Why)
	case fold.PlacedBeforeMixed, fold.PlacedAnotherDay:
		return refused("%s. Say --from and --to as they were, name the batch as crew/day/number, or correct what was written of it with `hod amend`", r.Aside.Why)
	case fold.BreakBeforeAge:
		return refused("%s. Say --age, --batch and --at as they were", r.Aside.Why)
	case fold.PlacedBeyondMixed: // no reason makes it stand
		return refused("%s; say less, name another batch, or correct what was written of this one with `hod amend` or `hod undo`", r.Aside.Why)
	}
	return usage("%s", r.Aside.Why)
}

// kept describes an event just written, with what the record shows about it that is not refused.
func (s *site) kept(e event.Event) kept {
	k := kept{
		Event: e.Name.String(), Kind: event.KindOf(e.Body), Crew: string(e.Crew), Person: e.Person,
		At: Stamp(e.At()), LoggedAt: Stamp(e.LoggedAt), State: "kept here", name: e.Name,
	}
	return k
}

// warned adds what the record shows about the event: what was set aside, what a person should see.
func (s *site) warned(k *kept) {
	s.fold.Records()
	if r, ok := s.fold.Record(k.name); ok && r.State == fold.SetAside {
		k.Warnings = append(k.Warnings, "set aside for now, which is kept and counted in nothing until what it lacks is there: "+r.Aside.Why)
	}
	s.warnedOf(k, k.name)
}

// warnedOf adds what a person should see of an event: the one just written, or the one that it corrects.
func (s *site) warnedOf(k *kept, name event.Name) {
	for _, f := range s.fold.Findings() {
		if f.Settled != "" || f.Code == fold.AsideFlag || !isAbout(f, name) {
			continue
		}
		text := f.Text
		if f.Because != "" {
			text += "; because: " + f.Because
		}
		k.Warnings = append(k.Warnings, text)
	}
}

// words is the one line that a recording command prints.
func (k kept) words() string {
	if k.line != "" {
		return k.Event + "  " + k.line + "; " + keptHere
	}
	line := k.Event + "  " + k.Text + "; " + keptHere
	if k.Next != "" {
		line += ". " + capital(k.Next)
	}
	return line
}

// capital begins a sentence; a symbol such as w/cm stays as it is written.
func capital(s string) string {
	if strings.HasPrefix(s, "w/cm") {
		return s
	}
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// tellKept prints the result of a recording command: doc is k or a struct that begins with it.
func (s *site) tellKept(k kept, doc any) error {
	for _, w := range k.Warnings {
		s.env.hint("note: %s", w)
	}
	return s.env.print(strings.ReplaceAll(k.Kind, " ", "-"), doc, func(w io.Writer) { fmt.Fprintln(w, k.words()) })
}

// keptEach is the document of a line that wrote several events of a kind: the first, as if it were alone, and all of them.
type keptEach struct {
	kept
	Each []kept `json:"each"`
}

// tellEach prints what a line wrote: one event as any, several a line each.
func (s *site) tellEach(all []kept) error {
	for i := range all {
		s.warned(&all[i])
	}
	if len(all) == 1 {
		return s.tellKept(all[0], all[0])
	}
	for _, k := range all {
		for _, w := range k.Warnings {
			s.env.hint("note: %s", w)
		}
	}
	return s.env.print(strings.ReplaceAll(all[0].Kind, " ", "-"), keptEach{all[0], all}, func(w io.Writer) {
		for _, k := range all {
			fmt.Fprintln(w, k.words())
		}
	})
}

// simply keeps a draft and prints it, for events with nothing more to say.
func (s *site) simply(ctx context.Context, d draft, text, next string) error {
	k, err := s.keep(ctx, d)
	if err != nil {
		return err
	}
	k.Text, k.Next = text, next
	s.warned(&k)
	return s.tellKept(k, k)
}

// reads is with for a command that writes nothing.
func (env *Env) reads(ctx context.Context, do func(*site) error) error {
	return unread(env.with(ctx, do))
}

// with opens this device's record for a command and closes it after.
func (env *Env) with(ctx context.Context, do func(*site) error) error {
	s, err := env.open(ctx)
	if err != nil {
		return err
	}
	defer s.close()
	if err := do(s); err != nil {
		var lost *unprinted
		if !s.wrote || !errors.As(err, &lost) {
			return err
		}
		env.tell("%s kept on this disk all the same, so do not write it again: only the line that says so could not be printed (%v)", s.keptNames(), lost.err)
	}
	if s.wrote {
		s.send(ctx)
	}
	s.warnEdges(ctx)
	return nil
}

// keptNames are the events that this command wrote, with their verb.
func (s *site) keptNames() string {
	if len(s.written) == 1 {
		return s.written[0].Name.String() + " is"
	}
	return fmt.Sprintf("%s to %s are", s.written[0].Name, s.written[len(s.written)-1].Name)
}

// spell shows from when to when by the site's clock; the day of the end is said where it is not that of the beginning.
func (s *site) spell(from, to time.Time) string {
	a, b := from.In(s.in), to.In(s.in)
	switch {
	case a.Equal(b):
		return s.clock(from)
	case a.Format(time.DateOnly) == b.Format(time.DateOnly):
		return s.clock(from) + " to " + b.Format("15:04")
	}
	return a.Format("2006-01-02 15:04") + " to " + b.Format("2006-01-02 15:04")
}

// clock shows an instant by the site's clock: the time alone on the site's today, else with its date.
func (s *site) clock(t time.Time) string {
	local := t.In(s.in)
	if local.Format(time.DateOnly) == s.today() {
		return local.Format("15:04")
	}
	return local.Format("2006-01-02 15:04")
}
