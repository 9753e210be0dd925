package journal

import (
	"context"
	"database/sql"

	"hod/internal/chain"
	"hod/internal/event"
)

// enrolled is how the body of an enrolment begins in an event's bytes: the tag of Body.device_enrolled, field 52. Other
// events may hold these two bytes by chance, and are passed over once they are decoded.
var enrolled = []byte{0xA2, 0x03}

// KeyRing is the keys that this device trusts: its own, and those of the enrolments that it holds by the site's root
// and by whom that let enrol. Of the rest of the record nothing is read.
func (j *Journal) KeyRing(ctx context.Context) (*chain.KeyRing, error) {
	var all []event.Event
	asked := map[event.Device]bool{}
	for next := []event.Device{j.device.Root}; len(next) > 0; next = next[1:] {
		if asked[next[0]] {
			continue
		}
		asked[next[0]] = true
		found, err := j.enrolments(ctx, next[0])
		if err != nil {
			return nil, err
		}
		for _, e := range found {
			if b, is := e.Body.(event.DeviceEnrolled); is {
				all = append(all, e)
				if b.Role == event.SiteRole {
					next = append(next, b.Device)
				}
			}
		}
	}
	return j.device.KeyRing(all), nil
}

// enrolments are the events of a device that may be enrolments, each checked against its chain.
func (j *Journal) enrolments(ctx context.Context, by event.Device) ([]event.Event, error) {
	var kept []row
	err := j.read(ctx, func(q *sql.Conn) error {
		found, err := j.ask(ctx, q, `
			select e.mark, e.device, e.seq, b.chain, e.chain, e.raw from event e
			left join event b on b.device = e.device and b.seq = e.seq - 1
			where e.device = ? and instr(e.raw, ?) > 0 order by e.seq`, string(by), enrolled)
		if err != nil {
			return err
		}
		defer found.Close()
		for found.Next() {
			var r row
			if err := j.scan(found, &r.mark, &r.device, &r.seq, &r.before, &r.chain, &r.raw); err != nil {
				return err
			}
			if r.seq == 1 {
				root := j.root(by).Chain
				r.before = root[:]
			}
			kept = append(kept, r)
		}
		return found.Err()
	})
	if err != nil {
		return nil, err
	}
	return j.decode(ctx, kept)
}
