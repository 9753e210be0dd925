package view

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// Words says bodies in a system of units and a place.
type Words struct {
	Sys  unit.System
	In   *time.Location
	Site *fold.Site
}

func (w Words) clock(t time.Time) string { return t.In(w.In).Format("15:04") }

func (w Words) amount(a event.Amount) string {
	if a.ByVolume {
		return unit.Both(w.Sys, unit.As[unit.Volume]{SI: a.Volume, Entered: a.Entered}, unit.System.Liquid)
	}
	return unit.Both(w.Sys, unit.As[unit.Mass]{SI: a.Mass, Entered: a.Entered}, unit.System.Mass)
}

func (w Words) part(p event.Part) string {
	switch {
	case p.Share != nil:
		return w.Sys.Share(p.Share.SI)
	case p.Volume != nil:
		return unit.Both(w.Sys, *p.Volume, unit.System.Volume)
	}
	return "the rest"
}

// of is the table of what each kind of event is in the log: one line a kind.
func (w Words) of(body event.Body, r *fold.Record) string { return w.ofPlan(body, r) }

// ofPlan puts a plan in words, and what is none by the next of these.
func (w Words) ofPlan(body event.Body, r *fold.Record) string {
	switch b := body.(type) {
	case event.SitePlanned:
		return fmt.Sprintf("site %s, %s", b.Name, b.Place)
	case event.ZonePlanned:
		text := fmt.Sprintf("zone %s, %s", b.Zone, unit.Both(w.Sys, b.Area, unit.System.Area))
		if b.At != nil {
			text += fmt.Sprintf(", map row %d, column %d", b.At.Row, b.At.Column)
		}
		return text
	case event.EdgePlanned:
		return fmt.Sprintf("edge %s-%s, %s", b.A, b.B, unit.Both(w.Sys, b.Length, unit.System.Length))
	case event.CoatPlanned:
		return fmt.Sprintf("coat %s, %s of %s", b.Coat, unit.Both(w.Sys, b.Thickness, unit.System.Thickness), b.Mix)
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
	default:
		return w.ofWork(body, r)
	}
}

// ofWork puts in words what was placed, mixed, tended or decided.
func (w Words) ofWork(body event.Body, r *fold.Record) string {
	switch b := body.(type) {
	case event.CoatFinished:
		return fmt.Sprintf("%s is finished", b.Coat) + reason(": %s", b.Why)
	case event.ProgressStated:
		return fmt.Sprintf("%s is %s complete", b.Coat, w.Sys.Share(b.Complete.SI))
	case event.MethodChanged:
		return "placed differently from now on: " + b.What
	case event.BatchMixed:
		return w.batch(b)
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
	case event.FrontEnded:
		where := b.Coat.String()
		if b.OtherZone != "" {
			where += " along " + string(b.OtherZone)
		}
		return fmt.Sprintf("front of %s ended on purpose: %s", where, b.Treatment)
	case event.BatchBegun:
		return fmt.Sprintf("batch %s begun", b.Batch) + reason(" of %s", string(b.Mix)) + w.until(", ready at %s",
			b.Ready, r)
	case event.ProposalTaken:
		return fmt.Sprintf("crew %s takes its next batch to %s", b.Crew, b.Coat) + w.until(", holds until %s", b.Until,
			r)
	case event.DayOrdered:
		return w.order(b, r)
	case event.SurfaceTended:
		return strings.TrimSpace(fmt.Sprintf("%s %s %s", b.Zone, b.Tending, b.With))
	default:
		return w.ofReading(body, r)
	}
}

// ofReading puts in words what was measured, counted or noted.
func (w Words) ofReading(body event.Body, r *fold.Record) string {
	switch b := body.(type) {
	case event.BatchTested:
		return w.test(b)
	case event.WeatherObserved:
		return w.weather(b.Station, b.Samples)
	case event.WeatherForecast:
		return "forecast by " + w.weather(b.Source, b.Samples)
	case event.CureReadings:
		return w.cure(b)
	case event.SpecimensBroken:
		what := "1 specimen"
		if n := len(b.Loads); n != 1 {
			what = fmt.Sprintf("%d specimens", n)
		}
		return fmt.Sprintf("%s of %s broken at %s", what, b.Mix, unit.Duration(b.Age))
	case event.StockReceived:
		return fmt.Sprintf("%s of %s received%s", w.amount(b.Amount), b.Material, reason(", lot %s", b.Lot))
	case event.StockCounted:
		return fmt.Sprintf("%s of %s counted", w.amount(b.Amount), b.Material)
	case event.StockSpoiled:
		return fmt.Sprintf("%s of %s spoiled", w.amount(b.Amount), b.Material) + reason(": %s", b.Why)
	case event.Noted:
		return b.Text
	default:
		return w.ofPeople(body, r)
	}
}

// ofPeople puts in words who was there and who answered.
func (w Words) ofPeople(body event.Body, r *fold.Record) string {
	switch b := body.(type) {
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
	case event.DeviceExcluded:
		if b.FromSeq == 0 {
			return fmt.Sprintf("what device %s wrote counts again", b.Device) + reason(": %s", b.Why)
		}
		return fmt.Sprintf("what device %s wrote does not count from its event %d on", b.Device, b.FromSeq) +
			reason(": %s", b.Why)
	case event.FlagAnswered:
		return fmt.Sprintf("flag %s answered: %s", b.Flag, b.Answer)
	default:
		return w.ofCorrection(body, r)
	}
}

// ofCorrection puts a correction in words; a kind that is in none of these has its name.
func (w Words) ofCorrection(body event.Body, r *fold.Record) string {
	switch b := body.(type) {
	case event.Amended:
		return fmt.Sprintf("%s amended to: %s", w.corrected(b.Target), w.of(b.Body, r)) + w.moved(b, r) +
			reason(" (%s)", b.Why)
	case event.Voided:
		return w.corrected(b.Target) + " taken back" + reason(" (%s)", b.Why)
	case event.Settled:
		return fmt.Sprintf("settled: %s holds", w.target(b.Holds)) + reason(" (%s)", b.Why)
	default:
		return event.KindOf(body)
	}
}

// until puts a time that may be missing into a form, or nothing.
func (w Words) until(form string, t time.Time, r *fold.Record) string {
	if t.IsZero() {
		return ""
	}
	return fmt.Sprintf(form, w.clock(r.OnSite(t)))
}

func (w Words) order(b event.DayOrdered, r *fold.Record) string {
	var bays []string
	for _, k := range b.Bays {
		var zones []string
		for _, z := range k.Zones {
			zones = append(zones, string(z))
		}
		bays = append(bays, strings.Join(zones, " "))
	}
	var crews []string
	for _, c := range b.Crews {
		crews = append(crews, string(c))
	}
	return fmt.Sprintf("order of %s: from %s, crews %s, %d batches: %s", b.Day, w.clock(r.OnSite(b.Start)),
		strings.Join(crews, ", "), b.Batches, strings.Join(bays, "; "))
}

// reason puts words that may be missing into a form, or nothing.
func reason(form, words string) string {
	if words == "" {
		return ""
	}
	return fmt.Sprintf(form, words)
}

func (w Words) material(b event.MaterialPlanned) string {
	text := string(b.Material)
	if b.Bulk != nil {
		text += ", loose " + unit.Both(w.Sys, *b.Bulk, unit.System.Density)
	}
	if b.Bag != nil {
		text += ", a bag of " + unit.Both(w.Sys, *b.Bag, unit.System.Mass)
	}
	return text
}

func (w Words) target(h event.Hash) string {
	if r, ok := w.Site.ByHash(h); ok {
		return r.Name.String()
	}
	return "an event that has not arrived"
}

// corrected names the event that a correction is of: the one first written, however often it was corrected before.
func (w Words) corrected(target event.Hash) string {
	if r, ok := w.Site.ByHash(target); ok {
		if first, ok := w.Site.FirstWriting(r); ok {
			return first.Name.String()
		}
	}
	return w.target(target)
}

// moved says when it happened by an amendment that changes that.
func (w Words) moved(b event.Amended, r *fold.Record) string {
	if b.HappenedAt.IsZero() {
		return ""
	}
	return ", at " + r.OnSite(b.HappenedAt).In(w.In).Format("2 Jan 15:04")
}

func (w Words) batch(b event.BatchMixed) string {
	text := fmt.Sprintf("batch %s of %s", b.Batch, b.Mix)
	if is, ok := w.Site.Batch(b.Batch); ok && is.Wrong == "" {
		text += fmt.Sprintf(", %s, w/cm %.3f", w.Sys.Mass(is.Figures.Mass), is.Figures.WaterCementitious)
	}
	return text + reason("; because: %s", b.Because)
}

func (w Words) test(b event.BatchTested) string {
	var parts []string
	if b.UnitWeight != nil {
		parts = append(parts, unit.Both(w.Sys, *b.UnitWeight, unit.System.Density))
	}
	if b.Gross != nil && b.Measure != nil {
		parts = append(parts, fmt.Sprintf("%s in %s", unit.Both(w.Sys, *b.Gross, unit.System.Mass),
			unit.Both(w.Sys, *b.Measure, unit.System.Volume)))
	}
	if b.Temperature != nil {
		parts = append(parts, unit.Both(w.Sys, *b.Temperature, unit.System.Temperature))
	}
	if b.Flow != nil {
		parts = append(parts, "flow "+w.Sys.Share(b.Flow.SI))
	}
	if b.Air != nil {
		parts = append(parts, "air "+w.Sys.Share(b.Air.SI))
	}
	if b.InitialSet > 0 {
		parts = append(parts, "initial set "+unit.Duration(b.InitialSet)+" after water contact")
	}
	return fmt.Sprintf("batch %s tested: %s", b.Batch, strings.Join(parts, ", "))
}

func (w Words) placement(b event.Placement, r *fold.Record) string {
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
		text += ", which is then " + w.Sys.Share(b.Complete.SI) + " complete"
	}
	return text + reason("; because: %s", b.Because)
}

func (w Words) weather(station string, samples []event.Weather) string {
	if len(samples) != 1 {
		if len(samples) == 0 {
			return station + ": nothing"
		}
		return fmt.Sprintf("%s: %d readings from %s to %s", station, len(samples),
			samples[0].At.In(w.In).Format("2 Jan 15:04"), samples[len(samples)-1].At.In(w.In).Format("2 Jan 15:04"))
	}
	k := samples[0]
	var parts []string
	if k.Air != nil {
		parts = append(parts, w.Sys.Temperature(*k.Air))
	}
	if k.Humidity != nil {
		parts = append(parts, w.Sys.Share(*k.Humidity)+" humidity")
	}
	if k.DewPoint != nil {
		parts = append(parts, "dew point "+w.Sys.Temperature(*k.DewPoint))
	}
	if k.Wind != nil {
		parts = append(parts, "wind "+w.Sys.Speed(*k.Wind))
	}
	return station + ": " + strings.Join(parts, ", ")
}

func (w Words) cure(b event.CureReadings) string {
	if len(b.Samples) == 1 {
		return fmt.Sprintf("%s at %s by %s", b.Coat, w.Sys.Temperature(b.Samples[0].Temperature), b.Probe)
	}
	return fmt.Sprintf("%s: %d readings by %s", b.Coat, len(b.Samples), b.Probe)
}

// Version is what one of several that contradict each other says, in full where the usual line would hide it.
func (w Words) Version(r *fold.Record) string {
	body := r.Body
	if r.Now != nil && IsPlan(r.Now) {
		body = r.Now
	}
	b, ok := body.(event.Amended)
	if !ok {
		return w.of(body, r)
	}
	mixed, ok := b.Body.(event.BatchMixed)
	if !ok {
		return w.of(body, r)
	}
	var charges []string
	for _, c := range mixed.Charges {
		charges = append(charges, fmt.Sprintf("%s %s", c.Constituent, w.amount(c.Amount)))
	}
	return fmt.Sprintf("batch %s of %s: %s", mixed.Batch, mixed.Mix, strings.Join(charges, ", ")) + reason(" (%s)",
		b.Why)
}

// Joined are two sentences as one text; either may be empty.
func Joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}
