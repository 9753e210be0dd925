package journal

import (
	"context"
	"database/sql"
	"errors"

	"hod/internal/chain"
	"hod/internal/event"
)

// Heads says how far the record of each device reaches here, by device.
func (j *Journal) Heads(ctx context.Context) ([]chain.Head, error) {
	var heads []chain.Head
	err := j.read(ctx, func(q *sql.Conn) error {
		devices, err := j.devices(ctx, q)
		if err != nil {
			return err
		}
		for _, d := range devices {
			h, err := j.headOf(ctx, q, d)
			if err != nil {
				return err
			}
			heads = append(heads, h)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return heads, nil
}

// Head says how far the record of one device reaches here; seq 0 and the chain's root if nothing of it is held.
func (j *Journal) Head(ctx context.Context, device event.Device) (h chain.Head, err error) {
	err = j.read(ctx, func(q *sql.Conn) error {
		h, err = j.headOf(ctx, q, device)
		return err
	})
	return h, err
}

// HeadAt is the head of a device's chain as it was after the event seq, which may be 0; false if that is not held.
func (j *Journal) HeadAt(ctx context.Context, device event.Device, seq uint64) (h chain.Head, ok bool, err error) {
	err = j.read(ctx, func(q *sql.Conn) error {
		h, ok, err = j.headAt(ctx, q, device, seq)
		return err
	})
	return h, ok, err
}

// devices steps from name to name along the index; a plain distinct would walk every event.
func (j *Journal) devices(ctx context.Context, q *sql.Conn) ([]event.Device, error) {
	rows, err := j.ask(ctx, q, `
		with recursive d (device) as (
			select min(device) from event
			union all
			select (select min(e.device) from event e where e.device > d.device) from d where d.device is not null)
		select device from d where device is not null`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var devices []event.Device
	for rows.Next() {
		var d string
		if err := j.scan(rows, &d); err != nil {
			return nil, err
		}
		devices = append(devices, event.Device(d))
	}
	return devices, rows.Err()
}

func (j *Journal) headOf(ctx context.Context, q *sql.Conn, device event.Device) (chain.Head, error) {
	var seq int64
	var sum []byte
	err := j.scan(j.row(ctx, q, `select seq, chain from event where device = ? order by seq desc limit 1`,
		string(device)), &seq, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		return j.root(device), nil
	}
	return j.headFrom(device, seq, sum, err)
}

func (j *Journal) headAt(ctx context.Context, q *sql.Conn, device event.Device, seq uint64) (chain.Head, bool, error) {
	if seq == 0 {
		return j.root(device), true, nil
	}
	var sum []byte
	err := j.scan(j.row(ctx, q, `select chain from event where device = ? and seq = ?`, string(device), int64(seq)),
		&sum)
	if errors.Is(err, sql.ErrNoRows) {
		return chain.Head{}, false, nil
	}
	h, err := j.headFrom(device, int64(seq), sum, err)
	return h, err == nil, err
}

func (j *Journal) headFrom(device event.Device, seq int64, sum []byte, err error) (chain.Head, error) {
	if err != nil {
		return chain.Head{}, err
	}
	if len(sum) != len(chain.Hash{}) || seq < 1 {
		return chain.Head{}, j.damaged("the chain after event %s/%d has %d bytes", device, seq, len(sum))
	}
	return chain.Head{Device: device, Seq: uint64(seq), Chain: chain.Hash(sum)}, nil
}

func (j *Journal) root(device event.Device) chain.Head {
	return chain.Head{Device: device, Chain: chain.Root(j.device.Site, device)}
}
