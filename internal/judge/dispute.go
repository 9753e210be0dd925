package judge

import (
	"fmt"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
)

// disputes are the conflicts of a site, each told once: what is at odds, by what it is of.
type disputes struct {
	corrections map[*history.Record][]*history.Record // of one event, by name
	plans       map[string][]*history.Record          // of one thing, by name
	told        map[string]bool                       // by the finding's key
}

func (s *Judge) disputes() disputes {
	d := disputes{map[*history.Record][]*history.Record{}, map[string][]*history.Record{}, map[string]bool{}}
	for _, r := range s.Loose() {
		if r.State != history.Disputed {
			continue
		}
		if r.Root != nil {
			d.corrections[r.Root] = append(d.corrections[r.Root], r)
		}
		if slot := event.ThingOf(r.Now); slot != "" && r.IsFiled() {
			d.plans[slot] = append(d.plans[slot], r)
		}
	}
	return d
}

// of finds corrections or plans that replace the same as r does: all of them, the event that they are of, and what a
// foreman types to settle it. Events names what they are of, where it is a correction, and then each of the rivals.
// False where that conflict was told before.
func (d disputes) of(r *history.Record) (finding.Finding, bool) {
	of := r
	if r.Root != nil {
		of = r.Root
	}
	key := of.Name.String()
	slot := event.ThingOf(of.Body)
	isPlan := slot != "" && r.Root == nil && len(r.Via) == 0
	if isPlan {
		key = slot
	}
	if d.told[key] {
		return finding.Finding{}, false
	}
	d.told[key] = true
	f := finding.Finding{Code: finding.Dispute, Grave: true, Key: key, Subject: key, Since: r.At()}
	if isPlan {
		f.Text = fmt.Sprintf("%s was planned in two ways; the one written later is used until a foreman settles it",
			slot)
		rivals(&f, d.plans[slot])
		return f, true
	}
	f.Text = fmt.Sprintf(
		"%s (%s) was corrected or planned in two ways; the one written later is used until a foreman settles it",
		of.Name, event.KindOf(of.Body))
	f.Events = []event.Name{of.Name}
	rivals(&f, d.corrections[of])
	return f, true
}

func rivals(f *finding.Finding, all []*history.Record) {
	for _, r := range all {
		f.Events = append(f.Events, r.Name)
		f.Do = append(f.Do, "hod settle "+r.Name.String())
	}
}
