package journal

import (
	"context"
	"crypto/ed25519"
	"database/sql"

	"hod/internal/chain"
	"hod/internal/event"
)

// MaxOffer bounds the segments of one Offer, so that a device with months waiting sends them from little memory.
const MaxOffer = 64

// Offer gives the segments of a device's record that follow the head which a server has accepted, in order and at most
// MaxOffer; ask again after the last of them for more. This device's own are signed now; others' are those received,
// and the first may begin before after. The error is a *Fork if the head that the server has accepted is not part of
// what is held here; a head beyond what is held gives nothing.
func (j *Journal) Offer(ctx context.Context, device event.Device, after chain.Head) ([]chain.Segment, error) {
	after.Device = device
	if after.Seq == 0 {
		after = j.root(device)
	}
	var segs []chain.Segment
	err := j.read(ctx, func(q *sql.Conn) error {
		head, err := j.headOf(ctx, q, device)
		if err != nil || head.Seq < after.Seq {
			return err
		}
		if here, ok, err := j.headAt(ctx, q, device, after.Seq); err != nil {
			return err
		} else if !ok || here != after {
			return &Fork{device, after.Seq}
		}
		if device == j.device.Name {
			segs, err = j.ownSegments(ctx, q, after)
		} else {
			segs, err = j.receivedSegments(ctx, q, after)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return segs, nil
}

// Enrolment gives the segment by which the site's root enrolled this device, as it came; nil where it never did. A
// server that forgot the device knows by it that the name is its own.
func (j *Journal) Enrolment(ctx context.Context) ([]byte, error) {
	public := j.device.Key.Public().(ed25519.PublicKey)
	for after := (chain.Head{}); ; {
		segs, err := j.Offer(ctx, j.device.Root, after)
		if err != nil || len(segs) == 0 {
			return nil, err
		}
		for _, s := range segs {
			for _, e := range s.Events {
				if b, ok := e.Body.(event.DeviceEnrolled); ok && b.Device == j.device.Name &&
					public.Equal(ed25519.PublicKey(b.PublicKey)) {
					return s.Bytes(), nil
				}
			}
		}
		after = segs[len(segs)-1].After
	}
}

func (j *Journal) ownSegments(ctx context.Context, q *sql.Conn, after chain.Head) (segs []chain.Segment, err error) {
	rows, err := j.ask(ctx, q, `select raw from event where device = ? and seq > ? order by seq`, string(after.Device),
		int64(after.Seq))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var waiting []event.Event
	sign := func(n int) error {
		s, err := chain.Sign(j.device.Key, j.device.Site, after, waiting[:n:n])
		if err != nil {
			return err
		}
		segs, after, waiting = append(segs, s), s.After, waiting[n:]
		return nil
	}
	for len(segs) < MaxOffer && rows.Next() {
		var raw []byte
		if err := j.scan(rows, &raw); err != nil {
			return nil, err
		}
		e, err := event.Read(raw)
		if err != nil {
			return nil, j.damaged("event %s/%d: %v", after.Device, after.Seq+uint64(len(waiting))+1, err)
		}
		waiting = append(waiting, e)
		if n := chain.Fit(waiting); n < len(waiting) {
			if err := sign(n); err != nil {
				return nil, err
			}
		}
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	if len(waiting) > 0 && len(segs) < MaxOffer {
		return segs, sign(chain.Fit(waiting))
	}
	return segs, nil
}

func (j *Journal) receivedSegments(ctx context.Context, q *sql.Conn, after chain.Head) (segs []chain.Segment,
	err error,
) {
	rows, err := j.ask(ctx, q, `select raw from segment where device = ? and last > ? order by last limit ?`,
		string(after.Device), int64(after.Seq), MaxOffer)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var raw []byte
		if err := j.scan(rows, &raw); err != nil {
			return nil, err
		}
		s, err := chain.ReadSegment(raw)
		if err != nil {
			return nil, j.damaged("a segment of %q after %d: %v", after.Device, after.Seq, err)
		}
		segs = append(segs, s)
	}
	return segs, rows.Err()
}
