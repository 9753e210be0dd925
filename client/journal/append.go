package journal

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
)

// maxAppend leaves room in an event for the hash that it gets when it is written again after a fork.
const maxAppend = event.MaxBytes - 64

// Append writes events of this device, in order, and returns them as they are recorded. It fills in the device, the
// next seq, the time of logging (now), and where the draft has none the time of happening (now), the crew, and the
// clock's offset as measured at the last contact. A draft that event.Write made for this place in the log is recorded
// as it is. When it returns without an error, all of them are flushed to the disk; otherwise none is kept. A failure of
// the disk is an *Error; a draft that cannot be is an error that says which.
func (j *Journal) Append(ctx context.Context, now time.Time, drafts ...event.Event) ([]event.Event, error) {
	if len(drafts) == 0 {
		return nil, nil
	}
	var written []event.Event
	err := j.write(ctx, func(q *sql.Conn) error {
		if err := j.stillOwn(ctx, q); err != nil {
			return err
		}
		head, err := j.headOf(ctx, q, j.device.Name)
		if err != nil {
			return err
		}
		offset, err := j.offset(ctx, q)
		if err != nil {
			return err
		}
		for i, e := range drafts {
			if e.Device != "" && e.Device != j.device.Name {
				return fmt.Errorf("event %d of %d is of device %q; this journal is that of %q", i+1, len(drafts),
					e.Device, j.device.Name)
			}
			next := event.Name{Device: j.device.Name, Seq: head.Seq + 1}
			if e, err = j.stamp(e, next, now, offset); err != nil {
				return fmt.Errorf("event %d of %d cannot be recorded: %w", i+1, len(drafts), err)
			}
			if len(e.Bytes()) > maxAppend {
				return fmt.Errorf("event %d of %d has %d bytes; the most is %d", i+1, len(drafts), len(e.Bytes()),
					maxAppend)
			}
			if head, err = j.insert(ctx, q, head, e); err != nil {
				return err
			}
			written = append(written, e)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return written, nil
}

// stamp makes of a draft the event that has this name and was logged now. What event.Write made so already, when the
// draft was tried, is not encoded again; it is where the seq was taken meanwhile, or the first contact measured the
// clock.
func (j *Journal) stamp(e event.Event, name event.Name, now time.Time, offset *time.Duration) (event.Event, error) {
	if len(e.Bytes()) > 0 && e.Name == name && e.LoggedAt.Equal(now.Truncate(time.Millisecond)) &&
		(e.Offset != nil || offset == nil) {
		return e, nil
	}
	e.Name, e.LoggedAt = name, now
	if e.HappenedAt.IsZero() {
		e.HappenedAt = now
	}
	if e.Crew == "" {
		e.Crew = j.device.Crew
	}
	if e.Offset == nil {
		e.Offset = offset
	}
	return event.Write(e)
}

// insert puts the event that follows head and gives the head after it.
func (j *Journal) insert(ctx context.Context, q *sql.Conn, head chain.Head, e event.Event) (chain.Head, error) {
	head.Seq, head.Chain = e.Seq, head.Chain.Next(e.Bytes())
	if e.Device == j.device.Name {
		j.wrote = e.Seq
	}
	err := j.put(ctx, q, `insert into event (device, seq, chain, raw) values (?, ?, ?, ?)`,
		string(e.Device), int64(e.Seq), head.Chain[:], e.Bytes())
	return head, err
}
