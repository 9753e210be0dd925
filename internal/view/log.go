package view

import (
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/history"
)

// Log is the record as people read it.
type Log struct {
	Site    string    `json:"site"`
	AsOf    time.Time `json:"as_of"`
	Units   string    `json:"units"`
	Entries []Entry   `json:"entries"`
}

// Entry is one event in words.
type Entry struct {
	Name     string    `json:"name"` // n2/147
	Crew     string    `json:"crew,omitempty"`
	Person   string    `json:"person,omitempty"`
	At       time.Time `json:"at"`
	LoggedAt time.Time `json:"logged_at"` // by the site's clock, as At is, as far as the device knew it
	Kind     string    `json:"kind"`
	Text     string    `json:"text"`
	State    string    `json:"state"` // holds, amended, taken back, replaced, conflict, set aside
	Code     string    `json:"code,omitempty"`
	Reason   string    `json:"reason,omitempty"` // why it was set aside, or what it was corrected by
	Hash     string    `json:"hash"`
	Late     bool      `json:"late,omitempty"` // in a day's report: written after that day had ended
	// in a day's report, of what puts a plan right: what it moved in the record
	Moved string `json:"moved,omitempty"`
	// What Text is about, and Reason, by names alone.
	Zones       []string `json:"zones,omitempty"`
	Batches     []string `json:"batches,omitempty"`      // in full, north/2026-07-18/16
	CorrectedBy []string `json:"corrected_by,omitempty"` // the events that changed how it is read, in their order
	// of a correction: the event first written that it goes back to
	Corrects string `json:"corrects,omitempty"`
}

// LogQuery says what of the record to show; the zero value is all of it.
type LogQuery struct {
	Zone, Crew, Kind string
	Person           string   // a name or a word of it, in any case of letters
	Batch            string   // in full, north/2026-07-18/16
	Events           []string // these, and all that corrects them
	Since            time.Time
	Before           time.Time // zero: to the end
	SetAside         bool
	Most             int // the newest so many; 0 is all
}

// OnDay asks for what happened on one day, 2026-07-18; for all days where it is no date.
func (q LogQuery) OnDay(date string, in *time.Location) LogQuery {
	q.Since, q.Before = time.Time{}, time.Time{}
	if from, err := time.ParseInLocation(time.DateOnly, date, in); err == nil {
		q.Since, q.Before = from, from.AddDate(0, 0, 1)
	}
	return q
}

// LogOf the site: oldest first, by when it happened.
func LogOf(s *fold.Site, now time.Time, in *time.Location, q LogQuery) Log {
	v := Log{Site: SiteName(s), AsOf: now, Units: s.Plan().System.String()}
	v.Entries = Entries(s, in, func(r *fold.Record) bool { return q.Wants(s, r) })
	if n := len(v.Entries); q.Most > 0 && n > q.Most {
		v.Entries = v.Entries[n-q.Most:]
	}
	return v
}

// Wants reports whether a record is one that is asked for.
func (q LogQuery) Wants(s *fold.Site, r *fold.Record) bool {
	switch {
	case q.SetAside && r.State != fold.SetAside,
		q.Crew != "" && string(r.Crew) != q.Crew,
		q.Kind != "" && event.KindOf(r.Body) != q.Kind,
		!q.Since.IsZero() && r.When.Before(q.Since),
		!q.Before.IsZero() && !r.When.Before(q.Before),
		q.Zone != "" && !slices.Contains(event.ZonesOf(r.Body), event.Zone(q.Zone)),
		q.Person != "" && !Called(r.Person, q.Person),
		q.Batch != "" && !concerns(s, r, q.Batch),
		len(q.Events) > 0 && !slices.Contains(q.Events, r.Name.String()) && !slices.Contains(q.Events, firstOf(s, r)):
		return false
	}
	return true
}

// EntryOf one record.
func EntryOf(s *fold.Site, in *time.Location, r *fold.Record) Entry {
	e := Entry{
		Name: r.Name.String(), Crew: string(r.Crew), Person: r.Person, At: r.When.UTC(), LoggedAt: r.Logged().UTC(),
		Kind: event.KindOf(r.Body),
		Text: Describe(s, r, in), State: r.State.String(), Hash: r.Hash().String(),
	}
	if r.Aside != nil {
		e.Code, e.Reason = string(r.Aside.Code), r.Aside.Why
	}
	e.about(s, r)
	if next := correctedBy(s, r); next != nil {
		e.State, e.Reason = fold.Amended.String(), Joined(e.Reason, "by "+next.Name.String())
	}
	if len(r.Via) > 0 {
		var by []string
		for _, fix := range r.Via {
			by = append(by, fix.Name.String())
		}
		e.Reason = Joined(e.Reason, "by "+strings.Join(by, ", "))
	}
	return e
}

// about names what the entry is of.
func (e *Entry) about(s *fold.Site, r *fold.Record) {
	body := r.Now
	if body == nil {
		body = r.Body
	}
	for _, z := range event.ZonesOf(body) {
		e.Zones = append(e.Zones, string(z))
	}
	for _, b := range event.BatchesOf(body) {
		e.Batches = append(e.Batches, b.String())
	}
	for _, fix := range r.Via {
		e.CorrectedBy = append(e.CorrectedBy, fix.Name.String())
	}
	if next := correctedBy(s, r); next != nil {
		e.CorrectedBy = append(e.CorrectedBy, next.Name.String())
	}
	if first, ok := s.FirstWriting(r); ok && first != r {
		e.Corrects = first.Name.String()
	}
}

// correctedBy is the correction that took the place of another one, where r is such another; else nil.
func correctedBy(s *fold.Site, r *fold.Record) *fold.Record {
	first, ok := s.FirstWriting(r)
	if !ok || first == r {
		return nil
	}
	if i := slices.Index(first.Via, r); i >= 0 && i+1 < len(first.Via) {
		return first.Via[i+1]
	}
	return nil
}

// Entries are the wanted events as the log shows them.
func Entries(s *fold.Site, in *time.Location, want func(*fold.Record) bool) []Entry {
	records := RecordsByTime(s, want)
	all := make([]Entry, 0, len(records))
	for _, r := range records {
		all = append(all, EntryOf(s, in, r))
	}
	return all
}

// RecordsByTime are the records that are wanted, by when they happened.
func RecordsByTime(s *fold.Site, want func(*fold.Record) bool) []*fold.Record {
	var records []*fold.Record
	for _, r := range s.Records() {
		if want(r) {
			records = append(records, r)
		}
	}
	slices.SortStableFunc(records, history.ByTime)
	return records
}

// Called reports whether a person goes by a name: the whole of it or one of its words, in any case of letters.
func Called(person, name string) bool {
	return strings.EqualFold(person, name) ||
		slices.ContainsFunc(strings.Fields(person), func(word string) bool { return strings.EqualFold(word, name) })
}

// firstOf is the name of the event that a record corrects, directly or by other corrections; its own if it corrects
// none.
func firstOf(s *fold.Site, r *fold.Record) string {
	if first, ok := s.FirstWriting(r); ok {
		return first.Name.String()
	}
	return r.Name.String()
}

// concerns reports whether a record is of a batch, as it was written or as it is read now, or corrects one that is.
func concerns(s *fold.Site, r *fold.Record, batch string) bool {
	names := func(b event.Body) bool {
		return slices.ContainsFunc(event.BatchesOf(b), func(id event.Batch) bool { return id.String() == batch })
	}
	if names(r.Body) || names(r.Now) {
		return true
	}
	first, ok := s.FirstWriting(r)
	return ok && (names(first.Body) || names(first.Now))
}

// Describe an event in one line: as it is read now, or as it was written where it is not read at all.
func Describe(s *fold.Site, r *fold.Record, in *time.Location) string {
	body := r.Now
	if body == nil {
		body = r.Body
	}
	if body == nil {
		return "a kind of event that this version does not know"
	}
	return Words{s.Plan().System, in, s}.of(body, r)
}

// Events are the names of what rests on those records.
func Events(records ...*fold.Record) []event.Name {
	var all []event.Name
	for _, r := range records {
		all = append(all, r.Name)
	}
	return all
}
