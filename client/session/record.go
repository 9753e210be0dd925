package session

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

	"hod/client/terminal"
	"hod/internal/confusable"
	"hod/internal/event"
	"hod/internal/fold"
)

// Draft is an event that a person asks to have written.
type Draft struct {
	Body event.Body
	At   time.Time // by the site's clock, where a person said when; zero: now
	// Typed says that times in the body were typed or came with data, and are by the site's clock. Where it is false
	// they are this device's clock and the fold shifts them by its offset.
	Typed bool
	// Rules are the codes of findings about this event that refuse it unless Because says why it is so all the same.
	Rules   []string
	Because string
	Say     func(code, text string) string // puts a refusal by a rule in better words; nil: as the fold has them
	Reason  func(why string) event.Body    // the body with a reason, where a person can be asked for one
	// Mixed says that it happened and can be written down no other time: nothing refuses it, and what cannot stand is
	// shown.
	Mixed bool
	// About is the event that a correction is of, AsideBefore that it was set aside already, and Known the findings
	// about it that stood before, for which nobody is asked again.
	About       event.Name
	AsideBefore bool
	Known       map[string]bool
	// Sure says that a value that the trade does not know was asked about, and that so it was; reread, that it was
	// asked about and the other unit was meant. Doubted are the doubts about what a correction corrects, WasSure that
	// they were asked about.
	Sure, reread bool
	Doubted      []fold.Doubtful
	WasSure      bool
	AsOf         time.Time // of what a correction corrects: by the plan of then
}

// Kept is what a command says of an event that it wrote; every document of one begins with these fields.
type Kept struct {
	Event    string         `json:"event"`
	Kind     string         `json:"kind"`
	Crew     string         `json:"crew,omitempty"`
	Person   string         `json:"person,omitempty"`
	At       terminal.Stamp `json:"at"`
	LoggedAt terminal.Stamp `json:"logged_at"`
	State    string         `json:"state"` // where it is: kept here
	Text     string         `json:"text"`  // what was understood
	Next     string         `json:"next,omitempty"`
	Warnings []string       `json:"warnings,omitempty"`

	Name event.Name `json:"-"`
	Body event.Body `json:"-"` // as it was written
	Line string     `json:"-"` // what is printed, where it is not text, then next
}

// NotSentYet is where an event is when a command ends. Nothing waits for the network.
const NotSentYet = "kept here, not sent yet"

// Keep checks a draft against all that this device holds, writes it, and reads it into the fold.
func (s *Session) Keep(ctx context.Context, d Draft) (Kept, error) {
	all, err := s.KeepAll(ctx, []Draft{d})
	if err != nil {
		return Kept{}, err
	}
	return all[0], nil
}

// KeepAll keeps several drafts, all or none. Each is first tried on the fold, with those before it: the rules that will
// judge it everywhere are those that judge it here.
func (s *Session) KeepAll(ctx context.Context, drafts []Draft) ([]Kept, error) {
	if err := s.toldApart(drafts); err != nil {
		return nil, err
	}
	if err := s.SettleDoubts(drafts); err != nil {
		return nil, err
	}
	events, err := s.Try(ctx, drafts)
	if because, ok := s.askWhy(err, drafts); ok {
		drafts[0].Because, drafts[0].Body = because, drafts[0].Reason(because)
		if drafts[0].reread {
			drafts[0].Body = s.Fold.Reread(drafts[0].Body, s.happened(drafts[0]))
		}
		if err := s.Reload(ctx); err != nil { // the fold holds the draft that was tried
			return nil, err
		}
		events, err = s.Try(ctx, drafts)
	}
	if err != nil {
		return nil, err
	}
	if err := s.Fold.Lost(); err != nil {
		return nil, err
	}
	written, err := s.Journal.Append(ctx, events[0].LoggedAt, events...)
	if err != nil {
		return nil, err
	}
	s.Wrote, s.written = true, append(s.written, written...)
	all := make([]Kept, len(written))
	other := false // another command wrote in between and took a name that was tried
	for i, e := range written {
		all[i] = s.kept(e)
		all[i].Body = drafts[i].Body
		other = other || e.Hash() != events[i].Hash()
	}
	if other {
		return all, s.Reload(ctx)
	}
	return all, nil
}

// toldApart refuses the name of a new zone or crew that people would take for another's.
func (s *Session) toldApart(drafts []Draft) error {
	zones, crews := s.Plan.ZoneNames(), slices.Sorted(maps.Keys(s.Plan.Crews))
	for _, d := range drafts {
		var err error
		switch b := d.Body.(type) {
		case event.ZonePlanned:
			err, zones = confusable.Check("zone", b.Zone, zones), append(zones, b.Zone)
		case event.CrewPlanned:
			err, crews = confusable.Check("crew", b.Crew, crews), append(crews, b.Crew)
		default:
		}
		if err != nil {
			return terminal.Refusedf("%s", terminal.Safe(err.Error()))
		}
	}
	return nil
}

// ruleError is a refusal by a rule that a reason may pass over.
type ruleError struct{ text string }

func (e ruleError) Error() string { return e.text }

func (e ruleError) Unwrap() error {
	return &terminal.Error{Kind: terminal.Refused, Msg: e.text + "; if it is so all the same, say why with --because"}
}

// askWhy asks, at a terminal, why a rule was passed over: what is done is done, and should be in the record. It gives
// no reason where none can be asked for or none was given.
func (s *Session) askWhy(err error, drafts []Draft) (string, bool) {
	var rule ruleError
	if !errors.As(err, &rule) || len(drafts) != 1 || drafts[0].Reason == nil || !s.Env.CanAsk() {
		return "", false
	}
	fmt.Fprintf(s.Env.Stderr, "%s\nIf it is so all the same, why? (Enter alone: nothing is recorded) ",
		terminal.Safe(terminal.Capitalise(rule.text)))
	why := strings.TrimSpace(s.Env.ReadLine())
	return why, why != ""
}

func (s *Session) event(d Draft, now time.Time) event.Event {
	e := event.Event{
		Crew: s.Device.Crew, HappenedAt: d.At, LoggedAt: now, Typed: d.Typed || !d.At.IsZero(),
		Person: s.Env.person(), Sure: d.Sure, Body: d.Body,
	}
	if !s.Contact.At.IsZero() {
		offset, basis := s.Contact.OffsetAt(now, s.Env.uptime())
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

// Try adds the drafts to the fold as the events that they would be and says what the fold makes of them.
func (s *Session) Try(ctx context.Context, drafts []Draft) ([]event.Event, error) {
	head, err := s.Journal.Head(ctx, s.Device.Name)
	if err != nil {
		return nil, err
	}
	now := s.Env.Now()
	events := make([]event.Event, len(drafts))
	for i, d := range drafts {
		e := s.event(d, now)
		e.Name = event.Name{Device: s.Device.Name, Seq: head.Seq + 1 + uint64(i)}
		if events[i], err = event.Write(e); err != nil {
			return nil, s.bySiteClock(err)
		}
		s.Fold.Add(events[i])
	}
	s.Refresh()
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
func (s *Session) bySiteClock(err error) error {
	var cannot event.CannotBe
	if !errors.As(err, &cannot) {
		return err
	}
	return event.CannotBe(writtenTime.ReplaceAllStringFunc(string(cannot), func(text string) string {
		t, err := time.Parse("2006-01-02 15:04:05Z", text)
		if err != nil {
			return text
		}
		return s.FormatTime(t)
	}))
}

// judge says why the event tried is refused; nil if it is not.
func (s *Session) judge(name event.Name, d Draft) error {
	r, ok := s.Fold.Record(name)
	if s.Fold.Excluded(name) {
		return terminal.Refusedf("what device %s writes does not count any more; ask the foreman", name.Device)
	}
	if !ok || d.Mixed {
		return nil
	}
	if r.Aside != nil && r.State == fold.SetAside {
		return s.judgeAside(r, d)
	}
	if about, ok := s.Fold.Record(d.About); ok && about.State == fold.SetAside && !d.AsideBefore {
		return s.judgeAside(about, d)
	}
	if d.Because != "" {
		return nil
	}
	return s.judgeRules(name, d)
}

// judgeRules refuses a draft for the findings that it would bring about, all of them at once: whoever says why it is so
// all the same says it of all.
func (s *Session) judgeRules(name event.Name, d Draft) error {
	var texts []string
	var cold []*fold.Contact
	for _, f := range s.findingsAbout(d, name) {
		switch {
		case !slices.Contains(d.Rules, f.Code) || !IsAbout(f, name) && !IsAbout(f, d.About) || f.Settled != "" ||
			d.Known[f.Code+" "+f.Key]:
		case f.Code == fold.ColdJoint && f.Joint != nil:
			if k, ok := s.Fold.ContactOf(f.Joint); ok {
				cold = append(cold, &k)
			}
		case d.Say != nil:
			texts = append(texts, d.Say(f.Code, f.Text))
		default:
			texts = append(texts, f.Text)
		}
	}
	if len(cold) > 0 {
		texts = append([]string{s.coldJointsMet(cold)}, texts...)
	}
	if len(texts) > 0 {
		return ruleError{strings.Join(texts, "; ")}
	}
	return nil
}

// findingsAbout are what the record shows of an event that is tried, and of what it corrects; none where nobody asks
// for them.
func (s *Session) findingsAbout(d Draft, name event.Name) []fold.Finding {
	switch {
	case len(d.Rules) == 0:
		return nil
	case d.About != event.Name{}: // what it corrects may have lain elsewhere
		return s.Fold.Findings()
	}
	return s.Fold.FindingsAbout(name)
}

// IsAbout says whether a finding is about an event: its key names it, or it brought the finding about.
func IsAbout(f fold.Finding, name event.Name) bool {
	return slices.Contains(strings.Fields(f.Key), name.String()) || f.Concerns(name)
}

func (s *Session) judgeAside(r *fold.Record, d Draft) error {
	switch r.Aside.Code {
	case fold.NotEnrolled: // it stands once this device's own enrolment has come from the server
		return nil
	case fold.NoRight, fold.Revoked:
		return terminal.Refusedf("%s", r.Aside.Why)
	case fold.UnknownZone, fold.UnknownCoat, fold.UnknownMix, fold.UnknownBatch, fold.NoTarget:
		return terminal.NotFoundf("%s", r.Aside.Why)
	case fold.PlacedBeforeMixed, fold.PlacedAnotherDay:
		return terminal.Refusedf(
			"%s. Say --from and --to as they were, name the batch as crew/day/number, or correct what was written of it with `hod amend`", r.Aside.Why)
	case fold.BreakBeforeAge:
		return terminal.Refusedf("%s. Say --age, --batch and --at as they were", r.Aside.Why)
	case fold.PlacedBeyondMixed: // no reason makes it stand
		return terminal.Refusedf(
			"%s; say less, name another batch, or correct what was written of this one with `hod amend` or `hod undo`",
			r.Aside.Why)
	}
	return terminal.Usagef("%s", r.Aside.Why)
}

// kept describes an event just written, with what the record shows about it that is not refused.
func (s *Session) kept(e event.Event) Kept {
	k := Kept{
		Event: e.Name.String(), Kind: event.KindOf(e.Body), Crew: string(e.Crew), Person: e.Person,
		At: terminal.Stamp(e.At()), LoggedAt: terminal.Stamp(e.LoggedAt), State: "kept here", Name: e.Name,
	}
	return k
}

// AddWarnings adds what the record shows about the event: what was set aside, what a person should see.
func (s *Session) AddWarnings(k *Kept) {
	if r, ok := s.Fold.Record(k.Name); ok && r.State == fold.SetAside {
		k.Warnings = append(k.Warnings,
			"set aside for now, which is kept and counted in nothing until what it lacks is there: "+r.Aside.Why)
	}
	s.AddWarningsAbout(k, k.Name)
}

// AddWarningsAbout adds what a person should see of an event: the one just written, or the one that it corrects.
func (s *Session) AddWarningsAbout(k *Kept, name event.Name) {
	for _, f := range s.Fold.FindingsAbout(name) {
		if f.Settled != "" || f.Code == fold.AsideFlag || !IsAbout(f, name) {
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
func (k Kept) words() string {
	if k.Line != "" {
		return k.Event + "  " + k.Line + "; " + NotSentYet
	}
	line := k.Event + "  " + k.Text + "; " + NotSentYet
	if k.Next != "" {
		line += ". " + terminal.Capitalise(k.Next)
	}
	return line
}

// Tell prints the result of a recording command: doc is k or a struct that begins with it.
func (s *Session) Tell(k Kept, doc any) error {
	for _, w := range k.Warnings {
		s.Env.Hintf("note: %s", w)
	}
	return s.Env.Print(strings.ReplaceAll(k.Kind, " ", "-"), doc, func(w io.Writer) { fmt.Fprintln(w, k.words()) })
}

// keptEach is the document of a line that wrote several events of a kind: the first, as if it were alone, and all of
// them.
type keptEach struct {
	Kept
	Each []Kept `json:"each"`
}

// TellAll prints what a line wrote: one event as any, several a line each.
func (s *Session) TellAll(all []Kept) error {
	for i := range all {
		s.AddWarnings(&all[i])
	}
	if len(all) == 1 {
		return s.Tell(all[0], all[0])
	}
	for _, k := range all {
		for _, w := range k.Warnings {
			s.Env.Hintf("note: %s", w)
		}
	}
	return s.Env.Print(strings.ReplaceAll(all[0].Kind, " ", "-"), keptEach{all[0], all}, func(w io.Writer) {
		for _, k := range all {
			fmt.Fprintln(w, k.words())
		}
	})
}

// KeepAndTell keeps a draft and prints it, for events with nothing more to say.
func (s *Session) KeepAndTell(ctx context.Context, d Draft, text, next string) error {
	k, err := s.Keep(ctx, d)
	if err != nil {
		return err
	}
	k.Text, k.Next = text, next
	s.AddWarnings(&k)
	return s.Tell(k, k)
}

// RunReadOnly is Run for a command that writes nothing: what it says of a folder that may not be written is what a
// reader needs to hear.
func RunReadOnly(ctx context.Context, env *Env, do func(*Session) error) error {
	return readOnlyError(Run(ctx, env, do))
}

// Run opens this device's record, calls do with it and closes it. What do wrote is then offered to the server for a
// moment.
func Run(ctx context.Context, env *Env, do func(*Session) error) error {
	s, err := Open(ctx, env)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := do(s); err != nil {
		var lost *terminal.PrintError
		if !s.Wrote || !errors.As(err, &lost) {
			return err
		}
		env.Tellf(
			"%s kept on this disk all the same, so do not write it again: only the line that says so could not be printed (%v)", s.keptNames(), lost.Err)
	}
	if s.Wrote {
		s.Send(ctx)
	}
	s.warnEdges(ctx)
	s.warnTaken(ctx)
	return nil
}

// keptNames are the events that this command wrote, with their verb.
func (s *Session) keptNames() string {
	if len(s.written) == 1 {
		return s.written[0].Name.String() + " is"
	}
	return fmt.Sprintf("%s to %s are", s.written[0].Name, s.written[len(s.written)-1].Name)
}

// FormatSpan shows from when to when by the site's clock; the day of the end is said where it is not that of the
// beginning.
func (s *Session) FormatSpan(from, to time.Time) string {
	a, b := from.In(s.Location), to.In(s.Location)
	switch {
	case a.Equal(b):
		return s.FormatTime(from)
	case a.Format(time.DateOnly) == b.Format(time.DateOnly):
		return s.FormatTime(from) + " to " + b.Format("15:04")
	}
	return a.Format("2006-01-02 15:04") + " to " + b.Format("2006-01-02 15:04")
}

// FormatTime shows an instant by the site's clock: the time alone on the site's today, else with its date.
func (s *Session) FormatTime(t time.Time) string {
	local := t.In(s.Location)
	if local.Format(time.DateOnly) == s.Today() {
		return local.Format("15:04")
	}
	return local.Format("2006-01-02 15:04")
}

// Findings are all findings, by code and key, before something is written.
func (s *Session) Findings() map[string]bool {
	all := map[string]bool{}
	for _, f := range s.Fold.Findings() {
		all[f.Code+" "+f.Key] = true
	}
	return all
}

// FindingsAbout are the findings about an event, by code and key.
func (s *Session) FindingsAbout(name event.Name) map[string]bool {
	all := map[string]bool{}
	for _, f := range s.Fold.Findings() {
		if IsAbout(f, name) {
			all[f.Code+" "+f.Key] = true
		}
	}
	return all
}

// KeepWithMaterial keeps a draft with what had to be known of a material before it; nil: nothing.
func (s *Session) KeepWithMaterial(ctx context.Context, known *event.MaterialPlanned, d Draft) (Kept, error) {
	if known == nil {
		return s.Keep(ctx, d)
	}
	all, err := s.KeepAll(ctx, []Draft{{Body: *known, At: d.At}, d})
	if err != nil {
		return Kept{}, err
	}
	s.Env.Hintf("note: what %s weighs is kept too (%s); it is not asked again", known.Material, all[0].Event)
	return all[1], nil
}
