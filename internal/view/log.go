package view

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
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
	Late     bool      `json:"late,omitempty"`  // in a day's report: written after that day had ended
	Moved    string    `json:"moved,omitempty"` // in a day's report, of what puts a plan right: what it moved in the record
}

// LogQuery says what of the record to show; the zero value is all of it.
type LogQuery struct {
	Zone, Crew, Kind string
	Person           string   // a name or a word of it, in any case of letters
	Batch            string   // in full, north/2026-07-18/16
	Events           []string // these, and all that corrects them
	Since            time.Time
	SetAside         bool
	Most             int // the newest so many; 0 is all
}

// LogOf the site: oldest first, by when it happened.
func LogOf(s *fold.Site, now time.Time, in *time.Location, q LogQuery) Log {
	v := Log{Site: siteName(s), AsOf: now, Units: s.Plan().System.String()}
	v.Entries = entries(s, in, func(r *fold.Record) bool { return q.wants(s, r) })
	if n := len(v.Entries); q.Most > 0 && n > q.Most {
		v.Entries = v.Entries[n-q.Most:]
	}
	return v
}

// wants reports whether a record is one that is asked for.
func (q LogQuery) wants(s *fold.Site, r *fold.Record) bool {
	switch {
	case q.SetAside && r.State != fold.SetAside,
		q.Crew != "" && string(r.Crew) != q.Crew,
		q.Kind != "" && event.KindOf(r.Body) != q.Kind,
		!q.Since.IsZero() && r.When.Before(q.Since),
		q.Zone != "" && !slices.Contains(ZonesOf(r.Body), q.Zone),
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
		Name: r.Name.String(), Crew: string(r.Crew), Person: r.Person, At: r.When.UTC(), LoggedAt: r.Logged().UTC(), Kind: event.KindOf(r.Body),
		Text: Describe(s, r, in), State: r.State.String(), Hash: r.Hash().String(),
	}
	if r.Aside != nil {
		e.Code, e.Reason = string(r.Aside.Code), r.Aside.Why
	}
	if next := correctedBy(s, r); next != nil {
		e.State, e.Reason = fold.Amended.String(), join(e.Reason, "by "+next.Name.String())
	}
	if len(r.Via) > 0 {
		var by []string
		for _, fix := range r.Via {
			by = append(by, fix.Name.String())
		}
		e.Reason = join(e.Reason, "by "+strings.Join(by, ", "))
	}
	return e
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

func entries(s *fold.Site, in *time.Location, want func(*fold.Record) bool) []Entry {
	records := recordsByTime(s, want)
	all := make([]Entry, 0, len(records))
	for _, r := range records {
		all = append(all, EntryOf(s, in, r))
	}
	return all
}

// recordsByTime are the records that are wanted, by when they happened.
func recordsByTime(s *fold.Site, want func(*fold.Record) bool) []*fold.Record {
	var records []*fold.Record
	for _, r := range s.Records() {
		if want(r) {
			records = append(records, r)
		}
	}
	slices.SortStableFunc(records, func(a, b *fold.Record) int {
		if c := a.When.Compare(b.When); c != 0 {
			return c
		}
		return event.CompareNames(a.Name, b.Name)
	})
	return records
}

// Called reports whether a person goes by a name: the whole of it or one of its words, in any case of letters.
func Called(person, name string) bool {
	return strings.EqualFold(person, name) || slices.ContainsFunc(strings.Fields(person), func(word string) bool { return strings.EqualFold(word, name) })
}

// firstOf is the name of the event that a record corrects, directly or by other corrections; its own if it corrects none.
func firstOf(s *fold.Site, r *fold.Record) string {
	if first, ok := s.FirstWriting(r); ok {
		return first.Name.String()
	}
	return r.Name.String()
}

// concerns reports whether a record is of a batch, as it was written or as it is read now, or corrects one that is.
func concerns(s *fold.Site, r *fold.Record, batch string) bool {
	if slices.Contains(batchesOf(r.Body), batch) || slices.Contains(batchesOf(r.Now), batch) {
		return true
	}
	first, ok := s.FirstWriting(r)
	return ok && (slices.Contains(batchesOf(first.Body), batch) || slices.Contains(batchesOf(first.Now), batch))
}

// batchesOf are the batches that a body names.
func batchesOf(b event.Body) []string {
	switch b := b.(type) {
	case event.BatchMixed:
		return []string{b.Batch.String()}
	case event.BatchTested:
		return []string{b.Batch.String()}
	case event.Placement:
		return []string{b.Batch.String()}
	case event.BatchDiscarded:
		return []string{b.Batch.String()}
	case event.SpecimensBroken:
		if b.Batch != nil {
			return []string{b.Batch.String()}
		}
	case event.Amended:
		return batchesOf(b.Body)
	}
	return nil
}

// ZonesOf are the zones that a body is about.
func ZonesOf(b event.Body) []string {
	switch b := b.(type) {
	case event.ZonePlanned:
		return []string{string(b.Zone)}
	case event.EdgePlanned:
		return []string{string(b.A), string(b.B)}
	case event.CoatPlanned:
		return []string{string(b.Coat.Zone)}
	case event.Placement:
		return []string{string(b.Coat.Zone)}
	case event.JointTreated:
		return []string{string(b.Coat.Zone), string(b.OtherZone)}
	case event.SurfaceTended:
		return []string{string(b.Zone)}
	case event.CoatFinished:
		return []string{string(b.Coat.Zone)}
	case event.ProgressStated:
		return []string{string(b.Coat.Zone)}
	case event.CureReadings:
		return []string{string(b.Coat.Zone)}
	case event.Noted:
		return []string{string(b.Zone)}
	case event.Amended:
		return ZonesOf(b.Body)
	}
	return nil
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
	return words{s.Plan().System, in, s}.of(body, r)
}

// words says bodies in a system of units and a place.
type words struct {
	sys  unit.System
	in   *time.Location
	site *fold.Site
}

func (w words) clock(t time.Time) string { return t.In(w.in).Format("15:04") }

func (w words) amount(a event.Amount) string {
	if a.ByVolume {
		return unit.Both(w.sys, unit.As[unit.Volume]{SI: a.Volume, Entered: a.Entered}, unit.System.Liquid)
	}
	return unit.Both(w.sys, unit.As[unit.Mass]{SI: a.Mass, Entered: a.Entered}, unit.System.Mass)
}

func (w words) part(p event.Part) string {
	switch {
	case p.Share != nil:
		return w.sys.Share(p.Share.SI)
	case p.Volume != nil:
		return unit.Both(w.sys, *p.Volume, unit.System.Volume)
	}
	return "the rest"
}

func (w words) of(body event.Body, r *fold.Record) string {
	switch b := body.(type) {
	case event.SitePlanned:
		return fmt.Sprintf("site %s, %s", b.Name, b.Place)
	case event.ZonePlanned:
		return fmt.Sprintf("zone %s, %s", b.Zone, unit.Both(w.sys, b.Area, unit.System.Area))
	case event.EdgePlanned:
		return fmt.Sprintf("edge %s-%s, %s", b.A, b.B, unit.Both(w.sys, b.Length, unit.System.Length))
	case event.CoatPlanned:
		return fmt.Sprintf("coat %s, %s of %s", b.Coat, unit.Both(w.sys, b.Thickness, unit.System.Thickness), b.Mix)
	case event.MixPlanned:
		text := fmt.Sprintf("mix %s, revision %d, %d constituents", b.Mix, b.Revision, len(b.Constituents))
		if b.Corrects > 0 {
			text += w.correction(b)
		}
		return text
	case event.CrewPlanned:
		return fmt.Sprintf("crew %s, %s", b.Crew, b.Name)
	case event.MaterialPlanned:
		return w.material(b)
	case event.CoatFinished:
		return fmt.Sprintf("%s is finished", b.Coat) + reason(": %s", b.Why)
	case event.ProgressStated:
		return fmt.Sprintf("%s is %s complete", b.Coat, w.sys.Share(b.Complete.SI))
	case event.MethodChanged:
		return "placed differently from now on: " + b.What
	case event.BatchMixed:
		return w.batch(b)
	case event.BatchTested:
		return w.test(b)
	case event.Placement:
		return w.placement(b, r)
	case event.BatchDiscarded:
		return fmt.Sprintf("%s of batch %s discarded", w.part(b.Part), b.Batch) + reason(": %s", b.Why)
	case event.JointTreated:
		where := b.Coat.String()
		if b.OtherZone != "" {
			where += " along " + string(b.OtherZone)
		}
		return fmt.Sprintf("joint of %s treated: %s", where, b.Method)
	case event.SurfaceTended:
		return strings.TrimSpace(fmt.Sprintf("%s %s %s", b.Zone, b.Tending, b.With))
	case event.WeatherObserved:
		return w.weather(b.Station, b.Samples)
	case event.WeatherForecast:
		return "forecast by " + w.weather(b.Source, b.Samples)
	case event.CureReadings:
		return w.cure(b)
	case event.StockReceived:
		return fmt.Sprintf("%s of %s received%s", w.amount(b.Amount), b.Material, reason(", lot %s", b.Lot))
	case event.StockCounted:
		return fmt.Sprintf("%s of %s counted", w.amount(b.Amount), b.Material)
	case event.StockSpoiled:
		return fmt.Sprintf("%s of %s spoiled", w.amount(b.Amount), b.Material) + reason(": %s", b.Why)
	case event.SpecimensBroken:
		what := "1 specimen"
		if n := len(b.Loads); n != 1 {
			what = fmt.Sprintf("%d specimens", n)
		}
		return fmt.Sprintf("%s of %s broken at %s", what, b.Mix, unit.Duration(b.Age))
	case event.Noted:
		return b.Text
	case event.FlagAnswered:
		return fmt.Sprintf("flag %s answered: %s", b.Flag, b.Answer)
	case event.ShiftStarted:
		return fmt.Sprintf("shift started, %d people", b.People)
	case event.ShiftEnded:
		return strings.TrimSpace("shift ended " + b.Left)
	case event.DeviceEnrolled:
		text := fmt.Sprintf("device %s enrolled as %s", b.Device, b.Role)
		if b.Crew != "" {
			text += " of crew " + string(b.Crew)
		}
		return text + reason(": %s", b.Label)
	case event.DeviceRevoked:
		return fmt.Sprintf("device %s revoked after its event %d", b.Device, b.LastSeq) + reason(": %s", b.Why)
	case event.Amended:
		return fmt.Sprintf("%s amended to: %s", w.corrected(b.Target), w.of(b.Body, r)) + w.moved(b, r) + reason(" (%s)", b.Why)
	case event.Voided:
		return w.corrected(b.Target) + " taken back" + reason(" (%s)", b.Why)
	case event.Settled:
		return fmt.Sprintf("settled: %s holds", w.target(b.Holds)) + reason(" (%s)", b.Why)
	}
	return event.KindOf(body)
}

// reason puts words that may be missing into a form, or nothing.
func reason(form, words string) string {
	if words == "" {
		return ""
	}
	return fmt.Sprintf(form, words)
}

func (w words) material(b event.MaterialPlanned) string {
	text := string(b.Material)
	if b.Bulk != nil {
		text += ", loose " + unit.Both(w.sys, *b.Bulk, unit.System.Density)
	}
	if b.Bag != nil {
		text += ", a bag of " + unit.Both(w.sys, *b.Bag, unit.System.Mass)
	}
	return text
}

func (w words) target(h event.Hash) string {
	if r, ok := w.site.ByHash(h); ok {
		return r.Name.String()
	}
	return "an event that has not arrived"
}

// corrected names the event that a correction is of: the one first written, however often it was corrected before.
func (w words) corrected(target event.Hash) string {
	if r, ok := w.site.ByHash(target); ok {
		if first, ok := w.site.FirstWriting(r); ok {
			return first.Name.String()
		}
	}
	return w.target(target)
}

// moved says when it happened by an amendment that changes that.
func (w words) moved(b event.Amended, r *fold.Record) string {
	if b.HappenedAt.IsZero() {
		return ""
	}
	return ", at " + r.OnSite(b.HappenedAt).In(w.in).Format("2 Jan 15:04")
}

func (w words) batch(b event.BatchMixed) string {
	text := fmt.Sprintf("batch %s of %s", b.Batch, b.Mix)
	if is, ok := w.site.Batch(b.Batch); ok && is.Wrong == "" {
		text += fmt.Sprintf(", %s, w/cm %.3f", w.sys.Mass(is.Figures.Mass), is.Figures.WaterCementitious)
	}
	return text + reason("; because: %s", b.Because)
}

func (w words) test(b event.BatchTested) string {
	var parts []string
	if b.UnitWeight != nil {
		parts = append(parts, unit.Both(w.sys, *b.UnitWeight, unit.System.Density))
	}
	if b.Gross != nil && b.Measure != nil {
		parts = append(parts, fmt.Sprintf("%s in %s", unit.Both(w.sys, *b.Gross, unit.System.Mass), unit.Both(w.sys, *b.Measure, unit.System.Volume)))
	}
	if b.Temperature != nil {
		parts = append(parts, unit.Both(w.sys, *b.Temperature, unit.System.Temperature))
	}
	if b.Flow != nil {
		parts = append(parts, "flow "+w.sys.Share(b.Flow.SI))
	}
	if b.Air != nil {
		parts = append(parts, "air "+w.sys.Share(b.Air.SI))
	}
	return fmt.Sprintf("batch %s tested: %s", b.Batch, strings.Join(parts, ", "))
}

func (w words) placement(b event.Placement, r *fold.Record) string {
	text := fmt.Sprintf("%s of batch %s in %s", w.part(b.Part), b.Batch, b.Coat)
	if !b.From.IsZero() {
		text += ", from " + w.clock(r.OnSite(b.From))
	}
	if !b.To.IsZero() {
		text += " to " + w.clock(r.OnSite(b.To))
	}
	if len(b.Along) > 0 {
		var along []string
		for _, z := range b.Along {
			along = append(along, string(z))
		}
		text += ", along " + strings.Join(along, " and ")
	}
	if b.Complete != nil {
		text += ", which is then " + w.sys.Share(b.Complete.SI) + " complete"
	}
	return text + reason("; because: %s", b.Because)
}

func (w words) weather(station string, samples []event.Weather) string {
	if len(samples) != 1 {
		if len(samples) == 0 {
			return station + ": nothing"
		}
		return fmt.Sprintf("%s: %d readings from %s to %s", station, len(samples), samples[0].At.In(w.in).Format("2 Jan 15:04"), samples[len(samples)-1].At.In(w.in).Format("2 Jan 15:04"))
	}
	k := samples[0]
	var parts []string
	if k.Air != nil {
		parts = append(parts, w.sys.Temperature(*k.Air))
	}
	if k.Humidity != nil {
		parts = append(parts, w.sys.Share(*k.Humidity)+" humidity")
	}
	if k.DewPoint != nil {
		parts = append(parts, "dew point "+w.sys.Temperature(*k.DewPoint))
	}
	if k.Wind != nil {
		parts = append(parts, "wind "+w.sys.Speed(*k.Wind))
	}
	return station + ": " + strings.Join(parts, ", ")
}

func (w words) cure(b event.CureReadings) string {
	if len(b.Samples) == 1 {
		return fmt.Sprintf("%s at %s by %s", b.Coat, w.sys.Temperature(b.Samples[0].Temperature), b.Probe)
	}
	return fmt.Sprintf("%s: %d readings by %s", b.Coat, len(b.Samples), b.Probe)
}

func events(records ...*fold.Record) []event.Name {
	var all []event.Name
	for _, r := range records {
		all = append(all, r.Name)
	}
	return all
}
