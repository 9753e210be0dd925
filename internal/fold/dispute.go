package fold

import (
	"fmt"

	"hod/internal/event"
)

// disputes are the conflicts of a site, each told once: what is at odds, by what it is of.
type disputes struct {
	corrections map[*Record][]*Record // of one event, by name
	plans       map[string][]*Record  // of one thing, by name
	told        map[string]bool       // by the finding's key
}

func (s *Judge) disputes() disputes {
	d := disputes{map[*Record][]*Record{}, map[string][]*Record{}, map[string]bool{}}
	for _, r := range s.Loose() {
		if r.State != Disputed {
			continue
		}
		if r.root != nil {
			d.corrections[r.root] = append(d.corrections[r.root], r)
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
func (d disputes) of(r *Record) (Finding, bool) {
	of := r
	if r.root != nil {
		of = r.root
	}
	key := of.Name.String()
	slot := event.ThingOf(of.Body)
	isPlan := slot != "" && r.root == nil && len(r.Via) == 0
	if isPlan {
		key = slot
	}
	if d.told[key] {
		return Finding{}, false
	}
	d.told[key] = true
	f := Finding{Code: Dispute, Grave: true, Key: key, Subject: key, Since: r.At()}
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

func rivals(f *Finding, all []*Record) {
	for _, r := range all {
		f.Events = append(f.Events, r.Name)
		f.Do = append(f.Do, "hod settle "+r.Name.String())
	}
}
