package judge

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/unit"
)

// clockRun is events of one device, one after the other, between which its clock was off by the same.
type clockRun struct {
	offset  time.Duration
	known   bool // false: before the device's first contact
	records []*history.Record
}

// first and last of the run, as "n2/3 to n2/9".
func (k clockRun) words() string { return spanOf(k.records) }

func spanOf(records []*history.Record) string {
	first, last := records[0].Name, records[len(records)-1].Name
	if first == last {
		return first.String()
	}
	return first.String() + " to " + last.String()
}

// madeByClock are those of which the device's clock made the times; a person typed those of the others.
func madeByClock(records []*history.Record) []*history.Record {
	var made []*history.Record
	for _, r := range records {
		if !r.Typed {
			made = append(made, r)
		}
	}
	return made
}

// clockRuns divides the events of a device by how far its clock was off.
func clockRuns(of []*history.Record) []clockRun {
	var runs []clockRun
	for _, r := range of {
		is := clockRun{known: r.Offset != nil, records: []*history.Record{r}}
		if is.known {
			is.offset = *r.Offset
		}
		if n := len(runs); n > 0 && runs[n-1].known == is.known &&
			(runs[n-1].offset-is.offset).Abs() <= history.OffsetLimit {
			runs[n-1].records = append(runs[n-1].records, r)
			continue
		}
		runs = append(runs, is)
	}
	return runs
}

// unsure are the last events of a run that were written since the last contact that found the clock off by so much, as
// far as nothing shows that it was not set before them: any may have been written after.
func (k clockRun) unsure() []*history.Record {
	last := k.records[len(k.records)-1]
	var from int
	for from = len(k.records); from > 0; from-- {
		r := k.records[from-1]
		if r.Basis == event.Carried || k.known && *r.Offset != *last.Offset {
			break
		}
	}
	return madeByClock(k.records[from:])
}

// judgeClocks finds devices whose clock was off, and those whose clock was set between two contacts so that nobody can
// tell which times it made before that and which after. It says what was corrected and what was not.
func (s *Judge) judgeClocks() []finding.Finding {
	var all []finding.Finding
	for _, d := range s.Devices() {
		of := slices.Clone(s.WrittenBy(d.Name))
		of = slices.DeleteFunc(of, func(r *history.Record) bool {
			return r.Aside != nil &&
				r.Aside.Code == history.Forked
		})
		slices.SortFunc(of, func(a, b *history.Record) int { return event.CompareNames(a.Name, b.Name) })
		runs := clockRuns(of)
		if f, ok := clockOff(d.Name, runs); ok {
			all = append(all, f)
		}
		for i := 1; i < len(runs); i++ {
			if f, ok := clockSet(d.Name, runs[i-1], runs[i]); ok {
				all = append(all, f)
			}
		}
	}
	return all
}

// clockOff says over which events a device's clock was off, and how many of their times it made and were corrected.
func clockOff(device event.Device, runs []clockRun) (finding.Finding, bool) {
	const most = 3 // runs that are told
	var said []string
	var last clockRun
	made := 0
	for _, k := range runs {
		if k.known && k.offset.Abs() > history.OffsetLimit {
			said = append(said, fmt.Sprintf("%s at %s", aheadOrBehind(k.offset), k.words()))
			made += len(madeByClock(k.records))
			last = k
		}
	}
	if len(said) == 0 {
		return finding.Finding{}, false
	}
	if n := len(said) - most; n > 0 {
		said = append([]string{unit.Count(n, "other time", "other times")}, said[n:]...)
	}
	done := "no time in these was made by it, so nothing is corrected"
	if made > 0 {
		done = fmt.Sprintf("the times that it made in %s of these are corrected by that, typed ones are not",
			unit.Count(made, "event", "events"))
	}
	r := last.records[len(last.records)-1]
	return finding.Finding{
		Code: finding.Clock, Key: string(device), Subject: "device " + string(device), Since: r.At(),
		Events: []event.Name{r.Name},
		Text:   fmt.Sprintf("the clock of device %s was %s; %s", device, strings.Join(said, ", "), done),
		Basis: finding.Basis{
			Limit: unit.Duration(history.OffsetLimit),
			Allowed: finding.Figure{
				Low:  finding.Minutes(-history.OffsetLimit).Number,
				High: finding.Minutes(history.OffsetLimit).Number, Unit: "min",
			},
			Evidence: []finding.Fact{{
				Name: "site's clock less the device's", Value: unit.Duration(last.offset),
				Figure: finding.Minutes(last.offset),
			}},
			Formula: "the host's clock less the device's, as the device took it at its last contact and carried it on by its uptime where it has one",
		},
	}, true
}

// clockSet says of which events nobody can tell whether they were written before or after the clock was set, where that
// came to light at the contact between the two runs.
func clockSet(device event.Device, before, after clockRun) (finding.Finding, bool) {
	by := (after.offset - before.offset).Abs().Round(time.Second)
	unsure := before.unsure()
	if !after.known || by <= history.OffsetLimit || len(unsure) == 0 {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: finding.ClockSet, Key: unsure[0].Name.String(), Subject: "device " + string(device),
		Since: unsure[0].At(),
		Basis: finding.Basis{
			Limit:   unit.Duration(history.OffsetLimit),
			Allowed: finding.Figure{High: finding.Minutes(history.OffsetLimit).Number, Unit: "min"},
			Formula: "the offsets of two contacts, one after the other, differ: the clock was set between them",
		},
	}
	for _, r := range unsure[:min(len(unsure), 20)] {
		f.Events = append(f.Events, r.Name)
	}
	if !before.known {
		f.Text = fmt.Sprintf(
			"the first contact of device %s found its clock %s; the times that it made before that, in %s, are not corrected: whether it was off by as much then is not known",
			device, aheadOrBehind(after.offset), spanOf(unsure))
		return f, true
	}
	f.Evidence = []finding.Fact{
		{Name: "at the contact before", Value: aheadOrBehind(before.offset), Figure: finding.Minutes(before.offset)},
		{Name: "at the contact after", Value: aheadOrBehind(after.offset), Figure: finding.Minutes(after.offset)},
	}
	f.Text = fmt.Sprintf(
		"the clock of device %s was set by %s between two contacts, before, between or after %s: the times that it made there are corrected by what the contact before found, and may be off by %s; amend what matters with at=",
		device, unit.Duration(by), spanOf(unsure), unit.Duration(by))
	return f, true
}

func aheadOrBehind(offset time.Duration) string {
	switch offset = offset.Round(time.Second); {
	case offset == 0:
		return "right"
	case offset < 0:
		return unit.Duration(-offset) + " fast"
	}
	return unit.Duration(offset) + " slow"
}
